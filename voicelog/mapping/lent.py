"""Lent units: a unit that stands apart from the numbers which it belongs to.

"Flange height in millimetres, wheel one ..." says it ahead of a list, "..., all millimetres"
behind it. It was said, so it is nobody's guess; which numbers take it is for drafting.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping.fit import compatible, settled_unit
from voicelog.mapping.row import Cue, Spot
from voicelog.objects import Ratio
from voicelog.reading import unit_words
from voicelog.reading.atoms import atomise

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Place
    from voicelog.reading.unit_words import SpokenUnit

_ALL_OF = re.compile(
    r"\s*(?:(?:and|all|both|each|every|everything|everywhere|throughout|one|the|whole|lot|in|for|are"
    r"|them|of)\b\s*)*",
    re.IGNORECASE,
)


_AT = frozenset({"at", "in", "on", "the", "for"})


def lend_behind(row: Events) -> None:
    """A clause that is nothing but a unit lends it to the number before it."""
    _lend_on(row)
    ends = sorted({*row.breaks.strong, *row.breaks.commas, len(row.text)})
    starts = [said.start for said in row.said]
    begin = 0
    for end in ends:
        first, last = begin, _behind_place(row, begin, end)
        begin = end + 1
        clause = row.text[last:end]
        lead = _ALL_OF.match(clause)
        bare = clause[lead.end() :].strip() if lead else ""
        if not bare or len(bare) > 40 or not unit_words.may_begin(bare):
            continue
        start = row.text.rindex(bare, last, end)
        places = (a for a in row.anchors_in(start, end) if isinstance(a, Spot))
        if any(place.start <= start and place.end - start >= len(bare) for place in places):
            continue  # phase "V" has its own number behind it
        atoms = atomise(bare)
        found = unit_words.find(atoms, 0, len(atoms))
        if found is None or _ALL_OF.fullmatch(bare, atoms[found[1] - 1].end) is None:
            continue
        index = bisect_left(starts, max(first, last)) - 1
        if index >= 0 and row.said[index].is_number and row.said[index].mention.unit is None:
            row.said[index].lent_units = found[0].units


_ALL_IN = re.compile(
    r"\s+(?:and\s+)?(?:all|everything|each|both)(?:\s+(?:of\s+(?:them|those)|in|are|were))*\s+",
    re.IGNORECASE,
)
""" "Bolt five fifty and bolt six fifty two all foot pounds", without the pause."""


def _lend_on(row: Events) -> None:
    """A unit that is said of all of them right behind the last number."""
    for said in row.said:
        lead = _ALL_IN.match(row.text, said.end) if said.kind == "count" else None
        unit = None if lead is None else _unit_at(row.text, lead.end())
        if unit is not None:
            said.lent_units = unit.units


def _behind_place(row: Events, begin: int, end: int) -> int:
    """Index behind the place that the number of a clause has behind it: "0.3 left, 0.35 right
    millimetres"; where the clause begins when it has none."""
    spots = [anchor for anchor in row.anchors_in(begin, end) if isinstance(anchor, Spot)]
    if not spots or spots[-1].end > end:
        return begin
    index = bisect_left(row.said, spots[-1].start, key=lambda each: each.start) - 1
    said = row.said[index] if index >= 0 else None
    if said is None or said.start < begin or said.end > spots[-1].start:
        return begin
    between = row.text[said.end : spots[-1].start].lower().split()
    return spots[-1].end if set(between) <= _AT else begin


def lend_references(row: Events) -> None:
    """ "Cylinder one seventy four over eighty, two seventy three": the reference was said once."""
    for one, other in pairwise(row.said):
        reference = one.mention.value
        reading = other.mention.value
        if not isinstance(reference, Ratio) or other.kind != "count" or other.dropped:
            continue
        between = row.anchors_in(one.end, other.start)
        listed = bool(between) and all(isinstance(anchor, Spot) for anchor in between)
        if not listed or row.breaks.between(one.end, other.start) == 2:
            continue
        if isinstance(reading, Decimal) and 0 <= reading <= reference.reference:
            value = Ratio(reading, reference.reference)
            other.mention = replace(other.mention, kind="ratio", value=value, alternatives=())
            other.doubts.append("lent_reference")
    for index, said in enumerate(row.said):
        if isinstance(said.mention.value, Ratio) and not said.dropped:
            _lend_back(row, index, said.mention.value.reference)


