"""Whose: the places that a clause tells of which names a check.

"Port dog clutch", "corner 4: clearance 7.2 millimetres, landing pin ...", "both wipers", "all three
guards", "guards all ...": a place before the name, the one that the sentence began with, or all.
Common practice, no source.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.row import Cue, Spot

if TYPE_CHECKING:
    from voicelog.mapping.row import Events
    from voicelog.objects import Field

_ALL_OF = re.compile(
    r"\b(?:all|both|every|each|either)\s+(?:of\s+)?(?:the\s+|my\s+|our\s+)?\Z", re.IGNORECASE
)
_ALL = re.compile(
    r"\s+(?:(?:are|were)\s+)?(?:all|both)\b(?!\s+(?:but|except|bar)\b)", re.IGNORECASE
)
_OF_THEM = re.compile(r"\bof\s+(?:the\s+)?\Z", re.IGNORECASE)
_TO_NAME = re.compile(r"(?:['’]s)?\s*(?:the\s+)?", re.IGNORECASE)


def places_of(row: Events, index: int, field: Field) -> tuple[str | None, ...]:
    """The places of `field` that the clause tells of in which the anchor at `index` names it;
    nothing where a place is named behind it, or none at all."""
    cue = row.anchors[index]
    if not field.positions:
        return (None,)
    if _ALL_OF.search(row.text, max(0, cue.start - 20), cue.start) or are_counted(row, cue, field):
        return field.positions
    before = before_name(row, index)
    if before is not None and set(before.names) <= set(field.positions):
        return before.names
    behind = row.anchors[index + 1] if index + 1 < len(row.anchors) else None
    clause = row.breaks.clause_end(cue.end, len(row.text))
    if isinstance(behind, Spot) and behind.start < clause:
        return ()
    if isinstance(cue, Cue) and cue.plural and _ALL.match(row.text, cue.end):
        return field.positions
    return _opener(row, index, field)


def before_name(row: Events, index: int) -> Spot | None:
    """The place right before the name at `index`: "port dog clutch", "pump one's isolator"."""
    cue = row.anchors[index]
    at = index - 1
    while at >= 0 and isinstance(each := row.anchors[at], Cue) and each.in_spot:
        at -= 1
    spot = row.anchors[at] if at >= 0 else None
    if not isinstance(spot, Spot) or spot.unknown or spot.end < cue.start - 6:
        return None
    held = spot.start <= cue.start < spot.end
    return spot if held or _TO_NAME.fullmatch(row.text, spot.end, cue.start) else None


def are_counted(row: Events, cue: Cue | Spot, field: Field) -> bool:
    """Whether as many were counted as there are places: "three greens"."""
    if not isinstance(cue, Cue) or not cue.plural or len(field.positions) < 2:
        return False
    counted = row.said_in(max(0, cue.start - 12), cue.start)
    return any(
        each.kind == "count"
        and each.mention.value == len(field.positions)
        and row.text[each.end : cue.start].isspace()
        and not _OF_THEM.search(row.text, max(0, each.start - 8), each.start)
        for each in counted
    )


def _opener(row: Events, index: int, field: Field) -> tuple[str | None, ...]:
    """The one place that the sentence began with, and that all of it is about."""
    cue = row.anchors[index]
    sentence = row.breaks.sentence_start(cue.start)
    spots = [
        each
        for each in row.anchors_in(sentence, cue.start)
        if isinstance(each, Spot) and not each.dropped
    ]
    if len(spots) != 1 or spots[0].unknown or len(spots[0].names) > 1:
        return ()
    opens = not row.unexplained(sentence, spots[0].start, sentence)
    return spots[0].names if opens and set(spots[0].names) <= set(field.positions) else ()
