"""A home with invented people, cards and notes; the secret's cost is cheap, all else is real."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from typing import TYPE_CHECKING

import pytest

from voicelog.objects import Decision, Draft, FieldValue, Reason, Take, Transcript
from voicelog.records import Authorisation, Confirmation, Cost, Person, Store

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from voicelog.objects import Note, Record, Value

CHEAP = Cost(time=1, memory_kib=8, lanes=1)
SECRET = "brass lantern"

CARD = b"""\
card: TB-10
title: Bearing check of the test stand
revision: "1"
revision_date: 2026-01-05
source: test stand manual, section 10
steps:
  - step: "10"
    title: Remove the cover
    opens: cover
    leak_check: "40"
    fields:
      - {name: cover, label: Cover off, type: check}
  - step: "20"
    title: Measure
    fields:
      - {name: torque, label: Bolt torque, type: measurement, unit: N*m, min: 95, max: 105,
         positions: ["1", "2"], position_word: bolt}
      - {name: wires, label: Broken wires, type: count, max: 5}
      - {name: wrench, label: Torque wrench, type: identifier, kind: tool number}
      - {name: grease, label: Grease batch, type: identifier, kind: batch number, required: false}
      - {name: remarks, label: Remarks, type: text, required: false}
  - step: "30"
    title: Fit the cover
    restores: "10"
    independent_inspection: true
    fields:
      - {name: locked, label: Lock wire, type: check}
      - {name: serial, label: Cover fitted, type: identifier, kind: serial number}
  - step: "40"
    title: Leak check
    fields:
      - {name: leaks, label: Leak check, type: check}
"""


class StandingClock:
    """Moves only when told to."""

    def __init__(self) -> None:
        self.at = datetime(2026, 11, 20, 9, 0, tzinfo=timezone(timedelta(hours=1)))

    def now(self) -> datetime:
        return self.at

    def forward(self, **time: float) -> None:
        self.at += timedelta(**time)


@pytest.fixture()
def clock() -> StandingClock:
    return StandingClock()


@pytest.fixture()
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


@pytest.fixture()
def store(home: Path, clock: StandingClock) -> Iterator[Store]:
    with Store.open(home, clock=clock, cost=CHEAP) as store:
        people(store)
        store.cards.add(CARD, "bearing.yaml", by="ada")
        yield store


def people(store: Store) -> None:
    everything = (Authorisation("*"),)
    add = store.people.add
    add(Person("ada", "Ada Birch", ("administrator",)), SECRET, by=None)
    add(Person("tom", "Tom Alder", ("mechanic",)), SECRET, by="ada")
    add(
        Person("ruth", "Ruth Hazel", ("reviewer", "mechanic"), "C-77", "B1", everything),
        SECRET,
        by="ada",
    )
    add(
        Person("ivo", "Ivo Rowan", ("reviewer",), "C-91", "B1", (Authorisation("*", inspect=True),)),
        SECRET,
        by="ada",
    )
    add(Person("cleo", "Cleo Elm", ("clerk",)), SECRET, by="ada")


def value(
    step: str,
    field: str,
    position: str | None,
    what: Value,
    unit: str | None = None,
    *,
    doubt: str = "",
) -> FieldValue:
    reasons = (Reason("sounds alike", doubt),) if doubt else ()
    return FieldValue(step, field, position, what, unit, as_spoken=str(what), reasons=reasons)


def draft(*values: FieldValue, step: str | None = None, audio: str = "", text: str = "") -> Draft:
    said = text or " ".join(value.as_spoken for value in values)
    take = Take(Transcript.of_text(said), audio_sha256=audio)
    return Draft("TB-10", "1", step, (take,), values)


STEP_10 = (value("10", "cover", None, "pass"),)
STEP_20 = (
    value("20", "torque", "1", Decimal("98"), "N*m"),
    value("20", "torque", "2", Decimal("101.5"), "N*m"),
    value("20", "wires", None, Decimal("2")),
    value("20", "wrench", None, "TW-114"),
)
STEP_30 = (value("30", "locked", None, "pass"), value("30", "serial", None, "HT66-902"))
STEP_40 = (value("40", "leaks", None, "pass"),)


def accept(values: tuple[FieldValue, ...], by: str, at: datetime | None = None) -> tuple[Decision, ...]:
    at = at or datetime(2026, 11, 20, 9, 5, tzinfo=UTC)
    return tuple(Decision(*v.key, "accept", by, at, v.value, v.unit) for v in values)


def changed(
    decisions: tuple[Decision, ...], key: tuple[str, str, str | None], **changes: object
) -> tuple[Decision, ...]:
    """`decisions` with those on `key` changed."""
    return tuple(replace(d, **changes) if d.key == key else d for d in decisions)  # type: ignore[arg-type]


@pytest.fixture()
def noted(store: Store) -> Callable[..., Note]:
    """Keeps values as a note of work order W-1, by the mechanic."""

    def add(*values: FieldValue, work_order: str = "W-1", by: str = "tom") -> Note:
        return store.notes.add(draft(*values), work_order, by)

    return add


@pytest.fixture()
def confirm(store: Store, noted: Callable[..., Note]) -> Callable[..., Record]:
    """Keeps values as a note and has them all accepted by the reviewer."""

    def add(*values: FieldValue, by: str = "ruth", **more: str) -> Record:
        note = noted(*values, **more)
        act = Confirmation(note.id, note.version, accept(values, by))
        shown = store.records.show(act, by=by)
        assert shown.problems == ()
        return store.records.sign(act, by=by, secret=SECRET, digest=shown.digest)

    return add
