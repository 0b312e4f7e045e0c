"""Places written by their initials, of several words, or on sides, and the names beside them."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cases import MAPPING, cases, expected, filled
from voicelog import cards

CARD = cards.load(MAPPING / "places.yaml")
WINCH = cards.load(MAPPING / "winch.yaml")


@pytest.mark.parametrize("case", cases("mapping/places.jsonl"))
def test_golden(case: dict[str, Any]) -> None:
    assert filled(case, CARD) == expected(case)


@pytest.mark.parametrize("case", cases("mapping/winch.jsonl"))
def test_places_that_bear_the_name_of_a_thing(case: dict[str, Any]) -> None:
    assert filled(case, WINCH) == expected(case)
