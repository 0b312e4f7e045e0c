"""How many of a thing there are, and how it is, in other words than those of the card."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cases import GOLDEN, MAPPING, cases, expected, filled
from voicelog import cards
from voicelog.pipeline import read_text

CARD = cards.load(MAPPING / "tallies.yaml")


@pytest.mark.parametrize("case", cases("mapping/tallies.jsonl"))
def test_golden(case: dict[str, Any]) -> None:
    assert filled(case, CARD) == expected(case)


def test_a_list_may_begin_with_a_bare_number_of_which_a_measure_is_told() -> None:
    card = cards.load(GOLDEN / "cards" / "compression.yaml")
    text = "four is 68 over 80, five is 72 over 80"
    step = next(step.number for step in card.steps for each in step.fields if each.type == "ratio")
    got = [(value.position, value.needs_check) for value in read_text(text, card, step).values]
    assert got == [("4", False), ("5", False)]
    lone = read_text("rings worn, one is 60 over 80", card, step)
    assert all(value.position is None or value.needs_check for value in lone.values)
