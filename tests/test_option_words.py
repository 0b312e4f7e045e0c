"""Options of a choice that are told in other words than the card's."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cases import MAPPING, cases, expected, filled
from voicelog import cards
from voicelog.reading import option_words

CARD = cards.load(MAPPING / "other_words.yaml")


@pytest.mark.parametrize("case", cases("mapping/other_words.jsonl"))
def test_golden(case: dict[str, Any]) -> None:
    assert filled(case, CARD) == expected(case)


def _meant(said: str, *options: str) -> str | None:
    """Which of `options` the words mean."""
    place = ("1", "state")
    phrases = option_words.phrases_of({place: {option: option for option in options}})
    words = said.split()
    found = option_words.longest(phrases, lambda at: words[at] if at < len(words) else "", 0)
    return found[1][place].option if found is not None and found[0] == len(words) else None


@pytest.mark.parametrize(
    ("said", "options", "option"),
    [
        ("punctured", ("sound", "torn", "holed"), "holed"),
        ("punctured", ("sound", "torn"), "torn"),
        ("pours out", ("dry", "weeping", "running"), "running"),
        ("poured out", ("dry", "weeping", "leaking"), "leaking"),
        ("unlit", ("lit", "dark"), "dark"),
        ("jammed", ("free", "sticking", "stuck"), "stuck"),
        ("fine", ("clean", "dirty"), "clean"),  # the only one with which nothing is wrong
        ("fine", ("worn", "renewed"), None),
        ("good", ("good", "torn"), None),  # as the card spells it
    ],
)
def test_the_nearest_option_is_meant(
    said: str, options: tuple[str, ...], option: str | None
) -> None:
    assert _meant(said, *options) == option


def test_every_state_says_something_of_its_own() -> None:
    for state in option_words.option_words().states:
        assert state.same or state.told, state.options
        assert not set(state.same) & set(state.told), state.options
        assert all(len(phrase.split()) <= 7 for phrase in (*state.same, *state.told))
