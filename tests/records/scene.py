"""Invented people, a card and values for tests of the records.

Only the cost of a secret is cheap; all else is as in use.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

from voicelog.heard import Transcript
from voicelog.objects import Decision, Draft, FieldValue, Reason, Take, Value
from voicelog.records import Authorisation, Cost, Person, Store

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


def people(store: Store) -> None:
    everything, inspector = (Authorisation("*"),), (Authorisation("*", inspect=True),)
    add = store.people.add
    add(Person("ada", "Ada Birch", ("administrator",)), SECRET, by=None)
    add(Person("tom", "Tom Alder", ("mechanic",)), SECRET, by="ada")
    add(
        Person("ruth", "Ruth Hazel", ("reviewer", "mechanic"), "C-77", "B1", everything),
        SECRET,
        by="ada",
    )
    add(
        Person("ivo", "Ivo Rowan", ("reviewer",), "C-91", "B1", inspector),
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


AT = datetime(2026, 11, 20, 9, 5, tzinfo=UTC)


def accept(values: tuple[FieldValue, ...], by: str) -> tuple[Decision, ...]:
    return tuple(Decision(*v.key, "accept", by, AT, v.value, v.unit) for v in values)


def changed(
    decisions: tuple[Decision, ...], key: tuple[str, str, str | None], **changes: object
) -> tuple[Decision, ...]:
    """`decisions` with those on `key` changed."""
    return tuple(replace(d, **changes) if d.key == key else d for d in decisions)  # type: ignore[arg-type]
