"""Places written by their initials, of several words, or on sides, and the names beside them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from voicelog import cards
from voicelog.pipeline import read_text

GOLDEN = Path(__file__).parent / "golden" / "mapping"
CARD = cards.load(GOLDEN / "places.yaml")
CASES = [
    json.loads(line)
    for line in (GOLDEN / "places.jsonl").read_text().splitlines()
    if not line.startswith("#")
]


@pytest.mark.parametrize("case", CASES, ids=[case["text"] for case in CASES])
def test_golden(case: dict[str, Any]) -> None:
    draft = read_text(case["text"], CARD, case["step"])
    got = [
        [value.field, value.position, str(value.value), "ask" if value.needs_check else "sure"]
        for value in draft.values
    ]
    assert got == case["fields"]
