"""Terms: one key for every way to write a phrase, and a weaker match by its sound."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.objects import Card, Field, Step
from voicelog.reading import terms, words
from voicelog.reading.lexicon import lexicon_of

CARD = Card(
    "T-1",
    "Test",
    "1",
    date(2026, 1, 1),
    "invented",
    (
        Step(
            "1",
            "One",
            (
                Field("cotter_pin", "Cotter pin fitted", "check", say=("cotter pin",)),
                Field("lock_wire", "Lock wire", "check", say=("lock wire",)),
                Field(
                    "rudder", "Rudder cable tension", "measurement", "lbf", say=("rudder cable",)
                ),
                Field("n1", "N1", "measurement", "percent", say=("N1", "n one")),
                Field("loose", "Loose bolts", "count", say=("loose bolts",)),
                Field("damage", "No heat damage", "check", say=("heat damage",)),
            ),
        ),
    ),
    terms=(("axle nut", ("axle nut", "wheel nut")),),
)


def _found(text: str) -> list[tuple[str, bool]]:
    lexicon = lexicon_of(CARD)
    return [
        (str(mention.value), "near" in mention.qualifiers)
        for mention in terms.find(text, words.tokenise(text), lexicon)
    ]


@pytest.mark.parametrize(
    "text", ["lock wire", "lockwire", "lock-wire", "Lock Wires", "LOCK WIRE", "lock the wire"]
)
def test_one_phrase_however_it_is_written(text: str) -> None:
    assert _found(text) == [("lock wire", False)]


@pytest.mark.parametrize(
    ("text", "term"),
    [("coder pin", "cotter pin"), ("rotter cable", "rudder cable")],
)
def test_a_misheard_name_is_found_by_its_sound(text: str, term: str) -> None:
    assert (term, True) in _found(text)


def test_an_exact_name_is_no_near_one() -> None:
    assert _found("cotter pin") == [("cotter pin", False)]


def test_a_figure_in_a_name_may_be_said_as_a_word() -> None:
    assert _found("n one") == _found("N1") == [("n1", False)]


def test_another_way_to_say_it_is_the_same_term() -> None:
    assert _found("wheel nut") == [("axle nut", False)]


def test_everyday_words_are_no_misheard_names() -> None:
    assert not [term for term, near in _found("and then we had to look at it again") if near]


def test_names_lead_to_their_fields() -> None:
    lexicon = lexicon_of(CARD)
    assert lexicon.places["rudder cable"] == {("1", "rudder"): 1.0}
    assert lexicon.places["cable"] == {("1", "rudder"): 0.5}
    assert "heat damage" in lexicon.faults
    assert "loose bolts" in lexicon.counted
    assert ("1", "cotter_pin") in lexicon.states


@given(st.text(max_size=200))
def test_every_term_is_verbatim(text: str) -> None:
    for mention in terms.find(text, words.tokenise(text), lexicon_of(CARD)):
        assert text[mention.start : mention.end] == mention.text


@given(st.text(alphabet="abcdefghij klmnop-'", max_size=60))
def test_the_key_knows_no_case(text: str) -> None:
    assert words.phrase_key(text) == words.phrase_key(text.upper())
