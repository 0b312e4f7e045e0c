"""Backup and restore of a whole home, while others go on working in it.

A backup is a folder with the same layout as a home: restoring is copying, checking and
moving into place, on this machine or on another. It holds the site's signing key, so it
deserves the same care as the home.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING

from voicelog.errors import HomeError, RecordError
from voicelog.records.audio import FOLDER, UNFINISHED, AudioShelf, file_digest, sync_folder
from voicelog.records.connection import DATABASE, plain_errors
from voicelog.records.keys import SITE_KEY
from voicelog.records.ledger import HEAD
from voicelog.records.store import Store
from voicelog.records.verify import verify

if TYPE_CHECKING:
    from collections.abc import Iterable

    from voicelog.records.verify import Fault


def _free(folder: Path, what: str) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise HomeError(f"{folder}: exists and is not empty; name another folder for the {what}")


def _sound(folder: Path, faults: Iterable[Fault], what: str) -> None:
    found = tuple(faults)
    if found:
        listed = "\n".join(f"  {fault}" for fault in found[:20])
        raise RecordError(f"{folder}: the {what} has {len(found)} fault(s):\n{listed}")


def _copy(source: Path, target: Path) -> None:
    """A copy that is on the disk when this returns."""
    shutil.copyfile(source, target)
    shutil.copymode(source, target)
    with target.open("rb") as file:
        os.fsync(file.fileno())


def _copy_audio(source: AudioShelf, target: AudioShelf, digests: Iterable[str]) -> int:
    count = 0
    for sha256 in digests:
        original = source.path(sha256)
        copy = target.folder / sha256[:2] / sha256[2:]
        copy.parent.mkdir(parents=True, exist_ok=True)
        _copy(original, copy)
        if file_digest(copy) != sha256:
            raise RecordError(f"recording {sha256} is damaged; run: voicelog verify")
        count += 1
    return count


def _copy_unfinished(source: Path, target: Path) -> None:
    """Dictations that go on: what was acknowledged of them is on the disk already.

    One that ends meanwhile goes away; its note is in the database, which is copied after.
    """
    for path in sorted((source / UNFINISHED).rglob("*")):
        copy = target / path.relative_to(source)
        copy.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with contextlib.suppress(FileNotFoundError):
            if path.is_file():
                _copy(path, copy)


def _settle(partial: Path, folder: Path) -> None:
    """Move a finished folder to its place."""
    for path in (partial, *filter(Path.is_dir, partial.rglob("*"))):
        sync_folder(path)
    if folder.exists():
        folder.rmdir()
    partial.rename(folder)
    sync_folder(folder.parent)


def backup(store: Store, folder: Path, *, by: str = "system") -> Path:
    """Copy the whole home into `folder` (new or empty), check the copy, book it in the ledger.

    The copy is of one moment, however much is written meanwhile, and appears under its name
    only when it is whole and without fault. Raises HomeError, RecordError (with the faults).
    """
    folder = Path(folder).absolute()
    _free(folder, "backup")
    partial = folder.with_name(f".{folder.name}.partial")
    with plain_errors(folder):
        shutil.rmtree(partial, ignore_errors=True)
        partial.mkdir(parents=True, mode=0o700)
        try:
            _copy_unfinished(store.home, partial)
            head = store.ledger.signed_head()
            for name in (SITE_KEY, HEAD):  # before the database: a head must not be ahead of it
                _copy(store.home / name, partial / name)
            copy = sqlite3.connect(partial / DATABASE)
            try:
                store.connections.db.conn.backup(copy)
                wanted = (  # a recording that is not heard yet exists nowhere else
                    "SELECT sha256 FROM note_audio"
                    " UNION SELECT audio FROM jobs WHERE state <> 'done'"
                )
                digests = [row[0] for row in copy.execute(wanted)]
                copy.execute("PRAGMA journal_mode = DELETE").fetchall()
            finally:
                copy.close()
            shelf = AudioShelf(partial)
            shelf.folder.mkdir()
            count = _copy_audio(store.audio, shelf, digests)
            _sound(folder, verify(partial, [head]), "backup")
            _settle(partial, folder)
        except BaseException:
            shutil.rmtree(partial, ignore_errors=True)
            raise
    store.ledger.append(
        "backup made", "backup", "", by=by,
        detail={"folder": folder.name, "head": str(head.seq), "recordings": str(count)},
    )  # fmt: skip
    return folder


def restore(folder: Path, home: Path) -> None:
    """Make the home `home` (new or empty) from the backup in `folder`.

    The backup is checked before and the copy after; only then does the home appear.
    Raises HomeError, RecordError (with the faults).
    """
    folder, home = Path(folder).absolute(), Path(home).absolute()
    _free(home, "home")
    _sound(folder, verify(folder), "backup")
    partial = home.with_name(f".{home.name}.partial")
    with plain_errors(home):
        shutil.rmtree(partial, ignore_errors=True)
        try:
            partial.mkdir(parents=True, mode=0o700)
            for name in (DATABASE, SITE_KEY, HEAD):
                if (folder / name).exists():
                    _copy(folder / name, partial / name)
            _copy_unfinished(folder, partial)
            source = AudioShelf(folder)
            (partial / FOLDER).mkdir()
            _copy_audio(source, AudioShelf(partial), source.digests())
            _sound(home, verify(partial), "restored home")
            _settle(partial, home)
        except BaseException:
            shutil.rmtree(partial, ignore_errors=True)
            raise
    with Store.open(home) as store:
        store.ledger.append("restored", "backup", "", detail={"folder": folder.name})
