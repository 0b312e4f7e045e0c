"""What happened in one dictation, line by line, on disk before anybody is told.

A dictation is its sound (`spool`) and this journal; reading the journal again brings the
dictation back to where it was, whatever ended the program.
"""

from __future__ import annotations

import json
import os
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


class Journal:
    """An append-only file of JSON objects, one a line."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._trim()
        self._file = os.fdopen(os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600), "ab")

    def _trim(self) -> None:
        """Cut off a last line that a crash left unfinished: it was never acted upon."""
        if not self._path.exists():
            return
        data = self._path.read_bytes()
        whole = data.rfind(b"\n") + 1
        if whole < len(data):
            with self._path.open("r+b") as file:
                file.truncate(whole)

    def append(self, event: dict[str, Any]) -> None:
        """Return when `event` is on the disk. Raises OSError."""
        line = json.dumps(event, ensure_ascii=False, separators=(",", ":")) + "\n"
        self._file.write(line.encode())
        self._file.flush()
        os.fdatasync(self._file.fileno())

    def events(self) -> Iterator[dict[str, Any]]:
        """All events from the first."""
        with self._path.open("rb") as lines:
            for line in lines:
                yield json.loads(line)

    def close(self) -> None:
        self._file.close()
