"""About: the words around a number that leave it open by a little: "roughly", "or so"."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from voicelog.reading.atoms import atomise
from voicelog.reading.phrases import after_phrase, before_phrase, by_first, by_last
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.reading.atoms import Atom
    from voicelog.reading.phrases import Phrases
    from voicelog.reading.thousandths import Measure


@cache
def _phrases() -> tuple[Phrases, Phrases, Phrases]:
    """What stands before a number, behind it, and behind it at the end of a clause."""
    ways = talk().about
    before, after, at_end = (
        sorted((tuple(atom.text for atom in atomise(way)) for way in ways[where]), key=len)[::-1]
        for where in ("before", "after", "at_end")
    )
    return by_last(before), by_first(after), by_first(at_end)


_ENDS = frozenset({",", ".", ";", "but", "and", "so"})
_NEXT = 4
"""Atoms between a number and the one before it in a list, at most."""


def with_about(atoms: Sequence[Atom], measure: Measure, start: int, stop: int) -> Measure:
    """`measure` with the words around it, between `start` and `stop`, that say so."""
    ahead, behind, at_end = _phrases()
    before = before_phrase(atoms, measure.first, start, ahead)
    after = after_phrase(atoms, measure.last, stop, behind)
    if after is None and measure.last < stop and atoms[measure.last].text == ",":
        after = after_phrase(atoms, measure.last + 1, stop, behind)  # "..., roughly"
        if after is not None and after < stop and atoms[after].text not in _ENDS:
            after = None
    if after is None:
        after = after_phrase(atoms, measure.last, stop, at_end)
        if after is not None and after < stop and atoms[after].text not in _ENDS:
            after = None
    if before is None and after is None:
        return measure
    doubts = measure.doubts if "about" in measure.doubts else (*measure.doubts, "about")
    return replace(
        measure,
        first=measure.first if before is None else before,
        last=measure.last if after is None else after,
        qualifiers=measure.qualifiers | {"about"},
        doubts=doubts,
    )


def exactly(atoms: Sequence[Atom], measure: Measure, before: Measure | None, stop: int) -> Measure:
    """`measure` with the "flat" behind it, which says that it is just so much: "seven point one,
    seven flat"; behind a number that stands alone it may be a finding."""
    last = measure.last
    if measure.unit is not None or before is None or measure.first - before.last > _NEXT:
        return measure
    told = before.unit is not None or before.value != before.value.to_integral_value()
    flat = last < stop and atoms[last].text == "flat"
    ends = last + 1 >= stop or atoms[last + 1].text in _ENDS
    return replace(measure, last=last + 1) if told and flat and ends else measure
