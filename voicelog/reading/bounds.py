"""Bounds: numbers that the words around them make a limit, or the distance to another value.

"Twenty is allowed", "five microns, that's one over", "nine amps, two more than last month". Common
practice, no source.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.reading.lexicon import lexicon_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.objects import Mention
    from voicelog.reading.passage import Passage

_WE_ALLOW = (
    r"|(?:(?:that|which)\s+)?(?:we|they|you|it)(?:['’]re|\s+are|\s+is)?\s+"
    r"(?:allow(?:s|ed)?|permit(?:s|ted)?|accepts?|tolerates?|(?:can|may)\s+have)\b(?!\s+(?:it|that|this|them)\b)"
)
""" "More than the two we allow"."""
_AFTER = re.compile(
    r"\s+(?:(?:is|are|was|being)\s+)?(?:(?:the|our)\s+)?"
    r"(?:limits?\b(?!\s*(?:is|are|was|of|,|\d)|['’]s)|(?:max(?:imum)?|min(?:imum)?|nominal)\b(?!\s+(?:is|are|was|of)\b)"
    r"|allowed\b|tolerance\b(?!\s*(?:is|of))"
    r"|that\s+the\s+(?:manual|book|card|chart|sheet)\s+(?:allows?|permits?|gives?|says?|wants?|has)\b"
    r"|is\s+what\s+the\s+(?:manual|book|card)\s+says|(?:that\s+)?(?:we|they|it|i)\s+(?:need|want|wants)\b"
    r"|(?:is\s+)?required\b" + _WE_ALLOW + r")",
    re.IGNORECASE,
)
_AFTER_COUNT = re.compile(
    r"\s+(?:(?:is|are|was)\s+(?:(?:the|our)\s+)?(?:limit|max(?:imum)?|min(?:imum)?|nominal)\b"
    r"|(?:(?:is|are|was|being)\s+)?(?:allowed|permitted|permissible|required)\b"
    r"|that\s+the\s+(?:manual|book|card|chart|sheet)\s+(?:allows?|permits?|gives?|says?|wants?|has)\b"
    r"|(?:max(?:imum)?|min(?:imum)?)(?=\s*(?:[,.;]|$))" + _WE_ALLOW + r")",
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
_REFERENCE = (
    r"(?:(?:the|our|its|my)\s+)?(?:(?:top|bottom|upper|lower|allowed|permitted|highest|lowest)\s+)?"
    r"(?:allowed|permitted|limits?|max(?:imum)?|min(?:imum)?|book|spec(?:ification)?|tolerance|nominal|normal|usual"
    r"|last\s+(?!one\b)[a-z]+|before|yesterday|previous(?:ly)?(?:\s+[a-z]+)?|what\b|(?:it|they|we)\s+(?:was|were|had|should|ought)"
    r"|others?|rest|other\s+(?:one|side)s?)\b"
)
_MORE_THAN = re.compile(
    r"\s+(?:more|less|fewer|higher|lower|longer|shorter|better|worse|thicker|thinner|hotter|cooler)\s+than\s+"
    r"(?:" + _REFERENCE + r"|(?!(?:once|twice|one|enough)\b)(?:(?:in|at|on|is|the|our|its)\s+)?"
    r"[a-z]+(?:['’][a-z]+\s+[a-z]+)?\b)",
    re.IGNORECASE,
)
_SINCE = re.compile(
    r"\s+(?:(?:more|up|on)\s+)?since\s+(?:(?:the|my|our)\s+)?[a-z]+\b", re.IGNORECASE
)
""" "12 040, that's eight hundred since the last visit": what has come to it."""
_HOUR = re.compile(
    r"\bsince\s+(?:(?:about|around|just\s+(?:after|before)|half\s+past|quarter\s+(?:past|to))\s+)?\Z",
    re.IGNORECASE,
)
_IN_THE_MORNING = re.compile(
    r"\s+(?:this\s+(?:morning|afternoon|evening)|in\s+the\s+(?:morning|afternoon|evening)|last\s+night)\b",
    re.IGNORECASE,
)
_FROM_THEN = re.compile(r"\b(?:after|before|by|from|till|until)\s+\Z", re.IGNORECASE)
_HOURS = 24
_AT = re.compile(r"\b(?:at|on|with)\s+[a-z]+\s+\Z", re.IGNORECASE)
_BEYOND = re.compile(
    r"\s+(?:over|under|above|below|beyond|short\s+of|(?:up|down)\s+on|outside|inside|within|off)\s+"
    + _REFERENCE,
    re.IGNORECASE,
)
_PAUSED = re.compile(
    r"(?:[,;]|\s[-–—])\s+(?:(?:(?:and|so)\s+)?(?:it['’]s|that['’]s|(?:it|that|which)\s+(?:is|was))\s+)?(?:about\s+|only\s+|just\s+)?\Z",
    re.IGNORECASE,
)
_ENDED = re.compile(r"[.;!?]\s")
_VALUES = frozenset({"count", "quantity", "range", "ratio"})
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


def is_hour(text: str, number: Mention) -> bool:
    """ "On full load since seven", "running from six this morning": a time of day."""
    value = number.value
    if number.kind != "count" or not isinstance(value, Decimal) or not 0 < value <= _HOURS:
        return False
    ahead = text[max(0, number.start - 30) : number.start]
    if _HOUR.search(ahead) is not None:
        return True
    return bool(_FROM_THEN.search(ahead) and _IN_THE_MORNING.match(text, number.end))


def is_setting(text: str, number: Mention) -> bool:
    """ "Both at idle plus ten": how far from another state it was when something was measured."""
    told = number.kind == "count" and not {"plus", "minus"}.isdisjoint(number.qualifiers)
    return told and _AT.search(text, max(0, number.start - 24), number.start) is not None


def differences(text: str, mentions: Sequence[Mention]) -> Iterator[tuple[Mention, int]]:
    """The numbers of `mentions` that tell how far a value lies from another, each with where the
    words end that say from which: "one more than allowed", and behind a value with its pause "ten
    over what it was last month"; "ninety over the limit" by itself is that value."""
    before: Mention | None = None
    for number in mentions:
        if number.kind not in _VALUES:
            continue
        told = _MORE_THAN.match(text, number.end) if number.kind in _BEHIND else None
        if told is None and before is not None and number.kind in _BEHIND:
            between = text[before.end : number.start]
            paused = _PAUSED.search(between) is not None and _ENDED.search(between) is None
            told = (
                _BEYOND.match(text, number.end) or _since(text, number, mentions)
                if paused
                else None
            )
        if told is not None:
            yield number, told.end()
        else:
            before = number


def _since(text: str, number: Mention, mentions: Sequence[Mention]) -> re.Match[str] | None:
    """The words of the time since which so many came to it, where they are no name of the card."""
    told = _SINCE.match(text, number.end)
    if told is None or any(
        m.kind == "term" and number.end <= m.start < told.end() - 1 and "since" in m.text
        for m in mentions
    ):
        return None
    return told


_COMPARING = frozenset({"above", "below", "over", "under"})
_HEADS = frozenset({"", ",", ".", ";", ":", "and"})


def names_comparing(passage: Passage, term: Mention) -> bool:
    """Whether a word of comparison is the name of a field, and stands as one, behind a pause or a
    place: "valve set two, above 7.7 bar, below 7.2"."""
    known = lexicon_of(passage.cues.card).places
    if term.text.casefold() not in _COMPARING or term.value not in known:
        return False
    at = bisect_left(passage.atoms, term.start, key=lambda atom: atom.start)
    before = passage.texts[at - 1] if at else ""
    return before in _HEADS or passage.claims[at - 1] == "positions"
