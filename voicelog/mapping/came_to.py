"""Came to: a state told of how a thing was, where what it came to found no field.

"The thruster was empty, seal's gone. New seal, filled it, it's full": whoever put down that it is
empty would not have listened to the end; it is asked about.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.settings import reasons_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Card, FieldValue

_WAS = re.compile(r"\b(?:was|were|had|found|been)\b", re.IGNORECASE)
_NEAR = 40
"""Characters before a state within which its "was" stands."""
_REACH = 160
"""Characters behind a state within which it is told what came of it."""


def doubt(
    values: Sequence[FieldValue], left_over: Sequence[Said], row: Events, card: Card
) -> list[FieldValue]:
    """`values` with a doubt on what "was" so, where another state of it stands unplaced behind."""
    later = [said for said in left_over if said.option is not None or _is_good(said)]
    return [_asked(value, later, row, card) if later else value for value in values]


def _asked(value: FieldValue, later: Iterable[Said], row: Events, card: Card) -> FieldValue:
    state = value.mentions[0].kind in {"remark", "term"} and value.value != "pass"
    start = row.clause_start(value.start)
    if not state or value.reasons or not _WAS.search(row.text, start, value.end):
        return value
    near = (said for said in later if value.end < said.start <= value.end + _REACH)
    if not any(_is_of(said, value, card) for said in near):
        return value
    return replace(value, reasons=reasons_of(("at_first",)))


def _is_good(said: Said) -> bool:
    return said.kind == "remark" and said.mention.value == "pass"


def _is_of(said: Said, value: FieldValue, card: Card) -> bool:
    """Whether it may be told of the field of `value`: another option, or what its label asks."""
    lexicon, place = lexicon_of(card), value.key[:2]
    if said.option is not None:
        return said.option in lexicon.options.get(place, {}) and said.option != value.value
    asked = f"says:{' '.join(lexicon.states.get(place, ()))}"
    return value.value == "fail" and asked in said.mention.qualifiers
