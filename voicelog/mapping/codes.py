"""Doubts of codes: whether one is whole, and whether it belongs to the name before it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLAIN, Cue
from voicelog.mapping.swapped import is_of_what_was
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Place

_LEADS = frozenset({
    "batch", "engraved", "etched", "label", "labelled", "lot", "marked", "part", "plate", "serial",
    "stamped", "sticker", "tag", "tagged", "tool", "use", "used",
})  # fmt: skip
"""Words that say that a code comes."""
_WORD = re.compile(r"\b[a-z]{2,}\b", re.IGNORECASE)
_MOST_LOST = 3
"""Words that may have been one or two letters, at most."""
_TWICE = re.compile(r"\b([a-z]{3,})\W+\1\W+\Z", re.IGNORECASE)
_BEFORE = 40
"""Characters before a code in which its name may stand twice."""


def doubt(row: Events, placement: Placement, fields: Mapping[Place, Field]) -> Iterator[str]:
    """ "Serial, serial, two two one" lost a letter ("sierra"); "impeller serial, seal batch
    214" may hold the second of two codes, of which the first was not understood."""
    said, target = placement.said, placement.targets[0]
    if said.kind != "identifier":
        return
    if _came_off(row, placement, fields):
        yield "at_first"
    if _TWICE.search(row.text, max(0, said.start - _BEFORE), said.start):
        yield "torn_code"
    if target.cue is None or target.cue.end > said.start:
        return
    if _begins_before(row, said.start, max(target.cue.end, target.spot.end if target.spot else 0)):
        yield "torn_code"
    for cue in row.anchors_in(target.cue.end, said.start):
        if not isinstance(cue, Cue) or cue.plainest < PLAIN or target.place in cue.places:
            continue
        if any(fields[place].type == "identifier" for place in cue.places):
            yield "ambiguous_place"
            return


_TAKEN_OUT = re.compile(
    r"\b(?:removed|(?:pulled|took|whipped)\s+(?:off|out))"
    r"(?:\s+(?!(?:and|but|fitted|in|installed|put|then)\b)[^\W\d_]+){0,5}\s+\Z",
    re.IGNORECASE,
)


def _came_off(row: Events, placement: Placement, fields: Mapping[Place, Field]) -> bool:
    """ "Took out expansion valve TX2, in goes TX3": the card asks for one, and not for the one that
    came off."""
    start = row.clause_start(placement.said.start)
    if _TAKEN_OUT.search(row.text, start, placement.said.start) is None:
        return False
    return not is_of_what_was(fields[placement.targets[0].place])


def _begins_before(row: Events, at: int, since: int) -> bool:
    """ "Load cell elma charlie dash zero one niner": whether words that nothing explains stand
    between the name that ends at `since` and the code at `at`, and may be the first of it."""
    if row.breaks.between(since, at) or row.said_in(since, at):
        return False
    named = row.anchors_in(since, at)
    words = [] if named else _WORD.findall(row.text, since, at)
    known = talk().everyday.plain | _LEADS
    return 0 < len(words) <= _MOST_LOST and any(word.lower() not in known for word in words)
