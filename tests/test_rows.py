"""Rows of values and of states, read off on a card that gives no other words."""

from __future__ import annotations

import pytest

from tests.cases import MAPPING
from voicelog import cards
from voicelog.pipeline import read_text

CARD = cards.load(MAPPING / "kiln.yaml")
CASES = {
    "places above ten": (
        "2",
        "gas pressure: 11 is 22, 12 is 23, 13 is 21, all millibar",
        {"11": "22", "12": "23", "13": "21"},
    ),
    "a place behind its thing": (
        "1",
        "seal on three is worn, the others are good",
        {"3": "worn", "1": "good", "2": "good", "4": "good", "5": "good", "6": "good"},
    ),
    "a point of a number": (
        "1",
        "gap two millimetres on one, two point two on two, two point four on three",
        {"1": "2", "2": "2.2", "3": "2.4"},
    ),
    "measuring points": (
        "4",
        "vibration at point one two point one millimetres a second, at point two two point four",
        {"1": "2.1", "2": "2.4"},
    ),
    "letters by their names": (
        "1",
        "line alpha thirty two amps, bravo thirty three, charlie thirty one",
        {"A": "32", "B": "33", "C": "31"},
    ),
    "places turned about": (
        "3",
        "run-out front left 0.1, front right 0.15, rear left 0.2 mm",
        {"left front": "0.1", "right front": "0.15", "left rear": "0.2"},
    ),
    "a place with its article": (
        "5",
        "rope diameter 12.1 mm near the drum, 11.8 mm near the hook",
        {"near drum": "12.1", "near hook": "11.8"},
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_a_row_lands_at_its_places(case: tuple[str, str, dict[str, str]]) -> None:
    step, text, wanted = case
    draft = read_text(text, CARD, step)
    assert {value.position: str(value.value) for value in draft.values} == wanted
