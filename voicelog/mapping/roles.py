"""Roles: what came off and what went on, where the fields of a card differ in that alone.

"Brake off alpha one one nine three, new one on is alpha one two oh seven": the words beside an
identifier tell which of the two it is.
"""

from __future__ import annotations

import re
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
    r"\s*(?:(?:came|went|comes|goes|coming|going|is|was|now|taken|put|has|been|gone)\s+)*(?:off|on|removed|fitted|installed)\b"
    r"(?!\s+(?:the|is|it))",
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


def of_said(row: Events, said: Said, since: int) -> Role | None:
    """The role that the words around a value give it; `since` is where the last value ended."""
    start = max(since, row.clause_start(said.start))
    before = _last(row.text[start : said.start])
    end = row.breaks.clause_end(said.end, len(row.text))
    behind = _VERB.match(row.text, said.end, end)
    role = None if behind is None else _last(behind[0])
    return role or before


def _last(text: str) -> Role | None:
    role: Role | None = None
    for match in _words().finditer(text):
        role = "off" if match["off"] else "on"
    return role


def worth(field: Field, role: Role | None) -> float:
    """What a role of the value says for `field`."""
    own = of_field(field) if role is not None and field.type == "identifier" else None
    return 0.0 if own is None else 0.4 if own == role else -0.9


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
