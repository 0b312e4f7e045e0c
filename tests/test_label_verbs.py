"""What the label of a check says of its thing: said of it, it is met; named alone, nothing is."""

from __future__ import annotations

from datetime import date

import pytest

from voicelog.objects import Card, Field, Step
from voicelog.pipeline import read_text

CARD = Card(
    "L-1",
    "Labels",
    "1",
    date(2026, 1, 1),
    "invented",
    (
        Step(
            "1",
            "Checks",
            (
                Field("gate_switch", "Gate switch stops machine", "check", say=("gate switch",)),
                Field("drains", "Autom. drains discharge", "check", say=("drains",)),
                Field("pawl", "Ratchet pawl engages", "check"),
                Field("cut_out", "Overload cut-out", "check"),
                Field("valve", "Shut-off valve closes", "check"),
            ),
        ),
    ),
)


def _read(text: str) -> dict[str, object]:
    return {value.field: value.value for value in read_text(text, CARD, "1").values}


@pytest.mark.parametrize(
    ("text", "field", "value"),
    [
        ("gate switch stops it", "gate_switch", "pass"),
        ("gate switch stops the machine every time", "gate_switch", "pass"),
        ("the gate switch doesn't stop the machine", "gate_switch", "fail"),
        ("both drains discharge", "drains", "pass"),
        ("the drains don't discharge", "drains", "fail"),
        ("ratchet pawl engages", "pawl", "pass"),
        ("ratchet pawl does not engage", "pawl", "fail"),
        ("overload cut-out passed", "cut_out", "pass"),
        ("overload cut-out works", "cut_out", "pass"),
        ("shut-off valve closes", "valve", "pass"),
    ],
)
def test_what_the_label_says_of_a_thing(text: str, field: str, value: str) -> None:
    assert _read(text) == {field: value}


@pytest.mark.parametrize(
    "text",
    [
        "overload cut-out",
        "didn't try the overload cut-out, its relay is out for repair",
        "the gate switch and the drains",
        "shut-off valve",
    ],
)
def test_a_name_alone_says_nothing(text: str) -> None:
    assert not set(_read(text).values()) & {"pass", "fail"}


def test_a_cut_out_that_tripped_is_asked_about() -> None:
    (value,) = read_text("overload cut-out tripped", CARD, "1").values
    assert value.value == "pass"
    assert value.needs_check
