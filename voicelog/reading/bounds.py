"""Bounds: numbers that the words around them make a limit, or the distance to one.

"Twenty is allowed", "five microns, that's one over". Common practice, no source.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from voicelog.objects import Mention

_AFTER = re.compile(
    r"\s+(?:(?:is|are|was|being)\s+)?(?:(?:the|our)\s+)?"
    r"(?:limits?\b(?!\s*(?:is|are|was|of|,|\d)|['’]s)|(?:max(?:imum)?|min(?:imum)?|nominal)\b(?!\s+(?:is|are|was|of)\b)"
    r"|allowed\b|tolerance\b(?!\s*(?:is|of))"
    r"|that\s+the\s+(?:manual|book|card|chart|sheet)\s+(?:allows?|permits?|gives?|says?|wants?|has)\b"
    r"|is\s+what\s+the\s+(?:manual|book|card)\s+says|(?:that\s+)?(?:we|they|it|i)\s+(?:need|want|wants)\b"
    r"|(?:is\s+)?required\b)",
    re.IGNORECASE,
)
_AFTER_COUNT = re.compile(
    r"\s+(?:(?:is|are|was)\s+(?:(?:the|our)\s+)?(?:limit|max(?:imum)?|min(?:imum)?|nominal)\b"
    r"|(?:(?:is|are|was|being)\s+)?(?:allowed|permitted|permissible|required)\b"
    r"|that\s+the\s+(?:manual|book|card|chart|sheet)\s+(?:allows?|permits?|gives?|says?|wants?|has)\b"
    r"|(?:max(?:imum)?|min(?:imum)?)(?=\s*(?:[,.;]|$)))",
    re.IGNORECASE,
)
"""Behind a bare number: "twenty is allowed", but not "two limit switches"."""
_THAT_IS = re.compile(
    r"\b(?:(?:that|it|we|they|you)(?:['’](?:s|re)|\s+(?:is|was|are|were))|which\s+is|makes\s+(?:it|us)|so)"
    r"\s+(?:about\s+|only\s+|just\s+)?\Z",
    re.IGNORECASE,
)
_OVER = re.compile(
    r"\s+(?:(?:over|short)\b(?=\s*(?:of|on|at|in)\b)"
    r"|(?:over|under|short|above|below|too\s+[a-z]+|(?:more|less)\s+than|outside|out)\b"
    r"(?=\s*(?:[,.;]|and\b|but\b|what\b|the\b|it\b|$)))",
    re.IGNORECASE,
)
_BEHIND = {"quantity": _AFTER, "range": _AFTER, "count": _AFTER_COUNT}


def is_bound(text: str, number: Mention) -> bool:
    """Whether `number` is a limit, or tells how far a value lies beyond one."""
    behind = _BEHIND.get(number.kind)
    if behind is None:
        return False
    return behind.match(text, number.end) is not None or _too_far(text, number)


def _too_far(text: str, number: Mention) -> bool:
    """ "Five microns, that's one over": how far a value lies beyond its limit."""
    told = _THAT_IS.search(text, max(0, number.start - 24), number.start)
    return told is not None and _OVER.match(text, number.end) is not None
