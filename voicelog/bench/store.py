"""How quick the store is when it is full: a home with a million records by default.

The records are written straight into the tables, each with its note, its lines in the ledger
and a genuine signature, so that the whole home verifies. The cost of a secret is shown
apart: it is slow on purpose and the same however full the store is.
"""

from __future__ import annotations

import hashlib
import json
import random
import statistics
import tempfile
import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicelog import wire
from voicelog.bench import memory
from voicelog.bench.invented import SECRET, confirmed, draft, founded
from voicelog.records import Cost, Filter, Store, WorkOrder, keys, verify
from voicelog.records.connection import DATABASE
from voicelog.records.ledger import line_hash
from voicelog.records.registers import bare
from voicelog.records.signing import content_digest, signed_bytes
from voicelog.records.verify import chain

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Iterator

PER_ORDER = 20
"""Records of one work order."""
BATCH = 5_000
"""Records written in one transaction."""
_START = datetime(2020, 1, 1, 6, 0, tzinfo=UTC)
_SYLLABLES = ("bar", "den", "fol", "gri", "kem", "lon", "mur", "nep", "ost", "pra", "rud", "sil")
_WORDS = tuple(a + b + c for a in _SYLLABLES for b in _SYLLABLES for c in _SYLLABLES)


@dataclass(frozen=True, slots=True)
class StoreRow:
    """One thing measured: milliseconds, and the most it may take."""

    what: str
    median_ms: float
    worst_ms: float
    allowed_ms: float | None = None

    @property
    def good(self) -> bool:
        return self.allowed_ms is None or self.median_ms <= self.allowed_ms


@dataclass(frozen=True, slots=True)
class StoreResult:
    """The whole bench."""

    records: int
    lines: int
    megabytes: float
    generated_s: float
    peak_mb: float
    """Most memory while searching and verifying; None where it can't be measured."""
    rows: tuple[StoreRow, ...]
    faults: int


class _Writer:
    """Rows of many records with all that belongs to them, straight into the tables."""

    def __init__(self, store: Store) -> None:
        self.db: sqlite3.Connection = store.connections.db.conn
        self.seed = store.people.unlock("rev0", SECRET)
        first = store.notes.add(draft("roller check"), "W-first", "tom")
        record = confirmed(store, first, "rev0")
        self.note: dict[str, Any] = wire.to_plain(store.notes.get(first.id))
        self.record: dict[str, Any] = wire.to_plain(record)
        self.chance = random.Random(1)  # noqa: S311 — invented words, no secret
        head = store.ledger.head()
        if head is None:
            raise RuntimeError("a founded home has a ledger")
        self.seq, self.hash = head.seq, head.hash
        self.lines: list[tuple[Any, ...]] = []

    def line(self, at: str, by: str, act: str, kind: str, subject: str, content: str) -> None:
        digest = hashlib.sha256(content.encode()).hexdigest()
        facts = (at, by, act, kind, subject, digest, "{}")
        self.seq += 1
        booked = line_hash(self.hash, self.seq, facts)
        self.lines.append((self.seq, *facts, self.hash, booked))
        self.hash = booked

    def rows(self, number: int) -> Iterator[tuple[str, tuple[Any, ...]]]:
        """(statement, values) for record `number`, from 2 on."""
        at = (_START + timedelta(minutes=number)).isoformat(timespec="milliseconds")
        order, text = f"W-{number // PER_ORDER}", " ".join(self.chance.choices(_WORDS, k=12))
        serial = f"RL-{number:07d}"
        if number % PER_ORDER == 0 or number == 2:
            content = _text(wire.to_plain(WorkOrder(order, f"crane {number % 90}")))
            yield "INSERT INTO orders(number, content) VALUES (?, ?)", (order, content)
            self.line(at, "tom", "work order opened", "order", order, content)
        note = self.note | {"id": f"N-{number:06d}", "work_order": order, "created_at": at}
        content = _text(note)
        yield (
            "INSERT INTO notes(seq, id, content, doubt) VALUES (?, ?, ?, 0)",
            (number, note["id"], content),
        )
        self.line(at, "tom", "note added", "note", note["id"], content)
        record = self.record | {
            "id": f"R-{number:06d}",
            "note": note["id"],
            "work_order": order,
            "performed_at": at,
            "transcript": text,
            "decisions": [
                d | {"value": serial} if d["field"] == "roller" else d
                for d in self.record["decisions"]
            ],
        }
        signature = self.record["signature"] | {"at": at, "digest": content_digest(record)}
        signature["value"] = keys.sign(self.seed, signed_bytes(signature))
        content = _text(record | {"signature": signature})
        yield (
            "INSERT INTO records(seq, id, content) VALUES (?, ?, ?)",
            (number, record["id"], content),
        )
        yield (
            "INSERT INTO word_index(rowid, words, identifiers) VALUES (?, ?, ?)",
            (number, f"{text}\nRoller check of the test crane\n{order}\n{serial}", bare(serial)),
        )
        self.line(at, "rev0", "confirmed", "record", record["id"], content)
        self.line(at, "rev0", "note confirmed", "note", note["id"], _text(note))

    def flush(self) -> None:
        self.db.executemany(
            "INSERT INTO ledger(seq, at, by, act, kind, subject, digest, detail, previous, hash)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            self.lines,
        )
        self.lines.clear()


