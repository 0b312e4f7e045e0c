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

from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from voicelog.objects import Interval
from voicelog.reading.atoms import VULGAR_FRACTIONS
from voicelog.reading.spoken import by_ear, heads, lexemes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.objects import Value
    from voicelog.reading.atoms import Atom

LONGEST = 48
"""Figures in one number at most; a longer row of digits is no measurement."""

_SUFFIXES = {"st": False, "nd": False, "rd": False, "th": False, "ths": True, "rds": True}
_SHOP_DENOMINATORS = {2, 3, 4, 5, 8, 10, 16, 32, 64, 100, 1000}


@dataclass(frozen=True, slots=True)
class Number:
    """One number over the atoms `first`..`last` (exclusive)."""

    first: int
    last: int
    value: Decimal
    alternatives: tuple[Value, ...] = ()
    qualifiers: frozenset[str] = frozenset()
    doubts: tuple[str, ...] = ()
    digits: str = ""
    """The figures as said, leading zeros included; "" when it isn't a plain whole number."""

    def with_doubt(self, code: str, *alternatives: Value) -> Number:
        """The same number with one more doubt and further readings."""
        codes = self.doubts if code in self.doubts else (*self.doubts, code)
        return replace(self, doubts=codes, alternatives=(*self.alternatives, *alternatives))


@dataclass(frozen=True, slots=True)
class _Word:
    kind: str
    value: int
    last: int
    """Index behind the word."""
    digits: str = ""


@dataclass(frozen=True, slots=True)
class _Whole:
    digits: str
    last: int
    form: str = ""
    """"singly", "pair", "clock", "oh", "cardinal", "numeral"."""
    doubts: tuple[str, ...] = ()
    alternatives: tuple[Value, ...] = ()
    twin: bool = False
    """The last two figures are a word that the ear confuses: teens and tens."""


def twin_of(digits: str) -> str | None:
    """`digits` with the last pair as its sound-alike: 15 and 50, 213 and 230; else None."""
    tail = digits[-2:]
    if len(tail) < 2 or tail[0] == "0":
        return None
    if tail[0] == "1" and tail[1] in "3456789":
        return digits[:-2] + tail[1] + "0"
    if tail[1] == "0" and tail[0] in "3456789":
        return digits[:-2] + "1" + tail[0]
    return None


