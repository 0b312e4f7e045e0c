"""Changes: numbers that tell how far something moved, or lies off, and not what it is.

"Dropped two bar", "two bar short", "up ten on last time", where the field is not about a change
itself ("Pressure drop"). Common practice, no source.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING

from voicelog.mapping import remaining
from voicelog.reading.labels import names

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field

_MOVED = re.compile(
    r"\b(?:dropp?(?:s|ed|ing)?|fell|falls?|rose|rises?|climb(?:s|ed)|jump(?:s|ed)|gain(?:s|ed)|los(?:es|t)|sank|sinks?|sagg(?:s|ed)"
    r"|crept|creeps|drift(?:s|ed)|increased?|decreased?|shrank|grew|grows|shifted"
    r"|(?:went|goes|came|comes|shot|crept|moved)\s+(?:up|down|back|over))"
    r"\s+(?:(?:by|about|around|another|a\s+further|some|only|just|maybe|a\s+good|all\s+of)\s+){0,2}\Z",
    re.IGNORECASE,
)
_COMPARED = (
    r"(?:bigg|cold|cool|deep|fast|great|hard|heavi|high|hott|larg|light|long|loos|narrow|short|slow|small"
    r"|soft|stiff|thick|thinn|tight|warm|wid)er|fewer"
)
_OFF = re.compile(
    r"\s+(?:too\s+)?(?!over\s*[.]?\Z)"  # the last word of a message over the radio
    r"(?P<way>short|shy|low|high|down|up|under|over|above|below|more|less|extra|" + _COMPARED + r")"
    r"(?=\s*(?:[,.;]|of\b|on\b|than\b|(?<!\bunder\s)(?:that|the|what)\b|and\b|but\b|\Z))",
    re.IGNORECASE,
)
_OF_CHANGE = frozenset({
    "added", "change", "creep", "decay", "decrease", "deflection", "deviation", "difference",
    "drift", "drop", "error", "fall", "gain", "increase", "leak", "leakage", "lift", "loss", "lost",
    "movement", "off", "offset", "over", "overrun", "overshoot", "rise", "sag", "shift",
    "shrinkage", "sink", "spread", "stretch", "swing", "travel", "under", "wear",
})  # fmt: skip
"""Words in the name of a field that is itself about a change or a distance."""
_REACH = 32
"""Characters before a number in which the verb stands."""


_NOT = re.compile(
    r"(?:\bnot|n['’]t|\bnever)\s+(?:(?:all|anywhere|at|close|even|got|had|near|nearly|of|quite|reach"
    r"|reached|the|to)\s+)*$",
    re.IGNORECASE,
)


_DONE_TO = re.compile(
    r"\s+of\s+(?:them|those|these)(?:\s+(?:is|are|was|were|has|have|had|been|since|now|already))*"
    r"\s+([a-z]+ed|done|gone)\b",
    re.IGNORECASE,
)


_SPAN = re.compile(
    r"\b(?:due|again|next|valid)\b[^.;]*?\b(?:an?|every|half|in|one|six|three|twelve|two)\s+"
    r"(?:(?:another|half|more)\s+)?(?:months?|weeks?|years?)\b|\bdue\s+(?:annually|yearly)\b",
    re.IGNORECASE,
)
""" "Done on the third of March, due in a year": the date is not that on which it is due."""


def doubts(row: Events, said: Said, field: Field) -> Iterator[str]:
    """Doubts about a number that is no plain value of `field`: denied, or a change; and about a
    date from which a span is told."""
    if said.kind == "date":
        start = row.breaks.sentence_start(said.start)
        end = row.breaks.sentence_end(said.end, len(row.text))
        if _SPAN.search(row.text, start, end):
            yield "change"
    if not said.is_number:
        return
    if _NOT.search(row.text[max(0, said.start - _REACH) : said.start]):
        yield "negated_value"
    words = _words(names(field))
    done = _DONE_TO.match(row.text, said.end) if "of them" in said.tags else None
    seen_to = "of them" in said.tags and remaining.is_work(row, said)  # "welded three of them"
    if seen_to or (done is not None and done[1].lower() not in words):
        yield "partial"  # "five cracked, three of those are welded since": seen to, not counted
    if _OF_CHANGE.isdisjoint(words) and _is_change(row, said, field, words):
        yield "change"


@lru_cache(maxsize=20_000)
def _words(names: tuple[str, ...]) -> frozenset[str]:
    """The words of the names of a field."""
    return frozenset(word.lower().strip(",.") for name in names for word in name.split())


def _is_change(row: Events, said: Said, field: Field, words: frozenset[str]) -> bool:
    start = max(row.clause_start(said.start), said.start - _REACH)
    if _MOVED.search(row.text, start, said.start):
        return True
    off = _OFF.match(row.text, said.end)
    way = off["way"].lower() if off is not None else ""
    placed = any(way in place.lower().split() for place in field.positions)
    return bool(way) and way not in words and not placed
