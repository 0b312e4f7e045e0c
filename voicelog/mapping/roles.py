"""Roles: what came off and what went on, where the fields of a card differ in that alone.

"Brake off alpha one one nine three, new one on is alpha one two oh seven": the words beside an
identifier tell which of the two it is.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Literal

from voicelog.mapping.row import Cue, Spot
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from collections.abc import Set as AbstractSet

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Place

Role = Literal["off", "on"]


_KINDS = frozenset({"serial", "part", "number", "batch", "lot", "no"})
_VERB = re.compile(
    r"\s*(?:(?:came|went|comes|goes|coming|going|is|was|now|taken|put|has|been|gone)\s+)*(?:off|on|out|in|removed|fitted|installed)\b"
    r"(?!\s+(?:the|is|it))"
    r"|[\s,]*(?:(?:is|was|being|that['’]?s|it['’]?s|for)\s+)?(?:the|our|my)\s+(?:old|new|faulty|replacement)\s+"
    r"(?:one|unit|part)(?=\s*(?:[,.;]|and\b|\Z))"
    r"|,?\s+(?:is|was|being|that['’]?s|it['’]?s|for)\s+(?:the|our|my)\s+(?:old|new|faulty|replacement)\b",
    re.IGNORECASE,
)


_IN_ITS_PLACE = re.compile(
    r"[\s,]+(?:(?:back\s+)?(?:in|into|on)\s+(?:its|their|the\s+same)\s+(?:place|stead)|instead|in\s+place\s+of\s+it)\b",
    re.IGNORECASE,
)
"""Behind the code of what went on."""
_PLAINLY = re.compile(
    r"\b(?:(?P<off>old|faulty|removed|took\s+(?:off|out)|pulled)"
    r"|(?P<on>new|replacement|fitted|installed|put\s+(?:in|on)))\b",
    re.IGNORECASE,
)
"""Words that tell it in a clause before, too: "Old brake's gone to the shop, number 7714-C"."""


@cache
def _words() -> re.Pattern[str]:
    words = talk().everyday
    off, on = "|".join(sorted(words.taken_off)), "|".join(sorted(words.put_on))
    return re.compile(rf"\b(?:(?P<off>{off})|(?P<on>{on}))\b", re.IGNORECASE)


def of_field(field: Field) -> Role | None:
    """The role that the names of a field agree on."""
    found = {_last(name) for name in (*field.say, field.label)}
    return found.pop() if len(found) == 1 else None


def part_of(field: Field) -> frozenset[str]:
    """The words by which a field names its part, without those of its role."""
    words = {word for name in (*field.say, field.label) for word in name.lower().split()}
    return frozenset(word for word in words if _last(word) is None and word not in _KINDS)


def of_said(row: Events, said: Said) -> Role | None:
    """The role that the words around a value give it, since the last code."""
    start = row.clause_start(said.start)
    if start and row.text[start - 1] == "," and not row.text[start : said.start].strip():
        start = row.clause_start(start - 1)  # "the old one, BU-6587, is on the pallet"
    start = _since(row, said, start)
    before = _last(row.text[start : said.start]) or _exchanged(row, said)
    if before is None:
        begin = _since(row, said, row.breaks.sentence_start(said.start))
        before = _last(row.text[begin : said.start], _PLAINLY)
    if _IN_ITS_PLACE.match(row.text, said.end):
        return "on"
    end = row.breaks.clause_end(said.end + 1, len(row.text))
    behind = _VERB.match(row.text, said.end, end)
    role = None if behind is None else _last(behind[0])
    return role or before


def _since(row: Events, said: Said, start: int) -> int:
    """`start`, or where the last code before `said` ended."""
    for other in reversed(row.said[: bisect_left(row.said, said.start, key=_start)]):
        if other.end <= start or other.kind == "identifier":
            return max(start, other.end)
    return start


_EXCHANGED = re.compile(
    r"\b(?:swapp|chang|exchang|replac)(?:ed|ing)\b(?P<by>[^.;]*\b(?:for|with|by|to)\s+(?:an?\s+|the\s+)?)?"
    r"[^.;,]*\Z",
    re.IGNORECASE,
)


def _exchanged(row: Events, said: Said) -> Role | None:
    """ "Swapped brake ... for ...": the one came off, the other went on."""
    start = row.breaks.sentence_start(said.start)
    match = _EXCHANGED.search(row.text, start, said.start)
    if match is None:
        return None
    return "on" if match["by"] else "off"


def _start(said: Said) -> int:
    return said.start


def _last(text: str, words: re.Pattern[str] | None = None) -> Role | None:
    role: Role | None = None
    for match in (words or _words()).finditer(text):
        role = "off" if match["off"] else "on"
    return role


def told(row: Events, said: Said, field: Field, name: str) -> bool:
    """Whether the name of its part and what became of it tell the field of a code: "old brake"."""
    role = of_field(field) if field.type == "identifier" else None
    own = [word for word in field.label.lower().split() if _last(word) is None]
    words = {word for word in name.lower().split() if _last(word) is None}
    named = own[-1:] and own[-1] in words and words <= part_of(field)
    return bool(role and named) and of_said(row, said) == role


def worth(field: Field, role: Role | None) -> float:
    """What a role of the value says for `field`; that its form is the one that is asked for of
    the other part says nothing then, which is of the same make."""
    own = of_field(field) if role is not None and field.type == "identifier" else None
    if own is None:
        return 0.0
    formed = 0.0 if field.pattern else 0.6
    return 0.4 + formed if own == role else formed - 1.7


def formed(fields: Mapping[Place, Field], said: Said) -> list[Place]:
    """The fields that ask for codes of the form that `said` has."""
    return [
        place for place, each in fields.items() if f"field:{each.name}" in said.mention.qualifiers
    ]


def counterparts(fields: Mapping[Place, Field], place: Place, role: Role) -> Iterator[Place]:
    """Identifiers of the same part in the same step that have the other role."""
    own = fields[place]
    if own.type != "identifier" or of_field(own) in (None, role):
        return
    for other, field in fields.items():
        alike = field.type == "identifier" and field.positions == own.positions
        alike = alike and bool(part_of(field) & part_of(own))
        if other[0] == place[0] and alike and of_field(field) == role:
            yield other


_WORD = re.compile(r"[^\W\d_]+")
_RIGHT_BEHIND = re.compile(
    r"[\s,]*(?:(?:off|on|out|in|is|was|came|went|gone|taken|put|for|with|by|and|new|old|one|the"
    r"|removed|fitted|installed|serial|number|no\.?|id)\b[\s,]*)*",
    re.IGNORECASE,
)
"""What may stand between a part, or the code before, and its number."""
_CARRIES = re.compile(
    r"\b(?:to|on|onto|in|into|from|of|at)\s+(?:(?:the|its|this|that|a)\s+)?\w+\s*\Z", re.IGNORECASE
)
"""Before a code: what was done is told of something else, on the thing that has it."""
_CODE = 4
"""Figures of a number that may be a code where two parts were exchanged."""


def mark_codes(row: Events, fields: Mapping[Place, Field]) -> None:
    """ "Swapped actuator 80417 for 80533": long numbers without a unit of what came off or went on
    are codes, where the card asks for those of such a part and its name is said."""
    codes = {place: each for place, each in fields.items() if each.type == "identifier"}
    asked = {place for place, each in codes.items() if of_field(each)}
    for place, each in codes.items():
        if len(each.positions) > 1:
            _tell_place(row, place, each)
    if not asked:
        return
    parts = {word for place in asked for word in part_of(fields[place])}
    for said in row.said:
        digits = said.mention.text if said.mention.text.isdigit() else str(said.mention.value)
        if said.kind != "count" or said.dropped or not digits.isdigit() or len(digits) < _CODE:
            continue
        if _is_named(row, said, asked, parts) and of_said(row, said) is not None:
            said.mention = replace(said.mention, kind="identifier", value=digits)


def _is_named(row: Events, said: Said, asked: set[Place], parts: AbstractSet[str]) -> bool:
    """Whether the name of a part, or another code, stands right before a number: "the new recloser
    reads 1024" is no code, and neither is "new slide fitted, bottle pressure 3050"."""
    begin = row.breaks.sentence_start(said.start)
    words = _WORD.finditer(row.text, begin, said.start)
    ends = [match.end() for match in words if match[0].lower() in parts]
    cues = (each for each in row.anchors_in(begin, said.start) if isinstance(each, Cue))
    ends += [cue.end for cue in cues if not asked.isdisjoint(cue.places)]
    index = bisect_left(row.said, said.start, key=_start)
    ends += [other.end for other in row.said[:index][-1:] if other.kind == "identifier"]
    return bool(ends) and _RIGHT_BEHIND.fullmatch(row.text, max(ends), said.start) is not None


def _tell_place(row: Events, place: Place, field: Field) -> None:
    """ "Took out reader SR-4471 and fitted SR-5002", where the card has a place for either; asked
    about where the part is not named."""
    names = {_last(name): name for name in field.positions}
    if names.keys() != {"off", "on"}:
        return
    codes = [
        said
        for said in row.said
        if said.kind == "identifier" and not said.dropped and said.step in {None, place[0]}
    ]
    told: dict[object, set[Role | None]] = {}
    for said in codes:
        told.setdefault(said.mention.value, set()).add(of_said(row, said))
    for said in codes:
        begin = row.breaks.sentence_start(said.start)
        role, *more = told[said.mention.value]
        if role is None or more or _CARRIES.search(row.text, begin, said.start):
            continue  # "taken off, cleaned and refitted", "a new board fitted to reader SR-4471"
        spots = (each for each in row.anchors_in(begin, said.end) if isinstance(each, Spot))
        own = [each for each in spots if {*each.names} <= {*names.values()}]
        said.spot = Spot(said.start, said.end, (names[role],), own[-1].mentions if own else ())
        if part_of(field).isdisjoint(row.text[begin : said.start].lower().split()):
            said.doubts.append("loosely_named")
