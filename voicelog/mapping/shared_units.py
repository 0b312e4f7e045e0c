"""Shared units: a unit that was said once goes for the other values of its list, of the correction
and of what was left, and may go for those of the next field or the one before; and so may one that
was said with a number of the list which found no place, or with the limit."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping import lent
from voicelog.mapping.row import START, Cue
from voicelog.mapping.unit_fit import OTHER_SIZE, compatible, far_apart, settled_unit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from voicelog.mapping import found_and_left
    from voicelog.mapping.row import Events, Said
    from voicelog.mapping.settle import Entry
    from voicelog.objects import Field

    Key = tuple[str, str, str | None]

_OF_UNITS = {"ambiguous_unit", "lent_unit", "mil", "misheard_unit"}  # they travel with the unit


def hand_round(
    by_key: Mapping[Key, list[Entry]],
    ahead: Mapping[tuple[str, str], str],
    fields: Mapping[tuple[str, str], Field],
    pairs: Mapping[tuple[str, str], found_and_left.Pair],
) -> None:
    """A unit said once for a list goes to every value of the list, and of the correction; so does
    one that was said with the value found to the one left."""
    by_field: dict[tuple[str, str], list[Entry]] = {}
    for key, entries in by_key.items():
        pair = pairs.get(key[:2])
        one = pair is not None and fields[pair.found].unit == fields[pair.left].unit
        by_field.setdefault(pair.found if pair and one else key[:2], []).extend(entries)
    for place, entries in by_field.items():
        said = {entry.unit for entry in entries if entry.unit is not None}
        bare = (entry.said.lent_units for entry in entries if entry.unit is None)
        said |= {settled_unit(each, fields[place]) for each in bare if each}
        if not said and place in ahead:
            said.add(ahead[place])
        if len(said) != 1:
            continue
        unit = said.pop()
        wrong = () if compatible(unit, fields[place].unit or unit) else ("wrong_dimension",)
        told = [entry for entry in entries if entry.unit is not None]
        shared = set.intersection(_OF_UNITS, *(set(entry.doubts) for entry in told))
        wrong = (*wrong, *sorted(shared if told else ()))
        for entry in entries:
            if entry.unit is None and "unit_unsaid" in entry.doubts:
                entry.unit = unit
                entry.doubts.remove("unit_unsaid")
                entry.doubts.extend(wrong)
                if _is_open(entry.said.lent_units, fields[place]):
                    entry.doubts.append("ambiguous_unit")


def _is_open(units: Sequence[str], field: Field) -> bool:
    """Whether lent words leave the unit open in `field` ("sixty, gallons")."""
    alike = [unit for unit in units if field.unit and compatible(unit, field.unit)]
    return len(alike) > 1 and field.unit not in alike


def lend(
    by_key: Mapping[Key, list[Entry]], row: Events, fields: Mapping[tuple[str, str], Field]
) -> None:
    """ "Elevator up twenty four, down fifteen degrees": the unit behind the last of several
    fields goes for those before it, and is asked about unless it stands apart from that, too:
    "205 seating, 95 final, foot pounds"."""
    entries = sorted(
        ((entry, fields[key[0], key[1]]) for key, found in by_key.items() for entry in found),
        key=lambda each: each[0].said.start,
    )
    _lend_onward(entries, row)
    unit: str | None = None
    apart = by_itself = False
    at = len(row.text)
    for entry, field in reversed(entries):
        ends = row.breaks.between(entry.said.end, at) == 2 and not by_itself
        if ends or not entry.said.is_number:
            unit = None
        at = entry.said.start
        if entry.unit is not None:
            unit = entry.unit
            apart = bool(entry.said.lent_units)
            by_itself = lent.BY_ITSELF in entry.said.tags
        elif unit and "unit_unsaid" in entry.doubts and compatible(unit, field.unit or ""):
            entry.unit = unit
            entry.doubts.remove("unit_unsaid")
            entry.doubts.extend(("lent_unit",) * (not apart))


def _lend_onward(entries: Sequence[tuple[Entry, Field]], row: Events) -> None:
    """ "Running down took nine seconds and running up eleven": the unit of the value before in the
    same sentence goes for one of another field that has none of its own; it is asked about."""
    unit: str | None = None
    at = 0
    for entry, field in entries:
        start = entry.said.start
        ends = row.breaks.between(at, start) == 2 and ";" not in row.text[at:start]
        if ends or not entry.said.is_number:
            unit = None
        at = entry.said.end
        if entry.unit is not None:
            unit = entry.unit
        elif unit and "unit_unsaid" in entry.doubts and compatible(unit, field.unit or ""):
            entry.unit = unit
            entry.doubts.remove("unit_unsaid")
            entry.doubts.append("lent_unit")


_TIMES = 20
"""How many times as large one number of a list may be as the next. Common practice, no source."""


def lend_lost(
    by_key: Mapping[Key, list[Entry]],
    lost: Sequence[Said],
    row: Events,
    fields: Mapping[tuple[str, str], Field],
) -> None:
    """ "Spec is five to six kilonewtons. Number five makes it with five point eight", "front left
    eight bar (of which nobody knows what it is), rear right nine": the unit of a number beside the
    list that stands in no field goes for a list that has none; it is asked about."""
    bare: dict[tuple[str, str], list[Entry]] = {}
    for key, entries in by_key.items():
        bare.setdefault(key[:2], []).extend(entries)
    unsaid = {
        place: [entry for entry in entries if "unit_unsaid" in entry.doubts]
        for place, entries in bare.items()
        if all(entry.unit is None for entry in entries)
    }
    placed = {id(e.said): (place, e.said) for place, found in unsaid.items() for e in found}
    if not placed:
        return
    others = (entry.said for entries in by_key.values() for entry in entries)
    left = {id(said): said for said in (*lost, *row.aside) if said.mention.unit is not None}
    numbers = left | {id(said): said for said in others if said.is_number}
    near: dict[tuple[str, str], set[str]] = {}
    before = 0
    for one, last in pairwise(sorted(numbers.values(), key=START)):
        for told, said in ((one, last), (last, one)):
            if id(told) not in left or id(said) not in placed:
                continue
            place = placed[id(said)][0]
            since = max(before, row.breaks.sentence_start(one.start))
            beside = _is_of(row, since, one.start, place, any) and _is_of(
                row, one.end, last.start, place, all
            )
            if beside and _suits(told, said, fields[place]):
                near.setdefault(place, set()).add(settled_unit(told.units, fields[place]))
        before = one.end
    for place, units in near.items():
        for entry in unsaid[place] if len(units) == 1 else ():
            entry.unit = min(units)
            entry.doubts.remove("unit_unsaid")
            entry.doubts.append("lent_unit")


def _is_of(
    row: Events,
    since: int,
    until: int,
    place: tuple[str, str],
    so_many: Callable[[Iterable[bool]], bool],
) -> bool:
    """Whether `so_many` of the names in the stretch, if there are any, are of the field `place`."""
    named = [
        place in anchor.places
        for anchor in row.anchors_in(since, until)
        if isinstance(anchor, Cue) and anchor.takes_number(place[0])
    ]
    return not named or so_many(named)


def _suits(told: Said, said: Said, field: Field) -> bool:
    """Whether a number may well be meant in the unit of the one beside it."""
    unit = settled_unit(told.units, field)
    if (
        not field.unit
        or not compatible(unit, field.unit)
        or far_apart(unit, field.unit, OTHER_SIZE)
    ):
        return False
    one, other = told.mention.value, said.mention.value
    if not isinstance(one, Decimal) or not isinstance(other, Decimal):
        return True
    return abs(one) < _TIMES * abs(other) and abs(other) < _TIMES * abs(one)
