"""Identifiers: golden cases, the card's patterns, and what must never be swallowed."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.cases import cases
from voicelog.heard import Transcript
from voicelog.objects import Card, Field, Step
from voicelog.pipeline import Chain
from voicelog.reading import Reader
from voicelog.reading.spoken import spoken

if TYPE_CHECKING:
    from collections.abc import Callable

    from voicelog.objects import Mention


@pytest.mark.parametrize("case", cases("reading/identifiers.jsonl"))
def test_form(case: dict[str, Any], read_plain: Callable[[str], tuple[Mention, ...]]) -> None:
    (mention,) = read_plain(case["text"])
    assert mention.kind == "identifier"
    assert mention.value == case["value"]
    assert mention.qualifiers == frozenset(case.get("qualifiers", ()))
    assert list(mention.doubts) == case.get("doubts", [])
    if "or" in case:
        assert [str(other) for other in mention.alternatives] == case["or"]


ALPHABET = {letter: words[0] for letter, words in spoken().letters.items()}
FIGURES = {figure: words[0] for figure, words in spoken().figures.items()}


@given(
    st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=1, max_size=5),
    st.text("0123456789", min_size=2, max_size=6),
)
def test_what_is_spelt_comes_back(letters: str, figures: str) -> None:
    spelt = " ".join([*(ALPHABET[char] for char in letters), *(FIGURES[char] for char in figures)])
    (mention,) = Reader(None).read(Transcript.of_text(f"serial number {spelt}")).mentions
    assert mention.value == letters + figures
    assert mention.doubts == ()


@pytest.mark.parametrize("follows", ["ninety eight newton metres", "98 psi", "two point five mm"])
@pytest.mark.parametrize("code", ["hotel tango six six dash niner zero two", "HT66-902"])
def test_a_value_behind_it_is_left_alone(
    code: str, follows: str, read: Callable[[str], tuple[Mention, ...]]
) -> None:
    first, second = read(f"fitted wheel {code} {follows}")
    assert first.value == "HT66-902"
    assert second.kind == "quantity"
    assert second.text == follows


def test_the_pattern_of_the_card(read: Callable[[str], tuple[Mention, ...]]) -> None:
    (fits,) = read("fitted wheel HT66-902")
    assert "field:wheel_on" in fits.qualifiers
    assert fits.doubts == ()
    (misfit,) = read("fitted wheel HT66902")
    assert misfit.value == "HT66902"
    assert misfit.doubts == ("pattern_misfit",)
    assert misfit.alternatives == ("HT66-902",)


@pytest.mark.parametrize(
    "text",
    ["delta twenty five psi", "24V", "11.4mm", "3rd bolt", "step-30", "the tool is fine",
     "serial number not readable", "2h35"],
)  # fmt: skip
def test_no_identifier(text: str, read_plain: Callable[[str], tuple[Mention, ...]]) -> None:
    assert [m for m in read_plain(text) if m.kind == "identifier"] == []


def test_two_of_a_kind(read_plain: Callable[[str], tuple[Mention, ...]]) -> None:
    found = read_plain("serial number off is AB123, serial number on is CD456")
    assert [m.value for m in found] == ["AB123", "CD456"]


def test_a_cue_that_ends_another_name_begins_no_code() -> None:
    """ "hour meter" holds hours; "meter" alone names an identifier of the same card."""
    hours = Field("hours", "Hour meter", "measurement", "hour", say=("hour meter",))
    meter = Field("meter", "Meter", "identifier", kind="tool number", say=("meter",))
    step = Step("1", "Run", (hours, meter))
    card = Card("T-1", "Test", "1", date(2026, 1, 1), "invented", (step,))
    chain = Chain()
    found = chain.read("Hour meter one two four six point five hours.", card, "1").values
    assert [(value.field, str(value.value)) for value in found] == [("hours", "1246.5")]
    found = chain.read("Meter one two four six.", card, "1").values
    assert [(value.field, value.value) for value in found] == [("meter", "1246")]


def test_figures_that_go_straight_on_from_a_code_are_in_doubt() -> None:
    volts = Field("volts", "Battery", "measurement", "volt", say=("battery",))
    meter = Field("meter", "Meter", "identifier", kind="tool number", say=("meter",))
    step = Step("1", "Run", (volts, meter))
    card = Card("T-1", "Test", "1", date(2026, 1, 1), "invented", (step,))
    text = "Battery, meter bravo one two four twenty six point five volts."
    found = {value.field: value for value in Chain().read(text, card, "1").values}
    assert "joined_digits" in {reason.code for reason in found["volts"].reasons}
