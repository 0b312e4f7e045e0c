"""How long an export takes and how much memory: invented records in a real store.

    python -m voicelog.bench.export [--records 100000] [--sheets 100]

Records are copies of a few that were really signed, written into the store's tables directly
(a signature each would take longer than what is measured); so `voicelog verify` would rightly
refuse this home. Each format runs in a process of its own: its peak memory is its own.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from voicelog import cards, export, wire
from voicelog.bench import memory
from voicelog.config import config_dir
from voicelog.heard import Transcript
from voicelog.objects import (
    Card,
    Decision,
    Draft,
    FieldValue,
    Mention,
    Note,
    Record,
    Signature,
    Take,
)
from voicelog.records import Authorisation, Cost, Filter, Person, Store, WorkOrder
from voicelog.records.people import ROLES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.export import Format

_SECRET = "measured by nobody"  # noqa: S105 — of a home that is thrown away
_START = datetime(2026, 1, 5, 7, 0, tzinfo=UTC)
PER_ORDER = 5
"""Records of one work order."""


@dataclass(frozen=True, slots=True)
class Measured:
    """One export."""

    format: Format
    records: int
    values: int
    seconds: float
    cpu_s: float
    """Processor time: what the seconds would be on a machine with nothing else to do."""
    peak_mib: float
    mib: float
    """Size of the files."""


def _values(number: int) -> tuple[FieldValue, ...]:
    """Four bolts of the wheel card, one in 50 below its limit."""
    found = []
    for bolt in range(1, 5):
        torque = Decimal(94 if (number * 4 + bolt) % 50 == 0 else 96 + (number + bolt) % 9)
        words = f"bolt {bolt}, {torque} newton metres"
        mention = Mention("quantity", words, 0, len(words), torque, "N*m", stage="quantities")
        found.append(
            FieldValue(
                "30", "bolt_torque", str(bolt), torque, "N*m", words, start_s=bolt * 2.5,
                end_s=bolt * 2.5 + 1.8, confidence=0.93, mentions=(mention,),
            )
        )  # fmt: skip
    return tuple(found)


def record(number: int, card: Card) -> Record:
    """The invented record `number`: four values, five records a work order."""
    at = _START + timedelta(minutes=11 * number)
    values = _values(number)
    decisions = tuple(
        Decision(
            *value.key, "accept", "rev", at, value.value, value.unit,
            limit="below" if value.value == 94 else "within",
            follow_up="rework" if value.value == 94 else None,
        )
        for value in values
    )  # fmt: skip
    return Record(
        id=f"R-{number:06d}",
        note=f"N-{number:06d}",
        work_order=f"WO-{(number - 1) // PER_ORDER:06d}",
        card=card.number,
        title=card.title,
        revision=card.revision,
        source=card.source,
        performed_by="mech",
        performed_at=at,
        decisions=decisions,
        proposals=values,
        signature=Signature(
            "rev", "Rena Vey", "B1 C-1", at + timedelta(minutes=9), "confirmed",
            "ab" * 32, "cd" * 32, "ef" * 64,
        ),
        transcript=", ".join(value.as_spoken for value in values),
        audio=(f"{number:064x}",),
        model="base",
        model_sha256="12" * 32,
        equipment=f"Quay crane {number % 40}",
        serial_number=f"QC-{number % 40:04d}",
        step="30",
        to_inspect=("30",),
    )  # fmt: skip


def fill(home: Path, records: int) -> None:
    """A home with that many records."""
    card = cards.load(config_dir() / "cards" / "wheel_brake.yaml")
    with Store.open(home, cost=Cost(time=1, memory_kib=8, lanes=1)) as store:
        store.people.add(Person("admin", "Ana Lind", ROLES), _SECRET, by=None)
        for id, name in (("mech", "Mika Orr"), ("rev", "Rena Vey")):
            person = Person(id, name, ROLES, authorisations=(Authorisation(),))
            store.people.add(person, _SECRET, by="admin")
        store.cards.add(
            (config_dir() / "cards" / "wheel_brake.yaml").read_bytes(), "wheel", by="admin"
        )
        with store.connections.writing() as db:
            for first in range(1, records + 1, 1000):
                batch = [record(n, card) for n in range(first, min(first + 1000, records + 1))]
                orders = {one.work_order: one for one in batch}
                db.conn.executemany(
                    "INSERT OR IGNORE INTO orders(number, content) VALUES (?, ?)",
                    [
                        (number, _text(WorkOrder(number, one.equipment, one.serial_number)))
                        for number, one in orders.items()
                    ],
                )
                db.conn.executemany(
                    "INSERT INTO notes(id, content, doubt) VALUES (?, ?, 0)",
                    [(one.note, _text(_note(one))) for one in batch],
                )
                db.conn.executemany(
                    "INSERT INTO records(seq, id, content) VALUES (?, ?, ?)",
                    [(int(one.id[2:]), one.id, _text(one)) for one in batch],
                )


def _note(one: Record) -> Note:
    take = Take(Transcript.of_text(one.transcript), one.audio[0], one.performed_at)
    draft = Draft(one.card, one.revision, one.step, (take,), one.proposals)
    return Note(
        one.note, one.work_order, one.performed_by, one.performed_at, draft, state="confirmed"
    )


def _text(thing: object) -> str:
    return wire.canonical(thing).decode()


def _run(home: Path, out: Path, format: Format, wanted: Filter) -> Measured:
    with Store.open(home) as store:
        start, cpu = time.perf_counter(), time.process_time()
        manifest = export.write(store, wanted, format, out, by="admin", house="Bench")
        seconds, spent = time.perf_counter() - start, time.process_time() - cpu
    records = len(manifest.records)
    size = sum(file.size for file in manifest.files) / 2**20
    return Measured(format, records, records * 4, seconds, spent, memory.peak_mib(), size)


def measure(home: Path, out: Path, format: Format, wanted: Filter) -> Measured:
    """One export in a fresh process."""
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(1, mp_context=context) as pool:
        return pool.submit(_run, home, out, format, wanted).result()


def run(records: int, sheets: int) -> Iterator[Measured]:
    """CSV, JSON Lines and XLSX of all records; then `sheets` printed work orders."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder) / "home"
        fill(home, records)
        for format in ("csv", "jsonl", "xlsx"):
            yield measure(home, Path(folder) / format, format, Filter())
        few = Path(folder) / "few"
        fill(few, sheets * PER_ORDER)
        yield measure(few, Path(folder) / "pdf", "pdf", Filter())


def main(arguments: list[str] | None = None) -> None:
    """Print one JSON object a line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--records", type=int, default=100_000)
    parser.add_argument("--sheets", type=int, default=100)
    options = parser.parse_args(arguments)
    for measured in run(options.records, options.sheets):
        plain = {name: getattr(measured, name) for name in Measured.__slots__}
        plain |= {name: round(plain[name], 1) for name in ("seconds", "cpu_s", "peak_mib", "mib")}
        sys.stdout.write(json.dumps(plain) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
