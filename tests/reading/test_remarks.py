"""Remarks: polarity, scope of negation, what carries it. Common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.reading import remarks
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.terms import find as find_terms
from voicelog.reading.words import tokenise


def _said(text: str) -> list[tuple[str, str, tuple[str, ...]]]:
    tokens = tokenise(text)
    lexicon = lexicon_of(None)
    terms = list(find_terms(text, tokens, lexicon))
    return [
        (str(mention.value), mention.text, mention.doubts)
        for mention in remarks.find(text, tokens, terms, lexicon)
    ]


@pytest.mark.parametrize(
    ("text", "value", "words"),
    [
        ("pass", "pass", "pass"),
        ("it failed", "fail", "failed"),
        ("fitted", "pass", "fitted"),
        ("not fitted", "fail", "not fitted"),
        ("not done", "not done", "not done"),
        ("not locked yet", "not done", "not locked"),
        ("not cleaned, no time", "fail", "not cleaned"),
        ("didn't clean it", "not done", "didn't clean"),
        ("not clean", "fail", "not clean"),
        ("didn't work", "fail", "didn't work"),
        ("no leaks", "pass", "no leaks"),
        ("nil cracks", "pass", "nil cracks"),
        ("no visible corrosion", "pass", "no visible corrosion"),
        ("free of debris", "pass", "free of debris"),
        ("couldn't find any leaks", "pass", "couldn't find any leaks"),
        ("without any play", "pass", "without any play"),
        ("a crack in the flange", "fail", "crack"),
        ("small leak", "fail", "small leak"),
        ("leaking", "fail", "leaking"),
        ("not leaking", "pass", "not leaking"),
        ("not damaged", "pass", "not damaged"),
        ("within limits", "pass", "within limits"),
        ("not within limits", "fail", "not within limits"),
        ("out of limits", "fail", "out of limits"),
        ("unserviceable", "fail", "unserviceable"),
        ("u/s", "fail", "u/s"),
        ("looks fine", "pass", "fine"),
        ("nothing found", "pass", "nothing found"),
    ],
)
def test_one_remark(text: str, value: str, words: str) -> None:
    assert [(said, verbatim) for said, verbatim, _ in _said(text)] == [(value, words)]


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("no cracks or corrosion", ["pass", "pass"]),
        ("no cracks, nicks or dents", ["pass", "pass", "pass"]),
        ("no cracks but light corrosion", ["pass", "fail"]),
        ("no cracks, light corrosion", ["pass", "fail"]),
        ("no leaks, pass", ["pass", "pass"]),
        ("small leak at the governor, fail", ["fail", "fail"]),
        ("there is no doubt it is cracked", ["fail"]),
    ],
)
def test_how_far_a_negation_reaches(text: str, values: list[str]) -> None:
    assert [value for value, _, _ in _said(text)] == values


@pytest.mark.parametrize(
    ("text", "doubt"),
    [
        ("pump and serviceable", "misheard_polarity"),
        ("Nell leaks", "misheard_polarity"),
        ("Nail cracks", "misheard_polarity"),
        ("Ass.", "misheard_polarity"),
        ("not unserviceable", "double_negation"),
        ("not without leaks", "double_negation"),
        ("no cracks, corrosion on the flange", "negation_scope"),
        ("leak fixed", "repaired"),
        ("not greased", "left_to_do"),
    ],
)
def test_what_the_ear_or_the_grammar_leaves_open_is_doubted(text: str, doubt: str) -> None:
    assert doubt in {code for *_, doubts in _said(text) for code in doubts}


@pytest.mark.parametrize(
    "text",
    ["pass me that torch", "pass the spanner", "leak passed the valve", "nil", "ninety five"],
)
def test_a_word_of_talk_is_no_verdict(text: str) -> None:
    assert not [value for value, verbatim, _ in _said(text) if verbatim in {"pass", "passed"}]


@given(st.text(max_size=200))
def test_every_remark_is_verbatim(text: str) -> None:
    tokens = tokenise(text)
    for mention in remarks.find(text, tokens, (), lexicon_of(None)):
        assert text[mention.start : mention.end] == mention.text
        assert mention.value in {"pass", "fail", "not done"} or mention.kind == "count"