def _text(plain: Any) -> str:
    return json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def generate(
    store: Store, records: int, progress: Callable[[int, int], None] | None = None
) -> None:
    """Fill a founded home with so many confirmed records."""
    writer = _Writer(store)
    for start in range(2, records + 1, BATCH):
        with store.connections.writing():
            batches: dict[str, list[tuple[Any, ...]]] = {}
            stop = min(start + BATCH, records + 1)
            for number in range(start, stop):
                for statement, values in writer.rows(number):
                    batches.setdefault(statement, []).append(values)
            for table in ("orders", "notes", "records", "word_index"):  # as the keys refer
                for statement, rows in batches.items():
                    if statement.startswith(f"INSERT INTO {table}("):
                        writer.db.executemany(statement, rows)
            writer.flush()
        if progress:
            progress(stop - 1, records)


def _measured(
    what: str, allowed_ms: float | None, times: int, work: Callable[[int], object]
) -> StoreRow:
    taken = []
    for number in range(times):
        began = time.perf_counter()
        work(number)
        taken.append(1000 * (time.perf_counter() - began))
    return StoreRow(what, statistics.median(taken), max(taken), allowed_ms)


def measure(store: Store, records: int, times: int = 50) -> tuple[StoreRow, ...]:
    """The acts of a day, on a store that holds `records` generated records."""
    chance = random.Random(2)  # noqa: S311 — which ones to look at, no secret
    some = [chance.randrange(2, records + 1) for _ in range(times)]
    notes = [store.notes.add(draft(f"measured {n}"), "W-new", "tom") for n in range(times)]

    def found(number: int, **wanted: Any) -> None:
        rows = list(store.records.search(Filter(limit=50, **wanted)))
        if not rows:
            raise RuntimeError(f"nothing found by {wanted} ({number})")

    def words(number: int, count: int) -> None:
        text = store.records.get(f"R-{some[number]:06d}").transcript
        found(number, words=" ".join(text.split()[:count]))

    costly = keys.seal(keys.new_seed(), SECRET, Cost())
    search = store.records
    return (
        _measured("add a note", 50, times, lambda n: store.notes.add(
            draft(f"more {n}"), "W-new", "tom")),
        _measured("confirm (show and sign)", 50, times, lambda n: confirmed(
            store, notes[n], "rev0")),
        _measured("one try of a secret, on purpose", None, 5, lambda _: keys.unseal(
            costly, SECRET)),
        _measured("open a record", 20, times, lambda n: search.get(f"R-{some[n]:06d}")),
        _measured("search by serial number", 100, times, lambda n: found(
            n, serial_number=f"RL-{some[n]:07d}")),
        _measured("search by work order", 100, times, lambda n: found(
            n, work_order=f"W-{some[n] // PER_ORDER}")),
        _measured("search by one word", 100, times, lambda n: words(n, 1)),
        _measured("search by three words", 100, times, lambda n: words(n, 3)),
        _measured("search by a word that all have", 100, times, lambda n: found(
            n, words="roller")),
        _measured("search by person, card and day", 100, times, lambda n: found(
            n, person="tom", card="BN-10", since=(_START + timedelta(minutes=some[n])).date())),
        _measured("newest records", 100, times, found),
        _measured("queue", 100, times, lambda _: store.notes.queue()),
        _measured("status of a work order", 100, times, lambda n: store.orders.status(
            f"W-{some[n] // PER_ORDER}")),
    )  # fmt: skip


def run(
    records: int = 1_000_000,
    *,
    times: int = 50,
    folder: Path | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> StoreResult:
    """Generate, measure and verify a home in `folder` (thrown away when None)."""
    with tempfile.TemporaryDirectory(prefix="voicelog-store-") as name:
        home = (folder or Path(name)) / "home"
        with founded(home) as store:
            began = time.perf_counter()
            generate(store, records, progress)
            generated_s = time.perf_counter() - began
            memory.peak_mib(reset=True)
            rows = list(measure(store, records, times))
            store.connections.db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
            db = store.connections.db.conn
            rows.append(_measured("verify the chain", 60_000, 1, lambda _: list(chain(db))))
            faults: list[object] = []
            rows.append(
                _measured("verify everything", None, 1, lambda _: faults.extend(verify(home)))
            )
            head = store.ledger.head()
        size = (home / DATABASE).stat().st_size / 1e6
    lines = head.seq if head else 0
    peak = memory.peak_mib()
    return StoreResult(records, lines, size, generated_s, peak, tuple(rows), len(faults))
