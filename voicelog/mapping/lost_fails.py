"""A plain "fail" that found no field of its own, behind a place that other words have as good.

"Latches good on inner and middle. Outer row, chair none's lot, rings open, fail": what a
recogniser made of it may hold a good word that nobody said, and hide what the fault is told of.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.mapping.row import Spot
from voicelog.reading.settings import reasons_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import FieldValue


def doubt(values: Sequence[FieldValue], left_over: Sequence[Said], row: Events) -> list[FieldValue]:
    """`values` with a doubt on each "pass" of the place that stands last before it."""
    lost = [said for said in left_over if said.kind == "remark" and _is_plain(said)]
    named = {name for said in lost for spot in _spots(row, said)[-1:] for name in spot.names}
    return [
        replace(value, reasons=reasons_of(("contradiction",)))
        if value.value == "pass" and value.position in named and not value.reasons
        else value
        for value in values
    ]


def _is_plain(said: Said) -> bool:
    return said.mention.value == "fail" and "verdict" in said.mention.qualifiers


def _spots(row: Events, said: Said) -> list[Spot]:
    start = row.breaks.sentence_start(said.start)
    return [each for each in row.anchors_in(start, said.start) if isinstance(each, Spot)]
