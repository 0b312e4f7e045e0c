"""Checks that are told of in words no list holds: a verdict is supposed, and always asked about."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.cases import MAPPING, cases, expected, filled
from voicelog import cards
from voicelog.pipeline import read_text
from voicelog.reading import verdict_words

if TYPE_CHECKING:
    from voicelog.objects import Field

CARD = cards.load(MAPPING / "supposed.yaml")
CHECKS = [each for step in CARD.steps for each in step.fields if each.type == "check"]


@pytest.mark.parametrize("case", cases("mapping/supposed.jsonl"))
def test_golden(case: dict[str, Any]) -> None:
    assert filled(case, CARD) == expected(case)


@pytest.mark.parametrize(
    ("said", "label", "verdict"),
    [
        ("came open in my hands", "Holding dog latches", "fail"),
        ("didn't budge", "Holding dog latches", "pass"),
        ("came open in my hands", "Vent opens by itself", "pass"),
        ("not a drop", "Sill seal dry", "pass"),
        ("stayed dark", "Beacon comes on", "fail"),
        ("rocks like a boat", "No play in hoist bearing", "fail"),
        ("Ozzie was watching", "Safety edge stops gate", None),
    ],
)
def test_the_same_words_are_good_of_one_label_and_bad_of_another(
    said: str, label: str, verdict: str | None
) -> None:
    (field,) = (each for each in CHECKS if each.label == label)
    assert verdict_words.verdict(said, field) == verdict


def test_no_phrase_is_good_and_bad_of_one_kind() -> None:
    for kind in (verdict_words.verdict_words().always, *verdict_words.verdict_words().kinds):
        assert not kind.good & kind.bad


PHRASES = st.sampled_from(
    sorted(
        phrase for kind in verdict_words.verdict_words().kinds for phrase in kind.bad | kind.good
    )
)


@given(field=st.sampled_from(CHECKS), phrase=PHRASES)
def test_what_is_supposed_is_asked_about(field: Field, phrase: str) -> None:
    step = next(step.number for step in CARD.steps if field in step.fields)
    place = f"{field.positions[0]} " if field.positions else ""
    for value in read_text(f"{place}{field.label.split()[0]} {phrase}", CARD, step).values:
        if any(reason.code == "supposed" for reason in value.reasons):
            assert value.needs_check
            assert value.alternatives == ({"pass": "fail", "fail": "pass"}[str(value.value)],)
