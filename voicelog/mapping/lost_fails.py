"""A plain "fail" that found no field of its own, behind a place that other words have as good,
a denial right behind the last of the places that were told to be good, and what one word says of
all places while another, which found none, says the contrary.

"Latches good on inner and middle. Outer row, chair none's lot, rings open, fail": what a
recogniser made of it may hold a good word that nobody said, and hide what the fault is told of.
"Seat bolts six frayed. Belt two replaced, all the others good": one of the others may not be.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.mapping.row import Spot
from voicelog.reading.settings import reasons_of
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field, FieldValue

    Fields = Mapping[tuple[str, str], Field]


def doubt(
    values: Sequence[FieldValue], left_over: Sequence[Said], row: Events, fields: Fields
) -> list[FieldValue]:
    """`values` with a doubt on each "pass" of the place that stands last before it, and on those
    that one word gave to many places."""
    remarks = [said for said in left_over if said.kind == "remark"]
    lost = [said for said in remarks if _is_plain(said)]
    named = {name for said in lost for spot in _spots(row, said)[-1:] for name in spot.names}
    denied = _denied(row)
    told = Counter((value.key[:2], value.start) for value in values)

    def is_denied(value: FieldValue) -> bool:
        if value.value == "pass" and value.position in named:
            return True
        if value.value == "pass" and denied.get(value.position, 0) > value.end:
            return True
        many = told[value.key[:2], value.start] > 1
        return any(
            (many and _contradicts(said, value, row, fields[value.key[:2]]))
            or _is_why_tried(said, value, row)
            for said in remarks
        )

    asked = reasons_of(("contradiction",))
    return [
        replace(value, reasons=asked) if not value.reasons and is_denied(value) else value
        for value in values
    ]


def _is_why_tried(said: Said, value: FieldValue, row: Events) -> bool:
    """ "Seat five I checked twice because it felt loose": that it was tried is no verdict."""
    tried = value.value == "pass" and value.as_spoken.lower() in talk().remarks.undone
    end = row.breaks.clause_end(value.end, len(row.text))
    return tried and said.mention.value == "fail" and value.end < said.start < end


_ALL = re.compile(r"\b(?:all|both|each|every\w*|others?|remaining|rest)\b", re.IGNORECASE)


def _contradicts(said: Said, value: FieldValue, row: Events, field: Field) -> bool:
    """Whether words without a field say what `value`, told of all or of the others, does not:
    another option of it, or, in its sentence or a neighbour, that something fails."""
    end = row.breaks.clause_end(value.end, len(row.text))
    if _ALL.search(row.text, row.clause_start(value.start), end) is None:
        return False
    if field.type == "choice":
        return said.option in field.options and said.option != value.value
    first, last = sorted((said.start, value.start))
    near = row.breaks.sentences[last] - row.breaks.sentences[first] <= 1
    return near and value.value == "pass" and _is_plain(said)


_NONE = re.compile(r"\s+(?:none|not)\s*(?:[.;!?]|\Z)", re.IGNORECASE)


def _denied(row: Events) -> dict[str | None, int]:
    """Places with a denial right behind them, and where they stand: "good on inner and middle
    none."."""
    spots = (each for each in row.anchors if isinstance(each, Spot))
    return {spot.names[-1]: spot.end for spot in spots if _NONE.match(row.text, spot.end)}


def _is_plain(said: Said) -> bool:
    return said.mention.value == "fail" and "verdict" in said.mention.qualifiers


def _spots(row: Events, said: Said) -> list[Spot]:
    start = row.breaks.sentence_start(said.start)
    return [each for each in row.anchors_in(start, said.start) if isinstance(each, Spot)]
