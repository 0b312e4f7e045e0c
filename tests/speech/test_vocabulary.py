"""The prompt: the step's own words, and never a number."""

from __future__ import annotations

import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog import cards
from voicelog.objects import Card, Field, Step
from voicelog.speech import vocabulary
from voicelog.speech.critical import items

CARD = Card(
    number="QX-10-01",
    title="Winch check",
    revision="2",
    revision_date=date(2026, 3, 1),
    source="invented handbook 10-01",
    terms=(("brake band", ("brake band", "band")), ("pawl", ("pawl",))),
    steps=(
        Step(
            "10", "Rope", (Field("rope", "Rope diameter", "measurement", unit="mm", say=("rope",)),)
        ),
        Step(
            "20",
            "Brake",
            (
                Field("gap", "Air gap", "measurement", unit="mm", say=("air gap",)),
                Field("drum", "Drum", "choice", options=("clean", "scored"), say=("drum",)),
                Field("tool", "Gauge", "identifier", kind="tool number", say=("gauge",)),
                Field("oil", "Oil 2 found", "check"),
            ),
        ),
        Step("30", "Hook", (Field("hook", "Hook wear", "measurement", unit="percent"),)),
    ),
)


def test_the_step_comes_first_then_its_neighbours() -> None:
    prompt = vocabulary.of(CARD, "20").prompt
    assert prompt.startswith("Air gap millimetres,")
    assert "Drum clean scored," in prompt
    assert prompt.index("Air gap") < prompt.index("Rope millimetres") < prompt.index("Hook wear")
    assert "Brake band," in prompt


def test_the_step_may_be_given_itself_or_by_number() -> None:
    assert vocabulary.of(CARD, CARD.steps[1]) == vocabulary.of(CARD, "20")


def test_the_alphabet_is_there_where_an_identifier_is_asked_for() -> None:
    assert vocabulary.of(CARD, "20").identifiers
    assert "Whiskey" in vocabulary.of(CARD, "20").prompt
    assert not vocabulary.of(CARD, "30").identifiers
    assert "Whiskey" not in vocabulary.of(CARD, "30").prompt


def test_a_verdict_never_stands_beside_a_cue() -> None:
    for phrase in vocabulary.of(CARD, "20").phrases:
        if re.search(r"\b(pass|fail|serviceable|unserviceable)\b", phrase, re.IGNORECASE):
            assert "Oil" not in phrase


def test_units_are_told_as_spoken() -> None:
    assert vocabulary.of(CARD, "20").units == ("millimetres", "mm")


@pytest.mark.parametrize("card", cards.shipped().values(), ids=lambda card: card.number)
def test_no_number_in_any_prompt_of_the_shipped_cards(card: Card) -> None:
    for step in (None, *card.steps):
        figures = [item for item in items(vocabulary.of(card, step).prompt) if item.is_figure]
        assert figures == []


@given(st.lists(st.text(alphabet="abno 0123456789twoneix.-", min_size=1, max_size=20), max_size=6))
def test_no_number_in_the_prompt_of_any_card(words: list[str]) -> None:
    say = tuple(word for word in words if word.strip())
    step = Step("1", "One of two", (Field("a", "Label 5", "measurement", unit="mm", say=say),))
    card = Card("C", "C", "1", date(2026, 1, 1), "s", (step,), terms=(("x", say),) if say else ())
    prompt = vocabulary.of(card, step).prompt
    assert not re.search(r"\d", prompt)
    assert [item for item in items(prompt) if item.is_figure] == []


def test_without_a_card_it_is_general() -> None:
    assert vocabulary.of().phrases
    assert not vocabulary.of().identifiers
