"""What things do, told of the checks that are about them, and whether it is so; kinds of things."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from voicelog import cards
from voicelog.pipeline import read_text
from voicelog.reading.kinds import does, kind_of

GOLDEN = Path(__file__).parent / "golden" / "mapping"
CARD = cards.load(GOLDEN / "conveyor.yaml")
CASES = [
    json.loads(line)
    for name in ("deeds.jsonl", "mood.jsonl")
    for line in (GOLDEN / name).read_text().splitlines()
    if not line.startswith("#")
]


@pytest.mark.parametrize("case", CASES, ids=[case["text"] for case in CASES])
def test_golden(case: dict[str, Any]) -> None:
    draft = read_text(case["text"], CARD, case["step"])
    got = [
        [value.field, value.position, value.value, "ask" if value.needs_check else "sure"]
        for value in draft.values
    ]
    assert got == case["fields"]


@pytest.mark.parametrize(
    "text",
    [
        "the crane alarm came up while I waited",
        "pull cord, then the gate",
        "start bell next",
        "the trip out here took an hour",
    ],
)
def test_nothing_is_told_of_a_check(text: str) -> None:
    assert not [value for value in read_text(text, CARD, "1").values if not value.needs_check]


def test_kinds() -> None:
    assert kind_of("bell") == "sounder"
    assert kind_of("spanner") is None
    assert does("sounder", "ring")
    assert not does("rubber", "ring")
