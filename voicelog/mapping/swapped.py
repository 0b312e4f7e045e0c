"""Swapped: one part came off, another went on, each with its code: "off came R14, on went R15".

A field for the code of a part asks for the one that is on; the one that came off is as found.
"""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping.adjusted import FOUND, LEFT
from voicelog.reading.labels import names

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Place

_OFF = re.compile(
    r"\b(?:(?:off|out)(?!\s+(?:the|an?|my|his|of)\b)|removed|old(?!\s+stock\b)|scrapped|binned)\b",
    re.IGNORECASE,
)
_ON = re.compile(
    r"\b(?:(?:on|in)(?!\s+(?:the|an?|its|my|our|number|no|left|right|upper|lower|front|rear|place|order|stock|stores)\b)"
    r"|fitted|fitting|installed|new|replacement|instead)\b",
    re.IGNORECASE,
)
_FOR = re.compile(
    r"\s*,?\s*(?:(?:was|is|has\s+been|got)\s+)?(?:changed|exchanged|replaced|swapped)"
    r"\s+(?:by|for|with)\s+(?:a\s+|an\s+|the\s+)?(?:new\s+(?:one\s+)?)?",
    re.IGNORECASE,
)
""" "D1703 replaced with D2218"."""
_BY = re.compile(r"\s+(?:for|with)\s+(?:a\s+|an\s+)?(?:new\s+(?:one\s+)?)?", re.IGNORECASE)
_SWAPPED = re.compile(r"\b(?:changed|exchanged|replaced|swapped)\b", re.IGNORECASE)
_IN_PLACE = re.compile(
    r"\s*,?\s*(?:(?:is|was|went)\s+)?(?:fitted\s+)?(?:(?:in\s+place|instead)\s+of|replaces|replacing)\s+"
    r"(?:the\s+)?(?:old\s+(?:one\s+)?)?",
    re.IGNORECASE,
)
""" "D2218 in place of D1703"."""
_BREAK = re.compile(r"[,.;]|\b(?:and|then|but)\b", re.IGNORECASE)
_REACH = 60
"""Characters before a code in which it is told what became of the part."""
_OF_WHAT_WAS = frozenset({"found", "off", "old", "out", "removed"})
"""Words in the name of a field that is for a part taken off."""


def mark(row: Events, placements: Sequence[Placement], fields: Mapping[Place, Field]) -> None:
    """Tag the codes of two parts of which one took the other's place."""
    codes = [each for each in placements if each.said.kind == "identifier"]
    for one, other in pairwise(codes):
        if all((FOUND | LEFT) & each.said.tags for each in (one, other)):
            continue
        first = _taken_off_first(row, one.said, other.said)
        if first is None:
            continue
        off, on = (one, other) if first else (other, one)
        if not off.targets or is_of_what_was(fields[off.targets[0].place]):
            continue
        if _is_same(off, on):
            off.said.tags.add("as found")
            on.said.tags.add("as left")
        else:
            off.said.doubts.append("at_first")


def _is_same(one: Placement, other: Placement) -> bool:
    """Whether both found the same place of the same field."""
    found = [[(each.place, each.positions) for each in which.targets[:1]] for which in (one, other)]
    return bool(found[0]) and found[0] == found[1]


def is_of_what_was(field: Field) -> bool:
    """Whether a field is for a part that was taken off."""
    words = " ".join((*names(field), *field.positions)).lower().replace(",", " ").split()
    return not _OF_WHAT_WAS.isdisjoint(words)


def _taken_off_first(row: Events, one: Said, other: Said) -> bool | None:
    """Whether the first of two codes is that of the part that came off; None where nothing tells
    or both tell the same."""
    text, start = row.text, max(0, one.start - _REACH)
    if _FOR.fullmatch(text, one.end, other.start):
        return True
    if _BY.fullmatch(text, one.end, other.start) and _SWAPPED.search(text, start, one.start):
        return True
    if _IN_PLACE.fullmatch(text, one.end, other.start):
        return False
    pause = _BREAK.search(text, one.end, other.start)
    if pause is None:
        return None
    begin = max(start, row.breaks.sentence_start(one.start))
    end = min(row.breaks.clause_end(other.end, len(text)), other.end + _REACH)
    first = f"{text[begin : one.start]} {text[one.end : pause.start()]}"
    second = f"{text[pause.end() : other.start]} {text[other.end : end]}"
    told = _became(first), _became(second)
    return told == ("off", "on") if set(told) == {"off", "on"} else None


def _became(words: str) -> str | None:
    off, on = _OFF.search(words), _ON.search(words)
    if bool(off) == bool(on):
        return None
    return "off" if off else "on"
