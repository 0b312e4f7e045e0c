"""Asides: what is said but is no finding - limits quoted, plans, questions, talk, tool settings.

An aside is a "procedure" mention whose `value` is its kind and whose span is its scope:
mapping leaves every value inside it unplaced. Scope ends with the sentence, with the next
field that is named, or, for a quoted limit, with the figures it quotes. The words that open
one are [asides] of models_config/talk.toml. Common practice, no source.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from operator import attrgetter
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.reading import bounds, questions, quoted, spares
from voicelog.reading.chain import PASSAGE, stage
from voicelog.reading.talk import aside_openers

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from spacy.tokens import Doc

KINDS = frozenset(
    {"limit", "plan", "quoted", "past", "question", "talk", "setting", "filler", "spare"}
)

_TOLD = re.compile(
    r"(?:before|after|when)\s+[a-z]+ing\b[^.;!?,\d]*,?[^.;!?,\d]*?\s(?:was|were)\s", re.IGNORECASE
)
_OUGHT = re.compile(
    r"(?:is\s+|are\s+)?(?:should|must|needs?|has|have|ought|wants?)\b", re.IGNORECASE
)
_BESIDE = re.compile(
    r"\b(?:above|below|beyond|inside|outside|over|past|under|within)\s+(?:(?:the|its|our|my)\s+)?\Z",
    re.IGNORECASE,
)
_JUDGED = re.compile(
    r"[a-z]+\s*(?:[.;!]|,(?!\s*(?:being|it|of|so|that|the\s+limit|which)\b))", re.IGNORECASE
)
""" "Six millimetres, under the limit, left rear seven": the value before it is judged."""
_COMPARED = re.compile(
    r"\b(?:above|beyond|below|from|near|of|off|over|than|under)\s+(?:what|where)\s+(?:it|they|that|we)\s+\Z",
    re.IGNORECASE,
)
""" "Below what it should be, five and seven ...": no figures are quoted."""
_TODAY = re.compile(
    r"(?:,|\bbut|\band|\bso)\s+(?:(?:it['’]?s\s+)?(?:today|now|this time)\b"
    r"|so\s+(?:[a-z]+\s+){0,4}?still\b"
    r"|(?:(?:and|but)\s+)?(?:after\s+that|afterwards|then),?\s+(?:it|they|that)(?:['’](?:s|re)|\s+(?:came|dropped|is|read|reads|was|were|went))\b)",
    re.IGNORECASE,
)
"""Where the talk comes back to what is so now."""
_UNTIL_IT_DID = re.compile(
    r"until\s+(?:it|they|(?:the|all)\s+(?:[\w-]+\s+){0,2}?[\w-]+)\s+"
    r"(?:[a-z]{2,}ed|came|cleared|fell|felt|gave|got|had|held|lay|ran|read|rose|sat|stood|was|went|were)\b",
    re.IGNORECASE,
)
""" "Backwashed it until the water ran clean": what was done, and no plan for what follows."""
_SO_I = re.compile(r",\s+(?:and|but|so)\s+(?:i|we)\b(?!\s+(?:need|should|want)\b)", re.IGNORECASE)
""" "That's more than the sheet wants, so I bled it": no figures are quoted behind it."""
_THAT = re.compile(r"\bthat\s+\Z", re.IGNORECASE)
_RELATIVE = re.compile(r",\s+(?:which|who|that)\b[^,.;]*\Z", re.IGNORECASE)
_OWN = re.compile(
    r"(?:,|\bbut|\band|\bso)\s+(?:(?:i|we)(?:['’]ve)?(?!['’]|\s+(?:will|shall|should|must|need|want|have\s+to|can|could)\b)"
    r"|mine|ours|actual(?:ly)?|it\s+(?:was|is|reads?|came|took|got))\b",
    re.IGNORECASE,
)
"""Where the talk comes back from what is written to what was found or done."""
_PAST = re.compile(
    r"(?:\s+(?!(?:as|than|from|since|like|to|and|but)\b)[a-z'-]+){0,6}?\s+(?:yesterday|previously"
    r"|(?:the )?other (?:day|week|night)|last (?:time|night|week|month|quarter|season|summer"
    r"|winter|year|check|inspection|shift|service|overhaul|survey|visit)"
    r"|(?:an?|one|two|three|four|five|six|a few|some|several)"
    r" (?:hours?|days?|weeks?|months?|years?) (?:ago|back)"
    r"|every (?:day|week|shift|month|night|morning|year|[a-z]+day))\b",
    re.IGNORECASE,
)
"""Behind a value: it was so at another time, and is no finding of today."""
_JOINED = re.compile(r"[\s,]*(?:(?:and|to|or|through|minus|plus|max\w*|min\w*|[-–/])[\s,]*)*")
_MORE = re.compile(
    r"[\s,]*\b(?:and|or|then)[\s,]+(?P<for>(?:for|on)\s+)?(?:the\s+)?[\s,]*", re.IGNORECASE
)
_BOUND = re.compile(
    r"(?:\s+[a-z]+){0,3}?\s+(?:at\s+(?:the\s+)?(?:most|least)|max(?:imum)?|min(?:imum)?|tops)\b",
    re.IGNORECASE,
)
""" "... and three starts at the most" goes on with what is quoted."""
_ITS_FIGURES = re.compile(
    r"[\s,:]*(?:(?:a|at|being|by|is|it['’]s|of|says|that['’]s|that|the|which|which['’]s)\b\s*)*",
    re.IGNORECASE,
)
_END = re.compile(r"[.;!?](?=\s|$)")
_COMMA = re.compile(r"[,.;!?](?=\s|$)")
_VALUES = {"quantity", "count", "ratio", "range", "identifier", "date", "time"}
_BEFORE = 24
"""Characters before an opener that tell how it is meant, at most."""


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
    begin = _figures_begin(opener, ahead)
    end = _next(_END, text, begin)
    if _COMPARED.search(text, max(0, opener.start() - 24), opener.start()):
        end = _next(_COMMA, text, begin)
    end = min(end, _next(_SO_I, text, begin))
    taken = begin
    names: list[Mention] = []
    for index, mention in enumerate(ahead):
        if mention.start < begin or mention.start >= end:
            continue
        if mention.kind in _VALUES:
            between = text[taken : mention.start].lower()
            if "," in text[opener.start() : mention.start] and "verdict" in mention.qualifiers:
                return max(begin, mention.start)  # "it never did what it should, fail"
            joined = _JOINED.fullmatch(between)
            apart = not (joined and joined[0].strip(" ,")) and "tolerance" not in mention.qualifiers
            apart = apart or _has_noun(text, mention, ahead[index + 1 :])
            if names and taken == begin and _OUGHT.match(opener[0]):
                pause = _next(_COMMA, text, taken)
                if pause < names[0].start:  # "below what it should have, the run-out is three"
                    return pause
            if taken > begin and apart and not _quotes_on(text, taken, mention, names):
                break
            taken = mention.end
            names = []
        elif mention.kind in {"term", "position", "step"}:
            names.append(mention)
    return taken if taken > begin else min(end, _next(_COMMA, text, begin))


def _figures_begin(opener: re.Match[str], ahead: Sequence[Mention]) -> int:
    """Where the figures of a limit may begin: behind the words that open it, of which a number
    before a pause is none ("the limit of twenty, wheels one and two are twenty five")."""
    if not opener[0].endswith(","):
        return opener.end()
    inside = (m.start for m in ahead if m.kind in _VALUES and opener.start() <= m.start)
    return min(next(inside, opener.end()), opener.end())


def _has_noun(text: str, count: Mention, ahead: Sequence[Mention]) -> bool:
    """Whether a bare number counts what is named behind it: "... and one worn shoe"."""
    noun = next((m for m in ahead if m.kind == "term" and m.start >= count.end), None)
    beside = noun is not None and not text[count.end : noun.start].strip()
    return beside and count.kind == "count"


def _quotes_on(text: str, at: int, value: Mention, names: Sequence[Mention]) -> bool:
    """Whether a limit goes on with that of another field: "... and for the force a hundred",
    "eighteen to thirty application and forty five to sixty release"."""
    words = text[at : value.start]
    for name in reversed(names):
        words = words[: max(0, name.start - at)] + words[max(0, name.end - at) :]
    if _BOUND.match(text, value.end) and not _OWN.search(text, at, value.start):
        return True
    more = _MORE.fullmatch(words)
    return more is not None and (more["for"] is not None or value.kind == "range")


def _scope(text: str, kind: str, opener: re.Match[str], ahead: Sequence[Mention]) -> int:
    if kind == "limit" and _THAT.search(text, max(0, opener.start() - _BEFORE), opener.start()):
        return opener.end()  # "the six that the book allows": its figures stand before it
    if kind == "limit":
        return _limit_scope(text, opener, ahead)
    if kind in {"question", "filler"}:
        return opener.end()
    end = _next(_COMMA if kind in {"talk", "setting"} else _END, text, opener.end())
    if kind == "talk":
        return end
    comma = _next(_COMMA, text, opener.end())
    named = _named(ahead, comma)
    if kind == "quoted":
        own = _OWN.search(text, opener.end(), end)
        end = end if own is None else own.start()
    pause = max(0, text.rfind(",", 0, opener.start()))
    if kind == "past" and _RELATIVE.search(text, pause, opener.start()):
        return min(end, comma)  # "the fly, which was gummed last year, turns free"
    if kind == "plan" and _UNTIL_IT_DID.match(text, opener.start()):
        return min(end, comma)
    if kind in {"plan", "past"}:
        today = _TODAY.search(text, opener.end(), end)
        end = end if today is None else today.start()
        told = _told(text, opener.end(), ahead)
        named = told if named is None or (told is not None and told < named) else named
    if kind == "setting":
        values = [m.end for m in ahead if m.kind in _VALUES and opener.end() <= m.start < end]
        return values[0] if values else end
    return min(end, named if named is not None else end)


def _is_name(mention: Mention) -> bool:
    several = mention.kind == "term" and "near" not in mention.qualifiers and " " in mention.text
    return several or (mention.kind == "position" and not mention.doubts)


def find(text: str, mentions: Sequence[Mention]) -> Iterator[Mention]:
    """Aside mentions over `text`, given every other mention of it."""
    cursor = _Cursor(mentions)
    named = sorted(filter(_is_name, mentions), key=attrgetter("start"))
    begun = {name.start for name in named}
    covered = 0
    past = _of_the_past(text, mentions)
    apart = {number.start: (number.end, end) for number, end in bounds.differences(text, mentions)}
    quotes = [*quoted.find(text, mentions)]
    told = [*apart.values(), *((each.start + 1, each.end) for each in quotes)]
    openers = aside_openers()
    for opener in openers.find(text):
        if opener.start() < covered:
            continue
        kind = openers.kind(opener)
        if kind == "limit" and any(start <= opener.start() < end for start, end in told):
            continue  # "three over the top limit", "four is the most allowed": told by itself
        if kind in {"limit", "past", "setting"} and _within_name(opener, kind, named):
            continue
        if kind == "plan" and _TOLD.match(text, opener.start()):
            continue  # "before tightening, the pack was ...": what was so
        ahead = cursor.after(opener.start())
        if kind == "limit" and _only_judges(text, opener, ahead):
            continue
        if kind in {"plan", "question"} and opener.start() in begun:
            continue  # "fill height, valves one to four sixty": a name, and no verb
        if kind == "plan" and any(m.kind == "date" and m.start < opener.end() for m in ahead):
            continue  # "valid until the third of May"
        if kind in {"question", "talk"} and questions.RECORD.match(text, opener.start()):
            continue
        if opener.end() in past.values():
            continue  # "three litres yesterday and two today"
        if opener["worded"] is not None and _figures_follow(text, opener.end(), ahead):
            continue
        if opener["bare"] and not _figures_follow(text, opener.end(), cursor.after(opener.end())):
            continue
        start = opener.start()
        end = max(opener.end(), _scope(text, kind, opener, cursor.after(start)))
        if kind == "limit" and _names_thing(opener, mentions, end):
            continue
        if kind == "question" and text[end : end + 1] != "?":
            if not questions.asks(opener[0]) or questions.tells_of(text, opener, ahead):
                continue
            back = _COMMA if _UNMARKED.match(opener[0]) else _TODAY
            end = min(end, _next(back, text[:end], start))
        covered = end
        said = text[start:end].rstrip()
        yield Mention("procedure", said, start, start + len(said), kind, stage="asides")
    yield from questions.find(text, mentions)
    yield from quotes
    yield from spares.find(text, mentions)
    yield from _figures(text, mentions, past, {start: end for start, (_, end) in apart.items()})


def _figures(
    text: str, mentions: Sequence[Mention], past: Mapping[int, int], apart: Mapping[int, int]
) -> Iterator[Mention]:
    """Figures that are bounds, differences, or of another time, by the words beside them."""
    for mention in mentions:
        if mention.start in apart and mention.kind in _VALUES:
            kind, end = "limit", apart[mention.start]
        elif bounds.is_bound(text, mention):
            kind, end = "limit", mention.end
        elif bounds.is_hour(text, mention) or bounds.is_setting(text, mention):
            kind, end = "setting", mention.end
        elif mention.start in past:
            kind, end = "past", past[mention.start]  # "four bar two years ago"
        else:
            continue
        said = text[mention.start : end]
        yield Mention("procedure", said, mention.start, end, kind, stage="asides")


_JUDGED = re.compile(
    r"\b(?:above|below|beneath|under|inside|outside|short\s+of)\s+(?:(?:the|our|my)\s+)?"
    r"(?:limits?|tolerances?|spec)\b",
    re.IGNORECASE,
)


def _only_judges(text: str, opener: re.Match[str], ahead: Sequence[Mention]) -> bool:
    """ "Over the limit, greased the hinge and now eight": a verdict on the value before it, behind
    which no figures are quoted."""
    beside = _BESIDE.search(text, max(0, opener.start() - _BEFORE), opener.start())
    if beside and _JUDGED.match(text, opener.start()):
        return True
    judged = (m for m in ahead if m.kind == "remark" and "limits" in m.qualifiers)
    ends = [m.end for m in judged if m.start <= opener.start() < m.end]
    judged_on = _JUDGED.finditer(text, max(0, opener.start() - 16), opener.end())
    ends += [hit.end() for hit in judged_on if hit.start() <= opener.start()]
    if not ends:
        return False
    figures = (m.start for m in ahead if m.kind in _VALUES and m.start >= ends[0])
    first = next(figures, None)
    return first is None or _ITS_FIGURES.fullmatch(text, ends[0], first) is None


def _of_the_past(text: str, mentions: Sequence[Mention]) -> dict[int, int]:
    """Values that are said to be of another time: start -> where that is said."""
    found = {}
    for mention in mentions:
        dated = mention.kind in _VALUES or (
            mention.kind == "remark" and mention.value != "not done"
        )
        told = _PAST.match(text, mention.end) if dated else None
        if told is not None:
            found[mention.start] = told.end()
    return found


_BEFORE_FIELD = re.compile(r"\b(?:and|or|the|to|then|for|with|of)\s+$", re.IGNORECASE)
_BEFORE_VALUE = re.compile(r"\s*(?:(?:is|at|was|reads|reading)\s+)?", re.IGNORECASE)


def _told(text: str, at: int, ahead: Sequence[Mention]) -> int | None:
    """Where a field stands with its value right behind, after what the plan is about: "I'll do
    the ripple after lunch room temperature seventeen celsius"."""
    terms = [m for m in ahead if m.kind == "term" and m.start >= at and "near" not in m.qualifiers]
    for term in terms[1:]:
        if _BEFORE_FIELD.search(text, at, term.start):
            continue
        values = (m for m in ahead if m.kind in _VALUES and m.start >= term.end)
        if any(_BEFORE_VALUE.fullmatch(text, term.end, value.start) for value in values):
            return term.start
    return None


