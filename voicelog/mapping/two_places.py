"""Two places: what was told between two of them, of which the other has nothing of its own."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.row import ENDED, Spot

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from collections.abc import Set as AbstractSet

    from voicelog.mapping.placement import Placement, Target
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Place

_ON_IT = re.compile(r"(?:\s+[a-z]+){0,2}?\s+(?:at|on)\s+(?:the\s+)?")
_CLAUSE_ENDS = re.compile(r"\s*(?:[,.;]|\Z)")
_SEVERAL = 2
_NEAR = 30
"""Characters between what is told and the place that it is told of, at most."""


def doubt(row: Events, placements: Sequence[Placement], fields: Mapping[Place, Field]) -> None:
    """Ask about values that may be of either of two places."""
    used = {id(spot) for each in placements for spot in taken(each)}
    _between_places(row, placements, used)
    _at_another_place(row, placements, fields, used)
    _ends_what_was_told(row, placements)
    _headed_by_two(row, placements, fields)


def _headed_by_two(
    row: Events, placements: Sequence[Placement], fields: Mapping[Place, Field]
) -> None:
    """Ask about numbers whose place was named in a sentence before that names another one, too, and
    tells nothing of either: "standby stream only, the working one's live. Lock up 83 millibar"."""
    for placement in placements:
        said = placement.said
        spot = placement.targets[0].spot if placement.targets else None
        if spot is None or not said.is_number or row.breaks.between(spot.end, said.start) < ENDED:
            continue
        start = row.breaks.sentence_start(spot.start)
        end = row.breaks.sentence_end(spot.end, len(row.text))
        places = fields[placement.targets[0].place].positions
        named = [
            each.names
            for each in row.anchors_in(start, end)
            if isinstance(each, Spot) and set(each.names) <= set(places)
        ]
        told = any(each.is_number for each in row.said_in(start, end))
        if len(set(named)) > 1 and not told:
            said.doubts.append("ambiguous_place")


def _between_places(row: Events, placements: Sequence[Placement], used: AbstractSet[int]) -> None:
    """Ask about one number between two places, of which the other has none: "shims forward,
    three aft" may have lost the number before it."""
    for placement in placements:
        said = placement.said
        target = placement.targets[0] if placement.targets else None
        if target is None or target.spot is None or not said.is_number or said.spot is not None:
            continue
        before, behind = right_beside(row, said.start, -1), right_beside(row, said.end, 1)
        if before is None or behind is None or target.spot not in (before, behind):
            continue
        other = behind if target.spot is before else before
        if id(other) not in used and set(other.names).isdisjoint(target.positions):
            said.doubts.append("ambiguous_place")


def _at_another_place(
    row: Events,
    placements: Sequence[Placement],
    fields: Mapping[Place, Field],
    used: AbstractSet[int],
) -> None:
    """Ask about what was told behind one place, where the clause ends at another that has nothing
    of its own: "rinse jets, two blocked on the wash"."""
    for placement in placements:
        said = placement.said
        target = placement.targets[0] if placement.targets else None
        if target is None or target.spot is None or target.spot.end > said.start:
            continue
        for anchor in row.anchors_in(said.end, said.end + _NEAR):
            if not isinstance(anchor, Spot) or id(anchor) in used or anchor.unknown:
                continue
            other = set(anchor.names).isdisjoint(target.positions)
            known = other and set(anchor.names) <= set(fields[target.place].positions)
            ends = _CLAUSE_ENDS.match(row.text, anchor.end)
            if known and ends and _ON_IT.fullmatch(row.text, said.end, anchor.start):
                said.doubts.append("ambiguous_place")


_AT = re.compile(r"\b(?:at|in|on)\s+(?:the\s+)?\Z", re.IGNORECASE)


def _ends_what_was_told(row: Events, placements: Sequence[Placement]) -> None:
    """Ask about places in a row of which the first may end what was told before: "ripped clean open
    on the port side, bow and starboard still sound"."""
    for placement in placements:
        spot = placement.targets[0].spot if placement.targets else None
        if spot is None or len(spot.names) < _SEVERAL or spot.end > placement.said.start:
            continue
        if row.breaks.between(spot.end, placement.said.start):
            continue
        begin = row.clause_start(spot.start)
        ends = "," in row.text[spot.start : spot.end] and _AT.search(row.text, begin, spot.start)
        if ends and row.unexplained(begin, spot.start, begin):
            placement.said.doubts.append("ambiguous_place")


def taken(placement: Placement) -> Iterator[Spot]:
    """The places that a placement has taken."""
    for target in placement.targets:
        if target.spot is not None:
            yield target.spot


def right_beside(row: Events, at: int, way: int) -> Spot | None:
    """The place that stands right before `at` (-1), perhaps with a pause, or right behind (1)."""
    for anchor in row.anchors_in(max(0, at - 40), at) if way < 0 else row.anchors_in(at, at + 8):
        between = row.text[anchor.end : at] if way < 0 else row.text[at : anchor.start]
        if isinstance(anchor, Spot) and not between.strip(" ," if way < 0 else " "):
            return anchor
    return None


def may_be_of(row: Events, said: Said, target: Target) -> bool:
    """Whether what was found good may be of the thing that a fault was told of. "The rest are
    latched" is not, where the card asks whether they latch, and the clause names the places."""
    spot = target.spot
    named = spot is not None and row.clause_start(said.start) <= spot.start
    if named and "predicate" in said.mention.qualifiers:
        return False
    return len(target.positions) > 1 or target.inherited
