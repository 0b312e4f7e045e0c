"""Rows of values: as many numbers as places, said behind them without a pause.

"Bolts one to four ninety eight ninety nine one hundred ninety seven": where one way alone of
cutting the row gives each place a value that its field may hold, the row is cut so.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.numerals import Numerals
from voicelog.reading.places import Places

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.reading.position_words import PositionGroup

_OVER = frozenset({"/", "over"})
_LONGEST = 6
"""Atoms of one value at most."""
_PAUSES = frozenset({".", ",", ":"})
_FEW = 3
"""Values of a row of which the first may be that of all its places."""
_MOST = 16
"""Places of a list that is looked through."""
_RATIO = (Decimal(10), Decimal(200))
"""Where the reading of a ratio may lie."""


class ValueRows(Places):
    """Finds where one value of a row ends and the next begins."""

    def _cut_row(self, at: int, count: int, groups: Sequence[PositionGroup]) -> None:
        """Mark the cuts of the row of `count` values behind the places that end at `at`."""
        if ("point",) in self._cues.words:
            self._mark_decimals(at, count)
        first = self._past_links(at)
        first += self._text(first) in _PAUSES
        if not 2 <= count <= _MOST or not self._free(first):
            return
        if _are_all(count, groups):
            ways = list(self._ways(first, self._past_row(first), count, ()))
            if len(ways) == 1:  # "zones one to five, five forty, five twenty, ..."
                self._passage.cuts.update(ways[0][1:])
                return
        end = first
        while self._in_row(end, first):
            end += 1
        whole = self._passage.numerals(first).number(first)
        measured = any(group.ratio for group in groups) and self._past_unit(end) > end
        whole_is_meant = whole is not None and (measured or self._may_be(whole.value, groups))
        if whole is not None and whole.last >= end and whole_is_meant:
            if count > _FEW and self._text(end) == ",":
                ways = list(self._ways(first, self._past_row(end), count, groups))
                self._passage.cuts.update(ways[0][1:] if len(ways) == 1 else ())
            return  # "bearings one and two fifty eight" is one value for both
        ways = list(self._ways(first, end, count, groups))
        ways = ways or list(self._ways(first, end, count, groups, apart=True))
        if not ways and self._text(end) == ",":
            ways = list(self._ways(first, self._past_row(end), count, groups))
        if len(ways) == 1:
            self._passage.cuts.update(ways[0][1:])

    def _mark_decimals(self, at: int, count: int) -> None:
        """Mark each "point" of a row of as many values as places as one of a number: "points one
        to three, metres per second: point three eight, point three nine and point four"."""
        index = self._past_unit(self._past_links(at + (self._text(at) in _PAUSES)))
        index += self._text(index) in _PAUSES
        points: list[int] = []
        for left in reversed(range(count)):
            number = self._passage.numerals(index).number(index) if self._free(index) else None
            if number is None:
                return
            points += [each for each in range(index, number.last) if self._text(each) == "point"]
            index = self._past_unit(number.last)
            if left:
                index += self._text(index) == ","
                index += self._text(index) == "and"
        if self._text(index) in _PAUSES or not self._free(index):
            self._decimals.update(points)

    def _past_unit(self, at: int) -> int:
        unit = (
            unit_words.find(self._atoms, at, self._passage.barrier(at)) if self._free(at) else None
        )
        return at if unit is None else unit[1]

    def _in_row(self, at: int, first: int) -> bool:
        if not self._free(at):
            return False
        return self._passage.words[at] is not None or (first < at and self._text(at) == "and")

    def _past_row(self, at: int) -> int:
        """Index behind the row that goes on at `at` with pauses between some of its values."""
        while self._in_row(at, -1) or (self._text(at) == "," and self._in_row(at + 1, -1)):
            at += 1
        return at

    def _values_follow(self, at: int, count: int) -> bool:
        """Whether the value of `count` places is said from `at` on, or a row of theirs."""
        return self._value_follows(at) or self._row_behind(at, count)

    def _row_behind(self, at: int, count: int) -> bool:
        """Whether a row of `count` values stands behind a pause: "temperatures one to five then.
        Fifty eight, fifty nine, ...", "one to five, in millimetres, six point two, ..."."""
        at += self._text(at) == "then"
        unit = at + (self._text(at) in _PAUSES)
        unit += self._text(unit) == "all"
        unit += self._text(unit) == "in"
        end = self._past_unit(unit)
        at = end if end > unit else at
        if count < _FEW or self._text(at) not in _PAUSES:
            return False
        first, found = at + 1, 0
        while found <= count and self._free(first):
            number = self._passage.numerals(first).number(first)
            if number is None:
                break
            found, first = found + 1, self._past_reference(number.last)
            first += self._text(first) == ","
            first += self._text(first) == "and"
        return found == count

    def _past_reference(self, at: int) -> int:
        """Index behind the reference of a ratio: "73/80", "seventy three over eighty"."""
        over = self._text(at) in _OVER and self._free(at + 1)
        number = self._passage.numerals(at + 1).number(at + 1) if over else None
        return at if number is None else number.last

    def _past_values(self, at: int, count: int, groups: Sequence[PositionGroup]) -> int:
        """Index behind a row of as many values as places, each of which its field may hold: "five
        to eight: one ninety, one ninety two, ...", where no "one" is a place passed over before."""
        groups = () if _are_all(count, groups) else groups
        first = self._past_links(at)
        first += self._text(first) in _PAUSES
        end, found = at, 0
        while self._free(first):
            number = self._passage.numerals(first).number(first)
            if number is None or not self._may_be(number.value, groups):
                return at
            found, end = found + 1, number.last
            first = end + (self._text(end) == ",")
            first += self._text(first) == "and"
            if first == end:
                break
        return end if found == count > 2 else at

    def _ways(
        self,
        at: int,
        end: int,
        count: int,
        groups: Sequence[PositionGroup],
        *,
        apart: bool = False,
    ) -> Iterator[tuple[int, ...]]:
        """Every way to read `count` values from `at` to `end`: where each begins; at most two.

        With `apart`, "twenty three" may be cut, too: "three twenty, three eighteen"; without
        `groups` any value may be meant, but each stands behind a pause.
        """
        stack: list[tuple[int, tuple[int, ...]]] = [(at, ())]
        found = 0
        while stack and found < 2:
            here, begun = stack.pop()
            if len(begun) == count:
                if here == end:
                    found += 1
                    yield begun
                continue
            begin = here + (bool(begun) and self._text(here) == ",")
            begin += bool(begun) and self._text(begin) == "and"
            if begun and begin == here and not groups:
                continue
            for stop in range(begin + 1, min(end, begin + _LONGEST) + 1):
                if self._parts_a_number(stop, apart=apart):
                    continue
                number = Numerals(self._atoms, stop, self._passage.words).number(begin)
                ends = number is not None and number.last == stop
                if number is not None and ends and self._may_be(number.value, groups):
                    stack.append((stop, (*begun, begin)))

    def _parts_a_number(self, at: int, *, apart: bool) -> bool:
        """Whether a cut at `at` would part "fifty" from "eight", or "one" from "hundred"."""
        words = self._passage.words
        before, after = words[at - 1], words[at] if at < len(words) else None
        if before is None or after is None:
            return False
        pair = before.kind == "tens" and after.kind == "figure" and after.value > 0
        return (pair and not apart) or after.kind == "power"

    def _may_be(self, value: Decimal, groups: Sequence[PositionGroup]) -> bool:
        if any(group.ratio for group in groups):
            return _RATIO[0] <= value <= _RATIO[1]
        return not groups or any(group.plausible(value) for group in groups)


def _are_all(count: int, groups: Sequence[PositionGroup]) -> bool:
    """Whether `count` places are all that there are, so that no other one can be told behind."""
    return all(len(group.numbers) == count for group in groups)
