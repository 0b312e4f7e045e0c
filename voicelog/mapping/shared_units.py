"""Shared units: a unit that was said once goes for the other values of its list, of the correction
and of what was left, and may go for those of the next field or the one before."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.mapping import lent
from voicelog.mapping.unit_fit import compatible, settled_unit

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.mapping import found_and_left
    from voicelog.mapping.row import Events
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
