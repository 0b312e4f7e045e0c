"""Orders: values that may be what is still to be done, and none that was found."""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING

from voicelog.mapping.row import Spot
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Cue, Events, Said

_DONE = re.compile(
    r"(?:(?!wanted|needed)[^\W\d_]{2,}ed|blew|brought|drew|got|ran|took|wound)\s+"
    r"(?:(?:the|all|both|each)\s+(?:(?:[a-z]+\s+){0,2}of\s+(?:the\s+)?)?)?$",
    re.IGNORECASE,
)
_CAME_TO = re.compile(
    r"(?:\b(?:is|are|was|were|been|gone|worn|came)|['’](?:s|re))\s+(?:now\s+|worn\s+)?(?:down|up)\s+to\s+$",
    re.IGNORECASE,
)
_COMES = re.compile(
    r"(?:\s+(?!(?:and|but|then)\b)[\w-]+){0,4}?\s+(?:"
    r"(?:once|as\s+soon\s+as)\s+(?:[\w-]+\s+){1,4}?(?:has|have|is|are)\b"
    r"|(?:once|as\s+soon\s+as)\s+(?:it|that|they|everything)['’](?:s|ve|re)\b"
    r"|(?:when|after)\s+(?:[\w-]+\s+){1,4}?(?:has|have)\s+[a-z]+(?:ed|en|un|one|et)\b"
    r"|tomorrow|tonight|next\s+(?:time|shift|week|month)|after\s+(?:lunch|the\s+break|dinner|tea))\b",
    re.IGNORECASE,
)
_ORDERED = re.compile(
    r"\s*(?:(?:and|then|so|but|now|please|next|just|right)\s+)*(?P<verb>[a-z]+)\s+(?:(?:up|down|out|off)\s+)?"
    r"(?P<object>(?:the|them|it|each|every|all|both|this|that|these|those|your)\b"
    r"|(?:[\w-]+\s+){1,5}?to\s+\Z)?",
    re.IGNORECASE,
)
""" "Give the coupling bolts forty seven newton metres": what "gave" would have told as done."""
_NOUNS_TOO = frozenset({
    "charge", "crank", "drain", "draw", "drive", "grease", "load", "pack", "press", "pull", "pump",
    "tension", "top", "torque", "trim", "turn", "wind",
})  # fmt: skip
"""Before a name these may be a part of it: "torque bolt three ninety"."""
_ALL = re.compile(r"(?:all|both|each|every)\b", re.IGNORECASE)
_AWAITED = re.compile(
    r"\b(?:(?:a)?waiting\s+(?:for|on)|await(?:ed|ing)|order(?:ed|ing)|requested|(?:asked|sent)\s+for)\b",
    re.IGNORECASE,
)
_NOT_HERE = re.compile(
    r"(?:\s+(?!(?:and|but|then|came|off|removed|old)\b)[\w'’-]+){0,3}?[\s,]+(?:on\s+order|(?:re)?ordered|to\s+follow|in\s+the\s+post|on\s+its\s+way"
    r"|not\s+(?:yet\s+)?(?:arrived|been|come|fitted|here|in|installed|on)"
    r"|(?:has|is|was)n['’]?t\s+(?:yet\s+)?(?:arrived|been|come|fitted|here|in|installed|on)"
    r"|(?:comes|coming|arrives|arriving|due)\s+(?:in\s+)?(?:on\s+)?(?:today|tomorrow|tonight|next|later|monday|tuesday|wednesday|thursday"
    r"|friday|saturday|sunday))\b",
    re.IGNORECASE,
)
_WENT_TO = re.compile(
    r"(?<!to\s)(?<!be\s)\b(?:went|came|took|brought|blew|got|wound|[a-z]{2,}ed)\s+(?:the\s+[a-z]+\s+)?(?:(?:up|down|them|it)\s+)?to\s+\Z",
    re.IGNORECASE,
)
_TO = re.compile(r"(?P<word>[^\W\d_]+)\s+to\s+$", re.IGNORECASE)


_CHECK = re.compile(
    r"(?:\A\s*|\b(?:and|then|now|so|but|please|first|next|also|just|[a-z]+ing(?:\s+(?:it|them|up))?)\s+)"
    r"(?:(?:double|re)[\s-]?)?(?P<verb>check|verify|confirm|see)\s+(?!on\b)(?:that\s+)?[^,.;:]*?"
    r"\b(?:is|are|reads?|shows?|holds?|sits?|stays?)\s+(?:(?:still|now|at|all|both|fully)\s+)*\Z",
    re.IGNORECASE,
)


_DO = re.compile(
    r"(?!(?:cut|done|fail|no|not|ok|okay|pass|reset|set|shut|split)\Z)[a-z]+(?<!ed)(?<!en)(?<![^s]s)",
    re.IGNORECASE,
)
"""A state that is an order as well, and not what was done ("shut the valve") or a verdict."""
_SUBJECT = re.compile(r"\b(?:all|both|each|it|ones|others?|they|which)\s+\Z", re.IGNORECASE)
""" "All stop the walk", "they free the pin": somebody or something does."""
_ITS_OBJECT = re.compile(r"\s+(?:the|this|that|these|those|your)\s+[a-z]", re.IGNORECASE)


