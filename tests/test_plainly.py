"""Half a name, and whether the words around it leave the field in doubt."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cases import MAPPING, cases, expected, filled
from voicelog import cards

CARD = cards.load(MAPPING / "plainly.yaml")


@pytest.mark.parametrize("case", cases("mapping/plainly.jsonl"))
def test_golden(case: dict[str, Any]) -> None:
    assert filled(case, CARD) == expected(case)
