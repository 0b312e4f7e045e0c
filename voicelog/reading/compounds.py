"""Compound measures: hours and minutes, degrees and minutes, feet and inches."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.thousandths import Measure
from voicelog.reading.unit_words import SpokenUnit

if TYPE_CHECKING:
    from collections.abc import Iterable

    from voicelog.reading.passage import Passage


def joined(passage: Passage, items: Iterable[Measure]) -> list[Measure]:
    """Hours and minutes, degrees and minutes, feet and inches become one measure."""
    merged: list[Measure] = []
    for item in items:
        last = merged[-1] if merged else None
        whole = None if last is None else _compound(passage, last, item)
        if whole is not None:
            merged[-1] = whole
        else:
            merged.append(item)
    return merged


def _compound(passage: Passage, left: Measure, right: Measure) -> Measure | None:
    if right.unit is None and _glued_minutes(passage, left, right):
        right = replace(right, unit=SpokenUnit(("minute",)))
    if left.unit is None or right.unit is None or left.value.is_nan() or right.value.is_nan():
        return None
    if passage.texts[left.last : right.first] not in ([], ["and"], [","]):
        return None
    for compound in unit_words.unit_words().compound:
        if compound.large not in left.unit.units or compound.small not in right.unit.units:
            continue
        if not (0 <= right.value < compound.factor and left.value == int(left.value)):
            return None
        sign = -1 if left.value < 0 else 1
        value = left.value * compound.factor + sign * right.value
        doubts = [code for code in (*left.doubts, *right.doubts) if code not in ("ambiguous_unit",)]
        if compound.doubt:
            doubts.append(compound.doubt)
        number = replace(left.number, last=right.last, value=value, alternatives=(), digits="")
        return Measure(
            left.first,
            right.last,
            number,
            SpokenUnit((compound.small,)),
            (left.qualifiers | right.qualifiers) - {"teen", "clock-like", "digits"},
            tuple(dict.fromkeys(doubts)),
        )
    return None


def _glued_minutes(passage: Passage, left: Measure, right: Measure) -> bool:
    """ "2h35"."""
    first = passage.atoms[right.first]
    hours = left.unit is not None and left.unit.units == ("hour",)
    return hours and left.last == right.first and first.glued and len(first.text) == 2
