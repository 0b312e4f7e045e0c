"""Dates and times of day: golden cases and every day of the calendar."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from tests.cases import cases
from voicelog.heard import Transcript
from voicelog.reading import Reader

if TYPE_CHECKING:
    from collections.abc import Callable

    from voicelog.objects import Mention


@pytest.mark.parametrize("case", cases("reading/dates.jsonl"))
def test_form(case: dict[str, Any], read_plain: Callable[[str], tuple[Mention, ...]]) -> None:
    (mention,) = read_plain(case["text"])
    assert mention.kind == case["kind"]
    assert (None if mention.value is None else str(mention.value)) == case["value"]
    assert list(mention.doubts) == case.get("doubts", [])
    if "or" in case:
        assert [str(other) for other in mention.alternatives] == case["or"]


MONTHS = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
]


@given(st.dates(min_value=date(2000, 1, 1), max_value=date(2099, 12, 31)))
def test_every_day_comes_back(day: date) -> None:
    month = MONTHS[day.month - 1]
    year = num2words(day.year, to="year") if day.year >= 2010 else num2words(day.year)
    ordinal = num2words(day.day, to="ordinal")
    reader = Reader(None)
    for text in (
        f"the {ordinal} of {month} {year}",
        f"{month} {ordinal} {year}",
        f"{day.day} {month[:3]} {day.year}",
        f"{month} {day.day}, {day.year}",
        day.isoformat(),
    ):
        (mention,) = reader.read(Transcript.of_text(text)).mentions
        assert (mention.kind, mention.value) == ("date", day), text


def test_a_date_of_the_card_may_be_said_in_figures(
    read: Callable[[str], tuple[Mention, ...]],
) -> None:
    (mention,) = read("cal due five six twenty twenty seven")
    assert mention.value == date(2027, 6, 5)
    assert mention.doubts == ("ambiguous_date",)
    assert mention.alternatives == (date(2027, 5, 6),)


@pytest.mark.parametrize("text", ["november six six", "may be two", "march on", "32-41-00"])
def test_no_date(text: str, read_plain: Callable[[str], tuple[Mention, ...]]) -> None:
    assert [m for m in read_plain(text) if m.kind in ("date", "time")] == []
