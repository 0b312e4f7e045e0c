"""How many of a thing there are, and how it is, in other words than those of the card."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from voicelog import cards
from voicelog.pipeline import read_text

GOLDEN = Path(__file__).parent / "golden" / "mapping"
CARD = cards.load(GOLDEN / "tallies.yaml")
CASES = [
    json.loads(line)
    for line in (GOLDEN / "tallies.jsonl").read_text().splitlines()
    if not line.startswith("#")
]


@pytest.mark.parametrize("case", CASES, ids=[case["text"] for case in CASES])
def test_golden(case: dict[str, Any]) -> None:
    draft = read_text(case["text"], CARD, case["step"])
    got = [
        [value.field, value.position, value.value, "ask" if value.needs_check else "sure"]
        for value in draft.values
    ]
    assert got == case["fields"]


def test_a_list_may_begin_with_a_bare_number_of_which_a_measure_is_told() -> None:
    card = cards.load(GOLDEN.parent / "cards" / "compression.yaml")
    text = "four is 68 over 80, five is 72 over 80"
    step = next(step.number for step in card.steps for each in step.fields if each.type == "ratio")
    got = [(value.position, value.needs_check) for value in read_text(text, card, step).values]
    assert got == [("4", False), ("5", False)]
    lone = read_text("rings worn, one is 60 over 80", card, step)
    assert all(value.position is None or value.needs_check for value in lone.values)
