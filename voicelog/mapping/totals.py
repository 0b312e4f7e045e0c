"""Totals: numbers that tell how many things there are, of all of them or of some, and no value."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.row import APIECE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Said

_OF_ALL = re.compile(
    r"\b(?:all|any|both|each|every|half|most|none|some|one|two|three|four|five|six|seven|eight|nine"
    r"|ten|\d+)\s+of\s+(?:the|these|those|our|its)\s+$",
    re.IGNORECASE,
)
_OUT_OF = re.compile(r"\bout\s+of\s+(?:(?:the|a\s+total\s+of|all)\s+)?\Z", re.IGNORECASE)
_OF_US = re.compile(
    r"\s+of\s+us\b|\s+(?:I|we|they)\s+(?:(?:can|could|did|do|have|had)(?:n['’]t|\s+not)|cannot|never|left)\b",
    re.IGNORECASE,
)
""" "Four I could not read": which it is."""
_WITH = re.compile(r"\bwith\s+(?:only\s+|just\s+)?\Z", re.IGNORECASE)
_NOUN = re.compile(
    r"\s+(?!(?:and|at|each|for|in|is|left|of|off|on|or|over|there|to|was)\b)[a-z]+\s+"
    r"(?:off|running|stopped|open|closed|up|down|working|out"
    r"|(?:on|in)(?!\s+(?:it|them|each|both)\b))\b",
    re.IGNORECASE,
)
""" "With one pump on": how it was tried, and not what was found, "with three slivers on it"."""
_APIECE = re.compile(
    r"\s+(?:(?:for|to|on|in|at)\s+(?:each|every)|each|apiece|(?:per|a)\s+(?!min|hour|sec|shift)[a-z]+)\b",
    re.IGNORECASE,
)
_OF_THEM = re.compile(r"\s+of\s+(?:them|those|these)\b", re.IGNORECASE)


def is_of_all(at: int, text: str) -> bool:
    return _OF_ALL.search(text, max(0, at - 24), at) is not None


def tag(said: Sequence[Said], text: str) -> None:
    for each in said:
        if _is_total(each, text):
            each.tags.add("total")
        if each.kind == "count" and _OF_THEM.match(text, each.end):
            each.tags.add("of them")
        if each.kind == "count" and _APIECE.match(text, each.end):
            each.tags.add(APIECE)


def _is_total(said: Said, text: str) -> bool:
    """ "None on any of the six seats", "two out of forty", "with four of us in it": how many there
    are, and no value."""
    if said.kind != "count" or said.mention.stage == "remarks":
        return False
    before = text[max(0, said.start - 24) : said.start]
    if is_of_all(said.start, text) or _OUT_OF.search(before) or _OF_US.match(text, said.end):
        return True
    return _WITH.search(before) is not None and _NOUN.match(text, said.end) is not None
