"""Lent references: that of a ratio that was said once for a list ("74, 75, 73 over eighty")."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping.row import START, Cue, Spot
from voicelog.objects import Ratio

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Place


def lend(row: Events, fields: Mapping[Place, Field]) -> None:
    """ "Cylinder one seventy four over eighty, two seventy three", "cylinders one to three: seventy
    four, seventy five, seventy three over eighty": the reference goes for the whole list, as a unit
    does that was said once."""
    for run in _runs(row):
        references = {r.mention.value.reference for r in run if isinstance(r.mention.value, Ratio)}
        bare = [said for said in run if not isinstance(said.mention.value, Ratio)]
        if len(references) != 1 or not bare:
            continue
        reference = references.pop()
        readings = [each.mention.value for each in bare]
        if not all(isinstance(each, Decimal) and each <= reference for each in readings):
            continue
        if not _has_places(row, run, fields):
            continue
        for said in bare:
            assert isinstance(said.mention.value, Decimal)  # noqa: S101 - looked at above
            value = Ratio(said.mention.value, reference)
            said.mention = replace(said.mention, kind="ratio", value=value, alternatives=())


def _runs(row: Events) -> Iterator[Sequence[Said]]:
    """Ratios and bare numbers with nothing between them but places."""
    run: list[Said] = []
    for said in row.said:
        if said.dropped:
            continue
        value = said.mention.value
        bare = said.kind == "count" and isinstance(value, Decimal) and not _counts(row, said)
        fits = isinstance(value, Ratio) or bare
        if run and not (fits and _goes_on(row, run[-1], said)):
            yield run
            run = []
        if fits:
            run.append(said)
    if run:
        yield run


def _counts(row: Events, said: Said) -> bool:
    """Whether a number has its own noun behind it ("three plugs")."""
    behind = row.anchors_in(said.end, said.end + 2)
    return any(isinstance(anchor, Cue) and not anchor.in_spot for anchor in behind)


def _goes_on(row: Events, one: Said, other: Said) -> bool:
    between = row.anchors_in(one.end, other.start)
    named = all(isinstance(anchor, Spot) or anchor.in_spot for anchor in between)
    apart = row.breaks.between(one.end, other.start) == 2
    apart = apart and ";" not in row.text[one.end : other.start]
    return named and not apart and not row.unexplained(one.end, other.start, one.end)


def _has_places(row: Events, run: Sequence[Said], fields: Mapping[Place, Field]) -> bool:
    """Whether each value has a place of its own: before it, behind it, or in a list before or
    behind all of them, or in the card, where there are as many values as places."""
    index = bisect_left(row.said, run[0].start, key=START)
    before = row.anchors_in(row.said[index - 1].end if index else 0, run[0].start)
    end = row.breaks.sentence_end(run[-1].end, len(row.text))
    ahead = [spot for spot in before if isinstance(spot, Spot)]
    behind = [spot for spot in row.anchors_in(run[-1].end, end) if isinstance(spot, Spot)]
    parted = [
        any(isinstance(anchor, Spot) for anchor in row.anchors_in(one.end, other.start))
        for one, other in pairwise(run)
    ]
    if all(parted):
        return bool(ahead or behind)
    if any(parted):
        return False
    if any(sum(len(spot.names) for spot in spots) == len(run) for spots in (ahead[-1:], behind)):
        return True
    cues = (cue for cue in before if isinstance(cue, Cue))
    named = (fields[place] for cue in cues for place in cue.places if place in fields)
    return not ahead and any(
        field.type == "ratio" and len(field.positions) == len(run) for field in named
    )
