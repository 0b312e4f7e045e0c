"""States found and left: "found dry, left glazed", "found it failed and left it good"."""

from __future__ import annotations

import re
from bisect import insort
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping.row import ENDED, START, Spot
from voicelog.objects import Mention
from voicelog.reading.lexicon import lexicon_of

if TYPE_CHECKING:
    from voicelog.mapping.row import Cue, Events, Said
    from voicelog.objects import Card

_IT = r"(?:(?:it|them|that|this|those|these|him|her|as|in)\s+)?"
_FOUND = re.compile(rf"\bfound\s+{_IT}(?:(?:the|a|an)\s+)?\Z", re.IGNORECASE)
_LEFT = re.compile(rf"\b(?P<left>left|leaving)\s+{_IT}\Z", re.IGNORECASE)
_NOW = re.compile(r"\s+(?:now|again)\b", re.IGNORECASE)
_WAS = re.compile(r"\b(?:was|were|been)\s+(?:[a-z]+\s+)?\Z", re.IGNORECASE)
_BEFORE = re.compile(r"\bbefore\b", re.IGNORECASE)
_REACH = 24
"""Characters before a state in which its verb begins, at most."""


def tells(said: Said) -> bool:
    """Whether it is an option of a choice or a verdict: one may be found, and another left."""
    verdict = said.kind == "remark" and "verdict" in said.mention.qualifiers
    return said.option is not None or verdict


def mark(row: Events, card: Card) -> None:
    """Tag states whose verbs tell that the one was found and the other left."""
    standing = [each for each in row.said if not each.dropped]
    for left, found in pairwise(standing):
        if tells(left) and tells(found) and _is_told_back(row, left, found):
            left.tags, found.tags = {"as left"}, {"as found"}
    for found, left in pairwise(standing):
        if found.tags or left.tags or not (tells(found) and tells(left)):
            continue
        if row.breaks.between(found.end, left.start) == 2 or not _is_found(row, found):
            continue
        verb = _LEFT.search(row.text, max(found.end, left.start - _REACH), left.start)
        if verb is None or _is_place(row, verb.start(), left, card):
            continue
        told = Mention("procedure", verb[0], verb.start(), verb.end(), "as left", stage="mapping")
        insort(row.words, told, key=START)
        found.tags.add("as found")
        left.tags.add("as left")


def _is_told_back(row: Events, left: Said, found: Said) -> bool:
    """ "Tight now, it was loose before I did it": how it is, and then how it was."""
    if row.breaks.between(left.end, found.start) == ENDED or row.anchors_in(left.end, found.start):
        return False
    end = row.breaks.clause_end(found.end, len(row.text))
    return bool(
        _NOW.match(row.text, left.end)
        and _WAS.search(row.text, left.end, found.start)
        and _BEFORE.search(row.text, found.end, end)
    )


def _is_place(row: Events, at: int, left: Said, card: Card) -> bool:
    """Whether the "left" at `at` is a place of what has such an option or verdict; else it is none
    of another field either."""
    spots = [a for a in row.anchors_in(at, left.start) if isinstance(a, Spot)]
    names = {name for spot in spots for name in spot.names}
    chosen = lexicon_of(card).options
    for step in card.steps:
        for each in step.fields:
            options = chosen.get((step.number, each.name), {})
            told = left.option in options if left.option is not None else each.type == "check"
            if told and not names.isdisjoint(each.positions):
                return True
    for spot in spots:
        spot.dropped = True
    return False


def _is_found(row: Events, found: Said) -> bool:
    """Whether the "found" stands right before it, or before the name that does."""
    named: list[Said | Cue | Spot] = [*row.anchors_in(row.clause_start(found.start), found.start)]
    named += [each for each in row.said if each.inner and each.end <= found.start]
    starts = [found.start, *(a.start for a in named if not row.text[a.end : found.start].strip())]
    return any(_FOUND.search(row.text, max(0, at - _REACH), at) for at in starts)
