"""Wordings that say the same compare equal; those that don't, differ in the right place."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.speech.critical import differences, items, same_words

SAME = [
    ("Bolt three, one zero one newton metres.", "Bolt 3, 101 Newton Meters."),
    ("tango mike dash three three four", "TM-334"),
    ("Made eighteenth of April twenty twenty nine", "Made 18th of April 2029"),
    ("two thousand two hundred and eighty R P M", "2,280 RPM"),
    ("one thousand five hundred and four", "1504"),
    ("two-three-three-niner rpm", "2339 r.p.m."),
    ("11.4mm", "eleven point four millimetres"),
    ("6.0 °C", "six decimal zero degrees Celsius"),
    ("29 P.S.I.", "twenty nine psi"),
    ("101 N·m", "101 Newton metres"),
    ("two oh five", "205"),
    ("nil leaks", "no leaks"),
    ("passed", "pass"),
    ("twenty four fifty nine", "2459"),
]


@pytest.mark.parametrize(("text", "other"), SAME)
def test_the_same_said_in_another_way_is_no_difference(text: str, other: str) -> None:
    assert [item.norm for item in items(text)] == [item.norm for item in items(other)]
    assert differences(text, other) == ()
    assert differences(other, text) == ()


DIFFERENT = [
    ("Cylinder 658 over 80", "Cylinder 6, 58 over 80", "658"),
    ("bolt 1, 8", "bolt 18", "1, 8"),
    ("15 mm", "50 mm", "15"),
    ("98 foot pounds", "98 inch pounds", "foot"),
    ("wheel serviceable", "wheel unserviceable", "serviceable"),
    ("left 36 pounds", "right 36 pounds", "left"),
    ("not within limits", "within limits", "not"),
    ("HT66", "HT56", "66"),
    ("batch November 9", "batch 9", "November"),
    ("1.8 bar", "18 bar", "1.8"),
    ("Slow heave pass.", "Slow heave fail.", "pass"),
]


@pytest.mark.parametrize(("text", "other", "where"), DIFFERENT)
def test_a_difference_that_matters_is_found_where_it_is(text: str, other: str, where: str) -> None:
    found = differences(text, other)
    assert any(where in text[each.start : each.end] or text[each.start : each.end] in where
               for each in found if each.start < each.end)  # fmt: skip


def test_what_the_other_says_more_puts_its_neighbours_in_doubt() -> None:
    (found,) = differences("handle 40 pounds", "handle 140 pounds")
    assert "40" in "handle 40 pounds"[found.start : found.end]


@given(st.text(max_size=80), st.text(max_size=80))
def test_spans_lie_inside_any_texts(text: str, other: str) -> None:
    for item in items(text):
        assert 0 <= item.start < item.end <= len(text)
    for each in differences(text, other):
        assert 0 <= each.start <= each.end <= len(text)
        assert 0 <= each.other_start <= each.other_end <= len(other)
    assert differences(text, text) == ()


def test_the_same_words_are_found_in_place_whatever_the_marks() -> None:
    text = "Wire locked, okay. Pin fitted."
    assert same_words(text, 0, 11, "wire locked okay, pin fitted")
    assert not same_words(text, 0, 11, "while locked okay, pin fitted")
    assert not same_words(text, 19, 29, "wire locked okay")


def test_x_ray_is_one_letter_however_it_is_written() -> None:
    assert differences("x-ray three", "X-ray three") == ()
    assert differences("xray three", "X-ray three") == ()
    assert differences("x-ray three", "Yankee three")


def test_a_condition_that_another_reading_lacks_is_a_difference() -> None:
    assert differences("Axle box seep, fail.", "Axle box seat, fail.")
    assert differences("Seals leaking", "Seals leak") == ()


def test_a_dash_and_a_slash_are_told_apart() -> None:
    assert differences("x-ray nine six dash three one", "x-ray nine six slash three one")
