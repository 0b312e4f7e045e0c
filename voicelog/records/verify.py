"""Is everything as it was signed and booked? Recomputes all of it and names each fault.

Works on the files as they lie: nothing is written, so a read-only disk will do.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicelog import wire
from voicelog.errors import HomeError
from voicelog.records import keys, schema
from voicelog.records.audio import FOLDER, AudioShelf, file_digest
from voicelog.records.connection import DATABASE, plain_errors
from voicelog.records.ledger import HEAD, START, SignedHead, line_hash
from voicelog.records.signing import content_digest, signed_bytes

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from voicelog.records.people import Person

_CONTENTS = (
    ("person", "people", "id"),
    ("order", "orders", "number"),
    ("note", "notes", "id"),
    ("record", "records", "id"),
    ("tool", "tools", "number"),
    ("part", "parts", "id"),
)
"""Kinds of subject in the ledger, and the table and key where their content is kept."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is not as it should be."""

    where: str
    """What is concerned: "ledger line 12", "record R-000007", "recording 3fa9…"."""
    sentence: str

    def __str__(self) -> str:
        return f"{self.where}: {self.sentence}"


def verify(home: Path, heads: Iterable[SignedHead] = ()) -> tuple[Fault, ...]:
    """Recompute ledger, contents, signatures and recordings of a home (or of a backup).

    `heads` are signed heads that exports hold; with them it is seen when the end of the
    ledger was cut off. No fault: an empty tuple. Raises HomeError when there is no store.
    """
    home = Path(home)
    if not (home / DATABASE).is_file():
        raise HomeError(f"{home}: no store here; name the home folder with --home")
    with plain_errors(home):
        # read before the database, which others may extend meanwhile
        known = (*heads, *_kept_head(home))
        with _opened(home) as db:
            return tuple(_faults(db, home, known))


@contextmanager
def _opened(home: Path) -> Iterator[sqlite3.Connection]:
    """A connection that can't write; on a read-only disk, one to a copy elsewhere."""
    try:
        db = sqlite3.connect(f"{(home / DATABASE).absolute().as_uri()}?mode=ro", uri=True)
        db.execute("SELECT 1 FROM sqlite_master").fetchall()
    except sqlite3.OperationalError:
        with tempfile.TemporaryDirectory(prefix="voicelog-verify-") as folder:
            for end in ("", "-wal"):
                if (home / f"{DATABASE}{end}").exists():
                    shutil.copyfile(home / f"{DATABASE}{end}", Path(folder) / f"{DATABASE}{end}")
            db = sqlite3.connect(Path(folder) / DATABASE)
            try:
                yield db
            finally:
                db.close()
        return
    try:
        db.execute("BEGIN")
        yield db
    finally:
        db.close()


def _faults(db: sqlite3.Connection, home: Path, heads: tuple[SignedHead, ...]) -> Iterator[Fault]:
    broken = tuple(_file(db))
    yield from broken
    if broken:
        return
    yield from _tables(db, home)
    yield from chain(db)
    yield from _ends(db, heads)
    yield from _cards(db)
    for kind, table, key in _CONTENTS:
        yield from _contents(db, kind, table, key)
    yield from _links(db)
    yield from _recordings(db, home)


def _file(db: sqlite3.Connection) -> Iterator[Fault]:
    try:
        for (row,) in db.execute("PRAGMA integrity_check"):
            if row != "ok":
                yield Fault("store", f"the file is damaged: {row}; restore the last backup")
    except sqlite3.DatabaseError as error:
        yield Fault("store", f"the file is damaged: {error}; restore the last backup")


