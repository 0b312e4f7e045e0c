"""Quantities with their units: golden cases, and the families behind them."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

import pytest

from tests.cases import cases
from voicelog import units
from voicelog.objects import Interval, Ratio
from voicelog.reading import unit_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from voicelog.objects import Mention, Value


def value_of(kind: str, value: Any) -> Value | None:
    if kind == "ratio":
        return Ratio(*map(Decimal, value))
    if kind == "range":
        return Interval(*(None if end is None else Decimal(end) for end in value))
    return None if value is None else Decimal(value)


@pytest.mark.parametrize("case", cases("reading/quantities.jsonl"))
def test_form(case: dict[str, Any], read_plain: Callable[[str], tuple[Mention, ...]]) -> None:
    (mention,) = read_plain(case["text"])
    assert mention.kind == case["kind"]
    assert mention.value == value_of(case["kind"], case["value"])
    assert mention.unit == case.get("unit")
    assert set(case.get("qualifiers", ())) <= mention.qualifiers
    assert sorted(mention.doubts) == sorted(case.get("doubts", []))


def every_unit() -> list[tuple[str, str]]:
    return [
        (phrase, unit)
        for dimension in unit_words.unit_words().dimension.values()
        for unit, patterns in dimension.units.items()
        for pattern in patterns
        for phrase in unit_words.ways(pattern)
    ]


def test_every_phrase_is_read_with_its_unit(
    read_plain: Callable[[str], tuple[Mention, ...]],
) -> None:
    wrong = []
    for phrase, unit in every_unit():
        for number in ("seven point five ", "7.5 "):
            text = number + phrase
            found = [m for m in read_plain(text) if m.kind == "quantity"]
            good = len(found) == 1 and found[0].unit == unit and found[0].value == Decimal("7.5")
            if not good and (phrase, unit) not in wrong:
                wrong.append((phrase, unit))
    assert wrong == []


def test_every_open_phrase_names_its_candidates(
    read_plain: Callable[[str], tuple[Mention, ...]],
) -> None:
    for dimension in unit_words.unit_words().dimension.values():
        for each in dimension.open:
            for pattern in each.say:
                for phrase in unit_words.ways(pattern):
                    (mention,) = read_plain(f"seven point five {phrase}")
                    assert each.doubt in mention.doubts, phrase
                    assert {f"unit:{unit}" for unit in each.units} <= mention.qualifiers


def test_every_unit_is_known_to_the_converter() -> None:
    for dimension in unit_words.unit_words().dimension.values():
        names = [
            *dimension.units,
            *dimension.symbols,
            *(u for o in dimension.open for u in o.units),
        ]
        for unit in names:
            assert units.known(unit), unit


@pytest.mark.parametrize("sign", ["-", "·", " ", "."])
def test_signs_between_the_parts_of_a_unit_say_nothing(
    sign: str, read_plain: Callable[[str], tuple[Mention, ...]]
) -> None:
    (mention,) = read_plain(f"98 ft{sign}lb")
    assert mention.unit == "ft*lbf"


@pytest.mark.parametrize(
    ("text", "unit"),
    [("5 a side", None), ("2 in the box", None), ("24 v.", "V"), ("2 in thick", "in")],
)
def test_single_letters_are_units_before_a_break_only(
    text: str, unit: str | None, read_plain: Callable[[str], tuple[Mention, ...]]
) -> None:
    (mention,) = read_plain(text)
    assert mention.unit == unit


def test_negative_is_a_sign_unless_it_revokes(
    read_plain: Callable[[str], tuple[Mention, ...]],
) -> None:
    assert [m.value for m in read_plain("negative four degrees celsius")] == [-4]
    assert [m.value for m in read_plain("30 psi, negative, 35 psi")] == [30, 35]
    asked = read_plain("30 degrees celsius, negative 25 degrees celsius")
    assert asked[1].doubts == ("ambiguous_number",)
    assert Decimal(-25) in asked[1].alternatives


def test_a_reference_may_be_said_once_for_a_list(
    read: Callable[[str], tuple[Mention, ...]],
) -> None:
    found = read("cylinders: seventy five, seventy four, all over eighty")
    assert [m.value for m in found if m.kind == "ratio"] == [
        Ratio(Decimal(75), Decimal(80)),
        Ratio(Decimal(74), Decimal(80)),
    ]


def test_names_that_hold_figures_are_no_numbers(
    read: Callable[[str], tuple[Mention, ...]],
) -> None:
    for text in ("N one at ninety five percent", "N1 95%", "n-1 at ninety-five per cent"):
        (mention,) = read(text)
        assert (mention.value, mention.unit) == (Decimal(95), "percent")
