"""Asides: what is said but is no finding - limits quoted, plans, questions, talk, tool settings.

An aside is a "procedure" mention whose `value` is its kind and whose span is its scope:
mapping leaves every value inside it unplaced. Scope ends with the sentence, with the next
field that is named, or, for a quoted limit, with the figures it quotes.
Common practice, no source.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.reading.chain import PASSAGE, stage

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from spacy.tokens import Doc

KINDS = frozenset({"limit", "plan", "question", "talk", "setting"})

_OPENERS: tuple[tuple[str, str], ...] = (
    (
        "setting",
        r"(?:torque\s+)?(?:wrench|gauge|tester|meter|tool|multimeter|regulator|megger)(?:\s+(?:is|was))?\s+(?:set|preset|dialled)"
        r"(?:\s+(?:to|at|for))?"
        r"|(?:set|setting|dial(?:l?ed|ling)?|wind(?:ing)?|wound)(?:\s+up)?\s+(?:the|my|this|a)\s+(?:\w+\s+)?"
        r"(?:wrench|gauge|tester|meter|tool|multimeter|regulator|megger)(?:\s+(?:to|at|for))?",
    ),
    (
        "limit",
        r"(?<!to\s)(?<!at\s)(?<!in\s)(?<!of\s)(?<!past\s)(?<!over\s)(?<!beyond\s)"
        r"(?:the\s+|our\s+)?(?:limits?|tolerances?|spec(?:ification)?s?|requirements?|nominal|target)"
        r"(?:\s+(?:for|on|of|here|there|in)(?:\s+[a-z]+){0,4}?)?\s*(?:,|is|are|was|of|'s|says?|being|at|between|from|=|:)"
        r"|(?:the\s+)?(?:limit|spec|tolerance)\s+(?=[\d])"
        r"|(?:should|must|needs?\s+to|has\s+to|have\s+to|ought\s+to|supposed\s+to)\s+(?:be|[a-z]+)"
        r"(?!\s+(?:ok|okay|fine|good|alright)\b)"
        r"|(?:max(?:imum)?|min(?:imum)?)(?:\s+(?:allowed|allowable|permitted|is|of))+"
        r"|(?:max(?:imum)?|min(?:imum)?)(?:\s+[a-z]+){1,5}?\s+(?:is|are|of)"
        r"|(?:i|we|you|it|they)\s+(?:only\s+)?(?:needs?|wants?)(?!\s+to)"
        r"|(?:allowed|allowable|permitted|permissible)(?:\s+(?:is|up\s+to|range|limit|between))?"
        r"|(?:the\s+)?(?:manual|book|card|chart|placard|data\s+plate)\s+(?:says?|calls?\s+for|wants?|gives?|asks?\s+for|states?|allows?|permits?|specif(?:y|ies)|limits?|has)"
        r"|(?:per|according\s+to)\s+(?:the\s+)?(?:manual|book|card|chart)"
        r"|not\s+(?:to\s+exceed|more\s+than|less\s+than|over|below|under|above)"
        r"|against\s+(?:a|the)\s+(?:limit|maximum|minimum|max|min)(?:\s+of)?"
        r"|(?:required|expected|nominally|normally|normal\s+is|usual\s+is|usually)"
        r"|calls?\s+for|anything\s+(?:over|under|above|below|between)"
        r"|(?P<bare>limits?|tolerance|spec|max(?:imum)?|min(?:imum)?)",
    ),
    (
        "plan",
        r"(?:i\s+|we\s+|you\s+|he\s+|she\s+|they\s+)?(?:will|shall)\s+(?!not\b)(?:\w+\s+)?(?:be\s+)?\w+"
        r"|(?:i|we|you|it|he|she|they)'ll\s+\w+"
        r"|(?:going|about|planning|aiming|ready|trying|want|wants|wanted|meant|intend)\s+(?:to|for)"
        r"|gonna|(?:(?:i|we|you|they)\s+|just\s+|still\s+)*(?:need|have)\s+to|(?:i|we|you|they)(?:'ve)?\s+got\s+to|let's|let\s+us|next\s+(?:i|we|up|job|step\s+is)"
        r"|to\s+be\s+(?:torqued|fitted|set|replaced|checked|done|adjusted|tightened|inflated|filled|locked|installed|measured|inspected)"
        r"|(?:remember|don't\s+forget|make\s+sure|ensure|be\s+sure)\b"
        r"|(?:before|after|when|once|until|if|unless)\s+(?:i|we|you|he|she|they|it|the)\b(?!\s+adjust)"
        r"|(?:(?<=^)|(?<=[.;!?,:]\s)|(?<=\bthen\s)|(?<=\band\s)|(?<=\bplease\s))"
        r"(?:(?:re-?)?(?:tighten|charge|inflate|fill|adjust|set|pump|raise|lower|torque\s+(?:the|all|each|both|it|them|every|up)))"
        r"(?:\s+[a-z'-]+){1,7}?\s+to(?=\s)"
        r"|used\s+to\s+(?!be\b)[a-z]+|tomorrow|later\s+(?:i|we)|on\s+the\s+next\s+(?:shift|check)|last\s+time|previous(?:ly)?|yesterday"
        r"|last\s+(?:week|month|check|inspection|shift)|(?:the\s+)?other\s+(?:aircraft|machine|one)\s+(?:had|was|is)",
    ),
    (
        "question",
        r"(?:(?<=[.;!?]\s)|(?<=,\s)|^)(?:(?:what|how|where|which|who|why)\b(?!\s+(?:i|we)\s+(?:found|did|got))[^.;!?]*"
        r"|(?:is|are|was|were|did|does|do|can|could|should|what|what's|how|where|which|who|why|has|have|shall)"
        r"\s+(?:it|that|this|the|you|we|i|he|she|they|there|much|many|about|one|a|any|anybody|anyone|somebody)\b[^.;!?]*)",
    ),
    (
        "talk",
        r"hang\s+on(?!\s*,?\s+(?:it|that)'?s)|hold\s+on|one\s+(?:sec(?:ond)?|moment|minute)\b(?=[\s,.!]*(?:$|[,.!]))|just\s+a\s+(?:sec(?:ond)?|moment|minute)"
        r"|(?:pass|hand|give|get|fetch|bring|grab|show|tell|lend|throw|chuck)\s+(?:me|us|him|her)\b"
        r"|(?:pass|hand|fetch|grab|bring)\s+(?:that|the|over|my)\b|(?:can|could|would|will)\s+(?:you|somebody|someone|anyone)"
        r"|(?:mind|watch)\s+(?:your|the|that|out)|where'?s|who'?s|hey\b|cheers|thanks?(?:\s+you)?|good\s+morning|hello"
        r"|(?:tea|coffee|lunch|smoko|break)\s+(?:at|in|time)|(?:i|we)'?(?:ll)?\s+(?:be|meet)\s+(?:back|you|there)"
        r"|see\s+you|shut\s+the|turn\s+(?:that|the)\s+(?:radio|light|lamp|music)|over\s+to\s+you|are\s+you\b",
    ),
)

_ANY = re.compile(
    "|".join(
        rf"(?P<k{index}>(?<![\w'])(?:{pattern})(?!\w))"
        for index, (_, pattern) in enumerate(_OPENERS)
    ),
    re.IGNORECASE,
)
_AFTER = re.compile(
    r"\s+(?:(?:is|are|was|being)\s+)?(?:(?:the|our)\s+)?"
    r"(?:limits?\b(?!\s*(?:is|are|was|of|,))|max(?:imum)?\b|min(?:imum)?\b|nominal\b|allowed\b|tolerance\b(?!\s*(?:is|of))"
    r"|is\s+what\s+the\s+(?:manual|book|card)\s+says)",
    re.IGNORECASE,
)
_JOINED = re.compile(r"[\s,]*(?:(?:and|to|or|through|minus|plus|max\w*|min\w*|[-–/])[\s,]*)*")
_END = re.compile(r"[.;!?](?=\s|$)")
_COMMA = re.compile(r"[,.;!?](?=\s|$)")
_VALUES = {"quantity", "count", "ratio", "range", "identifier", "date", "time"}


def _next(pattern: re.Pattern[str], text: str, at: int) -> int:
    hit = pattern.search(text, at)
    return hit.start() if hit else len(text)


def _named(mentions: Sequence[Mention], after: int) -> int | None:
    """Where the next field, step or position is named after `after`."""
    for mention in mentions:
        if mention.start >= after and (
            (mention.kind == "term" and "near" not in mention.qualifiers)
            or mention.kind in {"position", "step"}
        ):
            return mention.start
    return None


class _Cursor:
    """Mentions in order, walked once: openers come in order too."""

    def __init__(self, mentions: Sequence[Mention]) -> None:
        self.mentions = sorted(mentions, key=lambda mention: mention.start)
        self.at = 0

    def after(self, position: int) -> Sequence[Mention]:
        while self.at < len(self.mentions) and self.mentions[self.at].end <= position:
            self.at += 1
        return self.mentions[self.at : self.at + 24]


def _limit_scope(text: str, opener: re.Match[str], ahead: Sequence[Mention]) -> int:
    """A quoted limit takes the first figures after it, and those joined to them."""
    end = _next(_END, text, opener.end())
    taken = opener.end()
    for mention in ahead:
        if mention.start < opener.end() or mention.start >= end:
            continue
        if mention.kind in _VALUES:
            between = text[taken : mention.start].lower()
            joined = _JOINED.fullmatch(between)
            apart = not (joined and joined[0].strip(" ,")) and "tolerance" not in mention.qualifiers
            if taken > opener.end() and apart:
                break
            taken = mention.end
        elif mention.kind in {"term", "position", "step"} and taken > opener.end():
            break
    return taken if taken > opener.end() else min(end, _next(_COMMA, text, opener.end()))


def _scope(text: str, kind: str, opener: re.Match[str], ahead: Sequence[Mention]) -> int:
    if kind == "limit":
        return _limit_scope(text, opener, ahead)
    if kind == "question":
        return opener.end()
    end = _next(_COMMA if kind in {"talk", "setting"} else _END, text, opener.end())
    if kind == "talk":
        return end
    comma = _next(_COMMA, text, opener.end())
    named = _named(ahead, comma)
    if kind == "setting":
        values = [m.end for m in ahead if m.kind in _VALUES and opener.end() <= m.start < end]
        return values[0] if values else end
    return min(end, named if named is not None else end)


def find(text: str, mentions: Sequence[Mention]) -> Iterator[Mention]:
    """Aside mentions over `text`, given every other mention of it."""
    cursor = _Cursor(mentions)
    names = [
        m for m in mentions if m.kind == "term" and "near" not in m.qualifiers and " " in m.text
    ]
    covered = 0
    for opener in _ANY.finditer(text):
        if opener.start() < covered or opener.lastgroup is None:
            continue
        kind = _OPENERS[int(opener.lastgroup[1:])][0]
        if kind == "limit" and _within_name(opener, names):
            continue
        if opener["bare"] and not _figures_follow(text, opener.end(), cursor.after(opener.end())):
            continue
        start = opener.start()
        end = max(opener.end(), _scope(text, kind, opener, cursor.after(start)))
        if kind == "question" and text[end : end + 1] not in {"?"} and not _asks(opener[0]):
            continue
        covered = end
        yield Mention("procedure", text[start:end], start, end, kind, stage="asides")
    yield from _asked(text, mentions, covered)
    for mention in mentions:
        if mention.kind in {"quantity", "range"} and _AFTER.match(text, mention.end):
            yield Mention(
                "procedure", mention.text, mention.start, mention.end, "limit", stage="asides"
            )


_WHOLE = re.compile(r"\?(?=\s|$)|\bplease\b", re.IGNORECASE)
_INTERROGATIVE = re.compile(
    r"\s*(?:and\s+|so\s+|hey\s+)?(?:what|how|where|which|who|why|is|are|was|were|did|does|do|can|could|would"
    r"|should|has|have|shall|any)\b",
    re.IGNORECASE,
)
_START = re.compile(r"[.;!?](?=\s)")


def _asked(text: str, mentions: Sequence[Mention], _: int) -> Iterator[Mention]:
    """A sentence that ends in a question mark, or asks please, when a value stands in it."""
    ends = [match.end() for match in _START.finditer(text)]
    for match in _WHOLE.finditer(text):
        index = bisect_left(ends, match.start() + 1) - 1
        start = ends[index] if index >= 0 else 0
        if not _INTERROGATIVE.match(text, start):
            # a recogniser's question mark is worth no more than the last clause
            start = max(start, text.rfind(",", start, match.start()) + 1)
        start += len(text[start : match.start()]) - len(text[start : match.start()].lstrip())
        inside = [
            m
            for m in _slice(mentions, start, match.start())
            if m.kind in _VALUES or m.kind == "remark"
        ]
        if inside:
            yield Mention(
                "procedure",
                text[start : match.start()],
                start,
                match.start(),
                "question",
                stage="asides",
            )


def _slice(mentions: Sequence[Mention], start: int, end: int) -> Sequence[Mention]:
    starts = [mention.start for mention in mentions]
    return mentions[bisect_left(starts, start) : bisect_left(starts, end)]


def _asks(opener: str) -> bool:
    """A question without its mark: only an unmistakable one counts."""
    return bool(
        re.match(
            r"(?:what|what's|how|where|which|who|why|did|does|can|could|should|shall)\b"
            r"|(?:do|have|has)\s+(?:you|we|they|i|he|she|any)\b",
            opener,
            re.IGNORECASE,
        )
    )


def _figures_follow(text: str, at: int, ahead: Sequence[Mention]) -> bool:
    """Whether a value stands right behind ("limits forty to fifty")."""
    return any(m.kind in _VALUES and not text[at : m.start].strip() for m in ahead if m.start >= at)


def _within_name(opener: re.Match[str], names: Sequence[Mention]) -> bool:
    """Whether the word that opens is part of a name ("minimum thickness", "worn to limit")."""
    word = re.search(
        r"max|min|limit|spec|toleran|nominal|target|requir|allow|permi", opener[0], re.I
    )
    at = opener.start() + (word.start() if word else 0)
    index = bisect_right(names, at, key=lambda name: name.start) - 1
    return index >= 0 and names[index].start <= at < names[index].end


_EARLIER = ("terms", "steps", "dates", "identifiers", "positions", "quantities", "remarks")


@stage("asides", requires=(PASSAGE, "doc._.quantities"))
def asides(doc: Doc) -> None:
    """Write the asides of `doc`, whose scope depends on all that was mentioned."""
    mentions = [
        mention
        for name in _EARLIER
        for mention in (getattr(doc._, name) if doc.has_extension(name) else None) or ()
    ]
    doc._.asides = list(find(doc._.passage.text, sorted(mentions, key=lambda m: m.start)))


STAGE = asides
