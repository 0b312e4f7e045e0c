"""Spoken numbers: golden forms with their sources, and round trips through num2words."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from num2words import num2words

from tests.cases import cases
from voicelog.objects import Interval
from voicelog.reading.atoms import atomise
from voicelog.reading.numerals import Number, Numerals, twin_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from voicelog.objects import Mention


def whole_text(text: str) -> Number | None:
    """The number that all of `text` says."""
    atoms = atomise(text)
    numerals = Numerals(atoms)
    found = [numerals.number(0), numerals.ordinal(0)]
    return next((n for n in found if n is not None and n.last == len(atoms)), None)


@pytest.mark.parametrize("case", cases("reading/numbers.jsonl"))
def test_form(case: dict[str, Any], read_plain: Callable[[str], tuple[Mention, ...]]) -> None:
    (mention,) = read_plain(case["text"])
    assert str(mention.value) == case["value"]
    if "or" in case:
        assert [str(other) for other in mention.alternatives] == case["or"]
    assert list(mention.doubts) == case.get("doubts", [])


@given(st.integers(min_value=0, max_value=10**15))
@example(0)
@example(1001)
@example(2_000_003)
@example(110_000)
def test_cardinals_of_num2words_come_back(value: int) -> None:
    number = whole_text(num2words(value))
    assert number is not None
    assert number.value == value


@given(st.decimals(min_value=0, max_value=99_999, places=3))
def test_decimals_of_num2words_come_back(value: Decimal) -> None:
    # num2words itself drops trailing zeros of a fraction
    number = whole_text(num2words(value))
    assert number is not None
    assert number.value == value


@given(st.integers(min_value=1, max_value=99_999))
def test_ordinals_of_num2words_come_back(value: int) -> None:
    atoms = atomise(num2words(value, to="ordinal").replace(",", ""))
    number = Numerals(atoms).ordinal(0)
    assert number is not None
    assert (number.value, number.last) == (value, len(atoms))
    suffixed = atomise(num2words(value, to="ordinal_num"))
    short = Numerals(suffixed).ordinal(0)
    assert short is None or short.value == value


@given(st.text("0123456789", min_size=2, max_size=12))
def test_figures_singly_keep_every_figure(figures: str) -> None:
    for words in (" ".join(num2words(int(f)) for f in figures), " ".join(figures)):
        number = whole_text(words)
        assert number is not None
        assert number.digits == figures
        assert number.value == int(figures)


@given(st.integers(min_value=0, max_value=9_999_999))
def test_hyphens_and_capitals_change_nothing(value: int) -> None:
    words = num2words(value).replace(",", "")  # a comma is a pause
    spoken = {words, words.upper(), words.replace("-", " "), words.replace(" ", "-"), words.title()}
    numbers = [whole_text(each) for each in spoken]
    assert all(number is not None and number.value == value for number in numbers)


@given(st.decimals(min_value=0, max_value=999, places=4))
def test_decimals_keep_their_zeros(value: Decimal) -> None:
    whole, _, fraction = str(value).partition(".")
    words = f"{num2words(int(whole))} point {' '.join(num2words(int(f)) for f in fraction)}"
    number = whole_text(words)
    assert number is not None
    assert str(number.value) == f"{int(whole)}.{fraction}"


@pytest.mark.parametrize(
    ("digits", "twin"),
    [("15", "50"), ("50", "15"), ("213", "230"), ("12", None), ("20", None), ("105", None),
     ("5", None), ("2580", "2518")],
)  # fmt: skip
def test_teen_and_ty(digits: str, twin: str | None) -> None:
    assert twin_of(digits) == twin


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("one hundred, one oh two", ["100", "102"]),
        ("two point six two point five", ["2.6", "2.5"]),
        ("ninety eight, one oh two and one hundred", ["98", "102", "100"]),
        ("98 99 100 101", ["98", "99", "100", "101"]),
        ("two thousand, ninety eight", ["2000", "98"]),
    ],
)
def test_neighbours_stay_apart(
    text: str, values: list[str], read_plain: Callable[[str], tuple[Mention, ...]]
) -> None:
    assert [str(mention.value) for mention in read_plain(text)] == values


@pytest.mark.parametrize("text", ["25 80", "ninety eight seven six", "one hundred one oh two"])
def test_numbers_without_a_pause_are_doubted(
    text: str, read_plain: Callable[[str], tuple[Mention, ...]]
) -> None:
    assert all("number_beside_number" in mention.doubts for mention in read_plain(text))


@pytest.mark.parametrize(
    "text", ["this one", "the other one", "N1", "HT", "", "32.41", "point", "and", "- -", "oh"]
)
def test_no_whole_number(text: str, read_plain: Callable[[str], tuple[Mention, ...]]) -> None:
    assert not [m for m in read_plain(text) if m.value == Decimal(1)]


def test_a_two_figure_hyphen_is_open(read_plain: Callable[[str], tuple[Mention, ...]]) -> None:
    (mention,) = read_plain("1-8")
    assert Interval(Decimal(1), Decimal(8)) in mention.alternatives
