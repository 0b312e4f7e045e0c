"""Positions: golden notes on an invented card."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.cases import cases
from voicelog.objects import Ratio

if TYPE_CHECKING:
    from collections.abc import Callable

    from voicelog.objects import Mention


def named(group: list[Mention]) -> str | None:
    values = [str(mention.value) for mention in group]
    return None if not values else values[0] if len(values) == 1 else f"{values[0]}-{values[-1]}"


def told(mentions: tuple[Mention, ...]) -> list[tuple[str | None, str, bool]]:
    """(positions, value, doubted) of each value, with the positions said last before it."""
    group: list[Mention] = []
    found = []
    for mention in mentions:
        if mention.kind == "position":
            group = [each for each in group if each.start == mention.start] + [mention]
        elif mention.kind in ("quantity", "count", "ratio"):
            value = mention.value
            said = f"{value.reading}/{value.reference}" if isinstance(value, Ratio) else str(value)
            doubted = bool(mention.doubts) or any(each.doubts for each in group)
            found.append((named(group), said, doubted))
    return found


@pytest.mark.parametrize("case", cases("reading/positions.jsonl"))
def test_note(case: dict[str, Any], read: Callable[[str], tuple[Mention, ...]]) -> None:
    found = told(read(case["text"]))
    assert [[position, value] for position, value, _ in found] == case["read"]
    doubted = [index for index, (*_, doubt) in enumerate(found) if doubt]
    assert doubted == case.get("doubted", [])


@pytest.mark.parametrize("position", range(1, 9))
@pytest.mark.parametrize("value", [95, 98, 100, 101, 105])
def test_every_bolt_and_value(
    position: int, value: int, read: Callable[[str], tuple[Mention, ...]]
) -> None:
    from num2words import num2words

    words = num2words(value).replace("-", " ")
    for text in (
        f"bolt {num2words(position)} {words} newton metres",
        f"bolt {position}, {value} newton metres",
        f"number {num2words(position)} bolt {words} newton metres",
    ):
        assert told(read(text)) == [(str(position), str(value), False)], text


def test_a_position_that_the_card_lacks(read: Callable[[str], tuple[Mention, ...]]) -> None:
    (mention,) = read("bolt nine is cracked")
    assert (mention.value, mention.doubts) == (None, ("unknown_position",))


def test_position_words_travel_with_it(read: Callable[[str], tuple[Mention, ...]]) -> None:
    (mention, _) = read("bolt four ninety four")
    assert "of:bolt" in mention.qualifiers


def test_steps(read: Callable[[str], tuple[Mention, ...]]) -> None:
    assert [(m.kind, m.value) for m in read("step forty")] == [("step", "40")]
    first, second = read("step forty ninety eight newton metres")
    assert (first.value, second.text) == ("40", "ninety eight newton metres")
    (unknown,) = read("step ninety nine")
    assert unknown.doubts == ("unknown_step",)
