"""Roles: what came off and what went on, where the fields of a card differ in that alone.

"Brake off alpha one one nine three, new one on is alpha one two oh seven": the words beside an
identifier tell which of the two it is.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from functools import cache
from typing import TYPE_CHECKING, Literal

from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

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
    for other in reversed(row.said[: bisect_left(row.said, said.start, key=_start)]):
        if other.end <= start or other.kind == "identifier":
            start = max(start, other.end)
            break
    before = _last(row.text[start : said.start]) or _exchanged(row, said)
    end = row.breaks.clause_end(said.end + 1, len(row.text))
    behind = _VERB.match(row.text, said.end, end)
    role = None if behind is None else _last(behind[0])
    return role or before


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


def _last(text: str) -> Role | None:
    role: Role | None = None
    for match in _words().finditer(text):
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