class Numerals:
    """Reads numbers out of `atoms` before index `stop`."""

    def __init__(self, atoms: Sequence[Atom], stop: int | None = None) -> None:
        self._atoms = atoms
        self._stop = len(atoms) if stop is None else stop
        self._lexemes = lexemes()
        self._heads = heads()

    # --- words ----------------------------------------------------------------

    def _word(self, at: int) -> _Word | None:
        """The number word or numeral at `at`."""
        if at >= self._stop:
            return None
        atom = self._atoms[at]
        if atom.shape == "digits":
            return self._numeral(at)
        if atom.shape != "word":
            return None
        longest = self._heads.get(atom.text)
        if longest is None:
            return None
        for length in range(longest, 0, -1):
            found = self._lookup(at, length)
            if found is not None:
                return found
        return None

    def _lookup(self, at: int, length: int) -> _Word | None:
        key = []
        index = at
        while len(key) < length:
            if index >= self._stop:
                return None
            atom = self._atoms[index]
            if atom.text == "-" and key:
                index += 1
                continue
            key.append(atom.text)
            index += 1
        lexeme = self._lexemes.get(tuple(key))
        return None if lexeme is None else _Word(lexeme.kind, lexeme.value, index)

    def _numeral(self, at: int) -> _Word:
        atom = self._atoms[at]
        last = at + 1
        if last < self._stop and self._atoms[last].glued:
            suffix = self._atoms[last].text
            if suffix == "er" and atom.text.endswith("9"):  # "9er": niner
                return _Word("numeral", 0, last + 1, atom.text)
            if suffix in _SUFFIXES and len(atom.text) <= 6:
                kind = "ordinals" if _SUFFIXES[suffix] else "ordinal"
                return _Word(kind, int(atom.text), last + 1, atom.text)
        return _Word("numeral", 0, last, atom.text)

    def _after(self, at: int) -> int:
        """Where the next part of the same number begins: behind a hyphen, if there is one."""
        if at + 1 < self._stop and self._atoms[at].text == "-":
            return at + 1
        return at

    def _text(self, at: int) -> str:
        return self._atoms[at].text if at < self._stop else ""

    def _figure(self, at: int) -> tuple[str, int] | None:
        """One figure said singly at `at`: (digit, index behind)."""
        word = self._word(at)
        if word is None:
            return None
        if word.kind == "figure":
            return str(word.value), word.last
        if word.kind == "numeral" and len(word.digits) == 1 and not self._heads_fraction(at):
            return word.digits, word.last
        return None

    def _heads_fraction(self, at: int) -> bool:
        """Whether the numeral at `at` is the numerator of "1/2"."""
        return at > 0 and not self._atoms[at].glued and self._written_fraction(at) is not None

    def _zero(self, at: int) -> int | None:
        word = self._word(at)
        return word.last if word is not None and word.kind == "weak zero" else None

    def figures(self, at: int) -> tuple[str, int] | None:
        """Figures from one word: a digit, "oh" beside a figure, "double five"."""
        word = self._word(at)
        if word is None:
            return None
        if word.kind == "repeat":
            after = self._after(word.last)
            one = self._figure(after)
            if one is None:
                zero = self._zero(after)
                one = None if zero is None else ("0", zero)
            return None if one is None else (one[0] * word.value, one[1])
        return self._figure(at)

    def pair(self, at: int) -> tuple[str, int, bool] | None:
        """A number from 10 to 99 in words: (two digits, index behind, ends in a teen or tens)."""
        word = self._word(at)
        if word is None:
            return None
        if word.kind == "teen":
            return str(word.value), word.last, word.value >= 13
        if word.kind != "tens":
            return None
        after = self._after(word.last)
        unit = self._word(after)
        if unit is not None and unit.kind == "figure" and unit.value:
            return str(word.value + unit.value), unit.last, False
        if (
            unit is not None
            and unit.kind == "numeral"
            and len(unit.digits) == 1
            and unit.digits != "0"
            and after > word.last
        ):
            return str(word.value + int(unit.digits)), unit.last, False
        return str(word.value), word.last, word.value >= 30

    def _power(self, at: int) -> tuple[int, int] | None:
        """(exponent, index behind) of "hundred", "thousand", ... at `at`."""
        word = self._word(at)
        return (word.value, word.last) if word is not None and word.kind == "power" else None

    def _numeric(self, at: int) -> bool:
        word = self._word(at)
        return word is not None and word.kind in ("figure", "teen", "tens", "numeral", "weak zero")

    # --- whole numbers --------------------------------------------------------

    def _tail(self, at: int) -> tuple[str, int, bool] | None:
        """What follows "hundred": two digits, with or without "and"."""
        after = self._after(at)
        joined = self._text(after) == "and"
        if joined:
            after += 1
        zero = self._zero(after)
        if zero is not None:
            one = self._figure(self._after(zero))
            return None if one is None else ("0" + one[0], one[1], False)
        pair = self.pair(after)
        if pair is None:
            word = self._word(after)
            if word is not None and word.kind == "numeral" and len(word.digits) == 2 and joined:
                return word.digits, word.last, False
            one = self._figure(after)
            if one is None or one[0] == "0":
                return None
            pair = ("0" + one[0], one[1], False)
        if not joined and self._goes_on(pair[1]):
            return None  # "one hundred, one oh two": two numbers
        return pair

    def _goes_on(self, at: int) -> bool:
        """Whether another figure follows directly, which belongs to a new number."""
        after = self._after(at)
        return self._numeric(after) and self._power(after) is None

    def _hundreds(self, digits: str, at: int) -> _Whole | None:
        """`digits` followed by "hundred" and what belongs to it."""
        power = self._power(self._after(at))
        if power is None or power[0] != 2:
            return None
        tail = self._tail(power[1])
        if tail is None:
            return _Whole(digits + "00", power[1], "cardinal")
        return _Whole(digits + tail[0], tail[1], "cardinal", twin=tail[2])

    def _segment(self, at: int) -> _Whole | None:
        """Digits up to the next power of a thousand."""
        word = self._word(at)
        if word is None:
            return None
        if word.kind == "power" and word.value == 2 and self._text(at) == "hundred":
            tail = self._tail(word.last)
            if tail is None:
                return _Whole("100", word.last, "cardinal")
            return _Whole("1" + tail[0], tail[1], "cardinal", twin=tail[2])
        if word.kind == "numeral" and len(word.digits) > 1:
            return self._long_numeral(at, word)
        parts: list[str] = []
        pairs = 0
        twin = False
        index = at
        hyphens = 0
        while sum(map(len, parts)) < LONGEST:
            after = self._after(index) if parts else index
            part = self._part(after, parts, singly=not pairs)
            if part is None:
                break
            digits, last, part_twin = part
            pairs += len(digits) == 2 and self.pair(after) is not None
            if not parts or (len(parts) == 1 and len(parts[0]) == 2 and len(digits) == 2):
                hundreds = self._hundreds(digits, last)
                if hundreds is not None:
                    if parts:
                        break
                    return hundreds
            hyphens += after > index
            parts.append(digits)
            index, twin = last, part_twin
        if not parts:
            return None
        return self._joined(parts, at, index, twin, hyphens)

    def _part(self, at: int, parts: list[str], *, singly: bool) -> tuple[str, int, bool] | None:
        """The next part of a number said figure by figure (`singly` so far) or in pairs."""
        zero = self._zero(at)
        if zero is not None:
            if parts or self._leads(zero):
                return "0", zero, False
            return None
        single = self.figures(at)
        if single is not None:
            if singly or parts[-1] == "0":
                return *single, False
            return None
        pair = self.pair(at)
        if pair is None:
            return None
        if not parts or (singly and parts[-1] != "0") or len(parts) == 1:
            return pair
        return None

    def _leads(self, at: int) -> bool:
        """Whether a leading "oh" that ends at `at` belongs to a number."""
        word = self._word(self._after(at))
        return word is not None and word.kind in ("figure", "numeral", "point", "weak zero")

    def _joined(self, parts: list[str], first: int, last: int, twin: bool, hyphens: int) -> _Whole:
        digits = "".join(parts)
        doubts: tuple[str, ...] = ()
        alternatives: tuple[Value, ...] = ()
        lengths = [len(part) for part in parts]
        if len(parts) == 1:
            return _Whole(digits, last, "cardinal", twin=twin)
        if all(length == 1 for length in lengths):
            form = "singly"
            if len(parts) == 3 and parts[1] == "0" and "0" not in (parts[0], parts[2]):
                form = "oh"
            numerals = all(self._atoms[index].shape == "digits" for index in range(first, last, 2))
            if len(parts) == 2 and hyphens == 1 and numerals and last - first == 3:
                doubts = ("ambiguous_number",)  # "1-8": eighteen said singly, or one to eight
                alternatives = (Interval(Decimal(parts[0]), Decimal(parts[1])),)
        elif lengths == [1, 2] or lengths == [2, 2]:
            hour, minute = int(parts[0]), int(parts[1])
            form = "clock" if hour < 24 and minute < 60 else "pair"
            tens = all(part[1:] == "0" and part[0] != "1" for part in parts)
            if lengths == [2, 2] and tens:
                doubts = ("ambiguous_number",)  # "twenty, thirty" without the pause
        else:
            form = "pair"
            if 2 in lengths and lengths.index(2) > 1:
                doubts = ("ambiguous_number",)
        return _Whole(digits, last, form, doubts, alternatives, twin)

    def _long_numeral(self, at: int, word: _Word) -> _Whole | None:
        digits, last = word.digits, word.last
        if len(digits) <= 3:
            while (
                last + 1 < self._stop
                and self._text(last) == ","
                and self._atoms[last].glued
                and self._atoms[last + 1].glued
                and self._atoms[last + 1].shape == "digits"
                and len(self._text(last + 1)) == 3
            ):
                digits += self._text(last + 1)
                last += 2
        if last > word.last:
            return _Whole(digits, last, "numeral")
        hundreds = self._hundreds(digits, last) if len(digits) <= 2 else None
        if hundreds is not None:
            return hundreds
        if last + 1 < self._stop and self._text(last) == "-" and self._atoms[last + 1].glued:
            niner = self._word(last + 1)
            if niner is not None and niner.kind == "numeral" and niner.last == last + 3:
                return _Whole(digits + niner.digits, niner.last, "singly")  # "447-9er"
        return _Whole(digits, last, "numeral", twin=True)

    def _thousands_group(self, at: int) -> _Whole | None:
        """A single-figure numeral with thousands separators: "1,500"."""
        word = self._word(at)
        if word is None or word.kind != "numeral" or len(word.digits) != 1:
            return None
        grouped = self._long_numeral(at, word)
        return grouped if grouped is not None and grouped.last > word.last else None

    def whole(self, at: int) -> _Whole | None:
        """A whole number in any form."""
        first = self._thousands_group(at) or self._segment(at)
        power = None
        if first is None:
            power = self._power(at)
            if power is None or power[0] < 3 or self._text(at).endswith("s"):
                return None
            first = _Whole("1", at, "cardinal")
        total = 0
        last = first.last
        segment: _Whole | None = first
        twin = False
        limit: int | None = None
        doubts: tuple[str, ...] = first.doubts
        while segment is not None:
            power = self._power(self._after(segment.last))
            if power is not None and power[0] >= 3 and (limit is None or power[0] < limit):
                total += int(segment.digits) * 10 ** power[0]
                limit, last, twin = power[0], power[1], False
            elif limit is None:
                return segment
            else:
                total += int(segment.digits)
                last, twin = segment.last, segment.twin
                break
            after = self._after(last)
            if self._text(after) == "and":
                after += 1
            elif self._text(after) == "," and self._numeric(after + 1) and limit > 2:
                after += 1
                if not self._proper_rest(after, limit):
                    break
            segment = self._segment(after)
            if segment is not None and (
                len(segment.digits.lstrip("0")) > limit or len(segment.digits) > limit
            ):
                segment = None
            if segment is not None:
                doubts = (*doubts, *segment.doubts)
        return _Whole(str(total), last, "cardinal", doubts, twin=twin)

    def _proper_rest(self, at: int, limit: int) -> bool:
        """Whether the words at `at` go on with a number cut by a comma: "two million, three
        hundred thousand" does, "two thousand, ninety eight" is two numbers."""
        rest = self._segment(at)
        if rest is None or rest.form != "cardinal":
            return False
        power = self._power(self._after(rest.last))
        return power is not None and 3 <= power[0] < limit

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
                if part is None and all(len(digits) == 1 for digits, *_ in found):
                    part = self.pair(after)
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
        follows = self._word(after)
        if follows is None or follows.kind in (
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
        if at >= self._stop:
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
            if single and not article and word.value not in _SHOP_DENOMINATORS:
                return None
            return word.value, word.last
        if word.kind == "tens":
            unit = self._word(self._after(word.last))
            if unit is not None and unit.kind in ("ordinal", "ordinals") and 0 < unit.value < 10:
                return word.value + unit.value, unit.last
        return None

    def _written_fraction(self, at: int) -> tuple[Fraction, int] | None:
        """A numeral fraction of the shop: "3/8", "5/16ths"; "74/80" is none."""
        if at + 2 >= self._stop or self._text(at + 1) != "/":
            return None
        top, bottom = self._atoms[at], self._atoms[at + 2]
        if (top.shape, bottom.shape) != ("digits", "digits") or len(bottom.text) > 4:
            return None
        denominator = int(bottom.text)
        if denominator not in _SHOP_DENOMINATORS or len(top.text) > 2 or not bottom.glued:
            return None
        if int(top.text) >= denominator or int(top.text) == 0:
            return None
        last = at + 3
        if last < self._stop and self._atoms[last].glued:
            if self._text(last) in _SUFFIXES:
                last += 1
            elif self._text(last) == "/":
                return None
        return Fraction(int(top.text), denominator), last

    # --- one number -----------------------------------------------------------

    def whole_number(self, at: int) -> Number | None:
        """The whole number at `at`, without decimals or fraction."""
        whole = self.whole(at)
        return None if whole is None else _of_whole(at, whole)

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
        whole = self.whole(at)
        if whole is not None:
            fraction = self.fraction(at)
            if fraction is not None and fraction[1] > whole.last:
                return _of_fraction(at, fraction[1], fraction[0])
            point = self._point(whole.last)
            if point is not None:
                return self._decimal(at, whole, point)
            return self._mixed(at, whole)
        point = self._point(at)
        if point is not None and not (at and self._text(at) == "." and self._atoms[at].glued):
            return self._decimal(at, None, point)
        fraction = self.fraction(at)
        if fraction is not None:
            return self._dozens(at, *fraction) or _of_fraction(at, fraction[1], fraction[0])
        if self._text(at) in ("a", "an"):
            return self._with_article(at)
        if self._text(at) == "dozen":
            return Number(at, at + 1, Decimal(12))
        return None

    def _with_article(self, at: int) -> Number | None:
        after = at + 1
        if self._text(after) == "dozen":
            return Number(at, after + 1, Decimal(12))
        word = self._word(after)
        if word is not None and word.kind == "power" and not self._text(after).endswith("s"):
            whole = self.whole(after)
            if whole is not None:
                return replace(_of_whole(after, whole), first=at)
        return None

    def _dozens(self, at: int, part: Fraction, last: int) -> Number | None:
        after = last + 1 if self._text(last) in ("a", "of") else last
        if self._text(after) != "dozen":
            return None
        value = part * 12
        return _of_fraction(at, after + 1, value)

    def _decimal(self, at: int, whole: _Whole | None, point: int) -> Number | None:
        found = self._decimals(point)
        if found is None:
            return None if whole is None else _of_whole(at, whole)
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
        value = Decimal(f"{before}.{digits}")
        other = twin_of(digits) if twin else None
        alternatives: list[Value] = [] if other is None else [Decimal(f"{before}.{other}")]
        doubts = whole.doubts if whole is not None else ()
        if dot and whole is not None and not self._atoms[point - 1].glued:
            doubts = (*doubts, "joined_digits")
        power = self._power(last)
        if power is not None and not dot or power is not None and power[0] >= 3:
            last = power[1]
            value = _scaled(value, power[0])
            alternatives = []
        return Number(
            at,
            last,
            value,
            tuple(alternatives),
            frozenset({"teen"}) if alternatives else frozenset(),
            doubts,
        )

    def _mixed(self, at: int, whole: _Whole) -> Number:
        if self._text(whole.last) == "dozen":
            return Number(at, whole.last + 1, Decimal(whole.digits) * 12)
        after = self._after(whole.last)
        joined = self._text(after) == "and"
        if joined:
            after += 1
        fraction = self.fraction(after) if joined or self._is_written(after) else None
        if fraction is not None and 0 < fraction[0] < 1:
            return _of_fraction(at, fraction[1], int(whole.digits) + fraction[0])
        return _of_whole(at, whole)

    def _is_written(self, at: int) -> bool:
        if at >= self._stop:
            return False
        return self._atoms[at].shape == "fraction" or self._written_fraction(at) is not None

    def ordinal(self, at: int) -> Number | None:
        """An ordinal at `at`: "third", "twenty first", "one hundred and eleventh", "21st"."""
        word = self._word(at)
        if word is not None and word.kind == "ordinal":
            return _ordinal(at, word.last, word.value)
        total = 0
        index = at
        whole = self.whole(at)
        if whole is None:
            return None
        total, index = int(whole.digits), self._after(whole.last)
        if self._text(index) == "and":
            index += 1
        last = self._word(index)
        if last is None:
            return None
        if last.kind == "tens":
            unit = self._word(self._after(last.last))
            if unit is None or unit.kind != "ordinal":
                return None
            last = _Word("ordinal", last.value + unit.value, unit.last)
        if last.kind != "ordinal":
            return None
        if last.value >= 100:  # "one hundredth", "two thousandth"
            lower = total % last.value
            return _ordinal(at, last.last, total - lower + (lower or 1) * last.value)
        room = 10 if last.value < 10 and total % 100 not in (0,) else 100
        if total % room:
            return None
        return _ordinal(at, last.last, total + last.value)

    def is_weak_zero(self, at: int) -> bool:
        """Whether "oh" stands at `at`."""
        return self._zero(self._after(at)) is not None

    def starts_number(self, at: int) -> bool:
        """Whether a figure or a number word stands at `at`."""
        return self._numeric(self._after(at))

    def by_ear(self, at: int) -> int | None:
        """The figure that an ordinary word at `at` sounds like ("to", "for")."""
        return by_ear().get(self._text(at))


def _ordinal(first: int, last: int, value: int) -> Number:
    return Number(first, last, Decimal(value), qualifiers=frozenset({"ordinal"}))


def _scaled(value: Decimal, exponent: int) -> Decimal:
    scaled = value.scaleb(exponent)
    return scaled if scaled != scaled.to_integral_value() else scaled.quantize(Decimal(1))


def _of_fraction(first: int, last: int, value: Fraction) -> Number:
    """Exact where the decimal ends; else to nine places, and in doubt."""
    rest = value.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    number = Decimal(value.numerator) / Decimal(value.denominator)
    if rest != 1:
        return Number(first, last, number.quantize(Decimal("1e-9")), doubts=("rounded_fraction",))
    if number == number.to_integral_value():
        number = number.quantize(Decimal(1))
    return Number(first, last, number, qualifiers=frozenset({"fraction"}))


def _of_whole(first: int, whole: _Whole) -> Number:
    value = Decimal(int(whole.digits))
    alternatives: list[Value] = list(whole.alternatives)
    qualifiers: set[str] = set()
    twin = twin_of(whole.digits) if whole.twin else None
    if twin is not None:
        alternatives.append(Decimal(int(twin)))
        qualifiers.add("teen")
    if whole.form == "singly":
        qualifiers.add("digits")
    if whole.form == "oh":
        qualifiers |= {"digits", "clock-like"}
        alternatives.append(Decimal(f"{whole.digits[0]}.{whole.digits[1:]}"))
    if whole.form == "clock":
        qualifiers.add("clock-like")
    return Number(
        first,
        whole.last,
        value,
        tuple(alternatives),
        frozenset(qualifiers),
        whole.doubts,
        whole.digits,
    )


__all__ = ["Number", "Numerals", "twin_of"]
