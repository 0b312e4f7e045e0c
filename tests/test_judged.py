"""Verdicts on what is read out from a card: on checks that are named by what is good of them."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cases import MAPPING, cases, expected, filled
from voicelog import cards
from voicelog.pipeline import read_text

CARD = cards.load(MAPPING / "dredger.yaml")


@pytest.mark.parametrize("case", cases("mapping/judged.jsonl"))
def test_golden(case: dict[str, Any]) -> None:
    assert filled(case, CARD) == expected(case)


def test_what_was_found_of_a_check_stays_beside_what_was_left() -> None:
    draft = read_text("as found vent cock open failed, as left pass", CARD, "1")
    assert [(value.value, value.as_found) for value in draft.values] == [("pass", "fail")]
