"""The store: one home folder with its SQLite file, its recordings and its key."""

from __future__ import annotations

import sqlite3
import uuid
from pathlib import Path
from typing import TYPE_CHECKING, Self

from voicelog.errors import HomeError
from voicelog.records import schema
from voicelog.records.audio import FOLDER, AudioShelf, sync_folder
from voicelog.records.book import Records
from voicelog.records.cards import CardShelf
from voicelog.records.clock import Clock, SystemClock
from voicelog.records.connection import DATABASE, WAIT_S, Connections, plain_errors
from voicelog.records.jobs import Jobs
from voicelog.records.keys import Cost, SiteKey
from voicelog.records.ledger import Ledger
from voicelog.records.notes import Notes
from voicelog.records.orders import Orders
from voicelog.records.people import People
from voicelog.records.registers import Parts, Tools
from voicelog.records.settings import Settings, load

if TYPE_CHECKING:
    from types import TracebackType

    import sqlite_utils

BACKUPS = "backups"
"""Folder in the home for the copies made before an upgrade."""


class Store:
    """A home, opened. Usable from any thread; close it when done (or use `with`)."""

    def __init__(
        self,
        connections: Connections,
        key: SiteKey,
        *,
        clock: Clock,
        cost: Cost,
        settings: Settings,
    ) -> None:
        self.home = connections.home
        self.connections = connections
        self.clock = clock
        self.key = key
        meta = dict(connections.db.execute("SELECT key, value FROM meta").fetchall())
        self.site: str = meta["site"]
        """Id of this site, the same for as long as the home lives."""
        if meta["key"] != key.public:
            raise HomeError(
                f"{self.home}: the signing key is not this site's; restore it from a backup"
            )
        self.ledger = Ledger(connections, clock)
        self.ledger.belong_to(self.site, key)
        self.audio = AudioShelf(self.home)
        self.audio.sweep()
        self.people = People(connections, self.ledger, clock, cost, settings)
        self.cards = CardShelf(connections, self.ledger, self.people)
        self.tools = Tools(connections, self.ledger, self.people)
        self.parts = Parts(connections, self.ledger, self.people)
        self.orders = Orders(connections, self.ledger, clock, self.people, self.cards)
        self.notes = Notes(
            connections, self.ledger, clock, self.people, self.cards, self.orders, self.audio
        )
        self.jobs = Jobs(connections, clock, self.people, self.cards, self.notes, self.audio)
        self.records = Records(self, settings)
        self.orders.read_from(self.notes, self.records)

    @classmethod
    def open(
        cls,
        home: Path,
        *,
        clock: Clock | None = None,
        cost: Cost | None = None,
        settings: Settings | None = None,
        wait_s: float = WAIT_S,
    ) -> Store:
        """Open the home folder, creating it on first use.

        An older home is upgraded after a copy was put into its `backups` folder. `cost` is
        the work of one try of a secret; tests make it cheap. `wait_s` is how long to wait
        for another writer. Raises HomeError: unwritable, full, damaged, or newer than this.
        """
        home = Path(home).expanduser().absolute()
        clock = clock or SystemClock()
        with plain_errors(home, wait_s):
            home.mkdir(parents=True, exist_ok=True, mode=0o700)
            (home / FOLDER).mkdir(exist_ok=True)
        connections = Connections(home, wait_s)
        try:
            _bring_up_to_date(connections, clock)
            return cls(
                connections,
                SiteKey.load(home),
                clock=clock,
                cost=cost or Cost(),
                settings=settings or load(),
            )
        except BaseException:
            connections.close()
            raise

    def close(self) -> None:
        self.connections.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _bring_up_to_date(connections: Connections, clock: Clock) -> None:
    """Create or upgrade the tables; processes that open the home at once take turns."""
    home = connections.home
    with plain_errors(home):
        if not schema.pending(connections.db, str(home)):
            return
    with connections.writing() as db:
        pending = schema.pending(db, str(home))
        had = schema.applied(db)
        if not pending:
            return
        if had:
            _copy_aside(home, had[-1])
        schema.upgrade(db)
        ledger = Ledger(connections, clock)
        if not had:
            _found_site(db, home, ledger)
        ledger.append("store upgraded", "store", "", detail={"steps": ", ".join(pending)})


def _found_site(db: sqlite_utils.Database, home: Path, ledger: Ledger) -> None:
    key = SiteKey.make(home)
    site = uuid.uuid4().hex[:12]
    for name, value in (("site", site), ("key", key.public)):
        db.execute("INSERT INTO meta(key, value) VALUES (?, ?)", [name, value])
    ledger.append("home created", "site", site, detail={"key": key.public})


def _copy_aside(home: Path, last_step: str) -> None:
    """A copy of the database as it is before an upgrade, under the name of its last step."""
    folder = home / BACKUPS
    with plain_errors(home):
        folder.mkdir(exist_ok=True)
        target = folder / f"before-upgrade-from-{last_step}.db"
        partial = target.with_suffix(".partial")
        partial.unlink(missing_ok=True)
        source = sqlite3.connect(home / DATABASE)
        copy = sqlite3.connect(partial)
        try:
            source.backup(copy)
            if copy.execute("PRAGMA integrity_check").fetchone()[0] != "ok":
                raise HomeError(f"{home}: the copy before the upgrade is damaged; check the disk")
        finally:
            source.close()
            copy.close()
        partial.replace(target)
        sync_folder(folder)
