"""Golden cases: a line of JSON each, under tests/golden; lines that begin with # explain them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from voicelog.objects import Card, Ratio
from voicelog.pipeline import read_text

GOLDEN = Path(__file__).resolve().parent / "golden"
MAPPING = GOLDEN / "mapping"


def lines(name: str) -> list[dict[str, Any]]:
    """The cases of tests/golden/`name`."""
    told = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in told if line.strip() and not line.startswith("#")]


def cases(*names: str) -> list[Any]:
    """The cases of several files as parameters of a test, named by their text."""
    return [pytest.param(case, id=case["text"]) for name in names for case in lines(name)]


def filled(case: dict[str, Any], card: Card) -> list[list[str | None]]:
    """What the text of a case fills in, field by field: field, position, value, and whether that is
    asked about."""
    return sorted(
        (
            [
                value.field,
                value.position,
                _said(value.value),
                "ask" if value.needs_check else "sure",
            ]
            for value in read_text(case["text"], card, case["step"]).values
        ),
        key=str,
    )


def _said(value: object) -> str:
    return f"{value.reading}/{value.reference}" if isinstance(value, Ratio) else str(value)


def expected(case: dict[str, Any]) -> list[list[str | None]]:
    """What it should fill in."""
    told = ([field, place, str(value), sure] for field, place, value, sure in case["fields"])
    return sorted(told, key=str)
