"""Two wordings of the same speech: where a stretch of one stands in the other."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.alignment import counterpart

CASES = (
    ("bottle one ninety", "bottle", "Gottle one, ninety.", "Gottle"),
    ("bottle one ninety", "ninety", "Gottle one, ninety.", "ninety."),
    ("upper good, lower worn", "upper", "up at good, lower worn", "up at"),
    ("no screws missing", "no screws", "nose cruise missing", "nose cruise"),
    ("four to six, point eight", "four to six,", "forty six, point eight", "forty six,"),
    ("gap two and a half", "gap", "two and a half", ""),
    ("two", "two", "", ""),
)
"""(a wording, words of it, another wording, what stands there for them)."""


@pytest.mark.parametrize(("text", "words", "other", "there"), CASES)
def test_what_stands_there_for_it(text: str, words: str, other: str, there: str) -> None:
    start = text.index(words)
    first, end = counterpart(text, start, start + len(words), other)
    assert other[first:end] == there


TEXT = st.lists(st.sampled_from(["one", "two", "gap", "upper", "Two,"])).map(" ".join)


@given(TEXT, TEXT, st.data())
def test_it_is_always_a_stretch_of_the_other(text: str, other: str, data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(start, len(text)))
    first, last = counterpart(text, start, end, other)
    assert 0 <= first <= last <= len(other)


@given(TEXT.filter(bool))
def test_in_the_same_words_it_is_the_same_stretch(text: str) -> None:
    assert counterpart(text, 0, len(text), text) == (0, len(text))
