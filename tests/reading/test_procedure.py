"""Procedure words. SERA.14075(c), (d) and ICAO Doc 9432 for the formal ones; the informal ones
and as found / as left are common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.reading import procedure


def _acts(text: str) -> list[str]:
    return [str(mention.value) for mention in procedure.find(text)]


@pytest.mark.parametrize(
    ("text", "act"),
    [
        ("correction", "correction"),
        ("Correction.", "correction"),
        ("correction, I say again", "whole"),
        ("Correction. I say again.", "whole"),
        ("negative, I say again", "negative again"),
        ("I say again", "say again"),
        ("I SAY AGAIN", "say again"),
        ("disregard", "disregard"),
        ("disregard that", "disregard"),
        ("disregard the last", "strike"),
        ("scratch that", "strike"),
        ("negative", "negative"),
        ("make that ninety", "correction"),
        ("no wait", "slip"),
        ("sorry", "slip"),
        ("as found", "as found"),
        ("found at", "as found"),
        ("as left", "as left"),
        ("topped up to", "as left"),
        ("adjusted back to", "as left"),
        ("I think", "hedge"),
        ("not sure", "hedge"),
        ("ditto", "same"),
        ("apart from", "except"),
    ],
)
def test_what_the_words_do(text: str, act: str) -> None:
    assert _acts(text) == [act]


@pytest.mark.parametrize("text", ["negative pressure", "the negative terminal", "nowhere", "waste"])
def test_a_word_of_another_meaning(text: str) -> None:
    assert not {"negative", "slip", "as left"} & set(_acts(text))


def test_a_number_broken_off_is_told() -> None:
    assert "broken off" in _acts("one point ... two point six")


@given(st.text(max_size=200))
def test_every_act_is_verbatim(text: str) -> None:
    for mention in procedure.find(text):
        assert text[mention.start : mention.end] == mention.text
