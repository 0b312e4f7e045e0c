"""Orders: values that may be what is still to be done, and none that was found."""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from voicelog.mapping.row import Events, Said

_DONE = re.compile(r"(?:[^\W\d_]{2,}ed|wound|took|brought|drew|ran)\s+(?:the\s+)?$", re.IGNORECASE)
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
_TO = re.compile(r"(?P<word>[^\W\d_]+)\s+to\s+$", re.IGNORECASE)


_CHECK = re.compile(
    r"(?:\A\s*|\b(?:and|then|now|so|but|please|first|next|also|just|[a-z]+ing(?:\s+(?:it|them|up))?)\s+)"
    r"(?:(?:double|re)[\s-]?)?(?P<verb>check|verify|confirm|see)\s+(?!on\b)(?:that\s+)?[^,.;:]*?"
    r"\b(?:is|are|reads?|shows?|holds?|sits?|stays?)\s+(?:(?:still|now|at|all|both|fully)\s+)*\Z",
    re.IGNORECASE,
)


_DO = re.compile(
    r"(?!(?:cut|done|fail|no|not|ok|okay|pass|set|shut|split)\Z)[a-z]+(?<!ed)(?<!en)", re.IGNORECASE
)
"""A state that is an order as well, and not what was done ("shut the valve") or a verdict."""
_ITS_OBJECT = re.compile(r"\s+(?:the|this|that|these|those|your)\s+[a-z]", re.IGNORECASE)


def may_be(row: Events, said: Said) -> bool:
    """Whether `said` may tell of what is to be done."""
    if _to_check(row, said) or _to_do(row, said):
        return True
    done = is_left(said) and "instruction" not in said.tags
    return said.is_number and not done and (_told_to(row, said) or _to_come(row, said))


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
    named = row.anchors_in(row.clause_start(said.start), said.start)
    return not named and _ITS_OBJECT.match(row.text, said.end) is not None


def _told_to(row: Events, said: Said) -> bool:
    """ "Bolt three to ninety eight": done, or to be done? A name stands right before the "to"."""
    lead = _TO.search(row.text, max(0, said.start - 24), said.start)
    if _CAME_TO.search(row.text, max(0, said.start - 24), said.start):
        return False
    if lead is None or lead["word"].lower().endswith("ed") or _goes_on_left(row, said):
        return False
    at = lead.end("word") - 1
    named = [a for a in row.anchors_in(max(0, at - 40), at + 1) if a.start <= at == a.end - 1]
    done = named and _DONE.search(row.text, max(0, named[0].start - 24), named[0].start)
    return bool(named) and not done


def _to_come(row: Events, said: Said) -> bool:
    """ "Goes up to seventeen thousand once the blade has warmed up": it is not so yet."""
    return _COMES.match(row.text, said.end) is not None


def _goes_on_left(row: Events, said: Said) -> bool:
    """ "Left inflated to two hundred and right to two oh one": the verb was said before."""
    index = bisect_left(row.said, said.start, key=lambda each: each.start) - 1
    before = row.said[index] if index >= 0 else None
    return before is not None and is_left(before) and row.breaks.between(before.end, said.start) < 2


def is_found(said: Said) -> bool:
    return bool({"as found", "as found weak"} & said.tags)


def is_left(said: Said) -> bool:
    return bool({"as left", "as left weak"} & said.tags)
