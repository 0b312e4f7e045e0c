"""Either: one number of which two were named."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.reading.behind_values import AT

if TYPE_CHECKING:
    from voicelog.reading.passage import Passage
    from voicelog.reading.thousandths import Measure


def joined(passage: Passage, items: list[Measure]) -> list[Measure]:
    """ "Forty nine or fifty degrees": one number, and which of the two nobody can tell."""
    kept: list[Measure] = []
    for right in items:
        left = kept[-1] if kept else None
        if left and _is_or(passage, left, right) and _alike(left, right):
            number = right.number.with_doubt("ambiguous_number", left.value)
            doubts = (*left.doubts, *right.doubts, "ambiguous_number")
            doubts, unit = tuple(dict.fromkeys(doubts)), right.unit or left.unit
            kept[-1] = replace(right, first=left.first, number=number, unit=unit, doubts=doubts)
        else:
            kept.append(right)
    return kept


def _alike(left: Measure, right: Measure) -> bool:
    """Whether two numbers may be of the same thing: whole numbers, and of one unit."""
    if {"ordinal", "tolerance"} & (left.qualifiers | right.qualifiers):
        return False
    if left.value.is_nan() or right.value.is_nan():
        return False
    units = [each.unit.units for each in (left, right) if each.unit is not None]
    return bool(units) and units[0] == units[-1]


def _is_or(passage: Passage, left: Measure, right: Measure) -> bool:
    """ "22 or 24 mm", but not "22 mm or 24 on bolt two", where the second is of another place."""
    behind = passage.atoms[right.last].text if right.last < len(passage.atoms) else ""
    if left.unit is not None and behind in AT:
        return False
    return right.first == left.last + 1 and passage.atoms[left.last].text == "or"
