"""Lent references: that of a ratio that was said once for a list ("74, 75, 73 over eighty")."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping.row import Spot
from voicelog.objects import Ratio

if TYPE_CHECKING:
    from voicelog.mapping.row import Events


def lend(row: Events) -> None:
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
    if first == index:
        return
    before = (a for a in reversed(row.anchors_in(0, row.said[first].start)) if isinstance(a, Spot))
    named = next(before, None)
    if named is None or len(named.names) != index - first + 1:
        return
    for said in row.said[first:index]:
        assert isinstance(said.mention.value, Decimal)  # noqa: S101 - looked at above
        value = Ratio(said.mention.value, reference)
        said.mention = replace(said.mention, kind="ratio", value=value, alternatives=())
        said.doubts.append("lent_reference")
