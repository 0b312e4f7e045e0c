"""Text made harmless, and how to have it back."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.export.scene import HOSTILE
from voicelog.export.text import guarded, unguarded, visible

FORMULA = "=+-@＝＋－＠"


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("HT66-902", "HT66-902"),
        ("=1+1", "'=1+1"),
        ("+44", "'+44"),
        ("-5", "'-5"),
        ("@A1", "'@A1"),
        ("  =1", "'  =1"),
        ("\t=1", "'\t=1"),
        ("\n=1", "'\n=1"),
        ("＝1", "'＝1"),
        ("'x", "''x"),
        ("", ""),
        ("a=1", "a=1"),
        ("\r=1", "‹U+000D›=1"),
        ("a\u202eb", "a‹U+202E›b"),
        ("zero\x00", "zero‹U+0000›"),
        ("one\r\ntwo", "one\ntwo"),
        ("µ ≥ Ω é", "µ ≥ Ω é"),
    ],
)
def test_cells(text: str, cell: str) -> None:
    assert guarded(text) == cell


@given(st.text())
def test_no_cell_starts_a_formula_and_the_apostrophe_rule_is_reversible(text: str) -> None:
    cell = guarded(text)
    assert cell.lstrip()[:1] not in tuple(FORMULA)
    assert cell[:1] not in ("\t", "\r")
    assert unguarded(cell) == visible(text)


@given(st.text())
def test_nothing_stays_that_cannot_be_seen(text: str) -> None:
    hidden = [
        character
        for character in visible(text)
        if character not in "\t\n" and unicodedata.category(character)[0] == "C"
    ]
    assert hidden == []


@given(st.text(st.characters(categories=("L", "N", "P", "S", "Zs"))))
def test_what_can_be_seen_stays_as_it_is(text: str) -> None:
    assert visible(text) == text


def test_hostile_texts_begin_no_formula() -> None:
    for text in HOSTILE:
        assert guarded(text).lstrip()[:1] not in tuple(FORMULA)