def _tables(db: sqlite3.Connection, home: Path) -> Iterator[Fault]:
    """Tables and triggers as this version (or the older one that made the home) has them."""
    import sqlite_utils

    had = schema.applied(sqlite_utils.Database(db))
    schema.pending(sqlite_utils.Database(db), str(home))
    fresh = sqlite_utils.Database(memory=True)
    schema.upgrade(fresh, only=had)
    query = (
        "SELECT type || ' ' || name, sql FROM sqlite_master"
        " WHERE name NOT LIKE 'sqlite~_%' ESCAPE '~' AND name NOT LIKE '~_sqlite%' ESCAPE '~'"
    )
    wanted, found = (dict(one.execute(query).fetchall()) for one in (fresh, db))
    fresh.close()
    for name in sorted(wanted.keys() | found.keys()):
        if name not in found:
            yield Fault(name, "is missing: somebody changed the store by hand")
        elif wanted.get(name) != found[name]:
            yield Fault(name, "is not as voicelog makes it: somebody changed the store by hand")


def chain(db: sqlite3.Connection) -> Iterator[Fault]:
    """Lines of the ledger that do not follow from the one before, or were changed."""
    previous, expected = START, 1
    for seq, *facts, before, booked in db.execute(
        "SELECT seq, at, by, act, kind, subject, digest, detail, previous, hash"
        " FROM ledger ORDER BY seq"
    ):
        if seq != expected:
            yield Fault(f"ledger line {expected}", f"missing; the next line is {seq}")
        elif before != previous:
            yield Fault(f"ledger line {seq}", "does not follow from the line before it")
        if line_hash(before, seq, tuple(facts)) != booked:
            yield Fault(f"ledger line {seq}", "was changed: its hash is not that of its content")
        previous, expected = booked, seq + 1


def _kept_head(home: Path) -> tuple[SignedHead, ...]:
    path = home / HEAD
    if not path.exists():
        return ()
    try:
        return (wire.from_plain(SignedHead, json.loads(path.read_bytes())),)
    except ValueError as error:
        raise HomeError(f"{path}: is not a signed head ({error}); restore it") from error


def _ends(db: sqlite3.Connection, heads: tuple[SignedHead, ...]) -> Iterator[Fault]:
    """Every head that was ever signed must lie on the chain."""
    meta = dict(db.execute("SELECT key, value FROM meta").fetchall())
    founded = db.execute("SELECT subject, detail FROM ledger WHERE seq = 1").fetchone()
    if founded and (founded[0], json.loads(founded[1]).get("key")) != (
        meta.get("site"),
        meta.get("key"),
    ):
        yield Fault("site", "its id or key is not the one in the ledger's first line")
    for head in heads:
        where = f"signed head of {head.at}"
        if head.key != meta.get("key") or head.site != meta.get("site"):
            yield Fault(where, f"is of another site ({head.site})")
        elif not head.genuine():
            yield Fault(where, "its signature is wrong")
        elif head.seq:
            row = db.execute("SELECT hash FROM ledger WHERE seq = ?", [head.seq]).fetchone()
            if row is None:
                yield Fault(where, f"the ledger ends before line {head.seq}: its tail was cut off")
            elif row[0] != head.hash:
                yield Fault(where, f"ledger line {head.seq} is not the one that was signed")


_LAST = (
    "(SELECT digest FROM ledger WHERE kind = :kind AND subject = {subject}"
    " ORDER BY seq DESC LIMIT 1)"
)


def _cards(db: sqlite3.Connection) -> Iterator[Fault]:
    subject = "c.number || ' rev ' || c.revision"
    for number, revision, source, sha256, booked in db.execute(
        "SELECT c.number, c.revision, c.source, c.sha256,"
        f" {_LAST.format(subject=subject)} FROM cards c",
        {"kind": "card"},
    ):
        if hashlib.sha256(source).hexdigest() != sha256 or sha256 != booked:
            yield Fault(f"card {number} revision {revision}", "was changed after it was added")
    yield from _lost(db, "card", "cards", "number || ' rev ' || revision")


def _contents(db: sqlite3.Connection, kind: str, table: str, key: str) -> Iterator[Fault]:
    people = _people(db) if kind == "record" else {}
    for id, content, booked in db.execute(
        f"SELECT t.{key}, t.content, {_LAST.format(subject='t.' + key)} FROM {table} t",
        {"kind": kind},
    ):
        if booked is None:
            yield Fault(f"{kind} {id}", "is in no line of the ledger")
        elif hashlib.sha256(content.encode()).hexdigest() != booked:
            yield Fault(f"{kind} {id}", "was changed behind the ledger's back")
        if kind == "record":
            yield from _signature(id, content, people)
    yield from _lost(db, kind, table, key)


