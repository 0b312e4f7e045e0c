"""Only done: work that was told, where what it was done to or what came of it is open."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLAIN, Cue
from voicelog.reading.talk import talk
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events
    from voicelog.objects import Field


def is_all(row: Events, placement: Placement, field: Field, until: int) -> bool:
    """Whether all that is told up to `until` is that something was done, and more is left open."""
    one_word = " " not in field.label
    return (one_word and _of_something(row, placement)) or _only_done(row, placement, until)


_TOLD_ON = re.compile(
    r"[,:](?:\s|$)|\s[-–—]+\s|\s(and|but)\s+(?=(?:an?|he|it|no|nothing|she|that|the|they|this)\b)",
    re.IGNORECASE,
)
""" "Tested the alarm and the thing never made a peep": what came of it has a clause of its own."""
_FOUND_SOME = re.compile(
    r"\bfound\s+(?:an?|another|it|one|several|some|them|three|two)\b", re.IGNORECASE
)
""" "Leak test done on both, found one on two". """
_MORE_THAN_TRIED = frozenset({"accounted", "carried", "complete", "started"})


def _only_done(row: Events, placement: Placement, until: int) -> bool:
    """ "Done the obstacle test on all the doors, three kept pushing": something more is told of
    what was done, in words that nothing explains."""
    said, place = placement.said, placement.targets[0].place
    done = said.mention.text.lower()
    tried = done == "did" or (done in talk().remarks.undone and done not in _MORE_THAN_TRIED)
    if said.kind != "remark" or not tried:
        return False
    stop = min(until, row.breaks.sentence_end(said.end, len(row.text)))
    if _FOUND_SOME.search(row.text, said.end, stop):
        return True
    cuts = [*_TOLD_ON.finditer(row.text, said.end, stop)]
    for index, cut in enumerate(cuts):
        start, end = cut.end(), cuts[index + 1].start() if index + 1 < len(cuts) else stop
        named = [a for a in row.anchors_in(start, end) if isinstance(a, Cue) and not a.in_spot]
        other = any(cue.plainest >= PLAIN and place not in cue.places for cue in named)
        strange = sum(1 for _ in row.strange_words(start, end, start))
        if not other and strange > (cut[1] is None):
            return True
    return False


_OBJECT = re.compile(r"\s+(?:my|our|the|this|that|its)\s+(?P<thing>[a-z]+)", re.IGNORECASE)
_WHOLE = frozenset({"equipment", "job", "lot", "machine", "set", "thing", "unit", "whole"})


def _of_something(row: Events, placement: Placement) -> bool:
    """Whether what a label says by a verb alone was done to a thing that the card may not mean:
    "I decontaminated the bowl"."""
    said, place = placement.said, placement.targets[0].place
    alone = said.kind == "remark" and len(said.mention.text.split()) == 1
    named = any((cue.start, cue.end) == (said.start, said.end) for cue in said.inner)
    done = _OBJECT.match(row.text, said.end) if alone and named else None
    if done is None or done["thing"].lower() in _WHOLE or word_key(done["thing"]) in row.titled:
        return False
    things = row.anchors_in(done.start("thing"), done.end())
    return not any(isinstance(each, Cue) and place in each.places for each in things)
