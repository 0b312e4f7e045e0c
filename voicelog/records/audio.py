"""The audio shelf: recordings as they came, each under its SHA-256."""

from __future__ import annotations

import hashlib
import os
import re
import time
from contextlib import suppress
from typing import TYPE_CHECKING

from voicelog.errors import NotFound
from voicelog.records.connection import plain_errors

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

FOLDER = "audio"
UNFINISHED = "dictations"
"""Folder in the home for dictations at the job that are not drafts yet."""
PARTIAL = "partial"
"""Folder on the shelf for what is still being written."""
_DIGEST = re.compile(r"[0-9a-f]{64}")


def sync_folder(folder: Path) -> None:
    """Make a rename in `folder` outlast a power cut."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def file_digest(path: Path) -> str:
    """SHA-256 of a file's content, hex."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


class AudioShelf:
    """`audio/ab/cdef…`: the first two digits of the digest, then the rest."""

    def __init__(self, home: Path) -> None:
        self._home = home
        self.folder = home / FOLDER

    def _place(self, sha256: str) -> Path:
        if not _DIGEST.fullmatch(sha256):
            raise NotFound(f"{sha256!r} is not the SHA-256 of a recording")
        return self.folder / sha256[:2] / sha256[2:]

    def keep(self, data: bytes) -> str:
        """Put a recording on the disk for good and return its SHA-256.

        When this returns, the bytes outlast a power cut; when it raises HomeError, nothing
        is there under that name. The same bytes are kept once.
        """
        sha256 = hashlib.sha256(data).hexdigest()
        path = self._place(sha256)
        with plain_errors(self._home):
            if path.exists() and file_digest(path) == sha256:
                return sha256
            new = not path.parent.exists()
            path.parent.mkdir(parents=True, exist_ok=True)
            partial = self.folder / PARTIAL / os.urandom(12).hex()
            partial.parent.mkdir(exist_ok=True)
            try:
                with partial.open("xb") as file:
                    file.write(data)
                    file.flush()
                    os.fsync(file.fileno())
                partial.replace(path)
            except BaseException:
                partial.unlink(missing_ok=True)
                raise
            sync_folder(path.parent)
            if new:
                sync_folder(self.folder)
                sync_folder(self._home)
        return sha256

    def has(self, sha256: str) -> bool:
        return self._place(sha256).is_file()

    def path(self, sha256: str) -> Path:
        """Where the recording lies. Raises NotFound."""
        path = self._place(sha256)
        if not path.is_file():
            raise NotFound(f"no recording {sha256} in {self.folder}; restore it from a backup")
        return path

    def read(self, sha256: str) -> bytes:
        """The recording's bytes. Raises NotFound; the digest is not checked here."""
        path = self.path(sha256)
        with plain_errors(self._home):
            return path.read_bytes()

    def sweep(self, older_s: float = 86_400) -> int:
        """Remove what writers left that were interrupted so long ago; how many files."""
        count, before = 0, time.time() - older_s
        for path in (self.folder / PARTIAL).glob("*"):
            with suppress(OSError):  # somebody else sweeps too
                if path.stat().st_mtime < before:
                    path.unlink()
                    count += 1
        return count

    def digests(self) -> Iterator[str]:
        """Every recording on the shelf, in order."""
        for path in sorted(self.folder.glob("[0-9a-f][0-9a-f]/*")):
            yield path.parent.name + path.name
