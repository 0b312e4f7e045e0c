"""Codes, dates and pairs of values in every order, on a card with short labels."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cases import MAPPING, cases, expected, filled
from voicelog import cards
from voicelog.pipeline import read_text

CARD = cards.load(MAPPING / "codes.yaml")


@pytest.mark.parametrize("case", cases("mapping/codes.jsonl"))
def test_golden(case: dict[str, Any]) -> None:
    assert filled(case, CARD) == expected(case)
    visible = [mention.text for mention in read_text(case["text"], CARD, case["step"]).unplaced]
    assert [text for text in case.get("kept", ()) if text not in visible] == []
