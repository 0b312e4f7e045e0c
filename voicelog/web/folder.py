"""Dictations that are not drafts yet, each a folder of the home: sound, journal, opening.

A folder goes away only after the store has the note and all of its sound.
"""

from __future__ import annotations

import json
import re
import secrets
import shutil
from dataclasses import asdict
from typing import TYPE_CHECKING

from voicelog.errors import HomeError, NotFound
from voicelog.records.audio import UNFINISHED
from voicelog.web.dictation import Opening
from voicelog.web.journal import Journal
from voicelog.web.spool import Spool

if TYPE_CHECKING:
    from pathlib import Path

_ID = re.compile(r"[0-9a-f]{16}")


class DictationFolder:
    """Everything about one dictation that must outlive the program."""

    def __init__(self, path: Path, opening: Opening) -> None:
        self.path, self.opening = path, opening
        self.spool = Spool(path / "sound.pcm")
        self.journal = Journal(path / "journal.jsonl")

    def close(self) -> None:
        self.spool.close()
        self.journal.close()

    def remove(self) -> None:
        """After the store has it all, or after its owner threw it away."""
        self.close()
        shutil.rmtree(self.path)


class Folders:
    """The dictations of one home."""

    def __init__(self, home: Path) -> None:
        self._root = home / UNFINISHED
        self._root.mkdir(parents=True, exist_ok=True, mode=0o700)

    def begin(self, opening: Opening) -> DictationFolder:
        """A new folder. Raises HomeError when the disk refuses it."""
        path = self._root / opening.id
        try:
            path.mkdir(mode=0o700)
            partial = path / "opening.partial"
            partial.write_text(json.dumps(asdict(opening)), encoding="utf-8")
            partial.replace(path / "opening.json")
            return DictationFolder(path, opening)
        except OSError as error:
            raise HomeError(f"{path}: {error.strerror}; no dictation was begun") from error

    def open(self, id: str) -> DictationFolder:
        """Raises NotFound."""
        opening = self._opening(id)
        if opening is None:
            raise NotFound(f"no dictation {id} is going on; look in the list of drafts")
        return DictationFolder(self._root / id, opening)

    def unfinished(self) -> tuple[Opening, ...]:
        """All that are going on, the latest first."""
        found = [self._opening(path.name) for path in self._root.iterdir()]
        return tuple(
            sorted(filter(None, found), key=lambda opening: opening.began_at, reverse=True)
        )

    def _opening(self, id: str) -> Opening | None:
        if not _ID.fullmatch(id):
            return None
        try:
            return Opening(**json.loads((self._root / id / "opening.json").read_bytes()))
        except (OSError, ValueError, TypeError):
            return None


def new_id() -> str:
    """A name for a new dictation that nobody can guess."""
    return secrets.token_hex(8)
