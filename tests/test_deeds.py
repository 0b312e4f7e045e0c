"""What things do, told of the checks that are about them, and whether it is so; kinds of things."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cases import MAPPING, cases, expected, filled
from voicelog import cards
from voicelog.pipeline import read_text
from voicelog.reading.kinds import does, kind_of

CARD = cards.load(MAPPING / "conveyor.yaml")


@pytest.mark.parametrize("case", cases("mapping/deeds.jsonl", "mapping/mood.jsonl"))
def test_golden(case: dict[str, Any]) -> None:
    assert filled(case, CARD) == expected(case)


@pytest.mark.parametrize(
    "text",
    [
        "the crane alarm came up while I waited",
        "pull cord, then the gate",
        "start bell next",
        "the trip out here took an hour",
    ],
)
def test_nothing_is_told_of_a_check(text: str) -> None:
    assert not [value for value in read_text(text, CARD, "1").values if not value.needs_check]


def test_kinds() -> None:
    assert kind_of("bell") == "sounder"
    assert kind_of("spanner") is None
    assert does("sounder", "ring")
    assert not does("rubber", "ring")