_UNMARKED = re.compile(r"(?:is|are|was|were)\b", re.IGNORECASE)
""" "Is it still one point six, anyway I got ...": without its mark the question ends at a pause."""


def _figures_follow(text: str, at: int, ahead: Sequence[Mention]) -> bool:
    """Whether a value stands right behind ("limits forty to fifty")."""
    return any(m.kind in _VALUES and not text[at : m.start].strip() for m in ahead if m.start >= at)


def _within_name(opener: re.Match[str], kind: str, names: Sequence[Mention]) -> bool:
    """Whether the word that opens is part of a name ("minimum thickness", "worn to limit"), or all
    that opens a setting is ("gauge set MG-04")."""
    word = re.search(
        r"max|min|limit|spec|toleran|nominal|target|requir|allow|permi", opener[0], re.I
    )
    at = opener.start() + (word.start() if word else 0)
    last = opener.end() - 1 if kind == "setting" else at
    index = bisect_right(names, at, key=lambda name: name.start) - 1
    return index >= 0 and names[index].start <= at and last < names[index].end


def _names_thing(opener: re.Match[str], mentions: Sequence[Mention], end: int) -> bool:
    """Whether the word that opens is the name of something on the card of which something else is
    told up to `end` than figures: "limits, hoist up trips" where limit switches are checked."""
    at = opener.start()
    inside = [m for m in mentions if at <= m.start < end]
    named = any(m.kind == "term" and m.start == at and "near" not in m.qualifiers for m in inside)
    told = (m.kind for m in inside if m.kind == "remark" or m.kind in _VALUES)
    return named and next(told, "remark") == "remark"


_EARLIER = ("terms", "steps", "dates", "identifiers", "positions", "quantities", "remarks")


@stage("asides", requires=(PASSAGE, "doc._.quantities"))
def asides(doc: Doc) -> None:
    """Write the asides of `doc`, whose scope depends on all that was mentioned."""
    written = doc._
    mentions = [
        mention
        for name in _EARLIER
        for mention in (getattr(written, name) if doc.has_extension(name) else None) or ()
    ]
    written.asides = list(find(written.passage.text, sorted(mentions, key=lambda m: m.start)))


STAGE = asides
