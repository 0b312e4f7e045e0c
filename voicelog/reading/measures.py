"""One number with its sign, its unit and the words that travel with it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.reading import heard_units, two_for_to, unit_words
from voicelog.reading.about import exactly, with_about
from voicelog.reading.numerals import Number
from voicelog.reading.percard import in_inches
from voicelog.reading.phrases import after_phrase, by_first
from voicelog.reading.pronouns import MEANT, Pronouns
from voicelog.reading.thousandths import Measure

if TYPE_CHECKING:
    from voicelog.objects import Value
    from voicelog.reading.passage import Passage
    from voicelog.reading.unit_words import SpokenUnit

_TOLERANCE = by_first((
    ("plus", "or", "minus"), ("plus", "minus"), ("plus", "and", "minus"), ("±",),
    ("+", "/", "-"), ("+", "-"), ("plus", "/", "minus"),
))  # fmt: skip
_ARTICLE_DIMENSIONS = frozenset({"volume"})
_OF_IT = frozenset({"in", "turns"})
"""Units behind a "one" that is a thing, of which they tell what it does, or where it is."""
_SIGNED = frozenset({"temperature", "length", "angle", "electrical", "percent", "vibration"})
"""Dimensions in which a shop measures below zero."""


_MODE_TAILS = (
    ("psig", "gauge"), ("psia", "absolute"), ("psid", "differential"), ("barg", "gauge"),
    ("bara", "absolute"),
)  # fmt: skip


class Measures(Pronouns):
    """Reads measures out of the atoms `start`..`stop` of a passage."""

    def __init__(self, passage: Passage, start: int, stop: int) -> None:
        super().__init__(passage, start, stop)
        self._passage = passage
        self._numbered_by = passage.cues.numbered
        self._before: Measure | None = None
        """The measure that was read last."""

    def read(self, at: int) -> Measure | None:
        """The measure that begins at atom `at`, with its sign."""
        measure = self._revoked(at) or self._read(at)
        if measure is not None:
            self._before = measure
        return measure

    def _revoked(self, at: int) -> Measure | None:
        """The measure behind the procedure word in "thirty pounds, negative, thirty five
        pounds"; None where "negative" is a sign."""
        before = self._before
        if self._text(at - 1) == "," and self._text(at - 2) == "negative":
            word = at - 2
        elif self._text(at - 1) == "negative":
            word = at - 1
        else:
            return None
        if before is None or word - before.last > 1:
            return None
        measure = self._read(at)
        if measure is None or not self._could_be_negative(measure):
            return measure
        number = replace(
            measure.number, alternatives=(*measure.number.alternatives, -measure.value)
        )
        return replace(measure, number=number, doubts=(*measure.doubts, "ambiguous_number"))

    @staticmethod
    def _could_be_negative(measure: Measure) -> bool:
        if measure.unit is None:
            return True
        return unit_words.dimension_of(measure.unit.units[0]) in _SIGNED

    def _revokes(self, at: int) -> bool:
        """Whether "negative" at `at` stands right behind a measure of the same kind."""
        before = self._before
        if (
            before is None
            or at - before.last > 1
            or self._text(before.last) not in (",", "negative")
        ):
            return False
        after = at + 2 if self._text(at + 1) == "," else at + 1
        number = self._number(after)
        unit = None if number is None else self._unit(number)
        return unit is None or before.unit is None or unit[0].units == before.unit.units

    def _read(self, at: int) -> Measure | None:
        at += self._is_one_of(at)
        first, qualifiers, negative = self._sign(at)
        number = self._number(first)
        if number is not None and number.last > first + 1 and self._may_be_one_of(first):
            rest = self._number(first + 1)
            if rest is not None and rest.last == number.last and rest.value != number.value:
                number = number.with_doubt("ambiguous_number", rest.value)
        if number is not None:
            number = two_for_to.doubted(number, self._text, self._number)
        rest = self._number(first + 1) if number and self._is_pointed_at(first) else None
        if number is not None and rest is not None and rest.last >= number.last:
            open_ = rest.last == number.last  # no number goes on so: "those two eleven sixty"
            at = first + 1
            number = rest.with_doubt("ambiguous_number", number.value) if open_ else rest
        if number is None:
            article = self._article(at) if first == at else None
            return article and with_about(self._atoms, article, self._start, self._stop)
        if negative:
            number = replace(
                number,
                value=-number.value,
                alternatives=tuple(
                    -other if isinstance(other, Decimal) else other for other in number.alternatives
                ),
            )
        measure = Measure(
            at, number.last, number, qualifiers=number.qualifiers | qualifiers, doubts=number.doubts
        )
        measure = self._below_zero(self._with_unit(measure))
        if "comma" in measure.qualifiers and measure.unit is None:
            measure = replace(measure, doubts=(*measure.doubts, "ambiguous_number"))
        if self._lacks_a_whole(measure):
            measure = replace(measure, doubts=(*measure.doubts, "ambiguous_number"))
        if self._is_no_number(measure):
            if not self._behind_letter(measure):
                return None
            measure = replace(measure, doubts=(*measure.doubts, "joined_digits"))
        measure = exactly(self._atoms, measure, self._before, self._stop)
        return with_about(self._atoms, self._numbered(measure), self._start, self._stop)

    def _lacks_a_whole(self, measure: Measure) -> bool:
        """ "Time to speed it in a half seconds": a half of many, with no number before it."""
        at = measure.number.first
        at -= self._text(at) in ("half", "quarter")
        if self._text(at) not in ("a", "the") or self._text(at + 1) not in ("half", "quarter"):
            return False
        unit = self._text(measure.last - 1) if measure.unit is not None else ""
        if self._text(at - 1) != "and" and unit.endswith("s"):
            return unit in unit_words.names_of_many()
        return self._text(at - 1) in ("and", "in", "an") and self._text(at - 2) != ","

    def _numbered(self, measure: Measure) -> Measure:
        """ "number one ninety eight" names something, and perhaps its value."""
        before = self._atoms[measure.first - 1].text if measure.first > 0 else ""
        if before not in ("number", "numbers", "#") or measure.unit is not None:
            return measure
        named = self._atoms[measure.first - 2].text if measure.first > 1 else ""
        if named in self._numbered_by:
            return measure
        return replace(measure, doubts=(*measure.doubts, "ambiguous_number"))

    # --- sign -----------------------------------------------------------------

    def _sign(self, at: int) -> tuple[int, frozenset[str], bool]:
        """(where the number begins, qualifiers, negative)."""
        tolerance = after_phrase(self._atoms, at, self._stop, _TOLERANCE)
        if tolerance is not None:
            return tolerance, frozenset({"tolerance"}), False
        text = self._text(at)
        if text == "negative" and self._revokes(at):
            return at, frozenset(), False  # "thirty, negative, thirty five": the word revokes
        if text == "minus" and self._text(at + 1) == ",":
            return at + 2, frozenset(), True
        if text in ("minus", "negative"):
            return at + 1, frozenset(), True
        if text == "plus":
            return at + 1, frozenset({"plus"}), False
        if text in ("-", "−", "–", "+") and at + 1 < self._stop:
            before = self._atoms[at - 1] if at > 0 else None
            tight = before is not None and self._atoms[at].glued and before.shape != "sign"
            if not tight and self._atoms[at + 1].glued:
                if text == "+":
                    return at + 1, frozenset({"plus"}), False
                return at + 1, frozenset(), True
        return at, frozenset(), False

    # --- number ---------------------------------------------------------------

    def _number(self, at: int) -> Number | None:
        if at >= self._stop:
            return None
        heard = self._suffixed(at) or self._by_ear(at)
        if heard is not None:
            return heard
        number = self.numerals.number(at)
        if number is not None and (
            "fraction" in number.qualifiers or "rounded_fraction" in number.doubts
        ):
            whole = self.numerals.whole_number(at)
            if whole is not None and self._is_thou(whole.last):
                number = whole
        if number is not None and self._text(number.last - 1) in ("thousand", "thousands"):
            number = self._thousands_of_an_inch(at, number)
        ordinal = self.numerals.ordinal(at)
        if ordinal is not None and self._listed_so(ordinal):
            return Number(at, ordinal.last, ordinal.value, doubts=("ambiguous_number",))
        if ordinal is not None and (number is None or ordinal.last > number.last):
            if number is not None and self._text(ordinal.last - 1) == "second":
                return number.with_doubt("ambiguous_number", ordinal.value)
            return ordinal
        return number

    def _suffixed(self, at: int) -> Number | None:
        """ "11th out" is what recognisers write for "eleven thou"."""
        if self._atoms[at].shape != "digits" or at + 2 >= self._stop:
            return None
        if self._text(at + 1) not in ("th", "st", "nd", "rd") or not self._atoms[at + 1].glued:
            return None
        unit = unit_words.find(self._atoms, at + 1, self._stop)
        if unit is None:
            return None
        return Number(at, at + 1, Decimal(self._atoms[at].text))

    def _listed_so(self, ordinal: Number) -> bool:
        """Whether a written ordinal goes on with a list that began with such a one: "8th thou on
        the red, 9th on the blue"."""
        first = ordinal.first
        if self._atoms[first].shape != "digits" or self._text(ordinal.last) not in ("at", "on"):
            return False
        return any(
            self._atoms[at].text == "th"
            and self._atoms[at].glued
            and unit_words.find(self._atoms, at, first) is not None
            for at in range(1, first)
        )

    def _by_ear(self, at: int) -> Number | None:
        """ "for drops per minute": a number must stand before a unit that is no time."""
        figure = self.numerals.by_ear(at)
        if figure is None or self._text(at) in ("to", "er") or self.numerals.starts_number(at - 1):
            return None
        unit = unit_words.find(self._atoms, at + 1, self._stop)
        if unit is None or unit[0].symbol or unit[1] == at + 2:
            return None
        value = Decimal(figure)
        return Number(at, at + 1, value, doubts=("ambiguous_number",))

    def _below_zero(self, measure: Measure) -> Measure:
        """ "two below zero celsius" is -2 degrees."""
        if self._text(measure.last) not in ("below", "under") or measure.number.value < 0:
            return measure
        if self._text(measure.last + 1) not in ("zero", "freezing"):
            return measure
        number = replace(
            measure.number, value=-measure.number.value, last=measure.last + 2, alternatives=()
        )
        below = replace(measure, number=number, last=number.last)
        return below if measure.unit is not None else self._with_unit(below)

    # --- unit -----------------------------------------------------------------

    def _unit(self, number: Number) -> tuple[SpokenUnit, int] | None:
        at = number.last
        if self._text(at) == "-" and self._atoms[at].glued:
            at += 1
        found = unit_words.find(self._atoms, at, self._stop)
        if found is not None and self._is_before_place(found[1]):
            return unit_words.find(self._atoms, at, found[1] - 1)
        heard = heard_units.listed(self._passage, at, self._stop)
        if heard is not None and (found is None or found[1] < heard[1]):
            return heard
        if found is not None:
            return found
        if "fraction" in number.qualifiers or "rounded_fraction" in number.doubts:
            if self._text(at) in ("a", "an"):
                return unit_words.find(self._atoms, at + 1, self._stop)
            return self._of_a(at)
        if 0 < abs(number.value) < 1 and self._text(at + 1) in ("a", "an"):
            return self._of_a(at)  # "point three of a millimetre"
        if self._text(at) == ",":  # "thirteen fifteen, newton metres"
            parted = unit_words.find(self._atoms, at + 1, self._stop)
            return parted if parted is not None and parted[1] > at + 2 else None
        return heard_units.find(self._passage, at, self._stop)

    def _is_before_place(self, last: int) -> bool:
        """ "42 in heating, 18 in cooling": before a place "in" is no inch, but on a card that
        measures in inches."""
        if last >= len(self._atoms) or self._claims[last] != "positions":
            return False
        word = self._atoms[last - 1]
        return word.text == "in" and not word.glued and not in_inches(self._passage.cues.card)

    def _with_unit(self, measure: Measure) -> Measure:
        number = measure.number
        if "ordinal" in number.qualifiers:
            return measure
        found = self._unit(number)
        if found is None:
            return self._tenths(measure)
        unit, last = found
        qualifiers = set(measure.qualifiers)
        doubts = list(measure.doubts)
        if unit.doubt is not None:
            doubts.append(unit.doubt)
        qualifiers |= self._written_mode(last)
        mode = unit_words.mode(self._atoms, last, self._stop)
        if mode is not None and self._mode_fits(unit, mode[0]):
            qualifiers.add(mode[0])
            last = mode[1]
        if unit.units[0].startswith("delta_"):
            qualifiers.add("difference")
        number = self._and_a_half(number, last)
        last = max(last, number.last)
        measure = replace(
            measure,
            last=last,
            number=number,
            unit=unit,
            qualifiers=frozenset(qualifiers),
            doubts=tuple(doubts),
        )
        return self._tenths(self._hundred_thousandths(measure, found[1]))

    def _written_mode(self, last: int) -> set[str]:
        """The mode that is part of the unit's own word: "psig"."""
        text = "".join(atom.text for atom in self._atoms[max(self._start, last - 4) : last])
        return {mode for tail, mode in _MODE_TAILS if text.endswith(tail)}

    @staticmethod
    def _mode_fits(unit: SpokenUnit, mode: str) -> bool:
        dimension = unit_words.dimension_of(unit.units[0])
        if mode in ("gauge", "absolute", "differential"):
            return dimension == "pressure"
        return dimension in ("vibration", "electrical", "length")

    def _and_a_half(self, number: Number, at: int) -> Number:
        """ "a quart and a half", "two inches and a quarter"."""
        if self._text(at) != "and" or "fraction" in number.qualifiers:
            return number
        if number.value != number.value.to_integral_value():
            return number
        part = self.numerals.fraction(at + 1)
        if part is None or not 0 < part[0] < 1 or part[0].denominator not in (2, 4, 8, 16, 32, 64):
            return number
        if unit_words.find(self._atoms, part[1], self._stop) is not None:
            return number
        extra = Decimal(part[0].numerator) / Decimal(part[0].denominator)
        return replace(number, value=number.value + extra, last=part[1], alternatives=())

    def _article(self, at: int) -> Measure | None:
        """ "a quart": one quart."""
        if self._text(at) not in ("a", "an"):
            return None
        found = unit_words.find(self._atoms, at + 1, self._stop)
        if found is None or found[0].symbol:
            return None
        number = Number(at, at + 1, Decimal(1), qualifiers=frozenset({"article"}))
        measure = self._with_unit(Measure(at, at + 1, number, qualifiers=number.qualifiers))
        if unit_words.dimension_of(found[0].units[0]) in _ARTICLE_DIMENSIONS:
            return measure
        # "a minute and a half", "a minute and ten seconds" are measures, "a minute" is talk
        return measure if measure.number.value != 1 or self._with_rest(measure) else None

    def _with_rest(self, measure: Measure) -> bool:
        """Whether the smaller unit of a compound follows: "an hour and ten minutes"."""
        if measure.unit is None or self._text(measure.last) != "and":
            return False
        rest = self._number(measure.last + 1)
        below = None if rest is None else self._unit(rest)
        return below is not None and any(
            each.large in measure.unit.units and each.small in below[0].units
            for each in unit_words.unit_words().compound
        )

    # --- what is no number --------------------------

    def _is_no_number(self, measure: Measure) -> bool:
        number = measure.number
        first = number.first
        before = self._atoms[first - 1] if first > 0 else None
        if (
            self._atoms[first].shape == "digits"
            and self._atoms[first].glued
            and before is not None
            and before.shape == "word"
            and self._claims[first - 1] != "positions"
            and before.text not in ("x", "to", "at", "is", "was", "h")
        ):
            return True  # "N1", "HT66"
        text = self._text(first)
        if measure.unit is not None:
            # "new one in": fitted, and no inch
            new = text == "one" and self._text(first - 1) in MEANT
            return new and measure.last == number.last + 1 and self._text(number.last) in _OF_IT
        alone = number.last == first + 1
        if alone and (text in ("half", "quarter") or self._is_pointed_at(first)):
            return text != "one" or self._is_pronoun(first)
        if alone and text == "one" and before is not None:
            return self._is_pronoun(first)
        if alone and text in ("first", "second", "third"):
            return False
        return False

    def _behind_letter(self, measure: Measure) -> bool:
        """ "Fixed J12.1 mm" for "fixed jaw twelve point one": a decimal glued to one letter."""
        first = measure.number.first
        fraction = measure.value != measure.value.to_integral_value()
        return fraction and first == measure.first and len(self._text(first - 1)) == 1


def alternatives_of(measure: Measure) -> tuple[Value, ...]:
    """The other values of a measure, without repeats."""
    seen: list[Value] = []
    for other in measure.number.alternatives:
        if other != measure.value and other not in seen:
            seen.append(other)
    return tuple(seen)
