"""The grammar of spoken numbers: atoms in, one number with its other readings out.

It accepts what speech and recognisers make of a number: cardinals ("two hundred and
five"), figures singly ("one niner five", "2-5-0"), pairs as years are said ("twenty five
eighty" = 2580), "one oh five", "two thousand nine fifty", decimals, fractions and mixed
numbers, numerals with thousands separators. Values are `Decimal` with exactly the digits
that were said ("point five oh" is 0.50). Sources of the forms: ICAO Annex 10 vol. II
5.2.1.4, CAP 413, FAA AIM 4-2-8, FAA JO 7110.65 2-4-17; the rest is common practice.

The grammar knows no units and no card. It reads from a given atom as far as one number
goes, and it never looks at the same atom more than a fixed number of times.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from voicelog.reading.atoms import VULGAR_FRACTIONS
from voicelog.reading.cardinals import SHOP_DENOMINATORS, Cardinals, Whole
from voicelog.reading.lexing import LONGEST, NumberWord
from voicelog.reading.number import Number, of_fraction, of_ordinal, of_whole, scaled, twin_of
from voicelog.reading.spoken import by_ear

if TYPE_CHECKING:
    from collections.abc import Sequence
    from collections.abc import Set as AbstractSet

    from voicelog.objects import Value
    from voicelog.reading.atoms import Atom


_SOME = frozenset({"few", "several", "many", "some", "of"})
_NOUGHT = "not"
"""What a recogniser writes for "nought" before a decimal sign."""
OPENERS = frozenset({"a", "an", "half", "quarter", "dozen", ".", _NOUGHT})
"""What may begin a number, besides numerals and number words."""


class Numerals(Cardinals):
    """Reads numbers of every form; see `Cardinals` for the arguments."""

    def __init__(
        self,
        atoms: Sequence[Atom],
        stop: int | None = None,
        words: Sequence[NumberWord | None] | None = None,
    ) -> None:
        super().__init__(atoms, stop, words)
        self._numbers: dict[int, Number | None] = {}

    named: AbstractSet[int] = frozenset()
    """Atoms at which a name of the card begins that sounds like a fraction: "quarter bell"."""

    # --- decimals and fractions -----------------------------------------------

    def _decimals(self, at: int) -> tuple[str, int, bool] | None:
        """Figures behind a decimal sign: (digits, index behind, ends in a teen or tens)."""
        found: list[tuple[str, int, bool]] = []
        index = at
        while len(found) < LONGEST:
            after = self._after(index) if found else index
            zero = self._zero(after)
            word = self._word(after)
            part: tuple[str, int, bool] | None
            if zero is not None:
                part = ("0", zero, False)
            elif word is not None and word.kind == "numeral":
                part = (word.digits, word.last, False)
            else:
                single = self.figures(after)
                part = (*single, False) if single is not None else None
                significant = "".join(digits for digits, *_ in found).lstrip("0")
                if part is None and len(significant) < 2:
                    part = self.pair(after)  # "point one twenty five"
            if part is None:
                break
            found.append(part)
            index = part[1]
            if len(part[0]) > 1 and word is not None and word.kind in ("teen", "tens"):
                break
        if len(found) > 1 and self._point(found[-1][1]) is not None:
            found.pop()  # "two point six, two point five"
        if not found:
            return None
        return "".join(digits for digits, *_ in found), found[-1][1], found[-1][2]

    def _point(self, at: int) -> int | None:
        """Index behind a decimal sign, word or full stop, at `at`."""
        if at >= self._stop:
            return None
        atom = self._atoms[at]
        if atom.text == ".":
            follows = at + 1 < self._stop and self._atoms[at + 1].glued
            return at + 1 if follows and self._atoms[at + 1].shape == "digits" else None
        word = self._word(at)
        if word is None or word.kind != "point":
            return None
        after = self._after(word.last)
        figures = self._word(after)
        if figures is None or figures.kind in (
            "point",
            "power",
            "ordinal",
            "ordinals",
            "minus",
            "plus",
        ):
            return None
        return after

    def fraction(self, at: int) -> tuple[Fraction, int] | None:
        """A fraction below or above one: "five sixteenths", "a quarter", "3/8", "½"."""
        if at >= self._stop or at in self.named:
            return None
        atom = self._atoms[at]
        if atom.shape == "fraction":
            return Fraction(*VULGAR_FRACTIONS[atom.text]), at + 1
        written = self._written_fraction(at)
        if written is not None:
            return written
        if atom.text in ("half", "quarter"):
            return Fraction(1, 2 if atom.text == "half" else 4), at + 1
        if atom.text in ("a", "an"):
            numerator, after = 1, at + 1
        else:
            small = self._small(at)
            if small is None:
                return None
            numerator, after = small
            after = self._after(after)
        found = self._denominator(after, numerator, article=atom.text in ("a", "an", "one"))
        if found is None or found[0] == 0:
            return None
        return Fraction(numerator, found[0]), found[1]

    def _small(self, at: int) -> tuple[int, int] | None:
        """A numerator: one cardinal below a hundred."""
        pair = self.pair(at)
        if pair is not None:
            return int(pair[0]), pair[1]
        word = self._word(at)
        if word is not None and word.kind == "numeral" and len(word.digits) <= 2:
            return int(word.digits), word.last
        one = self._figure(at)
        return None if one is None else (int(one[0]), one[1])

    def _denominator(self, at: int, numerator: int, *, article: bool) -> tuple[int, int] | None:
        text = self._text(at)
        if text in ("half", "halves"):
            ok = article or text == "halves"
            return (2, at + 1) if ok else None
        if text in ("quarter", "quarters"):
            return 4, at + 1
        word = self._word(at)
        if word is None:
            return None
        if word.kind in ("ordinal", "ordinals") and word.value >= 3:
            single = word.kind == "ordinal"
            if single and numerator >= 20 and word.value < 10:
                return None  # "twenty third"
            if single and not article and word.value not in SHOP_DENOMINATORS:
                return None
            return word.value, word.last
        if word.kind == "tens":
            unit = self._word(self._after(word.last))
            if unit is not None and unit.kind in ("ordinal", "ordinals") and 0 < unit.value < 10:
                return word.value + unit.value, unit.last
        return None

    # --- one number -----------------------------------------------------------

    def whole_number(self, at: int) -> Number | None:
        """The whole number at `at`, without decimals or fraction."""
        whole = self.whole(at)
        return None if whole is None else of_whole(at, whole)

    def is_reference(self, at: int) -> int | None:
        """Index behind a dotted reference ("32.41.00") that begins at `at`; None if none does."""
        groups, index = 0, at
        while index < self._stop and self._atoms[index].shape == "digits":
            groups += 1
            index += 1
            follows = (
                index + 1 < self._stop
                and self._text(index) == "."
                and self._atoms[index].glued
                and self._atoms[index + 1].glued
                and self._atoms[index + 1].shape == "digits"
            )
            if not follows:
                break
            index += 1
        return index if groups >= 3 else None

    def number(self, at: int) -> Number | None:
        """The number that begins at atom `at`; None when none does. The sign is not read."""
        if at not in self._numbers:
            self._numbers[at] = self._number(at) if self._may_begin(at) else None
        return self._numbers[at]

    def _may_begin(self, at: int) -> bool:
        """A quick look whether any number can begin at `at`."""
        if at >= self._stop:
            return False
        atom = self._atoms[at]
        return self._words[at] is not None or atom.text in OPENERS or atom.shape == "fraction"

    def _number(self, at: int) -> Number | None:
        if self._text(at) == _NOUGHT:
            pointed = self._point(at + 1) is not None
            number = self._number(at + 1) if pointed else None
            return number and replace(number, first=at).with_doubt("ambiguous_number")
        whole = self.whole(at)
        if whole is not None and self._is_some(at):
            whole = whole._replace(doubts=(*whole.doubts, "ambiguous_number"))
        if whole is not None:
            fraction = self.fraction(at)
            if fraction is not None and fraction[1] > whole.last:
                return of_fraction(at, fraction[1], fraction[0])
            point = self._point(whole.last)
            if point is not None:
                return self._decimal(at, whole, point)
            return self._by_comma(at, whole) or self._mixed(at, whole)
        point = self._point(at)
        if point is not None and not (at and self._text(at) == "." and self._atoms[at].glued):
            return self._decimal(at, None, point)
        fraction = self.fraction(at)
        if fraction is not None:
            return self._dozens(at, *fraction) or of_fraction(at, fraction[1], fraction[0])
        if self._text(at) in ("a", "an"):
            return self._with_article(at)
        if self._text(at) == "dozen":
            return Number(at, at + 1, Decimal(12))
        return None

    def _is_some(self, at: int) -> bool:
        """ "A few hundred", "a couple of thousand" and "half a hundred" are not one."""
        word = self._word(at)
        if not at or word is None or word.kind != "power":
            return False
        before = self._text(at - 1)
        return before in _SOME or (before == "a" and at > 1 and self._text(at - 2) == "half")

    def _with_article(self, at: int) -> Number | None:
        after = at + 1
        if self._text(after) == "dozen":
            return Number(at, after + 1, Decimal(12))
        word = self._word(after)
        if word is not None and word.kind == "power" and not self._text(after).endswith("s"):
            number = self._number(after)
            if number is not None:
                return replace(number, first=at)
        return None

    def _dozens(self, at: int, part: Fraction, last: int) -> Number | None:
        after = last + 1 if self._text(last) in ("a", "of") else last
        if self._text(after) != "dozen":
            return None
        value = part * 12
        return of_fraction(at, after + 1, value)

    def _decimal(self, at: int, whole: Whole | None, point: int) -> Number | None:
        found = self._decimals(point)
        if found is None:
            return None if whole is None else of_whole(at, whole)
        digits, last, twin = found
        dot = self._text(point - 1) == "."
        if dot:
            last = point + 1
            digits, twin = self._text(point), False
            if last < self._stop and self._text(last) in ("er",) and digits.endswith("9"):
                last += 1
            if (
                self._point(last) is not None
                and self._text(last) == "."
                and self._atoms[last].glued
            ):
                return None  # "32.41.00" is a reference, no number
        before = whole.digits if whole is not None else "0"
        joined = self._hyphened(last) if dot and whole is not None else None
        if joined is not None:  # "2.5-0" for "two five zero"
            said = Decimal(before + digits + joined[0])
            read = Decimal(f"{before}.{digits}{joined[0]}")
            return Number(at, joined[1], said, (read,), doubts=("joined_digits",))
        value = Decimal(f"{before}.{digits}")
        other = twin_of(digits) if twin else None
        alternatives: list[Value] = [] if other is None else [Decimal(f"{before}.{other}")]
        doubts = whole.doubts if whole is not None else ()
        if dot and whole is not None and not self._atoms[point - 1].glued:
            doubts = (*doubts, "joined_digits")
        power = self._power(last)
        if power is not None and (not dot or power[0] >= 3):
            last = power[1]
            value = scaled(value, power[0])
            alternatives = []
        return Number(
            at,
            last,
            value,
            tuple(alternatives),
            frozenset({"teen"}) if alternatives else frozenset(),
            doubts,
        )

    def _by_comma(self, at: int, whole: Whole) -> Number | None:
        """ "Three comma eight": a decimal sign to many, and a sign of a list to others."""
        comma = whole.last
        if self._text(comma) != "comma" or (at and self._text(at - 1) == "comma"):
            return None
        figures = self.figures(self._after(comma + 1))
        number = None if figures is None else self._decimal(at, whole, self._after(comma + 1))
        if number is None or self._text(number.last) in ("comma", "and"):
            return None
        return replace(number, qualifiers=number.qualifiers | {"comma"})

    def _hyphened(self, at: int) -> tuple[str, int] | None:
        """A single figure behind a glued hyphen at `at`."""
        if at + 1 >= self._stop or self._text(at) != "-" or not self._atoms[at].glued:
            return None
        after = self._atoms[at + 1]
        if not after.glued or after.shape != "digits" or len(after.text) != 1:
            return None
        return after.text, at + 2

    def _mixed(self, at: int, whole: Whole) -> Number:
        if self._text(whole.last) == "dozen":
            return Number(at, whole.last + 1, Decimal(whole.digits) * 12)
        after = self._after(whole.last)
        joined = self._text(after) == "and"
        if joined:
            after = self._after(after + 1)
        fraction = self.fraction(after) if joined or self._is_written(after) else None
        if fraction is not None and 0 < fraction[0] < 1:
            number = of_fraction(at, fraction[1], int(whole.digits) + fraction[0])
            twin = twin_of(whole.digits) if whole.twin else None
            if twin is None:
                return number
            other = of_fraction(at, fraction[1], int(twin) + fraction[0])
            return replace(number, alternatives=(other.value,))
        return of_whole(at, whole)

    def _is_written(self, at: int) -> bool:
        if at >= self._stop:
            return False
        return self._atoms[at].shape == "fraction" or self._written_fraction(at) is not None

    def ordinal(self, at: int) -> Number | None:
        """An ordinal at `at`: "third", "twenty first", "one hundred and eleventh", "21st"."""
        word = self._word(at)
        if word is None:
            return None
        if word.kind == "ordinal":
            if at and self._text(at - 1) == "per":
                return None  # "metres per second"
            return of_ordinal(at, word.last, word.value)
        total = 0
        index = at
        whole = self.whole(at)
        if whole is None:
            return None
        total, index = int(whole.digits), self._after(whole.last)
        if self._text(index) == "and":
            index = self._after(index + 1)
        last = self._word(index)
        if last is None:
            return None
        if last.kind == "tens":
            unit = self._word(self._after(last.last))
            if unit is None or unit.kind != "ordinal":
                return None
            last = NumberWord("ordinal", last.value + unit.value, unit.last)
        if last.kind != "ordinal":
            return None
        if last.value >= 100:  # "one hundredth", "two thousandth"
            lower = total % last.value
            return of_ordinal(at, last.last, total - lower + (lower or 1) * last.value)
        room = 10 if last.value < 10 and total % 100 not in (0,) else 100
        if total % room:
            return None
        return of_ordinal(at, last.last, total + last.value)

    def is_weak_zero(self, at: int) -> bool:
        """Whether "oh" stands at `at`."""
        return self._zero(self._after(at)) is not None

    def starts_number(self, at: int) -> bool:
        """Whether a figure or a number word stands at `at`."""
        return self._numeric(self._after(at))

    def by_ear(self, at: int) -> int | None:
        """The figure that an ordinary word at `at` sounds like ("to", "for")."""
        return by_ear().get(self._text(at))


__all__ = ["Number", "Numerals", "twin_of"]
