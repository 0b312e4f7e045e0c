"""Values said of things that have no field, though their names share words with one that has."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import pytest

from tests.cases import GOLDEN, MAPPING, cases, expected, filled
from voicelog import cards

if TYPE_CHECKING:
    from voicelog.objects import Card


@cache
def _card(name: str) -> Card:
    folder = MAPPING if (MAPPING / f"{name}.yaml").exists() else GOLDEN / "cards"
    return cards.load(folder / f"{name}.yaml")


@pytest.mark.parametrize("case", cases("mapping/beside.jsonl"))
def test_golden(case: dict[str, Any]) -> None:
    assert filled(case, _card(case["card"])) == expected(case)
