"""Sequences: what a step wants done in a fixed order, against the order in which it was said.

An item of `step.sequence` is matched by the names of a field with its position ("latch 1"
is position 1 of the field said "latch"). Out of order is what does not stand in every longest
run in the right order (longest increasing subsequence, in n log n): the fewest items that
would have to move, and all of those of which it could be either.
"""

from __future__ import annotations

import sys
from bisect import bisect_left
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicelog.reading.words import phrase_key

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from voicelog.objects import Field, Step

_LAST = sys.maxsize


@dataclass(frozen=True, slots=True)
class Order:
    """How what was said compares with a step's sequence."""

    missing: tuple[str, ...] = ()
    out_of_order: tuple[str, ...] = ()
    said: tuple[tuple[str, int], ...] = ()
    """(item, index of what said it) of every item that was said."""

    @property
    def complete(self) -> bool:
        return not self.missing and not self.out_of_order


def names(field: Field, position: str | None) -> tuple[str, ...]:
    """Every way in which a field at a position can be named, as keys."""
    own = [field.label, field.name.replace("_", " "), *field.say]
    if position is None:
        return tuple(phrase_key(name) for name in own)
    if field.position_word:
        own.append(field.position_word)
    placed = [f"{name} {position}" for name in own]
    placed += [f"{position} {name}" for name in own]
    return tuple(phrase_key(name) for name in (*placed, position))


def _lengths(numbers: Sequence[int]) -> list[int]:
    """Length of the longest increasing run that ends at each number."""
    tails: list[int] = []
    lengths = []
    for number in numbers:
        at = bisect_left(tails, number)
        tails[at : at + 1] = [number]
        lengths.append(at + 1)
    return lengths


def in_place(numbers: Sequence[int]) -> frozenset[int]:
    """Indices that every longest increasing run of `numbers` holds.

    Where it could be this item that was done too early or that one too late, both are left out.
    """
    up_to = _lengths(numbers)
    from_on = _lengths([-number for number in reversed(numbers)])[::-1]
    longest = max(up_to, default=0)
    held = [
        index
        for index, both in enumerate(zip(up_to, from_on, strict=True))
        if sum(both) - 1 == longest
    ]
    ranks = Counter(up_to[index] for index in held)
    return frozenset(index for index in held if ranks[up_to[index]] == 1)


def order(
    step: Step,
    said: Iterable[tuple[int, Field, str | None]],
    undone: Iterable[tuple[Field, str | None]] = (),
) -> Order:
    """Compare `said` (character, field, position) with the sequence of `step`.

    Nothing is missing as long as no item was said at all: the note may be about other things. Of
    the items in `undone` it was said that they are not done, or not as they should be: what was
    done behind them in the sequence is out of order.
    """
    if not step.sequence:
        return Order()
    by_key: dict[str, int] = {}
    for index, (_, field, position) in enumerate(said := sorted(said, key=lambda each: each[0])):
        for name in names(field, position):
            by_key.setdefault(name, index)
    found = [
        (by_key[phrase_key(item)], number)
        for number, item in enumerate(step.sequence)
        if phrase_key(item) in by_key
    ]
    if not found:
        return Order()
    found.sort()
    run = in_place([number for _, number in found])
    spoken = {number for _, number in found}
    open_ = {name for field, position in undone for name in names(field, position)}
    first = next((n for n, item in enumerate(step.sequence) if phrase_key(item) in open_), _LAST)
    return Order(
        tuple(item for number, item in enumerate(step.sequence) if number not in spoken),
        tuple(
            step.sequence[number]
            for i, (_, number) in enumerate(found)
            if i not in run or number > first
        ),
        tuple((step.sequence[number], index) for index, number in found),
    )
