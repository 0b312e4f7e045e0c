"""Tries: what came of another try, and the value before it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.row import Spot
from voicelog.mapping.unit_fit import compatible

if TYPE_CHECKING:
    from voicelog.mapping.placing import Placement
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


def again(row: Events, one: Placement, other: Placement) -> bool:
    """ "Extended in twelve, greased it, second go eight": what came of another try found another
    place than the value before it, and no name told it so."""
    nameless = not other.targets or other.targets[0].inherited or other.targets[0].by_unit
    end = row.breaks.clause_end(other.said.end, len(row.text))
    if not nameless or not is_another(row, one.said.end, end):
        return False
    first, second = one.said.mention.unit, other.said.mention.unit
    if first is not None and second is not None and not compatible(first, second):
        return False
    keys = [{(t.place, p) for t in each.targets for p in t.positions} for each in (one, other)]
    apart = row.anchors_in(one.said.end, other.said.start)
    return keys[0].isdisjoint(keys[1]) and not any(isinstance(a, Spot) for a in apart)
