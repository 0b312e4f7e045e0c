"""Checks that tell what must not have come to a thing."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cases import MAPPING, cases, expected, filled
from voicelog import cards

CARD = cards.load(MAPPING / "marks.yaml")


@pytest.mark.parametrize("case", cases("mapping/marks.jsonl"))
def test_golden(case: dict[str, Any]) -> None:
    assert filled(case, CARD) == expected(case)
