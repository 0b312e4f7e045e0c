"""An export's folder: all of it or nothing, and never on top of something else."""

from __future__ import annotations

import errno
import os
import secrets
import shutil
from contextlib import contextmanager
from typing import TYPE_CHECKING

from voicelog.errors import ExportError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}


@contextmanager
def plain_errors(folder: Path) -> Iterator[None]:
    """What the disk says, as ExportError with a sentence for a user."""
    try:
        yield
    except OSError as error:
        if error.errno in _FULL:
            what = "the disk is full; make room and export again"
        else:
            what = f"can't be written ({error.strerror or error}); choose another folder"
        raise ExportError(f"{folder}: {what}") from error


def is_taken(folder: Path) -> bool:
    """Whether something is there already. Raises ExportError for what is no folder."""
    with plain_errors(folder):
        if folder.is_dir():
            return any(folder.iterdir())
        if folder.exists() or folder.is_symlink():
            raise ExportError(f"{folder}: is no folder; choose another name")
    return False


@contextmanager
def partial(folder: Path) -> Iterator[Path]:
    """A folder beside `folder` to write in; it is gone afterwards unless it was `put`."""
    place = folder.parent / f".{folder.name}.partial-{secrets.token_hex(4)}"
    with plain_errors(folder):
        folder.parent.mkdir(parents=True, exist_ok=True)
        place.mkdir()
    try:
        with plain_errors(folder):
            yield place
    finally:
        shutil.rmtree(place, ignore_errors=True)


def put(place: Path, folder: Path) -> None:
    """Give the finished folder `place` its name, once its files are on the disk."""
    for path in (*place.iterdir(), place):
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    if folder.is_dir():
        folder.rmdir()  # an empty one: somebody made it for this
    place.rename(folder)