def may_be(row: Events, said: Said) -> bool:
    """Whether `said` may tell of what is to be done."""
    if _to_check(row, said) or _to_do(row, said):
        return True
    if said.kind == "identifier":
        return _is_awaited(row, said)
    done = is_left(said) and "instruction" not in said.tags
    told = _told_to(row, said) or _is_ordered(row, said) or _to_come(row, said)
    return said.is_number and not done and told


def _to_check(row: Events, said: Said) -> bool:
    """ "Check the trim cable reads sixty", but not "check valve is at four bar"."""
    start = row.clause_start(said.start)
    lead = _CHECK.search(row.text[start : said.start])
    if lead is None:
        return False
    at = start + lead.start("verb")
    return not any(anchor.start == at for anchor in row.anchors_in(at, at + 1))


def _to_do(row: Events, said: Said) -> bool:
    """ "Clean the strainer", "free the pin", "dry the seal": a state before its thing is a deed."""
    word = row.text[said.start : said.end]
    if said.kind != "remark" or not _DO.fullmatch(word):
        return False
    start = row.clause_start(said.start)
    before = row.anchors_in(row.breaks.sentence_start(said.start), said.start)
    named = any(each.end > start for each in before)  # "basement, ground and second stop the car"
    named = named or _SUBJECT.search(row.text, start, said.start) is not None
    return not named and _ITS_OBJECT.match(row.text, said.end) is not None


def _is_ordered(row: Events, said: Said) -> bool:
    """Whether the clause of a value begins with what somebody is told to do."""
    start = row.clause_start(said.start)
    lead = _ORDERED.match(row.text, start, said.start)
    verb = "" if lead is None else lead["verb"].lower()
    if lead is None or verb not in talk().everyday.orders:
        return False
    at, object_ = lead.start("verb"), lead.end("verb") + 1
    named = verb not in _NOUNS_TOO and row.anchors_in(object_, lead.end() + 1)
    return bool(lead["object"] or named) and not row.anchors_in(at, at + 1)


def _is_awaited(row: Events, said: Said) -> bool:
    """ "The new one is CE118 on order": what will be fitted, and is not yet."""
    clause = row.clause_start(said.start)
    awaited = _AWAITED.search(row.text, clause, said.start) is not None
    return awaited or _NOT_HERE.match(row.text, said.end) is not None


def _told_to(row: Events, said: Said) -> bool:
    """ "Bolt three to ninety eight": done, or to be done? A name stands right before the "to"."""
    lead = _TO.search(row.text, max(0, said.start - 24), said.start)
    if _CAME_TO.search(row.text, max(0, said.start - 24), said.start):
        return False
    if lead is None or lead["word"].lower().endswith("ed") or _goes_on_left(row, said):
        return False
    at = lead.end("word") - 1
    named = [a for a in row.anchors_in(max(0, at - 40), at + 1) if a.start <= at == a.end - 1]
    if _of_all(row, said, named) or _is_verb_of(row, lead, said):
        return False
    done = named and _DONE.search(row.text, max(0, named[0].start - 32), named[0].start)
    return bool(named) and not done


def _of_all(row: Events, said: Said, named: Sequence[Cue | Spot]) -> bool:
    """ "Rod bolts, all four to thirty five": told of each of them, where no other value was told
    of them before, which might be the one that stands."""
    begin = row.breaks.sentence_start(said.start)
    if any(each.is_number for each in row.said_in(begin, said.start)):
        return False
    spots = [anchor for anchor in named if isinstance(anchor, Spot) and len(anchor.names) > 1]
    return any(_ALL.match(spot.mentions[0].text) for spot in spots)


def _is_verb_of(row: Events, lead: re.Match[str], said: Said) -> bool:
    """ "All eight bolts torque to 325", "the jaw opens to 41": what things do, or what "torqued"
    is for a recogniser; nobody is told to do it."""
    at = lead.start("word")
    if lead["word"].lower() not in talk().everyday.orders:
        return lead["word"].lower() in talk().everyday.verbs and lead["word"].endswith("s")
    subject = [a for a in row.anchors_in(row.clause_start(said.start), at) if a.end == at - 1]
    return any(row.text[a.end - 1].lower() == "s" for a in subject)


def _to_come(row: Events, said: Said) -> bool:
    """ "Goes up to seventeen thousand once the blade has warmed up": it is not so yet."""
    return _COMES.match(row.text, said.end) is not None


def _goes_on_left(row: Events, said: Said) -> bool:
    """ "Left inflated to two hundred and right to two oh one", "one and two went to fifty, three to
    fifty two": the verb was said before."""
    index = bisect_left(row.said, said.start, key=lambda each: each.start) - 1
    before = row.said[index] if index >= 0 else None
    if before is None or row.breaks.between(before.end, said.start) == 2:
        return False
    went = _WENT_TO.search(row.text, row.clause_start(before.start), before.start)
    return is_left(before) or (before.is_number and went is not None)


def is_found(said: Said) -> bool:
    return bool({"as found", "as found weak"} & said.tags)


def is_left(said: Said) -> bool:
    return bool({"as left", "as left weak"} & said.tags)
