"""Turned: a list of values per place that may have turned to another thing on its way.

"Top clearance gate one point three, gate two point three, underneath gate three point five, gate
four point five": a word that nothing explains stands where another field would be named, so what
comes from there on is asked about, up to the next plain name.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping import loose
from voicelog.mapping.adjusted import LEFT
from voicelog.mapping.row import Spot
from voicelog.mapping.tries import is_amount
from voicelog.mapping.unit_fit import compatible
from voicelog.reading.labels import names
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Place


_OF_IT = re.compile(r"\s*(?:which|that|it)\b", re.IGNORECASE)
"""How a clause begins that goes on about the place before it: "..., which I make eleven"."""


def doubt(row: Events, placements: Sequence[Placement], fields: Mapping[Place, Field]) -> None:
    """Ask about the values of a list behind a word that may have turned it."""
    place: Place | None = None
    turned = False
    before = 0
    for placement in placements:
        said = placement.said
        target = placement.targets[0] if placement.targets else None
        if is_amount(said) and not said.tags & LEFT:
            if target is not None and (target.place != place or _is_named(placement)):
                goes_on = place == target.place
                turned = goes_on and _has_another_name(row, placement, before, fields)
                place = target.place
                if turned:
                    said.doubts.append("loosely_named")
            elif place is not None and _may_go_on(placement, fields[place]):
                turned = turned or _is_strange(row, placement, before, place)
                if turned and target is not None:
                    said.doubts.append("loosely_named")
        before = said.end


def _is_named(placement: Placement) -> bool:
    """Whether words of its own name the field of a value, and not only its places."""
    target = placement.targets[0]
    return not target.inherited and target.cue is not None and not target.cue.in_spot


def _has_another_name(
    row: Events, placement: Placement, before: int, fields: Mapping[Place, Field]
) -> bool:
    """Whether the short name of a field stands behind a word that is not in its long one: "heel
    gap right" where the field is the toe gap, or "gap" for short."""
    target = placement.targets[0]
    cue = target.cue
    if cue is None or target.inherited or cue.in_spot or " " in cue.mention.text:
        return False
    key = word_key(cue.mention.text)
    long = [name.split() for name in names(fields[target.place]) if len(name.split()) > 1]
    if not any(word_key(name[-1]) == key for name in long):
        return False
    start = max(before, row.clause_start(cue.start))
    last = row.text[start : cue.start].split()
    own = {word_key(word) for name in long for word in name}
    known = not last or word_key(last[-1]) in own
    return not known and loose.is_strange_word(row, start, cue.start, target.place)


def _may_go_on(placement: Placement, field: Field) -> bool:
    unit = placement.said.mention.unit
    return bool(field.positions) and (unit is None or compatible(unit, field.unit or unit))


def _is_strange(row: Events, placement: Placement, before: int, place: Place) -> bool:
    said = placement.said
    start = max(before, row.clause_start(said.start))
    spots = [anchor for anchor in row.anchors_in(start, said.start) if isinstance(anchor, Spot)]
    if placement.targets:
        spots = [spot for spot in spots if spot is placement.targets[0].spot]
    if not spots and _OF_IT.match(row.text, start):
        return False
    end = spots[-1].start if spots else said.start
    return loose.is_strange_word(row, start, end, place)
