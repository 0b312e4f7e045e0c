"""Numbers of fields that share places, units and words of their names."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cases import MAPPING, cases, expected, filled
from voicelog import cards

CARD = cards.load(MAPPING / "joined.yaml")


@pytest.mark.parametrize("case", cases("mapping/joined.jsonl"))
def test_golden(case: dict[str, Any]) -> None:
    assert filled(case, CARD) == expected(case)
