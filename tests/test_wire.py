"""Objects to JSON and back: nothing is lost, and the canonical form is one."""

from __future__ import annotations

import json
from datetime import UTC, date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog import wire
from voicelog.heard import Suspicion, Transcript, Word
from voicelog.objects import Draft, FieldValue, Interval, Mention, Note, Ratio, Reason, Take

decimals = st.decimals(allow_nan=False, allow_infinity=False, places=4)
values = st.one_of(
    decimals,
    st.text(),
    st.dates(),
    st.builds(Ratio, decimals, decimals),
    st.builds(Interval, st.none() | decimals, st.none() | decimals),
)
texts = st.text(max_size=12)
mentions = st.builds(
    Mention,
    kind=st.sampled_from(["quantity", "remark", "identifier"]),
    text=texts,
    start=st.integers(0, 99),
    end=st.integers(0, 99),
    value=st.none() | values,
    alternatives=st.lists(values, max_size=2).map(tuple),
    qualifiers=st.frozensets(texts, max_size=3),
)
field_values = st.builds(
    FieldValue,
    step=texts,
    field=texts,
    position=st.none() | texts,
    value=values,
    as_found=st.none() | values,
    reasons=st.lists(st.builds(Reason, texts, texts), max_size=2).map(tuple),
    mentions=st.lists(mentions, max_size=2).map(tuple),
)
transcripts = st.builds(
    Transcript,
    words=st.lists(st.builds(Word, texts, st.just(0.5), st.just(1.5)), max_size=4).map(tuple),
    suspicions=st.lists(
        st.builds(Suspicion, st.just(1), st.just(2), st.just(("a",)), st.just(0.5), texts),
        max_size=1,
    ).map(tuple),
)
notes = st.builds(
    Note,
    id=texts,
    work_order=texts,
    by=texts,
    created_at=st.datetimes(timezones=st.just(UTC)),
    draft=st.builds(
        Draft,
        card=texts,
        revision=texts,
        step=st.none() | texts,
        takes=st.lists(st.builds(Take, transcripts), max_size=2).map(tuple),
        values=st.lists(field_values, max_size=2).map(tuple),
        unplaced=st.lists(mentions, max_size=2).map(tuple),
        missing=st.lists(st.tuples(texts, texts, st.none() | texts), max_size=2).map(tuple),
    ),
)


@given(notes)
def test_a_note_comes_back_as_it_was(note: Note) -> None:
    there = json.loads(wire.canonical(note))
    assert wire.from_plain(Note, there) == note
    assert wire.canonical(wire.from_plain(Note, there)) == wire.canonical(note)


@given(values)
def test_a_value_keeps_its_type_and_its_digits(value: object) -> None:
    back = wire.from_plain(FieldValue, wire.to_plain(FieldValue("1", "f", None, value))).value
    assert (type(back), str(back)) == (type(value), str(value))


def test_digits_are_part_of_what_is_signed() -> None:
    half, fifty = (FieldValue("1", "f", None, Decimal(text)) for text in ("0.5", "0.50"))
    assert wire.digest(half) != wire.digest(fifty)


def test_what_is_not_an_object_is_refused() -> None:
    for data in ({}, {"step": "1"}, {"nonsense": 1}, [], {"step": "1", "value": {"x": 1}}):
        with pytest.raises(ValueError, match=r"."):
            wire.from_plain(FieldValue, data)


def test_the_contract_shows_numbers_as_numbers() -> None:
    shown = wire.contract_field(
        FieldValue(
            "30",
            "bolt_torque",
            "4",
            Decimal(94),
            unit="N*m",
            as_spoken="ninety four",
            limit="below",
            confidence=0.97,
            start=61,
            end=72,
        )
    )
    assert shown == {
        "step": "30",
        "field": "bolt_torque",
        "position": "4",
        "value": 94,
        "unit": "N*m",
        "as_spoken": "ninety four",
        "limit": "below",
        "needs_check": False,
        "reasons": [],
        "confidence": 0.97,
        "start": 61,
        "end": 72,
    }
    assert wire.plain_value(Ratio(Decimal(74), Decimal(80))) == {"reading": 74, "reference": 80}
    assert wire.plain_value(Decimal("0.45")) == 0.45
    assert wire.plain_value(date(2026, 11, 30)) == "2026-11-30"


def test_transcripts_join_as_one_text() -> None:
    first = Transcript((Word("bolt", 0.1, 0.4), Word("one", 0.5, 0.7)))
    second = Transcript(
        (Word("ninety", 0.2, 0.5),), suspicions=(Suspicion(0, 6, ("nineteen",), 0.3, "close"),)
    )
    both = Transcript.joined((first, Transcript(()), second))
    assert both.text == "bolt one ninety"
    found = both.suspicions[0]
    assert both.text[found.start : found.end] == "ninety"
    assert both.words_in(9, 15) == second.words
    assert both.words_in(3, 6) == first.words
