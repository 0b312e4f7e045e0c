"""Checks of which something else is told at one place, or at another time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.cases import GOLDEN, cases, expected, filled
from voicelog import cards

if TYPE_CHECKING:
    from pathlib import Path

CARDS: Path = GOLDEN / "cards"


@pytest.mark.parametrize(
    "case",
    cases(
        "mapping/contrasted.jsonl",
        "mapping/came_right.jsonl",
        "mapping/tried.jsonl",
        "mapping/half_told.jsonl",
        "mapping/left_out.jsonl",
        "mapping/only_open.jsonl",
        "mapping/torn.jsonl",
        "mapping/by_ear.jsonl",
        "mapping/reserved.jsonl",
        "mapping/put_right.jsonl",
    ),
)
def test_golden(case: dict[str, Any]) -> None:
    assert filled(case, cards.load(CARDS / f"{case['card']}.yaml")) == expected(case)