def _lost(db: sqlite3.Connection, kind: str, table: str, key: str) -> Iterator[Fault]:
    for (subject,) in db.execute(
        f"SELECT DISTINCT subject FROM ledger l WHERE kind = ? AND NOT EXISTS"
        f" (SELECT 1 FROM {table} WHERE {key} = l.subject)",
        [kind],
    ):
        yield Fault(f"{kind} {subject}", "is in the ledger and no longer in the store")


def _people(db: sqlite3.Connection) -> dict[str, Person]:
    from voicelog.records.people import Person

    found = {}
    for id, content in db.execute("SELECT id, content FROM people"):
        try:
            found[id] = wire.from_plain(Person, json.loads(content))
        except ValueError:
            continue  # named by _contents
    return found


def _signature(id: str, content: str, people: dict[str, Person]) -> Iterator[Fault]:
    where = f"record {id}"
    try:
        plain: dict[str, Any] = json.loads(content)
        signature = plain["signature"]
        person = people.get(signature["by"])
        known = plain["id"] == id
    except (ValueError, KeyError, TypeError):
        yield Fault(where, "can't be read")
        return
    if not known:
        yield Fault(where, "bears another number inside")
    if content_digest(plain) != signature["digest"]:
        yield Fault(where, "its content is not what was signed")
    if person is None or signature["key"] not in person.keys:
        yield Fault(where, f"is signed with a key that is not one of {signature['by']}'s")
    elif not keys.verify(signature["key"], signed_bytes(signature), signature["value"]):
        yield Fault(where, "its signature is wrong")


def _links(db: sqlite3.Connection) -> Iterator[Fault]:
    """Notes and their records, indexes and their rows belong together."""
    for table, row, parent, _ in db.execute("PRAGMA foreign_key_check"):
        yield Fault(f"table {table}, row {row}", f"names one of {parent} that is not there")
    for (id,) in db.execute(
        "SELECT DISTINCT n.id FROM notes n, json_each(n.content, '$.draft.takes') t"
        " WHERE t.value ->> '$.audio_sha256' IS NOT NULL AND NOT EXISTS (SELECT 1 FROM"
        " note_audio a WHERE a.note = n.id AND a.sha256 = t.value ->> '$.audio_sha256')"
    ):
        yield Fault(f"note {id}", "a recording of it is not booked")
    first = "r.supersedes IS NULL AND r.inspects IS NULL"
    for (id,) in db.execute(
        "SELECT id FROM notes n WHERE (state = 'confirmed') <>"
        f" EXISTS (SELECT 1 FROM records r WHERE r.note = n.id AND {first})"
    ):
        yield Fault(f"note {id}", "its state and the records made of it don't agree")
    for name, query in (
        (
            "waiting for inspection",
            "SELECT id FROM records r WHERE content ->> '$.to_inspect' IS NOT NULL"
            " AND inspects IS NULL"
            " AND NOT EXISTS (SELECT 1 FROM records s WHERE s.supersedes = r.id)"
            " AND NOT EXISTS (SELECT 1 FROM records s WHERE s.inspects = r.id)"
            " EXCEPT SELECT record FROM to_inspect",
        ),
        (
            "to be found by its words",
            "SELECT id FROM records WHERE seq NOT IN (SELECT id FROM word_index_docsize)",
        ),
    ):
        for (id,) in db.execute(query):
            yield Fault(f"record {id}", f"is not among those {name}")


def _recordings(db: sqlite3.Connection, home: Path) -> Iterator[Fault]:
    shelf = AudioShelf(home)
    for (sha256,) in db.execute("SELECT DISTINCT sha256 FROM note_audio"):
        if not shelf.has(sha256):
            yield Fault(f"recording {sha256}", "is missing; restore it from a backup")
    for sha256 in shelf.digests():
        if file_digest(home / FOLDER / sha256[:2] / sha256[2:]) != sha256:
            yield Fault(f"recording {sha256}", "was changed: its digest is not its name")
