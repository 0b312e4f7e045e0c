"""All but: a value before "all except number two", and another behind it, which is that one's.

"Rear plugs sixteen thou, all except number two, eighteen thou." Common practice, no source.
"""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping.contrasted import LEAVES_OUT
from voicelog.mapping.fit import alike
from voicelog.mapping.row import Spot

if TYPE_CHECKING:
    from collections.abc import Mapping

    from voicelog.mapping.row import Events
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Place

_NOTHING = re.compile(r"[\s,:;–—-]*(?:on\s+)?", re.IGNORECASE)
_IS = re.compile(r"[\s,:;–—-]*(?:(?:(?:that|this)(?:\s+one)?|it|which|is|at|was|['’]s)\s*)*", re.I)


def deal(row: Events, fields: Mapping[Place, Field]) -> None:
    """Give both values their places."""
    numbers = [each for each in row.said if each.is_number and not each.dropped]
    for one, other in pairwise(numbers):
        spots = [a for a in row.anchors_in(one.end, other.start) if isinstance(a, Spot)]
        spot = spots[0] if len(spots) == 1 else None
        if spot is None or not LEAVES_OUT.match(spot.mentions[0].text) or not alike(one, other):
            continue
        apart = _NOTHING.fullmatch(row.text, one.end, spot.start)
        apart = apart and _IS.fullmatch(row.text, spot.end, other.start)
        ahead = row.anchors_in(row.breaks.sentence_start(one.start), one.start)
        left_out = _left_out(spot, fields)
        if apart and left_out and not any(isinstance(each, Spot) for each in ahead):
            one.spot, other.spot = spot, _of(spot, left_out)
            spot.dropped = True


def _left_out(spot: Spot, fields: Mapping[Place, Field]) -> tuple[str, ...]:
    """The places that are not among those of `spot`; nothing where fields differ in them."""
    names = set(spot.names)
    rests = {
        tuple(name for name in field.positions if name not in names)
        for field in fields.values()
        if names < set(field.positions)
    }
    return rests.pop() if len(rests) == 1 else ()


def _of(spot: Spot, names: tuple[str, ...]) -> Spot:
    return Spot(spot.start, spot.end, names, spot.mentions, spot.words, spot.doubts)
