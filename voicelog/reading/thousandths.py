"""Thousandths of an inch: how a machinist says them, and how a recogniser writes them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.numerals import Number, Numerals

if TYPE_CHECKING:
    from decimal import Decimal

    from voicelog.reading.passage import Passage
    from voicelog.reading.unit_words import SpokenUnit


@dataclass(frozen=True, slots=True)
class Measure:
    """A number as it stands in the text, over the atoms `first`..`last` (exclusive)."""

    first: int
    last: int
    number: Number
    unit: SpokenUnit | None = None
    qualifiers: frozenset[str] = frozenset()
    doubts: tuple[str, ...] = ()

    @property
    def value(self) -> Decimal:
        return self.number.value


class Thousandths:
    """Tells a thousandth of an inch from other fractions in the atoms `start`..`stop`."""

    def __init__(self, passage: Passage, start: int, stop: int) -> None:
        self._atoms = passage.atoms
        self._words = passage.words
        self._start = start
        self._stop = stop

    def _text(self, at: int) -> str:
        return self._atoms[at].text if self._start <= at < self._stop else ""

    def _thousands_of_an_inch(self, at: int, number: Number) -> Number:
        """ "five thousands of an inch" is what recognisers write for thousandths."""
        unit = unit_words.find(self._atoms, number.last - 1, self._stop)
        if unit is None:
            return number
        shorter = Numerals(self._atoms, number.last - 1, self._words).number(at)
        return number if shorter is None or shorter.last != number.last - 1 else shorter

    def _is_thou(self, at: int) -> bool:
        """Whether "thousandths" at `at` is the unit of an inch, not a fraction of another."""
        unit = unit_words.find(self._atoms, at, self._stop)
        if unit is None or unit[0].units[0] not in ("thou", "tenth_thou"):
            return False
        other = self._of_a(unit[1])
        return other is None or other[0].units[0] == "in"

    def _of_a(self, at: int) -> tuple[SpokenUnit, int] | None:
        """A unit behind "of a": "three quarters of an inch"."""
        if self._text(at) != "of":
            return None
        after = at + 2 if self._text(at + 1) in ("a", "an", "one", "the") else at + 1
        return unit_words.find(self._atoms, after, self._stop)

    def _hundred_thousandths(self, measure: Measure, last: int) -> Measure:
        """ "hundred thousandths" is 0.100 in to a machinist, 0.00001 in to others."""
        number = measure.number
        if measure.unit is None or measure.unit.units[0] != "thou":
            return measure
        says = {atom.text for atom in self._atoms[number.last : last]}
        if not says & {"thousandth", "thousandths"}:
            return measure
        if self._text(number.last - 1) not in ("hundred", "ten"):
            return measure
        scale = 10_000 if self._text(number.last - 1) == "hundred" else 100
        if scale == 100 and number.value == 10:
            return measure  # "ten thousandths": 0.010 in
        other = number.value / scale
        return replace(
            measure,
            number=replace(number, alternatives=(*number.alternatives, other)),
            doubts=(*measure.doubts, "hundred_thousandths"),
        )

    def _tenths(self, measure: Measure) -> Measure:
        """A tenth without more is 0.0001 in to machinists."""
        number = measure.number
        if self._text(number.last - 1) not in ("tenth", "tenths"):
            return measure
        if "fraction" not in number.qualifiers:
            return measure
        if measure.unit is not None and measure.unit.units[0] != "in":
            return measure
        return replace(
            measure,
            number=replace(number, alternatives=(*number.alternatives, number.value / 1000)),
            doubts=(*measure.doubts, "machinist_tenth"),
        )
