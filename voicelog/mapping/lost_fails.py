"""A plain "fail" that found no field of its own, behind a place that other words have as good,
and a denial right behind the last of the places that were told to be good.

"Latches good on inner and middle. Outer row, chair none's lot, rings open, fail": what a
recogniser made of it may hold a good word that nobody said, and hide what the fault is told of.
"""

from __future__ import annotations

import re
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
    denied = _denied(row)
    return [
        replace(value, reasons=reasons_of(("contradiction",)))
        if value.value == "pass"
        and not value.reasons
        and (value.position in named or denied.get(value.position, 0) > value.end)
        else value
        for value in values
    ]


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
