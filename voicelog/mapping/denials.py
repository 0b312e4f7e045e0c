"""Denials: options of a choice that were named and not found ("none of them torn")."""

from __future__ import annotations

import re

_ARE = r"(?:(?:is|are|was|were|looks?|seems?)\s+)"
_DENIED = re.compile(
    r"(?:\b(?:no|not|nor|neither|never|nil|without)|n['’]t)\s+"
    r"(?:(?:yet|at all|really|too|so|very|been|longer|more|see|find|any"
    r"|(?:sign|trace)s?\s+of)\s+){0,3}\Z"
    r"|\b(?:stop(?:s|ped)?|ceased?|quit|free\s+(?:of|from)|clear\s+of)\s+(?:any\s+)?\Z"
    r"|\b(?:no|not|neither|any|without)\s+(?:[a-z-]+\s+){1,3}n?or\s+(?:any\s+)?\Z"
    r"|\b(?:none|not\s+(?:a\s+single\s+)?one|neither)\s+(?:of\s+(?:the|these|those|them|my|our)\s+)?"
    rf"(?:[a-z-]+\s+){{0,3}}?{_ARE}?(?:[a-z-]+\s+n?or\s+)?\Z"
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
