"""Denied things: what it is of which none are said to be loose, cracked or missing."""

from __future__ import annotations

import re
from itertools import takewhile
from typing import TYPE_CHECKING

from voicelog.reading.labels import RELATING, keys_of, names
from voicelog.reading.talk import talk
from voicelog.reading.trade import conditions, faults
from voicelog.reading.words import tokenise, word_key

if TYPE_CHECKING:
    from collections.abc import Iterator
    from collections.abc import Set as AbstractSet

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field
    from voicelog.reading.words import Token

_BEFORE = re.compile(r"(?:(?:[a-z]+n['’]t|not|never)\b|n['’]t\b)", re.IGNORECASE)
_MORE = frozenset({"left", "remaining"})
"""Words behind the things that tell of them: "no loose posts left"."""
_AT_ANOTHER = re.compile(
    r"\s+(?:(?:at\s+all|found|seen|visible)\s+)?(?:in|on|at|of|from|under|round|around)\s+"
    r"(?:(?:all|any|each|either|of|our|that|the|these|this|those)\s+)*"
    r"(?!(?:it|them|there|either|any|each)\b)([a-z]+(?:\s+[a-z]+){0,2})",
    re.IGNORECASE,
)


def are_counted(row: Events, said: Said, field: Field) -> bool:
    """Whether the things that a remark denies a fault of are those that a field counts: "no loose
    clips", "no clips loose at the rail" where it counts the rail's, but not "no loose wheels"."""
    if {"none", "condition"} & said.mention.qualifiers:
        return True
    own = keys_of(field)
    things = {token.key for token in _things(row, said)}
    return (
        things <= own
        and not things.isdisjoint(_counted(field))
        and not is_elsewhere(row, said, own)
    )


def is_elsewhere(row: Events, said: Said, own: AbstractSet[str]) -> bool:
    """Whether a place is told behind a denial that no name of the field has: "in the dome"."""
    where = _AT_ANOTHER.match(row.text, said.end)
    return where is not None and own.isdisjoint(word_key(word) for word in where[1].split())


def _things(row: Events, said: Said) -> list[Token]:
    """The words that tell what is denied to be so: between the denial and the fault, or else
    behind it ("no loose clips"), or before it ("the clips are not loose")."""
    between = [*filter(_tells, tokenise(said.mention.text)[1:])]
    if between:
        return between
    if _BEFORE.match(said.mention.text):
        return [*filter(_tells, tokenise(row.text[row.clause_start(said.start) : said.start]))]
    end = row.breaks.clause_end(said.end, len(row.text))
    return [*takewhile(_tells, tokenise(row.text[said.end : end]))]


def _tells(token: Token) -> bool:
    word = token.text.lower()
    other = word in talk().everyday.plain | RELATING | _MORE
    return token.is_word and not (other or _is_fault(token))


def _is_fault(token: Token) -> bool:
    return token.text.lower() in faults() or token.key in conditions()


def _counted(field: Field) -> Iterator[str]:
    """The nouns of the things that a field counts: "bolt" for "Loose joint bolts on the rail"."""
    for name in names(field):
        told = takewhile(_goes_on, tokenise(name.partition(",")[0]))
        keys = [token.key for token in told if not _is_fault(token)]
        yield from keys[-1:]


def _goes_on(token: Token) -> bool:
    return token.text.lower() not in RELATING
