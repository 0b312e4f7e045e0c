"""Tallies: how many of a thing there are, said without a figure: "a couple of broken wires".

Read only right before what some field of the card counts; a couple is asked about. Common practice,
no source.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.reading.number import Number
from voicelog.reading.phrases import after_phrase, by_first
from voicelog.reading.thousandths import Measure

if TYPE_CHECKING:
    from collections.abc import Collection

    from voicelog.reading.passage import Passage

_COUPLE = by_first((
    ("a", "couple", "of", "the"), ("a", "couple", "of"), ("a", "couple"), ("couple", "of", "the"),
    ("couple", "of"), ("couple",),
))  # fmt: skip
_PAIR = by_first((("pair", "of"), ("a", "pair", "of")))
_SINGLE = by_first(
    (("single",), ("a", "single"), ("one", "single"), ("a", "lone"), ("a", "solitary"))
)
HEADS = frozenset({"a", "couple", "lone", "pair", "single"})
_MORE_OR_LESS = "about"
_DENIED = frozenset({"any", "every", "no", "not"})


def read(passage: Passage, at: int, stop: int, tallied: Collection[int]) -> Measure | None:
    """The number at atom `at` that has no figure; `tallied` holds where the names of what is
    counted begin."""
    if not tallied or passage.atoms[at].text not in HEADS:
        return None
    if at and passage.atoms[at - 1].text in _DENIED:
        return None  # "not a single broken wire"
    for phrases, value, doubts in (
        (_COUPLE, 2, (_MORE_OR_LESS,)),
        (_PAIR, 2, ()),
        (_SINGLE, 1, ()),
    ):
        end = after_phrase(passage.atoms, at, stop, phrases)
        if end is not None and end < len(passage.atoms) and passage.atoms[end].start in tallied:
            return Measure(at, end, Number(at, end, Decimal(value), doubts=doubts), doubts=doubts)
    return None


def alone(passage: Passage, measure: Measure | None) -> Measure | None:
    """`measure` without its unit where that is a word of what is counted, written as it sounds:
    "2 foul plugs" are no thousandths."""
    if measure is None or measure.unit is None or not passage.counted:
        return measure
    unit = measure.number.last
    of_name = unit < measure.last and passage.atoms[unit].start in passage.counted
    return replace(measure, unit=None, last=unit) if of_name else measure
