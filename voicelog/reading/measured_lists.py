"""Measured lists: bare places that head a measure each, wherever among the card's they begin."""

from __future__ import annotations

from voicelog.reading.begun_lists import BegunLists

_PAUSES = frozenset({",", ".", ";", ":"})
_FEWEST = 3
"""Places that head a measure each; ratios can be nothing else, and there two are enough."""


class MeasuredLists(BegunLists):
    """Begins a list of measures."""

    def _begin_measures(self, at: int) -> bool:
        """Begin a list where several places head a measure each, in rising order: "Two, 70 over 80.
        Four, 72 over 80", "odd side first, one, 1.2 mm, three, 1.4 mm, five, 1.1 mm"."""
        groups = self._numeric_here(at)
        if not groups or (at and self._text(at - 1) not in _PAUSES):
            return False
        numbers = set(groups[0].numbers)
        if self._head_of_measure(at, numbers) is None:
            return False
        heads: list[int] = []
        last = ratios = 0
        for index in range(at, len(self._atoms)):
            if index > at and self._text(index - 1) not in _PAUSES:
                continue
            found = self._head_of_measure(index, numbers)
            if found is not None and (found[0] > last or not heads):
                heads.append(index)
                last = found[0]
                ratios += found[1]
        if len(heads) < _FEWEST - (ratios > 0):
            return False
        rated = tuple(group for group in groups if group.ratio)
        self._take_turns(at, (rated if ratios == len(heads) else ()) or groups, heads)
        return True

    def _head_of_measure(self, at: int, numbers: set[int]) -> tuple[int, bool] | None:
        """The place by its bare number at `at` that heads a measure behind a pause, and whether
        that is a ratio."""
        figure = next(self._prefixes(at), None)
        if figure is None or figure[0] not in numbers or self._text(figure[1]) not in (",", ":"):
            return None
        number = self._passage.numerals(figure[1] + 1).number(figure[1] + 1)
        if number is None or not self._is_value(number.last):
            return None
        return figure[0], self._reference(number.last) is not None
