"""Taken back: what was said, and in other words than the procedure's, some sentences later not so.

"Scrub the relief, I was on the wrong gauge", "I've got left and right swapped on the discs": what
stands instead is for a person to say. Common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLAIN, Cue
from voicelog.reading.settings import reasons_of
from voicelog.reading.talk import taken_back

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.mapping.row import Events
    from voicelog.objects import FieldValue

_CORRECTED = frozenset({"correction", "disregard", "negative again", "slip", "strike"})

_EXCUSE = re.compile(
    r"[\s,]*(?:[a-z'’]+\s+){0,6}?(?:mis(?:read|heard|counted)|upside\s+down|twice"
    r"|wrong\s+(?:chart|column|end|gauge|line|number|one|page|range|row|scale|side))\b[^,.;\d]{0,24}[,.;]\s+",
    re.IGNORECASE,
)
""" "No wait, I had the rule upside down, eighteen": why the value before it does not stand."""


def past_excuse(text: str, at: int) -> int:
    """Where the words end that tell at `at` why a value does not stand; `at` where none do."""
    excuse = _EXCUSE.match(text, at)
    return at if excuse is None else excuse.end()


def doubt(values: Sequence[FieldValue], row: Events) -> list[FieldValue]:
    """`values` with a doubt on those that later words take back."""
    astray = {
        key for told in taken_back().find(row.text) for key in _meant(values, row, *told.span())
    }
    return [
        replace(value, reasons=(*value.reasons, *reasons_of(("self_repair",))))
        if value.key in astray and all(each.code != "self_repair" for each in value.reasons)
        else value
        for value in values
    ]


def _meant(
    values: Sequence[FieldValue], row: Events, start: int, end: int
) -> Iterator[tuple[str, str, str | None]]:
    """The values before it of what is named in its sentence; else all those of that sentence, or of
    the one before."""
    begin, last = row.breaks.sentence_start(start), row.breaks.sentence_end(end, len(row.text))
    if any(word.value in _CORRECTED for word in row.words_in(begin, last)):
        return  # "twenty seven, I mean seventeen, I had the rule upside down": it tells why
    cues = (each for each in row.anchors_in(begin, last) if isinstance(each, Cue))
    named = {
        place
        for cue in cues
        if not cue.in_spot
        for place, plain in cue.places.items()
        if plain >= PLAIN
    }
    before = [value for value in values if value.start < start]
    told = [value for value in before if value.key[:2] in named]
    told = told or [value for value in before if value.start >= begin]
    since = row.breaks.sentence_start(max(0, begin - 1))
    told = told or [value for value in before if value.start >= since]
    yield from (value.key for value in told)
