"""Told since: a second value of one place, and what tells that it is the one that stands.

"Came on at 1.6 bar. Opened the valve up, 2.8 bar", "weights were on heavy, so they're on medium":
work stands between the two, or the first "was" so and the second "is". With neither of them
("was eight seconds, then seven") nobody can tell which one stands. Common practice, no source.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping import tries
from voicelog.mapping.work_told import FOUND, IS, READ_ANEW, pieces

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Mention

_LEFT = frozenset({"as left", "as left weak"})
_SO = re.compile(r"\bso\s", re.IGNORECASE)
_BEFORE = re.compile(r"\s+before\s+(?:i|we|the|my|any)\b", re.IGNORECASE)
_CAME_TO = re.compile(r"\b(?:to|till|until)\b", re.IGNORECASE)


def mark(row: Events, placements: Sequence[Placement]) -> None:
    """Mark the later of two values of one place as left, where the words between tell so."""
    latest: dict[tuple[object, str | None], Placement] = {}
    for placement in placements:
        keys = {(target.place, at) for target in placement.targets for at in target.positions}
        earlier = [latest[key] for key in keys if key in latest]
        said = placement.said
        if earlier and len(earlier) == len(keys) and not said.tags & (FOUND | _LEFT):
            if all(_stands(row, one, placement) for one in earlier):
                said.tags.add("as left weak")
        elif earlier and said.tags & FOUND and _BEFORE.match(row.text, said.end):
            said.tags.add("as found")
        latest.update(dict.fromkeys(keys, placement))


def _stands(row: Events, one: Placement, other: Placement) -> bool:
    first, last = one.said, other.said
    if first.kind == "remark" or tries.is_another(row, first.end, last.start):
        return False
    if first.tags & FOUND and not first.tags & _LEFT:
        start = max(first.end, row.clause_start(last.start))
        is_so = IS.search(row.text, start, last.start) or _SO.search(row.text, first.end, last.end)
        if is_so:
            return True
    return first.kind != "identifier" and _is_worked_on(row, first.end, last)


def _is_worked_on(row: Events, since: int, last: Said) -> bool:
    """Whether work is told before a value, or with it as what it came to; nothing that only
    brought about another reading ("ran it with the load on", "got")."""
    for start, end in pieces(row, since, last):
        if READ_ANEW.match(row.text, start, end) is None and (
            end < last.start or _CAME_TO.search(row.text, start, end)
        ):
            return True
    return False


_WAS = re.compile(r"(?:was|were)(?:\s+at)?", re.IGNORECASE)
_LATER = re.compile(
    r"\b(?:after|afterwards|later|next|overnight|since|by\s+(?:now|the|then))\b", re.IGNORECASE
)


def was_later(row: Events, word: Mention) -> bool:
    """Whether a "was" tells of what came later, and not of how it was found: "all at 1200, next
    morning one of them was at 1100"."""
    start = row.clause_start(word.start)
    told = _WAS.fullmatch(word.text) is not None
    return told and _LATER.search(row.text, start, word.start) is not None
