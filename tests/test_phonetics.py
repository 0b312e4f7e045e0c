"""How near words are by ear: pairs that a recogniser mixed up, and pairs that it never should."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.phonetics import likeness

TAKEN = (
    ("gottle", "bottle"),
    ("baskets", "gaskets"),
    ("lectures", "litres"),
    ("remorse", "reverse"),
    ("nose cruise", "no screws"),
    ("up at", "upper"),
    ("low and", "lower"),
    ("flusher stop", "flushness top"),
    ("hanger", "hangar"),
    ("clothes and", "closing"),
    ("third eighth", "thirtieth"),
    ("plenty", "twenty"),
)
"""Heard on synthetic voices that neither model was trained on, clean and at 15 dB."""
APART = (
    ("belt", "gauge"),
    ("screws", "litres"),
    ("upper", "found"),
    ("reverse", "bottle"),
    ("tension", "cover"),
)


@pytest.mark.parametrize(("said", "meant"), TAKEN)
def test_what_was_taken_for_each_other_is_near(said: str, meant: str) -> None:
    assert likeness(said, meant) >= 0.5


@pytest.mark.parametrize(("said", "meant"), APART)
def test_other_words_are_far(said: str, meant: str) -> None:
    assert likeness(said, meant) < 0.5


@given(st.text(), st.text())
def test_likeness_is_a_share_the_same_both_ways(one: str, other: str) -> None:
    assert 0.0 <= likeness(one, other) == likeness(other, one) <= 1.0


@given(st.from_regex(r"[a-z]{2,12}( [a-z]{2,12})?", fullmatch=True))
def test_nothing_is_nearer_than_the_same_words(phrase: str) -> None:
    assert likeness(phrase, phrase.upper()) in (0.0, 1.0)  # 0.0: without any consonant that sounds
