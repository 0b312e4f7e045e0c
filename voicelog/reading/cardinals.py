"""Whole numbers: cardinals, figures singly, pairs as years are said, thousands."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from voicelog.objects import Interval
from voicelog.reading.lexing import LONGEST, SUFFIXES, NumberWord, lex
from voicelog.reading.spoken import by_ear

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.objects import Value
    from voicelog.reading.atoms import Atom

_NEVER_BETWEEN = frozenset({"to", "for", "free", "er"})
"""Words that sound like figures and say something else between two of them."""
SHOP_DENOMINATORS = {2, 3, 4, 5, 8, 10, 16, 32, 64, 100, 1000}
"""Denominators of fractions written with a stroke: "3/8" is one, "74/80" a ratio."""


class Whole(NamedTuple):
    """A whole number as its digits, leading zeros included."""

    digits: str
    last: int
    form: str = ""
    """"singly", "pair", "clock", "oh", "cardinal", "numeral"."""
    doubts: tuple[str, ...] = ()
    alternatives: tuple[Value, ...] = ()
    twin: bool = False
    """The last two figures are a word that the ear confuses: teens and tens."""


class Cardinals:
    """Reads whole numbers out of `atoms` before index `stop`.

    `words` is what `lexing.lex` makes of the same atoms, where it is at hand.
    """

    def __init__(
        self,
        atoms: Sequence[Atom],
        stop: int | None = None,
        words: Sequence[NumberWord | None] | None = None,
    ) -> None:
        self._atoms = atoms
        self._stop = len(atoms) if stop is None else stop
        self._words = lex(atoms) if words is None else words
        self._wholes: dict[int, Whole | None] = {}
        """What was read at an atom: several stages ask for the same."""

    # --- words ----------------------------------------------------------------

    def _word(self, at: int) -> NumberWord | None:
        """The number word or numeral at `at`."""
        if at >= self._stop:
            return None
        word = self._words[at]
        return word if word is None or word.last <= self._stop else None

    def _after(self, at: int) -> int:
        """Where the next part of the same number begins: behind a hyphen, if there is one."""
        if at + 1 < self._stop and self._atoms[at].text == "-":
            loose = not (self._atoms[at].glued or self._atoms[at + 1].glued)
            return at if loose else at + 1  # "two - ten" is a range
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

    def _between_figures(self, at: int) -> tuple[str, int] | None:
        """A figure written as the word that sounds like it ("wun too tree")."""
        figure = by_ear().get(self._text(at))
        if figure is None or self._text(at) in _NEVER_BETWEEN or self._figure(at + 1) is None:
            return None
        return str(figure), at + 1

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
        hyphened = unit is not None and unit.kind == "numeral" and after > word.last
        if unit is not None and hyphened and len(unit.digits) == 1 and unit.digits != "0":
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
            after = self._after(after + 1)
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
        alone = pair[0].startswith("0")
        if (not joined or alone) and self._goes_on(pair[1]):
            return None  # "one hundred one oh two", "a hundred and one twenty": two numbers
        return pair

    def _goes_on(self, at: int) -> bool:
        """Whether another figure follows directly, which belongs to a new number."""
        after = self._after(at)
        return self._numeric(after) and self._power(after) is None

    def _hundreds(self, digits: str, at: int) -> Whole | None:
        """`digits` followed by "hundred" and what belongs to it."""
        power = self._power(self._after(at))
        if power is None or power[0] != 2:
            return None
        tail = self._tail(power[1])
        if tail is None:
            return Whole(digits + "00", power[1], "cardinal")
        return Whole(digits + tail[0], tail[1], "cardinal", twin=tail[2])

    def _segment(self, at: int) -> Whole | None:
        """Digits up to the next power of a thousand."""
        word = self._word(at)
        if word is None:
            return None
        if word.kind == "power" and word.value == 2 and self._text(at) == "hundred":
            return self._hundreds("1", at)
        if word.kind == "numeral" and len(word.digits) > 1:
            return self._long_numeral(word)
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
        single = self.figures(at) or (self._between_figures(at) if parts and singly else None)
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

    def _joined(self, parts: list[str], first: int, last: int, twin: bool, hyphens: int) -> Whole:
        digits = "".join(parts)
        doubts: tuple[str, ...] = ()
        alternatives: tuple[Value, ...] = ()
        lengths = [len(part) for part in parts]
        if len(parts) == 1:
            return Whole(digits, last, "cardinal", twin=twin)
        if all(length == 1 for length in lengths):
            form = "singly"
            if len(parts) == 3 and parts[1] == "0" and "0" not in (parts[0], parts[2]):
                form = "oh"
            numerals = all(self._atoms[index].shape == "digits" for index in range(first, last, 2))
            rising = parts[0] < parts[-1]
            if len(parts) == 2 and hyphens == 1 and numerals and last - first == 3 and rising:
                doubts = ("ambiguous_number",)  # "1-8": eighteen said singly, or one to eight
                alternatives = (Interval(Decimal(parts[0]), Decimal(parts[1])),)
        elif lengths in ([1, 2], [2, 2]):
            hour, minute = int(parts[0]), int(parts[1])
            form = "clock" if hour < 24 and minute < 60 else "pair"
            tens = all(part[1:] == "0" and part[0] != "1" for part in parts)
            if lengths == [2, 2] and tens:
                doubts = ("ambiguous_number",)  # "twenty, thirty" without the pause
        else:
            form = "pair"
            if 2 in lengths and lengths.index(2) > 1:
                doubts = ("ambiguous_number",)
        return Whole(digits, last, form, doubts, alternatives, twin)

    def _long_numeral(self, word: NumberWord) -> Whole | None:
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
        if last > word.last:  # "4,100", "4,100 and 6"
            more = self._hundred_and(digits, last)
            if more is not None:
                return more._replace(doubts=("ambiguous_number",))
            return Whole(digits, last, "numeral")
        hundreds = self._hundreds(digits, last) if len(digits) <= 2 else None
        if hundreds is not None:
            return hundreds
        if last + 1 < self._stop and self._text(last) == "-" and self._atoms[last + 1].glued:
            niner = self._word(last + 1)
            if niner is not None and niner.kind == "numeral" and niner.last == last + 3:
                return Whole(digits + niner.digits, niner.last, "singly")  # "447-9er"
        return self._hundred_and(digits, last) or Whole(digits, last, "numeral", twin=True)

    def _hundred_and(self, digits: str, last: int) -> Whole | None:
        """ "200 and 60" is what recognisers write for "two hundred and sixty"."""
        if not digits.endswith("00") or len(digits) > 6 or self._text(last) != "and":
            return None
        word = self._word(last + 1)
        if word is None or word.kind != "numeral" or len(word.digits) > 2:
            return None
        if word.digits.startswith("0") or self._text(word.last) in (".", "/", "over"):
            return None
        return Whole(str(int(digits) + int(word.digits)), word.last, "cardinal")

    def _thousands_group(self, at: int) -> Whole | None:
        """A single-figure numeral with thousands separators: "1,500"."""
        word = self._word(at)
        if word is None or word.kind != "numeral" or len(word.digits) != 1:
            return None
        grouped = self._long_numeral(word)
        return grouped if grouped is not None and grouped.last > word.last else None

    def whole(self, at: int) -> Whole | None:
        """A whole number in any form."""
        if self._word(at) is None:
            return None
        if at not in self._wholes:
            self._wholes[at] = self._whole(at)
        return self._wholes[at]

    def _whole(self, at: int) -> Whole | None:
        first = self._thousands_group(at) or self._segment(at)
        power = None
        if first is None:
            power = self._power(at)
            if power is None or power[0] < 3 or self._text(at).endswith("s"):
                return None
            first = Whole("1", at, "cardinal")
        total = 0
        last = first.last
        segment: Whole | None = first
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
                after = self._after(after + 1)
            elif self._text(after) == "," and self._numeric(after + 1) and limit > 2:
                after += 1
                rest = self._proper_rest(after, limit)
                if rest is None:
                    break
                doubts = (*doubts, *rest)
            segment = self._segment(after)
            if segment is not None and (
                len(segment.digits.lstrip("0")) > limit or len(segment.digits) > limit
            ):
                segment = None
            if segment is not None:
                doubts = (*doubts, *segment.doubts)
        return Whole(str(total), last, "cardinal", doubts, twin=twin)

    def _proper_rest(self, at: int, limit: int) -> tuple[str, ...] | None:
        """Whether the words at `at` go on with a number cut by a comma, and the doubts about
        it: "two million, three hundred thousand" does, "one thousand, one hundred" may,
        "two thousand, ninety eight" is two numbers."""
        rest = self._segment(at)
        if rest is None or rest.form != "cardinal":
            return None
        power = self._power(self._after(rest.last))
        if power is not None and 3 <= power[0] < limit:
            return ()
        return ("ambiguous_number",) if len(rest.digits) == 3 else None

    def _written_fraction(self, at: int) -> tuple[Fraction, int] | None:
        """A numeral fraction of the shop: "3/8", "5/16ths"; "74/80" is none."""
        if at + 2 >= self._stop or self._text(at + 1) != "/":
            return None
        top, bottom = self._atoms[at], self._atoms[at + 2]
        if (top.shape, bottom.shape) != ("digits", "digits") or len(bottom.text) > 4:
            return None
        denominator = int(bottom.text)
        if denominator not in SHOP_DENOMINATORS or len(top.text) > 2 or not bottom.glued:
            return None
        if int(top.text) >= denominator or int(top.text) == 0:
            return None
        last = at + 3
        if last < self._stop and self._atoms[last].glued:
            if self._text(last) in SUFFIXES:
                last += 1
            elif self._text(last) == "/":
                return None
        return Fraction(int(top.text), denominator), last
