"""An invented workshop for benches of the store: people, a card, notes and their review."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.heard import Transcript
from voicelog.objects import Draft, FieldValue, Take
from voicelog.records import (
    Authorisation,
    Confirmation,
    Cost,
    Person,
    Store,
    accept_undoubted,
)

if TYPE_CHECKING:
    from pathlib import Path

    from voicelog.objects import Note, Record

SECRET = "only for measuring"  # noqa: S105 — of a home that is thrown away
CHEAP = Cost(time=1, memory_kib=8, lanes=1)
"""The work of one try of a secret is set apart: it is slow on purpose."""

REVIEWERS = 8

CARD = b"""\
card: BN-10
title: Roller check of the test crane
revision: "1"
revision_date: 2026-01-05
source: test crane manual, section 10
steps:
  - step: "10"
    title: Measure
    fields:
      - {name: torque, label: Bolt torque, type: measurement, unit: N*m, min: 95, max: 105,
         positions: ["1", "2", "3", "4"], position_word: bolt}
      - {name: play, label: Play, type: measurement, unit: mm, max: 0.5}
      - {name: roller, label: Roller, type: identifier, kind: serial number}
      - {name: grease, label: Grease, type: check}
"""


def founded(home: Path) -> Store:
    """A new home with one administrator, one mechanic and eight reviewers."""
    store = Store.open(home, cost=CHEAP)
    add = store.people.add
    add(Person("ada", "Ada Birch", ("administrator", "clerk")), SECRET, by=None)
    add(Person("tom", "Tom Alder", ("mechanic",)), SECRET, by="ada")
    for number in range(REVIEWERS):
        person = Person(
            f"rev{number}", f"Reviewer {number}", ("reviewer",), f"C-{number}", "B1",
            (Authorisation("*", inspect=True),),
        )  # fmt: skip
        add(person, SECRET, by="ada")
    store.cards.add(CARD, "roller.yaml", by="ada")
    return store


def draft(text: str, *, serial: str = "RL-0001", audio: str = "") -> Draft:
    """A note that says `text`, with seven values that raise no question."""
    values = (
        *(FieldValue("10", "torque", str(n), Decimal(97 + n), "N*m") for n in range(1, 5)),
        FieldValue("10", "play", None, Decimal("0.32"), "mm"),
        FieldValue("10", "roller", None, serial),
        FieldValue("10", "grease", None, "pass"),
    )
    return Draft("BN-10", "1", "10", (Take(Transcript.of_text(text), audio),), values)


def confirmed(store: Store, note: Note, by: str) -> Record:
    """The note accepted as it is and signed, as a reviewer does it through the pages."""
    at = datetime.now(UTC)
    decisions = accept_undoubted(note.draft.values, by=by, at=at)
    act = Confirmation(note.id, note.version, decisions)
    shown = store.records.show(act, by=by)
    return store.records.sign(act, by=by, secret=SECRET, digest=shown.digest)
