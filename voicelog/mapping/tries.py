"""Tries: what came of another try, and the value before it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping import number_pairs
from voicelog.mapping.row import Spot
from voicelog.mapping.unit_fit import compatible
from voicelog.reading.talk import other_tries

if TYPE_CHECKING:
    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events, Said

_AGAIN = re.compile(
    r"\b(?:second|third|fourth|fifth|next|this|another)\s+(?:attempt|go|run|shot|test|time|try)\b"
    r"|\bon\s+(?:the|my)\s+(?:second|third|fourth|next)(?=\s*(?:[,.;]|\Z))",
    re.IGNORECASE,
)


def is_amount(said: Said) -> bool:
    """Whether a number tells how much or how many, and not which ("second")."""
    return said.is_number and "ordinal" not in said.mention.qualifiers


def is_another(row: Events, start: int, end: int) -> bool:
    """Whether the words of a stretch tell of another try."""
    return _AGAIN.search(row.text, start, end) is not None


def _told_again(row: Events, one: Placement, other: Placement) -> re.Match[str] | None:
    """The words around a value that tell of another try, or of another look at the same thing:
    "5.5 mm. Tried it again and it says 5.9"."""
    end = row.breaks.clause_end(other.said.end, len(row.text))
    told = _AGAIN.search(row.text, one.said.end, end)
    near = other.said.mention.unit is not None or number_pairs.near(one.said, other.said)
    if told is None and near:
        told = next(other_tries().find(row.text, one.said.end, end), None)
    return told


def again(row: Events, one: Placement, other: Placement) -> bool:
    """ "Extended in twelve, greased it, second go eight": what came of another try found another
    place than the value before it, and no name told it so."""
    told = _told_again(row, one, other)
    if told is None:
        return False
    target = other.targets[0] if other.targets else None
    spots = [a for a in row.anchors_in(one.said.end, other.said.start) if isinstance(a, Spot)]
    own = one.targets[0].spot if one.targets else None  # "5.5 outboard", with its place behind it
    spots = [each for each in spots if each is not own]
    apart = [each for each in spots if not told.start() <= each.start < each.end < told.end()]
    by_it = target is not None and target.spot in spots and target.spot not in apart
    if apart or not (target is None or target.inherited or target.by_unit or by_it):
        return False
    first, second = one.said.mention.unit, other.said.mention.unit
    if first is not None and second is not None and not compatible(first, second):
        return False
    keys = [{(t.place, p) for t in each.targets for p in t.positions} for each in (one, other)]
    return keys[0].isdisjoint(keys[1])
