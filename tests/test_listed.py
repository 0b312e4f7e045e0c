"""Values at several places: which belongs to which, in whatever order the places are said."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cases import MAPPING, cases, expected, filled
from voicelog import cards

CARD = cards.load(MAPPING / "listed.yaml")


@pytest.mark.parametrize("case", cases("mapping/listed.jsonl"))
def test_golden(case: dict[str, Any]) -> None:
    assert filled(case, CARD) == expected(case)
