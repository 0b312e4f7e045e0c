"""Questions: what is asked is no finding; what somebody asks to be written down is one."""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

_VALUES = {"quantity", "count", "ratio", "range", "identifier", "date", "time"}
_WHOLE = re.compile(r"\?(?=\s|$)|\bplease\b", re.IGNORECASE)
RECORD = re.compile(
    r"(?:(?:and|so|but|then|please|just)\s+)*(?:(?:can|could|would|will)\s+(?:you|we|i)\s+)?"
    r"(?:(?:please|just)\s+)*(?:(?:write|put|jot)\s+(?:[\w'’]+\s+){0,3}?down\b|(?:mark|log|record|note|enter|book)\b"
    r"|(?:call|make|class|count)\s+(?:that|it|this|them|these|those)\b)",
    re.IGNORECASE,
)
""" "Write that one down as a fail please": what somebody asks to be recorded was found."""
_INTERROGATIVE = re.compile(
    r"\s*(?:and\s+|so\s+|hey\s+)?(?:what|how|where|which|who|why|is|are|was|were|did|does|do|can|could|would"
    r"|should|has|have|shall|any)\b",
    re.IGNORECASE,
)
_START = re.compile(r"[.;!?](?=\s)")


def find(text: str, mentions: Sequence[Mention]) -> Iterator[Mention]:
    """A sentence that ends in a question mark, or asks please, when a value stands in it."""
    if "?" not in text and "please" not in text.lower():
        return
    ends = [match.end() for match in _START.finditer(text)]
    for match in _WHOLE.finditer(text):
        index = bisect_left(ends, match.start() + 1) - 1
        start = ends[index] if index >= 0 else 0
        if not _INTERROGATIVE.match(text, start):
            # a recogniser's question mark is worth no more than the last clause
            start = max(start, text.rfind(",", start, match.start()) + 1)
        start += len(text[start : match.start()]) - len(text[start : match.start()].lstrip())
        if RECORD.match(text, start):
            continue
        inside = [
            m
            for m in _slice(mentions, start, match.start())
            if m.kind in _VALUES or m.kind == "remark"
        ]
        if inside and not (match[0] != "?" and _to_be_kept(text, start, mentions, inside)):
            asked = text[start : match.start()].rstrip()
            yield Mention("procedure", asked, start, start + len(asked), "question", stage="asides")


_LEAD = re.compile(r"(?:(?:and|so|but|then|with|the|a|next)\s+)*", re.IGNORECASE)


def _to_be_kept(
    text: str, start: int, mentions: Sequence[Mention], inside: Sequence[Mention]
) -> bool:
    """ "So recheck due first of June please": a field's name and its date or code, and no word of
    what is to be done with it, are said for the record."""
    named = _slice(mentions, start, inside[0].start)
    lead = _LEAD.match(text, start)
    first = start if lead is None else lead.end()
    return (
        inside[0].kind in {"date", "identifier"}
        and bool(named)
        and {name.kind for name in named} <= {"term", "position"}
        and named[0].start <= first
        and _says_nothing(text[named[-1].end : inside[0].start])
    )


def _says_nothing(words: str) -> bool:
    everyday = talk().everyday
    return set(words.lower().split()) <= everyday.common | everyday.plain


def _slice(mentions: Sequence[Mention], start: int, end: int) -> Sequence[Mention]:
    starts = [mention.start for mention in mentions]
    return mentions[bisect_left(starts, start) : bisect_left(starts, end)]


def asks(opener: str) -> bool:
    """A question without its mark: only an unmistakable one counts."""
    return bool(
        re.match(
            r"(?:what|what's|how|where|which|who|why|did|does|can|could|should|shall)\b"
            r"|(?:do|have|has)\s+(?:you|we|they|i|he|she|any)\b"
            r"|(?:is|are|was|were)\s+(?:the|it|that|this|there|they|we|you)\b",
            opener,
            re.IGNORECASE,
        )
    )


_DID = re.compile(r"did\s+(?:the|that|this|those|these)\s+", re.IGNORECASE)
_HOW_DONE = re.compile(
    r"[^.;?]*?\b(?:in\s+(?:order|sequence|stages|turn)|one\s+(?:after|by)|crosswise|diagonally|again)\b",
    re.IGNORECASE,
)
""" "Did the bolts in order, front first ...": it tells how that was done."""


def tells_of(text: str, opener: re.Match[str], ahead: Sequence[Mention]) -> bool:
    """Whether "did the blue bolt, sixty four" tells what was done: names alone stand between the
    verb and the value. And "Which read thirty three" behind a recogniser's full stop."""
    if _goes_on(text, opener.start(), ahead):
        return True
    verb = _DID.match(text, opener.start())
    at = verb.end() if verb is not None else len(text)
    if verb is not None and _HOW_DONE.match(text, at):
        return True
    for mention in ahead:
        if mention.end <= at:
            continue
        if text[at : mention.start].strip(" ,"):
            return False
        if mention.kind in _VALUES:
            return verb is not None
        at = mention.end
    return False


_WHICH = re.compile(r"which\s+(?!one\b|of\b)", re.IGNORECASE)
_AS_READ = frozenset({"came", "measured", "read", "reads", "showed", "shows"})


def _goes_on(text: str, start: int, ahead: Sequence[Mention]) -> bool:
    """Whether "which" tells a value of what was said in the sentence before."""
    which = _WHICH.match(text, start) if start else None
    value = next((each for each in ahead if each.kind in _VALUES and each.start > start), None)
    if which is None or value is None:
        return False
    everyday = talk().everyday
    words = text[which.end() : value.start].lower().split()
    return bool(words) and set(words) <= everyday.common | everyday.plain | _AS_READ
