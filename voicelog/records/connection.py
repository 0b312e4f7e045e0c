"""The SQLite file: one connection a thread, one writer at a time, errors in plain words.

A writer takes the write lock at the start of its transaction (BEGIN IMMEDIATE), so it can
never be refused in the middle of one; whoever comes second waits. Readers never wait (WAL).
`synchronous = FULL` puts each commit on the disk before it is acknowledged.
"""

from __future__ import annotations

import errno
import os
import random
import sqlite3
import threading
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING

from voicelog.errors import HomeError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import sqlite_utils

DATABASE = "voicelog.db"
"""Name of the SQLite file in the home folder."""

WAIT_S = 60.0
"""How long a writer waits for another one before it says so."""

_DISK = {errno.ENOSPC: "is full", errno.EDQUOT: "is full (quota)", errno.EFBIG: "is full"}


_SENTENCES = (
    (
        ("SQLITE_BUSY", "SQLITE_LOCKED"),
        "another program has been writing for more than {wait_s:g} s; nothing was changed, "
        "try again when it is done",
    ),
    (("SQLITE_FULL",), "the disk is full; nothing was changed, make room and try again"),
    (("SQLITE_READONLY",), "can't be written; check the folder's permissions and its disk"),
    (("SQLITE_CANTOPEN",), "the store can't be opened; check that the folder exists and is yours"),
    (("SQLITE_IOERR",), "the disk failed ({name}); nothing was changed, check it and try again"),
    (("SQLITE_CORRUPT", "SQLITE_NOTADB"), "the store is damaged ({error}); restore a backup"),
)
"""SQLite's names of errors, and what they mean to a user."""


def _sentence(error: sqlite3.Error, home: Path, wait_s: float) -> str | None:
    name = getattr(error, "sqlite_errorname", "") or ""
    for names, sentence in _SENTENCES:
        if name.startswith(names):
            return f"{home}: {sentence.format(wait_s=wait_s, name=name, error=error)}"
    return None


@contextmanager
def plain_errors(home: Path, wait_s: float = WAIT_S) -> Iterator[None]:
    """What SQLite and the disk say, as HomeError with a sentence for a user."""
    try:
        yield
    except sqlite3.Error as error:
        sentence = _sentence(error, home, wait_s)
        if sentence is None:
            raise
        raise HomeError(sentence) from error
    except OSError as error:
        why = _DISK.get(error.errno or 0)
        if why:
            raise HomeError(
                f"{home}: the disk {why}; nothing was changed, make room and try again"
            ) from error
        raise HomeError(f"{home}: can't be used ({error.strerror or error})") from error


class Connections:
    """Connections to one home's SQLite file, one for each thread of each process."""

    def __init__(self, home: Path, wait_s: float = WAIT_S) -> None:
        self.home = home
        self._wait_s = wait_s
        self._local = threading.local()
        self._guard = threading.Lock()
        self._all: list[sqlite3.Connection] = []

    def _connect(self) -> sqlite_utils.Database:
        import sqlite_utils

        raw = sqlite3.connect(
            self.home / DATABASE,
            timeout=self._wait_s,
            isolation_level=None,
            check_same_thread=False,  # so that close() may close those of ended threads
        )
        with self._guard:
            self._all.append(raw)
        database = sqlite_utils.Database(raw)  # switches recursive_triggers on
        for pragma in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON"):
            raw.execute(f"PRAGMA {pragma}").fetchall()
        return database

    @property
    def db(self) -> sqlite_utils.Database:
        """This thread's connection. Raises HomeError."""
        if getattr(self._local, "owner", None) != os.getpid():
            with plain_errors(self.home, self._wait_s):
                self._local.db = self._connect()
            self._local.owner = os.getpid()
        database: sqlite_utils.Database = self._local.db
        return database

    @contextmanager
    def reading(self) -> Iterator[sqlite_utils.Database]:
        """One consistent state for several queries."""
        database = self.db
        if database.conn.in_transaction:
            yield database
            return
        with plain_errors(self.home, self._wait_s):
            database.conn.execute("BEGIN")
            try:
                yield database
            finally:
                database.conn.execute("ROLLBACK")

    @contextmanager
    def writing(self) -> Iterator[sqlite_utils.Database]:
        """A transaction that holds the write lock; all or nothing. May be nested.

        Raises HomeError when the lock can't be had in time or the disk refuses.
        """
        database = self.db
        if database.conn.in_transaction:
            with database.atomic():
                yield database
            return
        with plain_errors(self.home, self._wait_s):
            self._lock(database.conn)
            try:
                yield database
                database.conn.execute("COMMIT")
            except BaseException:
                if database.conn.in_transaction:
                    database.conn.execute("ROLLBACK")
                raise

    def _lock(self, raw: sqlite3.Connection) -> None:
        """Begin to write, waiting for whoever writes now.

        SQLite's own waiting lengthens its pauses up to 100 ms, so that one of many writers
        may go without for seconds; short pauses of random length give each the same chance.
        """
        until = time.monotonic() + self._wait_s
        raw.execute("PRAGMA busy_timeout = 0").fetchall()
        try:
            while True:
                try:
                    raw.execute("BEGIN IMMEDIATE")
                    return
                except sqlite3.OperationalError as error:
                    busy = (error.sqlite_errorname or "").startswith("SQLITE_BUSY")
                    if not busy or time.monotonic() > until:
                        raise
                time.sleep(random.uniform(0.001, 0.005))  # noqa: S311 — a pause, no secret
        finally:
            raw.execute(f"PRAGMA busy_timeout = {round(1000 * self._wait_s)}").fetchall()

    def close(self) -> None:
        with self._guard:
            for raw in self._all:
                raw.close()
            self._all.clear()
        self._local = threading.local()
