"""The watched folder: which files are complete, and where they go when they are dealt with.

A file is complete when its size and its time of change have stood still for a while. Copies
that are still under way under another name (`.part`, `.tmp`, a dot in front) are not looked
at until they are renamed.
"""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicelog.errors import HomeError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

DONE, FAILED = "done", "failed"
SIDECAR = ".json"
REASON = ".reason.txt"
_UNFINISHED = (
    ".part", ".partial", ".tmp", ".temp", ".filepart", ".crdownload", ".download", ".swp", "~",
)  # fmt: skip
"""Endings under which programs write what they will rename."""


@dataclass(frozen=True, slots=True)
class Seen:
    """A file as it stood when it was looked at."""

    size: int
    changed_ns: int
    node: int


class Folder:
    """One folder with its `done` and `failed`."""

    def __init__(
        self, path: Path, settle_s: float, now: Callable[[], float] = time.monotonic
    ) -> None:
        """Raises HomeError when there is no such folder, or it can't be written."""
        if not path.is_dir():
            raise HomeError(f"{path}: there is no such folder to watch; make it first")
        self.path = path
        self._settle_s = settle_s
        self._now = now
        self._since: dict[Path, tuple[Seen, float]] = {}
        try:
            for name in (DONE, FAILED):
                (path / name).mkdir(exist_ok=True)
        except OSError as error:
            raise HomeError(
                f"{path}: can't be written ({error.strerror}); files are moved to "
                f"{DONE}/ and {FAILED}/ in it"
            ) from error

    def recordings(self) -> list[Path]:
        """Files that may be recordings, whether complete or not, by name."""
        names = []
        with os.scandir(self.path) as entries:
            for entry in entries:
                lower = entry.name.lower()
                if lower.startswith(".") or lower.endswith((*_UNFINISHED, SIDECAR, REASON)):
                    continue
                if entry.is_file(follow_symlinks=False):
                    names.append(entry.name)
        return [self.path / name for name in sorted(names)]

    def settled(self) -> list[tuple[Path, float]]:
        """Files that stand still: (path, for how many seconds)."""
        now = self._now()
        standing: dict[Path, tuple[Seen, float]] = {}
        for path in self.recordings():
            seen = look(path)
            if seen is not None:
                before, since = self._since.get(path, (None, now))
                standing[path] = (seen, since if seen == before else now)
        self._since = standing
        return [
            (path, now - since)
            for path, (_, since) in standing.items()
            if now - since >= self._settle_s
        ]

    def waiting(self) -> int:
        """Files that were there at the last look."""
        return len(self._since)

    def sidecar(self, path: Path) -> Path | None:
        """The side-car of a recording: `note.wav.json` or `note.json`."""
        for candidate in (path.with_name(path.name + SIDECAR), path.with_suffix(SIDECAR)):
            if candidate.is_file():
                return candidate
        return None

    def put_away(self, path: Path, where: str, reason: str) -> Path:
        """Move a recording and its side-car to `done` or `failed`, the reason beside it.

        The reason is written first, so a recording that was moved always has one; being
        killed in between leaves the recording where it is. Raises OSError.
        """
        target = _free(self.path / where / path.name)
        beside = target.with_name(target.name + REASON)
        partial = beside.with_name("." + beside.name)
        partial.write_text(reason.rstrip() + "\n", encoding="utf-8")
        partial.replace(beside)
        sidecar = self.sidecar(path)
        path.rename(target)
        if sidecar is not None and not self._shared(sidecar, path):
            sidecar.rename(target.with_name(target.name + SIDECAR))
        self._since.pop(path, None)
        return target

    def _shared(self, sidecar: Path, path: Path) -> bool:
        """Whether another recording still needs the side-car: `a.json` for a.wav and a.mp3."""
        return any(
            self.sidecar(other) == sidecar
            for other in self.recordings()
            if other.stem == path.stem and other != path
        )


def look(path: Path) -> Seen | None:
    """The file as it stands, or None when it has gone."""
    try:
        found = path.stat(follow_symlinks=False)
    except OSError:
        return None
    return Seen(found.st_size, found.st_mtime_ns, found.st_ino)


def _free(path: Path) -> Path:
    number, free = 1, path
    while free.exists():
        number += 1
        free = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return free
