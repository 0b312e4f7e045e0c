"""A place told again at the end of a list, whose figure was read as a part of its value.

"Cylinder one 74 over 80, two 76, three 72 over 80, one 75 over 80": no cylinder has two values in
words that say so, but the last of them may be the first one's.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.reading.settings import reasons_of
from voicelog.reading.spoken import lexemes

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.mapping.row import Events
    from voicelog.objects import FieldValue

_BEFORE = re.compile(r"(?P<word>\w+)[\s,:-]*\Z")
_FIRST = re.compile(r"(?P<word>\w+)")
_NEAR = 16
"""Characters of a figure before a value, with what stands between, at most."""


def doubt(values: Sequence[FieldValue], row: Events) -> list[FieldValue]:
    """`values` with a doubt on each whose place may head the second value of another."""
    again: dict[tuple[str, str, str | None], int] = {
        (*value.key[:2], figure): value.start
        for value in values
        if value.position is not None and any(r.code == "two_values" for r in value.reasons)
        for figure in _figures(value, row.text)
        if figure != value.position
    }
    return [
        replace(value, reasons=reasons_of(("two_values",)))
        if not value.reasons and value.start < again.get(value.key, 0)
        else value
        for value in values
    ]


def _figures(value: FieldValue, text: str) -> Iterator[str]:
    """The figure right before a value, and the one that it begins with."""
    words = (
        _BEFORE.search(text, max(0, value.start - _NEAR), value.start),
        _FIRST.match(text, value.start),
    )
    for word in (each["word"].lower() for each in words if each is not None):
        lexeme = lexemes().get((word,))
        if word.isdigit() or lexeme is not None:
            yield word if lexeme is None else str(lexeme.value)
