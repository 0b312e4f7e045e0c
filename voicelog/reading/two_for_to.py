"""A "two" at the head of a number that may have been a "to".

"Pulled to a hundred and twenty five" and "pulled two hundred and twenty five" sound alike, and a
recogniser writes the one for the other; so does "set to forty" become "set two forty".
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Callable

    from voicelog.reading.number import Number

_TWO = ("two", "2")
_WAYS = ("up", "down", "in", "out", "back")
_SCALES = {"hundred": Decimal(100), "thousand": Decimal(1000)}


def doubted(
    number: Number, text: Callable[[int], str], read: Callable[[int], Number | None]
) -> Number:
    """`number`, if right behind a word of bringing something to a value, with what it is without
    its "two"; `text` and `read` give the word and the number at an atom."""
    behind = number.first + 1
    if text(number.first) not in _TWO or number.last == behind:
        return number
    before = number.first - 1
    before -= text(before) in _WAYS
    if text(before) not in talk().everyday.brought:
        return number
    scale = _SCALES.get(text(behind))
    if scale is not None:
        return number.with_doubt("ambiguous_number", number.value - scale)
    rest = read(behind)
    if rest is None or rest.last != number.last:
        return number
    return number.with_doubt("ambiguous_number", rest.value)
