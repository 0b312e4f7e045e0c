"""Neighbours: what stands right beside a value and makes it doubtful.

A recogniser cuts numbers in two ("4, 4 kilowatts" for forty four) and drops words before a
number. So a number beside another that nothing tells apart, a value glued to a name, and a
value that only its unit placed among words that nothing explains, are asked about.
"""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.events import Events, Said
    from voicelog.mapping.placing import Placement

_BETWEEN = re.compile(r"[\s,.;:/-]*(?:(?:and|to|or|by|at|is|was|of)\b[\s,.]*)?", re.IGNORECASE)
_GLUE = re.compile(r"[^\W_][.,]$")
_PLAIN_WORDS = frozenset(
    """a about added after all an and approximately are as at be been bit by checked down exactly
    first for from get getting go gone got had has have here hmm i in is it its just like look
    looking made makes measured measures my new next no now number of off oh ok okay on one our
    out over put quite reading reads right run running s second set showing shows so still that
    the then there these this to took top total uh um up us was we were while with yeah yes
    you""".split()
)
_WORD = re.compile(r"[^\W\d_]+")


def doubt(row: Events, placements: Sequence[Placement]) -> None:
    """Add doubts to the values of `placements` for what stands beside them."""
    for one, other in pairwise(placements):
        if one.said.is_number and other.said.is_number and _unclear(row, one, other):
            for each in (one, other):
                if each.targets:
                    each.said.doubts.append("number_beside_number")
    for index, placement in enumerate(placements):
        said = placement.said
        if not placement.targets:
            continue
        if said.is_number and _GLUE.search(row.text[max(0, said.start - 2) : said.start]):
            said.doubts.append("joined_digits")
        if placement.targets[0].by_unit and said.kind != "term":
            before = placements[index - 1].said.end if index else 0
            if _unexplained(row, before, said):
                said.doubts.append("placed_by_unit")
        cue = placement.targets[0].cue
        loose = said.kind in {"identifier", "count"} or said.option is not None
        if loose and cue is not None:
            plain = cue.places.get(placement.targets[0].place, 0.0)
            if plain <= 0.5 and not any(q.startswith("field:") for q in said.mention.qualifiers):
                said.doubts.append("loosely_named")


def _unclear(row: Events, one: Placement, other: Placement) -> bool:
    """Whether two numbers side by side may be one, cut in two."""
    first, second = one.said, other.said
    if first.spot is not None and second.spot is not None:
        return False
    if "again" in second.tags or "same_as_before" in second.doubts:
        return False
    if _BETWEEN.fullmatch(row.text, first.end, second.start) is None:
        return False
    if not one.targets or not other.targets:
        return bool(one.targets or other.targets)
    return one.targets[0].place == other.targets[0].place


def _unexplained(row: Events, before: int, said: Said) -> bool:
    """Whether words of the clause before a value are neither plain nor names."""
    start = max(before, _clause_start(row, said.start))
    named = [(anchor.start, anchor.end) for anchor in row.anchors if start <= anchor.start < said.start]
    for word in _WORD.finditer(row.text, start, said.start):
        inside = any(first <= word.start() < last for first, last in named)
        if not inside and word[0].lower() not in _PLAIN_WORDS:
            return True
    return False


def _clause_start(row: Events, at: int) -> int:
    from bisect import bisect_left

    places = [0]
    for marks in (row.breaks.strong, row.breaks.commas):
        index = bisect_left(marks, at)
        if index:
            places.append(marks[index - 1] + 1)
    return max(places)
