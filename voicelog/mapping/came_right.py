"""Came right: a state told of a thing that was worked on ("was plugged, I blew it through and it's
clear now"): it is that of what was named before, and the one before it was as found."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.adjusted import LEFT
from voicelog.mapping.work_verbs import work

if TYPE_CHECKING:
    from voicelog.mapping.row import Events, Said

CAME = "came right"
"""Tag of such a state."""
_IS = (
    r"(?:['’](?:s|re)|\s+(?:all|are|back|been|both|came|comes|feels|gone|has|have|is|just|looks|now"
    r"|sits|turns|was|were))*"
)
_IT = re.compile(
    rf"\b(?:(?:and|so)\s+)?(?:(?:now|after(?:wards|\s+that)|then)[\s,]+)?(?:it|they|that|she){_IS}\s+\Z"
    rf"|(?:\A|[,.;])\s*(?:(?:and|so|but)\s+)*now(?:\s+(?:is|are|all))?\s+\Z",
    re.IGNORECASE,
)
_AGAIN = re.compile(
    r"(?:\s+(?:it|them))?\s+(?:(?:and|fully|freely|nicely|properly|well)\s+)?(?:now|again|afterwards)\b",
    re.IGNORECASE,
)
_NOW = re.compile(r"\b(?:now|after(?:wards|\s+that)|then)\b", re.IGNORECASE)
_PIECE = re.compile(r"[,.;:](?:\s+|\Z)|\s+(?:and|so|then|but|until|till)\s+", re.IGNORECASE)
_IT_WAS = re.compile(r"\s*(?:it|them|that|[a-z]{2,}en)\b", re.IGNORECASE)
""" "... and it came loose", "taken off": told of the thing, or of work without who did it."""
_LEAST = 3
"""Letters of a piece that tells anything."""


def mark(row: Events) -> None:
    """Tag the states that tell how a thing is now of which another was told before."""
    last: Said | None = None
    for said in row.said:
        if said.dropped or not (said.kind == "remark" or said.option is not None):
            continue
        if last is not None and _is_told_again(row, last, said):
            said.tags.add(CAME)
            if not said.tags & LEFT:
                said.tags.add("as left weak")
        if last is None or not _is_work(row, last.end, said.start):
            last = said


def _is_told_again(row: Events, before: Said, said: Said) -> bool:
    """Whether nothing but work is told between the two, and "it" is so "now" or "again"."""
    lead = _IT.search(row.text, before.end, said.start)
    if lead is None or said.inner or row.anchors_in(lead.start(), said.start):
        return False
    marked = _NOW.search(lead[0]) or _AGAIN.match(row.text, said.end)
    if not (marked or LEFT & said.tags):
        return False
    pieces = _PIECE.split(row.text[before.end : lead.start()])[1:]
    if not all(len(each.strip()) < _LEAST or _is_of_work(each) for each in pieces):
        return False
    start = row.clause_start(before.start)
    named = before.inner or row.anchors_in(start, before.start)
    return bool(named) or not row.unexplained(start, before.start)


def _is_work(row: Events, since: int, at: int) -> bool:
    """Whether what stands at `at` was told in the words for what was done: "cleaned out the grit",
    "found a loose terminal"."""
    cuts = [cut.end() for cut in _PIECE.finditer(row.text, since, at)]
    return bool(cuts) and _is_of_work(row.text[cuts[-1] : at])


def _is_of_work(piece: str) -> bool:
    return work().match(piece) is not None or _IT_WAS.match(piece) is not None
