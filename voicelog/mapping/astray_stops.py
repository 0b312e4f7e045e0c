"""Astray stops: a list of places and values that a recogniser cut behind its places.

"Bolt one, fifty four bolt two. Fifty four bolt three. Fifty seven bolt four, fifty three": the list
begins with a place and ends with a value, so each value is of the place before it, whatever stops
were written between them.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping.row import ENDED, Said, Spot
from voicelog.mapping.unit_fit import alike

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.mapping.row import Cue, Events


Pair = tuple[Spot, Said]
"""A place, and the number behind it."""
_LEAST = 3
"""Pairs of a list, at least."""


def deal(row: Events) -> None:
    """Give each value of such a list the place before it."""
    for pairs in _lists(row):
        cut = [row.breaks.between(spot.end, said.start) == ENDED for spot, said in pairs]
        closed = [
            row.breaks.between(one.end, spot.start) == ENDED
            for (_, one), (spot, _) in pairwise(pairs)
        ]
        names = {spot.names for spot, _ in pairs}
        begin = row.breaks.sentence_start(pairs[0][0].start)
        first = not any(said.is_number for said in row.said_in(begin, pairs[0][0].start))
        if first and any(cut) and not any(closed) and len(names) == len(pairs):
            for spot, said in pairs:
                said.spot = spot


def _lists(row: Events) -> Iterator[list[Pair]]:
    """Runs of places, each with one number behind it and nothing else named between."""
    named = [each for each in row.anchors if isinstance(each, Spot) or not each.in_spot]
    items: list[Cue | Spot | Said] = [*named, *(said for said in row.said if not said.dropped)]
    items.sort(key=lambda each: each.start)
    pairs: list[Pair] = []
    spot: Spot | None = None
    for item in items:
        if pairs and item.start < pairs[-1][1].end:
            continue  # the "foot" of its unit
        if isinstance(item, Spot) and len(item.names) == 1 and spot is None:
            spot = item
            continue
        if spot is not None and isinstance(item, Said) and _goes_on(item, pairs):
            pairs.append((spot, item))
            spot = None
            continue
        yield from [pairs] if len(pairs) >= _LEAST else []
        pairs = []
        spot = item if isinstance(item, Spot) and len(item.names) == 1 else None
    yield from [pairs] if len(pairs) >= _LEAST else []


def _goes_on(said: Said, pairs: list[Pair]) -> bool:
    if not said.is_number or said.mention.stage == "remarks":
        return False
    return not pairs or alike(pairs[-1][1], said)
