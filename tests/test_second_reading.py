"""Two models read the same sound: what only one of them holds, and what they hold differently."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from voicelog.heard import Suspicion, Transcript
from voicelog.objects import Card, Draft, Field, FieldValue, Step, Take
from voicelog.pipeline import Chain
from voicelog.speech import recheck

GAP = Field(
    "gap",
    "Gap",
    "measurement",
    "mm",
    min=Decimal(1),
    max=Decimal(9),
    positions=("upper", "lower"),
    say=("gap",),
    required=True,
)
SERIAL = Field("serial", "Serial number", "identifier", say=("serial number",))
SEAL = Field("seal", "Seal", "check", say=("seal",))
NOTE = Field("note", "Remarks", "text", say=("remark",))
CARD = Card(
    "C-1",
    "Card",
    "1",
    date(2026, 1, 1),
    "invented",
    (Step("1", "One", (GAP, SERIAL, SEAL, NOTE)),),
)


def drafted(first: str, second: str) -> Draft:
    transcript = replace(Transcript.of_text(first), second=second)
    return Chain().propose((Take(transcript),), CARD, "1")


def value(draft: Draft, field: str, position: str | None = None) -> FieldValue:
    (found,) = [each for each in draft.values if each.key == ("1", field, position)]
    return found


def codes(found: FieldValue) -> set[str]:
    return {reason.code for reason in found.reasons}


@pytest.mark.parametrize(("chance", "asked"), [(0.9, False), (0.3, True)])
def test_a_place_that_was_surely_heard_stands_against_nonsense(chance: float, asked: bool) -> None:
    heard = Transcript.of_text("Gap upper two point five millimetres")
    start = heard.text.index("upper")
    doubt = Suspicion(start, start + 5, ("supper",), 0.0, recheck.READ_OTHERWISE)
    words = tuple(
        replace(word, probability=chance) if word.text == "upper" else word for word in heard.words
    )
    second = "Gap of a bar two point five millimetres"
    transcript = replace(heard, words=words, suspicions=(doubt,), second=second)
    found = value(Chain().propose((Take(transcript),), CARD, "1"), "gap", "upper")
    assert ("second_look" in codes(found)) == asked


def test_what_both_hold_stands_as_it_is() -> None:
    words = "Gap upper two point five millimetres, lower three."
    assert drafted(words, "gap upper 2.5 mm lower 3").values == drafted(words, "").values


def test_a_hedge_that_only_the_second_heard_is_asked_about() -> None:
    said = "Gap upper two point five millimetres"
    for second, asked in (("or so", {"about"}), ("I think", {"hedged"}), ("also", set())):
        draft = drafted(f"{said} also.", f"{said} {second}.")
        assert codes(value(draft, "gap", "upper")) == asked
        assert value(draft, "gap", "upper").value == Decimal("2.5")


def test_what_only_the_second_holds_is_proposed_and_asked_about() -> None:
    first = "Gap up at two point five millimetres, low and sea millimetres."
    draft = drafted(first, "Gap upper two point five millimetres, lower three millimetres.")
    lower = value(draft, "gap", "lower")
    assert lower.value == Decimal(3)
    assert codes(lower) == {"second_only"}
    assert first[lower.start : lower.end] == "and sea millimetres."
    assert ("1", "gap", "lower") not in draft.missing
    (reason,) = lower.reasons
    assert reason.sentence.endswith(': "three millimetres"')


def test_words_that_the_second_puts_elsewhere_are_asked_about() -> None:
    draft = drafted(
        "Gaps both two point five millimetres.", "Gap upper two point five millimetres."
    )
    assert codes(value(draft, "gap", "lower")) == {"put_elsewhere"}
    assert value(draft, "gap", "upper").value == Decimal("2.5")


@pytest.mark.parametrize("second", ["Seal was still alive.", "Seal was still a life and cracked."])
def test_a_verdict_for_which_the_second_has_other_words_is_asked_about(second: str) -> None:
    assert not codes(value(drafted("Seal was still dry.", "Seal is still dry."), "seal"))
    assert codes(value(drafted("Seal was still dry.", second), "seal")) == {"read_otherwise"}


def test_what_they_hold_differently_is_asked_about_with_the_other_value() -> None:
    draft = drafted("Serial number bravo kilo two one nine.", "Serial number victor kilo 219.")
    serial = value(draft, "serial")
    assert serial.value == "BK219"
    assert "read_otherwise" in codes(serial)
    assert "VK219" in serial.alternatives


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("Seal good.", "Seal good, I think gap upper about two or three millimetres."),
        ("Seal good.", "Seal good. Remark, paint is chipped."),
    ],
)
def test_what_the_second_is_not_sure_of_and_remarks_are_left(first: str, second: str) -> None:
    assert drafted(first, second).values == drafted(first, "").values


@pytest.mark.parametrize(
    ("second", "asked"),
    [
        ("Remark cowl fastener replaced.", False),
        ("Remark, cowl fast ener replaced", False),
        ("Remark, cal fastener replaced.", True),
    ],
)
def test_a_remark_in_free_words_is_asked_about_where_the_words_differ(
    second: str, asked: bool
) -> None:
    draft = drafted("Remark, cowl fastener replaced.", second)
    note = value(draft, "note")
    assert note.value == "cowl fastener replaced"
    assert codes(note) == ({"read_otherwise"} if asked else set())


def test_the_one_whose_words_leave_nothing_open_is_proposed() -> None:
    first = "Gap upper four or five millimetres, lower two."
    upper = value(
        drafted(first, "Gap upper four point five millimetres, lower two."), "gap", "upper"
    )
    assert upper.value == Decimal("4.5")
    assert codes(upper) == {"read_otherwise"}
    assert first[upper.start : upper.end] == "four or five millimetres,"


@pytest.mark.parametrize(
    ("said", "unit", "asked"),
    [("millimetres", "mm", set()), ("centimetres", "cm", {"read_otherwise"})],
)
def test_a_unit_that_only_the_second_heard_is_asked_about_unless_it_is_the_card_s(
    said: str, unit: str, asked: set[str]
) -> None:
    upper = value(drafted("Gap upper four down.", f"Gap upper four {said}."), "gap", "upper")
    assert (upper.value, upper.unit) == (Decimal(4), unit)
    assert codes(upper) - {"wild"} == asked


def test_a_value_in_another_unit_is_not_offered_as_if_it_were_in_ours() -> None:
    draft = drafted("Gap upper four millimetres.", "Gap upper five thou.")
    upper = value(draft, "gap", "upper")
    assert (upper.value, upper.unit, upper.alternatives) == (Decimal(4), "mm", ())
    assert "read_otherwise" in codes(upper)


def test_a_field_that_the_second_names_plainly_is_named() -> None:
    first, second = "Cereal number bravo kilo nine.", "Serial number bravo kilo nine."
    assert codes(value(drafted(first, ""), "serial")) & {"misheard_term", "loosely_named"}
    assert not codes(value(drafted(first, second), "serial"))


def test_limits_choose_between_no_two_readings() -> None:
    draft = drafted("Gap upper forty millimetres.", "Gap upper four millimetres.")
    upper = value(draft, "gap", "upper")
    assert upper.value == Decimal(40)
    assert {"wild", "read_otherwise"} <= codes(upper)


def test_a_verdict_turned_round_is_asked_about() -> None:
    draft = drafted("Seal is good.", "Seal is not good.")
    assert value(draft, "seal").value == "pass"
    assert "read_otherwise" in codes(value(draft, "seal"))


def test_seconds_of_several_takes_are_read_as_one_text() -> None:
    takes = (
        Take(replace(Transcript.of_text("Seal good."), second="Seal good.")),
        Take(replace(Transcript.of_text("Gap up at two."), second="Gap upper two millimetres.")),
        Take(Transcript.of_text("Serial number alfa one two.")),
    )
    draft = Chain().propose(takes, CARD, "1")
    assert {each.field: each.take for each in draft.values} == {"seal": 0, "gap": 1, "serial": 2}


WORDS = st.lists(
    st.sampled_from(
        [
            "gap",
            "upper",
            "lower",
            "two",
            "three",
            "point",
            "five",
            "millimetres",
            "seal",
            "good",
            "not",
            "worn",
        ]
    )
).map(" ".join)


OF_WORDING = {"joined_digits", "loosely_named", "misheard_term", "placed_by_unit"}


@example("upper two", "upper two millimetres")
@given(WORDS.filter(bool), WORDS)
def test_what_the_first_holds_plainly_is_never_changed_only_doubted(
    first: str, second: str
) -> None:
    alone, with_second = drafted(first, ""), drafted(first, second)
    for was, now in zip(alone.values, with_second.values, strict=False):
        assert was.key == now.key
        if not was.reasons:
            assert (was.value, was.start) == (now.value, now.start)
        elif was.value != now.value:
            assert was.value in now.alternatives
        settled = OF_WORDING | {"unit_unsaid"} if now.unit and not was.unit else OF_WORDING
        assert now.reasons or codes(was) <= settled  # named after all, or with its unit
    for more in with_second.values[len(alone.values) :]:
        assert codes(more) == {"second_only"}
        assert 0 <= more.start <= more.end <= len(first)


def test_where_both_come_to_the_same_value_doubts_of_words_count_no_longer() -> None:
    words = "Gap upper two point five millimetres."
    for why, asked in (
        (recheck.READ_OTHERWISE, False),
        (recheck.UNLIKELY, False),
        (recheck.BY_THE_CARD, False),
        (recheck.SOUNDS_LIKE, True),
    ):
        doubted = Suspicion(10, 24, ("too point five",), 0.0, why)
        for second, counts in ((words, asked), ("", True), ("Gap upper four millimetres.", True)):
            transcript = replace(
                Transcript.of_text(words),
                suspicions=(doubted,),
                second=second and f"Well, {second}",
            )
            draft = Chain().propose((Take(transcript),), CARD, "1")
            assert value(draft, "gap", "upper").needs_check is counts, (why, second)


def test_a_second_reading_that_leaves_it_open_bears_nothing_out() -> None:
    doubted = Suspicion(10, 24, (), 0.0, recheck.UNLIKELY)
    transcript = replace(
        Transcript.of_text("Gap upper two point five millimetres."),
        suspicions=(doubted,),
        second="Gap upper about two point five millimetres.",
    )
    draft = Chain().propose((Take(transcript),), CARD, "1")
    assert codes(value(draft, "gap", "upper")) == {"second_look", "about"}


@pytest.mark.parametrize(
    ("second", "asked"),
    [
        ("Gap up where two point five millimetres.", False),  # nonsense where its place would be
        ("Gap lower two point five millimetres.", True),
        ("Gap lower two point five millimetres, lower four millimetres.", True),
        ("Gap up where two point nine millimetres.", True),
    ],
)
def test_a_place_that_the_second_has_nonsense_for_stands(second: str, asked: bool) -> None:
    doubted = Suspicion(4, 9, ("up where",), 0.0, recheck.READ_OTHERWISE)
    transcript = replace(
        Transcript.of_text("Gap upper two point five millimetres."),
        suspicions=(doubted,),
        second=second,
    )
    draft = Chain().propose((Take(transcript),), CARD, "1")
    assert value(draft, "gap", "upper").needs_check is asked
    own = replace(transcript, suspicions=(doubted, replace(doubted, start=10, end=13)))
    assert value(Chain().propose((Take(own),), CARD, "1"), "gap", "upper").needs_check


@pytest.mark.parametrize(
    ("first", "second", "asked"),
    [
        ("Gap upper one, and a half millimetres.", "Gap upper one and a half millimetres.", False),
        ("Gap upper one, and a half millimetres.", "Gap upper one, and a half, millimetres.", True),
        ("Cape Bott upper two millimetres.", "Gap upper two millimetres.", False),
        ("Cape Bott upper two millimetres.", "Cape pot upper two millimetres.", True),
        ("Cape Bott upper two millimetres.", "Upper two millimetres.", True),
    ],
)
def test_what_the_second_has_without_a_pause_or_names_plainly_stands(
    first: str, second: str, asked: bool
) -> None:
    assert value(drafted(first, first), "gap", "upper").needs_check
    assert value(drafted(first, second), "gap", "upper").needs_check is asked
