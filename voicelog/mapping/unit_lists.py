"""Unit lists: numbers told place by place, of which only some have the unit.

"Front left forty nine psi, front right fifty", "left 29, right 30 pounds": nothing but the unit may
tell what they are of.
"""

from __future__ import annotations

from bisect import bisect_left
from typing import TYPE_CHECKING

from voicelog.mapping.row import Spot
from voicelog.mapping.unit_fit import compatible, far_apart, settled_unit

if TYPE_CHECKING:
    from collections.abc import Iterable

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field

_LIST = 12
"""Numbers of a list that are looked through for its unit."""


def goes_on(row: Events, said: Said, field: Field) -> bool:
    """Whether a bare number is one of a list, place by place, that nothing named but a unit which
    `field` takes: "front left forty nine psi, front right fifty", "left 29, right 30 pounds"."""
    if said.kind != "count" or said.mention.stage == "remarks" or field.unit is None:
        return False
    units = (said.lent_units,) if said.lent_units else list_units(row, said)
    meant = (settled_unit(each, field) for each in units)
    own = field.unit
    return any(compatible(each, own) and not far_apart(each, own) for each in meant)


def list_units(row: Events, said: Said) -> tuple[tuple[str, ...], ...]:
    """The units of the nearest numbers before and behind that have one, where this is one of
    their list, place by place."""
    first = bisect_left(row.said, said.start, key=lambda each: each.start)
    before = [*reversed(row.said[max(0, first - _LIST) : first])]
    found = (_listed(row, said, rest) for rest in (before, row.said[first + 1 :][:_LIST]))
    return tuple(filter(None, found))


def _listed(row: Events, said: Said, others: Iterable[Said]) -> tuple[str, ...]:
    """The units of the first of `others` with one, going away from `said`, where places stand
    between all of them."""
    for other in others:
        one, last = sorted((said, other), key=lambda each: each.start)
        between = row.anchors_in(one.end, last.start)
        listed = any(isinstance(anchor, Spot) for anchor in between) and all(
            isinstance(anchor, Spot) or not anchor.takes_number(said.step) for anchor in between
        )
        if not listed or row.breaks.between(one.end, last.start) == 2:
            return ()
        if units := other.units:
            return units if other.is_number else ()
        if other.kind != "count":
            return ()
        said = other
    return ()
