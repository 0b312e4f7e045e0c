"""Figures said one by one with a pause between: "two, four, five foot pounds" is 245.

A recogniser writes a comma at every pause. Where no list of places stands before them, single
figures of which only the last has a unit are one number, and asked about.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.reading.passage import Passage
    from voicelog.reading.thousandths import Measure

_FEWEST = 3
"""Figures without a unit that are taken for one number."""
_NEAR = 24
"""Characters behind a list of places within which its values begin."""


def joined(passage: Passage, items: Sequence[Measure], lists: Sequence[int]) -> list[Measure]:
    """`items` with such rows as one number; `lists` holds where lists of places end."""
    found: list[Measure] = []
    index = 0
    while index < len(items):
        row = _row(passage, items, index)
        if len(row) > 1 and _is_number(passage, row, lists):
            found.append(_number(passage, row))
            index += len(row)
        else:
            found.append(items[index])
            index += 1
    return found


def _row(passage: Passage, items: Sequence[Measure], first: int) -> Sequence[Measure]:
    last = first
    while last < len(items) and len(items[last].number.digits) == 1 and _plain(items[last]):
        last += 1
        ended = last == len(items) or items[last - 1].unit is not None
        if ended or _pause(passage, items[last - 1], items[last]) is None:
            break
    return items[first:last]


def _plain(item: Measure) -> bool:
    return item.first == item.number.first and not item.doubts


def _pause(passage: Passage, one: Measure, other: Measure) -> str | None:
    """What is said between two figures besides the pause: nothing, or zeros ("two, oh, five");
    None when it is something else."""
    between = [atom.text for atom in passage.atoms[one.last : other.first]]
    zeros = between[1:-1:2]
    if between[::2] != [","] * (len(zeros) + 1) or not set(zeros) <= {"oh", "o"}:
        return None
    return "0" * len(zeros)


def _is_number(passage: Passage, row: Sequence[Measure], lists: Sequence[int]) -> bool:
    if row[-1].unit is None and len(row) < _FEWEST:
        return False
    start = passage.atoms[row[0].first].start
    if any(0 <= start - end <= _NEAR for end in lists):
        return False
    step = passage.step_at(row[0].first)
    sizes = {len(group.positions) for group in passage.cues.groups if step in group.steps}
    return len(row) not in sizes


def _number(passage: Passage, row: Sequence[Measure]) -> Measure:
    first, last = row[0], row[-1]
    digits = first.number.digits
    for one, other in pairwise(row):
        digits += (_pause(passage, one, other) or "") + other.number.digits
    number = replace(
        last.number,
        first=first.number.first,
        value=Decimal(int(digits)),
        alternatives=(last.value,),
        digits=digits,
    )
    doubts = (*last.doubts, "joined_digits")
    return replace(last, first=first.first, number=number, doubts=doubts)