def _lend_back(row: Events, index: int, reference: Decimal) -> None:
    """ "Cylinders one to three: seventy four, seventy five, seventy three over eighty"."""
    first = index
    while first and row.said[first - 1].kind == "count" and not row.said[first - 1].dropped:
        one, other = row.said[first - 1], row.said[first]
        apart = row.breaks.between(one.end, other.start) == 2
        reading = one.mention.value
        if apart or row.anchors_in(one.end, other.start) or not isinstance(reading, Decimal):
            break
        if not 0 <= reading <= reference:
            break
        first -= 1
    before = [a for a in row.anchors_in(0, row.said[first].start) if isinstance(a, Spot)]
    if first == index or not before or len(before[-1].names) != index - first + 1:
        return
    for said in row.said[first:index]:
        assert isinstance(said.mention.value, Decimal)  # noqa: S101 - looked at above
        value = Ratio(said.mention.value, reference)
        said.mention = replace(said.mention, kind="ratio", value=value, alternatives=())
        said.doubts.append("lent_reference")


_UNIT = 40
"""Characters of a unit, at most."""
_LIST = 12
"""Numbers of a list that are looked through for its unit."""
_IN = re.compile(r"\s*[,:]?\s*(?:all\s+)?in\s+", re.IGNORECASE)


def ahead(text: str, cues: Sequence[Cue]) -> Iterator[tuple[Place, str]]:
    """Fields whose name is followed by their unit, with that unit."""
    for cue in cues:
        lead = None if cue.near else _IN.match(text, cue.end)
        unit = None if lead is None else _unit_at(text, lead.end())
        if unit is not None and len(unit.units) == 1:
            for place, plainness in cue.places.items():
                if plainness >= 0.9:
                    yield place, unit.units[0]


def _unit_at(text: str, at: int) -> SpokenUnit | None:
    """The unit that stands at `at`."""
    atoms = atomise(text[at : at + _UNIT])
    found = unit_words.find(atoms, 0, len(atoms)) if atoms else None
    return None if found is None else found[0]


def around(row: Events, said: Said, field: Field) -> bool:
    """Whether the sentence gives the next number, or the one before, a unit that this bare
    number may share in `field`."""
    if said.kind != "count" or said.mention.stage == "remarks" or field.unit is None:
        return False
    nouns = row.anchors_in(said.end, said.end + 3)
    if any(isinstance(noun, Cue) and not row.text[said.end : noun.start].strip() for noun in nouns):
        return False  # "four dampers"
    index = bisect_left(row.said, said.start, key=lambda each: each.start)
    for way in (1, -1):
        at = index + way
        while 0 <= at < len(row.said) and abs(at - index) < _LIST:
            other = row.said[at]
            if other.kind == "remark":
                at += way
                continue
            if not other.is_number:
                break
            first, last = sorted((said, other), key=lambda each: each.start)
            if row.breaks.between(first.end, last.start) == 2:
                between = row.anchors_in(first.end, last.start)
                if not between or not all(isinstance(anchor, Spot) for anchor in between):
                    break
            if other.mention.unit is not None:
                if compatible(settled_unit(_units(other), field), field.unit):
                    return True
                break
            at += way
    return False


def _units(said: Said) -> tuple[str, ...]:
    """The unit of a value, or the candidates where the words leave it open."""
    named = [n.removeprefix("unit:") for n in said.mention.qualifiers if n.startswith("unit:")]
    return tuple(sorted(named)) or ((said.mention.unit,) if said.mention.unit else ())
