"""Unsettled: what is said behind a number and leaves it, or its place, open.

"Two one more" is told against another value, "or was it outer" and "the other way round" take back
which place was meant, "I didn't note whether that was plus or minus" what it was. Nothing of this
is reckoned out; it is asked about.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.whereabouts import NONE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events, Said, Spot

_AGAINST = re.compile(
    r"\s+(?:(?:more|less|fewer)\b(?!\s+or\s+less\b)"
    r"|(?:greater|higher|lower|bigger|smaller|thicker|thinner)\s+than\b)",
    re.IGNORECASE,
)
_WHICH = re.compile(
    r"[\s,]*(?:[a-z]+\s+){0,3}?,?\s*\bor\s+(?:(?:is|was|were|are)\s+(?:it|that|this|they|those)\b"
    r"|(?:(?:it|that)\s+)?(?:may|might|could)\s+(?:be|have\s+been)\b)",
    re.IGNORECASE,
)
_NOT_KNOWN = re.compile(
    r"\b(?:forg[eo]t|forgotten|no\s+idea|(?:[a-z]+n['’]?t|can['’]t|cannot|not|never|without)(?:\s+[a-z]+)?\s+"
    r"(?:certain|check|clear|know|log|mark|not[ei]|recall|record|remember|say|said|sure|tell|wr[io]t)[a-z]*)"
    r"(?:\s+(?:any\s*more|down|it|myself|now|on\s+the\s+sheet|quite|that|there|to\s+say|up)){0,2}"
    r"\s+(?:(?:whether|if)\s+(?:it|that|this|they|those|these|i|we)\b|which\b"
    r"|(?:(?:if|whether)\s+)?(?:down|forward|high|in|left|long|low|minus|negative|off|on|open|out|over|plus|positive|proud|right"
    r"|short|shut|slack|tight|under|up|aft|above|below)\s+or\s+[a-z]+\b)",
    re.IGNORECASE,
)
""" "I forget which", "can't remember if it was plus or minus", "couldn't say high or low"."""
_SWAPPED = re.compile(
    r"\b(?:swap(?:ped)?\s+(?:those|them|these|that|the\s+two)|vice\s+versa"
    r"|(?:the\s+)?other\s+way\s+(?:a)?(?:round|about)"
    r"|(?:got|had|have|said|told|mixed)\s+(?:those|them|these)\s+(?:mixed\s+up|up|(?:the\s+)?wrong(?:\s+way)?))\b",
    re.IGNORECASE,
)

_NO = re.compile(r"\bno[\s.;!?]*\Z", re.IGNORECASE)
""" "Clear flame, no": an option, and taken back."""


def _may_have_none(row: Events, spot: Spot) -> bool:
    """ "Nothing on the stick, boom and bucket six": of the first of them there may be none."""
    several = len(spot.names) > 1 and "," in row.text[spot.start : spot.end]
    return several and bool(NONE.search(row.text, row.clause_start(spot.start), spot.start))


def doubt(row: Events, placements: Sequence[Placement]) -> None:
    """Ask about numbers that what follows them leaves open."""
    numbers = [each.said for each in placements if each.targets and each.said.is_number]
    for placement in placements:
        spot = placement.targets[0].spot if placement.targets else None
        said = placement.said
        behind = spot is not None and said.is_number and spot.end <= said.start
        if behind and spot is not None and _may_have_none(row, spot):
            said.doubts.append("ambiguous_place")
    for said in numbers:
        if _AGAINST.match(row.text, said.end):
            said.doubts.append("ambiguous_number")
        if _WHICH.match(row.text, said.end):
            said.doubts.append("ambiguous_place")
    placed = sorted((e.said for e in placements if e.targets), key=lambda said: said.end)
    _doubt_taken_back(row, placed)
    for unknown in _NOT_KNOWN.finditer(row.text):
        told = [said for said in placed if said.end <= unknown.start()][-1:]
        begin = row.breaks.sentence_start(unknown.start())
        for said in told:
            if begin <= row.breaks.sentence_end(said.end, len(row.text)) + 1:
                said.doubts.append("hedged")
    for swapped in _SWAPPED.finditer(row.text):
        before = [said for said in numbers if said.end <= swapped.start()]
        for said in before[-2:]:
            if row.breaks.between(said.end, swapped.start()) < 2 or said in before[-1:]:
                said.doubts.append("ambiguous_place")


def _doubt_taken_back(row: Events, placed: Sequence[Said]) -> None:
    """Ask about an option that the last word of its sentence takes back."""
    for said in placed:
        end = row.breaks.sentence_end(said.end, len(row.text))
        last = row.said_in(said.end, end)
        if said.option is not None and not last and _NO.search(row.text, said.end, end):
            said.doubts.append("contradiction")
