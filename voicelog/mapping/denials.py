"""Denials: options of a choice that were named and not found ("none of them torn"), and checks that
were named behind a "not"."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.row import ENDED, Spot

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events

_ARE = r"(?:(?:is|are|was|were|looks?|seems?)\s+)"
_DENIED = re.compile(
    r"(?:\b(?:no|not|nor|neither|never|nil|without)|n['’]t)\s+"
    r"(?:(?:yet|at all|really|too|so|very|been|longer|more|see|find|any"
    r"|(?:sign|trace)s?\s+of)\s+){0,3}\Z"
    r"|\b(?:stop(?:s|ped)?|ceased?|quit|free\s+(?:of|from)|clear\s+of)\s+(?:any\s+)?\Z"
    r"|\b(?:no|not|neither|any|without)\s+(?:[a-z-]+\s+){1,3}n?or\s+(?:any\s+)?\Z"
    r"|\b(?:none|not\s+(?:a\s+single\s+)?one|neither)\s+(?:of\s+(?:the|these|those|them|my|our)\s+)?"
    rf"(?:(?!and\b|but\b|now\b)[a-z-]+\s+){{0,3}}?{_ARE}?(?:[a-z-]+\s+n?or\s+)?\Z"
    rf"|\bno\s+(?:[a-z-]+\s+){{1,2}}?{_ARE}\Z"
    r"|n['’]t\s+(?:look|seem|appear|feel|find|see|spot)\s+(?:[a-z-]+\s+){0,2}?"
    rf"(?:(?:that|which)(?:\s+{_ARE}|['’]s\s+))?\Z",
    re.IGNORECASE,
)
""" "Worn but not fretted" is no word for "fretted", nor is "fine paste, no flakes" for flakes."""
_NEARBY = re.compile(
    r"(?:\b(?:none|neither|never|nothing|cannot)|n['’]t)\b"
    r"(?!.*\b(?:but|just|only|so|because|since|and|now)\b)[^,.;:!?]*\Z",
    re.IGNORECASE,
)
_ALMOST = re.compile(r"\b(?:almost|barely|nearly|practically)\s+\Z", re.IGNORECASE)
_REACH = 60
"""Characters before an option in which it may be denied."""


def of_option(text: str, at: int) -> bool | None:
    """Whether the option that stands at `at` is denied; None where it may be."""
    before = text[max(0, at - _REACH) : at]
    if _DENIED.search(before):
        return True
    return None if _NEARBY.search(before) or _ALMOST.search(before) else False


_UNSPENT = re.compile(r"\b(?:not|never|nobody|[a-z]+n['’]t)\b", re.IGNORECASE)


def doubts(row: Events, placement: Placement) -> Iterator[str]:
    """A doubt about a pass of what an earlier clause named behind a "not" that no remark spent:
    "haven't put the covers on yet, clean"."""
    said, cue = placement.said, placement.targets[0].cue
    if said.kind != "remark" or said.mention.value != "pass" or said.mention.negated or cue is None:
        return
    start = row.clause_start(cue.start)
    spot = placement.targets[0].spot
    if spot is not None and row.breaks.between(cue.end, spot.start) == ENDED:
        before = row.anchors_in(start, row.breaks.sentence_end(cue.end, len(row.text)))
        others = [each.names for each in before if isinstance(each, Spot)]
        if others and not any(set(spot.names).intersection(names) for names in others):
            return  # "haven't seen plates five and six. One to four are latched"
    if cue.end > said.start or start >= row.clause_start(said.start):
        return
    spent = any(each.kind == "remark" for each in row.said_in(start, cue.end))
    if not spent and _UNSPENT.search(row.text, start, cue.start):
        yield "negation_scope"
