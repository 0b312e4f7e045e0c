"""Corrected: a place of a running list that is told once more behind a word of repair."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.named_rows import NamedRows

if TYPE_CHECKING:
    from decimal import Decimal

REPAIRS = frozenset({"correction", "mean", "meant", "sorry", "wait", "make"})
_GOES_ON = frozenset({"hundred", "thousand", "point", "decimal"})
"""Behind a figure these make it a part of the number: "one point three"."""
_AROUND = REPAIRS | {"i", "it", "no", "that", ","}


class Corrected(NamedRows):
    """Reads a list that goes back to one of its places."""

    def _is_repair(self, at: int) -> bool:
        """Whether a word of repair stands right before `at`."""
        return self._text(at - 1 - (self._text(at - 1) == ",")) in REPAIRS

    def _corrects(self, at: int) -> tuple[int, int] | None:
        """The earlier place that a bare figure names behind a word of repair, and the index behind
        it: "one fifty five, two fifty eight, three sixty one, correction two fifty nine" is no 259
        at three, for 59 lies nearer to the value that was said last."""
        first = at
        while first and self._text(first - 1) in _AROUND:
            first -= 1
        context = self._context
        if REPAIRS.isdisjoint(self._texts[first:at]) or not context.running(at):
            return None
        last_value = self._number_before(first)
        for place, end in self._prefixes(at):
            if last_value is None or place not in context.used:
                continue
            link = self._past_links(end)
            if not self._free(link) or self._text(link) in _GOES_ON:
                continue
            whole, rest = (self._passage.numerals(each).number(each) for each in (at, link))
            if rest is None:
                continue
            apart = whole is None or whole.last != rest.last
            if whole is None or apart or _nearer(rest.value, whole.value, last_value):
                return place, end
        return None

    def _number_before(self, at: int) -> Decimal | None:
        """The number that ends, perhaps with its unit, right before `at`."""
        start = self._value_before(at)
        number = None if start is None else self._passage.numerals(start).number(start)
        return None if number is None else number.value

    def _go_back(self, place: int) -> None:
        """Let the list go on behind `place` as well as where it stood."""
        context = self._context
        order = context.groups[0].order
        behind = order[order.index(place) + 1 :] if place in order else ()
        context.again = frozenset(behind[:1])


def _nearer(one: Decimal, other: Decimal, to: Decimal) -> bool:
    return abs(one - to) < abs(other - to)
