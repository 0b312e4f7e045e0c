"""Openers: the "right" that begins a talk, where a place is called so, too."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLAIN, Cue, Spot
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Breaks, Said
    from voicelog.objects import Card

_GOES_ON = re.compile(r"[\s,.]*(?:then|so|okay|ok)\b", re.IGNORECASE)
_COMMA = re.compile(r"\s*,")
_AT = re.compile(r"(?:on|at|for|in)\s+(?:the\s+)?\Z", re.IGNORECASE)


@cache
def _opening() -> re.Pattern[str]:
    words = "|".join(sorted(talk().everyday.openers))
    return re.compile(rf"(?:(?:okay|ok|so|now)[\s,]+)*(?:{words})\b", re.IGNORECASE)


def without(
    anchors: list[Cue | Spot], said: Sequence[Said], breaks: Breaks, card: Card, text: str
) -> list[Cue | Spot]:
    """`anchors` without the word that only opens the note: "right then, ...", and "right, cable
    tension left forty eight"."""
    opened = _opening().match(text)
    first = anchors[0] if anchors else None
    if opened is None or not isinstance(first, Spot) or first.end != opened.end():
        return anchors
    return anchors[1:] if _opens(first, anchors[1:], said, breaks, card, text) else anchors


def _opens(
    first: Spot,
    anchors: Sequence[Cue | Spot],
    said: Sequence[Said],
    breaks: Breaks,
    card: Card,
    text: str,
) -> bool:
    if _GOES_ON.match(text, first.end):
        return True
    if not said or not _COMMA.match(text, first.end):
        return False
    value, until = said[0], said[1].start if len(said) > 1 else len(text)
    before = [anchor for anchor in anchors if anchor.start < value.start]
    behind = [anchor for anchor in anchors if value.end <= anchor.start < until]
    if any(isinstance(anchor, Spot) for anchor in before):
        return True  # the value has a place of its own
    names = [anchor for anchor in before if isinstance(anchor, Cue) and anchor.plainest >= PLAIN]
    if names and not any(_has(card, name, first) for name in names):
        return True
    for spot in behind:
        if isinstance(spot, Spot) and not breaks.between(value.end, spot.start):
            apart = breaks.between(spot.end, until) or until == len(text)
            return bool(apart) or _AT.search(text, value.end, spot.start) is not None
    return False


def _has(card: Card, name: Cue, spot: Spot) -> bool:
    """Whether a field that is named so has the place."""
    for step, label in name.places:
        known = card.step(step)
        field = known.field(label) if known is not None else None
        if field is not None and set(spot.names) <= set(field.positions):
            return True
    return False
