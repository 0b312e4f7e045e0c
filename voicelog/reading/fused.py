"""Figures that a recogniser ran together: position and value, or both ends of a range."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.objects import Ratio
from voicelog.reading import unit_words
from voicelog.reading.talk import talk
from voicelog.reading.value_rows import ValueRows

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.objects import Value
    from voicelog.reading.numerals import Numerals
    from voicelog.reading.position_words import PositionGroup

CLAIM = "positions"
EXCEPT_PAIRS = frozenset({
    ("apart", "from"), ("other", "than"), ("aside", "from"), ("exception", "of"),
})  # fmt: skip
_ALL = frozenset({"all", "each", "every", "everything", "everywhere", "them"})


class Fused(ValueRows):
    """Takes such figures apart where the card's limits leave one way only; marks the rest."""

    def _fused(
        self, at: int, groups: tuple[PositionGroup, ...], numbers: set[int], *, many: bool
    ) -> tuple[list[int], int] | None:
        """(positions, index behind) of numerals that hold more than a position."""
        atom = self._atoms[at]
        if atom.shape != "digits" or len(atom.text) > 9:
            return None
        if self._dotted(at) and self._dotted(at + 2):
            return self._fused_thrice(at, numbers)
        if many:
            return self._fused_range(at, numbers)
        if self._dotted(at):
            return self._fused_decimal(at, groups, numbers) or self._fused_head(at, groups, numbers)
        if len(atom.text) < 2 or int(atom.text) in numbers:
            return None
        for length in (1, 2):
            head, tail = atom.text[:length], atom.text[length:]
            if not tail or tail[0] == "0" or len(tail) > 4 or int(head) not in numbers:
                continue
            whole, rest = Decimal(atom.text), Decimal(tail)
            reference = self._reference(at + 1)
            if reference is not None:
                split = whole > reference >= rest
            else:
                split = self._implausible(whole, groups) and self._plausible(rest, groups)
            if split:
                self._passage.split(at, length)
                self._note(at + 1, whole, reference)
                return [int(head)], at + 1
            known = any(group.low is not None for group in groups)
            if not known and reference is None and len(atom.text) > 2:
                self._passage.doubted[atom.start] = ("fused_position", (rest,))
        return None

    def _dotted(self, at: int) -> bool:
        """Whether the numeral at `at` goes on with a full stop and figures."""
        return (
            at + 2 < len(self._atoms)
            and self._text(at + 1) == "."
            and self._atoms[at + 1].glued
            and self._atoms[at + 2].glued
            and self._atoms[at].shape == "digits"
            and self._atoms[at + 2].shape == "digits"
            and self._passage.free(at, at + 3)
        )

    def _fused_thrice(self, at: int, numbers: set[int]) -> tuple[list[int], int] | None:
        """ "motor 3.0.8" for "motor three, nought point eight"."""
        head = self._text(at)
        if len(head) > 2 or int(head) not in numbers or self._dotted(at + 4):
            return None
        self._passage.claim(at + 1, at + 2, CLAIM)
        self._passage.begin_at(at + 2)
        return [int(head)], at + 1

    def _fused_end(
        self, at: int, least: int, groups: Sequence[PositionGroup], numbers: set[int]
    ) -> tuple[int, int] | None:
        """ "valves 1 to 460" and "5 and 659": the last place of a row, and the value that ran into
        it, where the figures can't be the value of anything else."""
        atom = self._atoms[at] if self._free(at) else None
        if atom is None or atom.shape != "digits" or not 1 < len(atom.text) <= 6:
            return None
        for length in (1, 2):
            head, tail = atom.text[:length], atom.text[length:]
            if not tail or tail[0] == "0" or int(head) not in numbers or int(head) <= least:
                continue
            whole, rest = Decimal(atom.text), Decimal(tail)
            if self._implausible(whole, groups) and self._plausible(rest, groups):
                self._passage.split(at, length)
                self._passage.doubted[self._atoms[at + 1].start] = ("fused_position", (whole,))
                return int(head), at + 1
        return None

    def _fused_decimal(
        self, at: int, groups: tuple[PositionGroup, ...], numbers: set[int]
    ) -> tuple[list[int], int] | None:
        """ "cylinder 3.68" for "cylinder three, sixty eight"."""
        head, tail = self._text(at), self._text(at + 2)
        if len(head) > 2 or int(head) not in numbers or tail[0] == "0" or len(tail) > 4:
            return None
        whole, rest = Decimal(f"{head}.{tail}"), Decimal(tail)
        reference = self._reference(at + 3)
        if reference is not None:
            likely = rest <= reference and rest * 3 >= reference > 3 * whole
        else:
            likely = self._implausible(whole, groups) and self._plausible(rest, groups)
        if not likely:
            return None
        self._passage.claim(at + 1, at + 2, CLAIM)
        self._note(at + 2, whole, reference)
        return [int(head)], at + 1

    def _fused_head(
        self, at: int, groups: tuple[PositionGroup, ...], numbers: set[int]
    ) -> tuple[list[int], int] | None:
        """ "wheel 124.5" for "wheel one, twenty four and a half"."""
        text, tail = self._text(at), self._text(at + 2)
        whole = Decimal(f"{text}.{tail}")
        for length in (1, 2):
            head, figures = text[:length], text[length:]
            if not figures or figures[0] == "0" or int(head) not in numbers:
                continue
            rest = Decimal(f"{figures}.{tail}")
            if self._implausible(whole, groups) and self._plausible(rest, groups):
                self._passage.split(at, length)
                self._note(at + 1, whole)
                return [int(head)], at + 1
        return None

    def _fused_range(self, at: int, numbers: set[int]) -> tuple[list[int], int] | None:
        """ "bolts 128" and "bolts 1.8" for "bolts one to eight"."""
        text = self._text(at)
        if self._dotted(at):
            low, high, last = text, self._text(at + 2), at + 3
        elif len(text) == 3 and text[1] == "2" and int(text) not in numbers:
            low, high, last = text[0], text[2], at + 1
        else:
            return None
        if len(low) > 3 or len(high) > 3:
            return None
        ends = int(low), int(high)
        if ends[0] >= ends[1] or not set(ends) <= numbers or self._is_value(last):
            return None
        return [n for n in sorted(numbers) if ends[0] <= n <= ends[1]], last

    def _point_splits(
        self, at: int, last: int, groups: Sequence[PositionGroup], *, mark: bool = False
    ) -> bool:
        """Whether "one point four nine" is 0.49 at place one, and not 1.49; what stays open
        goes in doubt when `mark` is set."""
        if self._text(last) not in ("point", "decimal"):
            return False
        numerals = self._passage.numerals(at)
        whole, rest = numerals.number(at), numerals.number(last)
        if whole is None or rest is None or whole.last != rest.last:
            return False
        if self._plausible(rest.value, groups) and self._implausible(whole.value, groups):
            return True
        if mark and not self._implausible(rest.value, groups):
            self._passage.doubted[self._atoms[at].start] = ("fused_position", (rest.value,))
        return False

    def _is_pointed_for_all_but(self, at: int) -> bool:
        """ "Cell two point one seven volts, all bar number four": from what is told of one place
        nothing can be left out."""
        whole = self._passage.numerals(at).number(at)
        points = (self._text(last) for _, last in self._prefixes(at))
        if whole is None or not {"point", "decimal"}.intersection(points):
            return False
        unit = unit_words.find(self._atoms, whole.last, len(self._atoms))
        behind = whole.last if unit is None else unit[1]
        behind += self._text(behind) in (",", ".")
        behind += self._text(behind) in ("at", "for", "in", "on")
        behind += self._text(behind) in _ALL
        behind += self._text(behind) in ("of", "them")
        word, of_all = self._text(behind), self._text(behind - 1) in _ALL
        if (word, self._text(behind + 1)) in EXCEPT_PAIRS:
            return True
        return word in talk().everyday.excepting or (word == "but" and of_all)

    def _is_on_a_place(self, at: int) -> bool:
        """ "Play on five point six": what is on something is no amount."""
        return any(self._text(last) in ("point", "decimal") for _, last in self._prefixes(at))

    # --- spoken figures that could be one number --------------------------------------

    def _whole_is_meant(
        self, at: int, last: int, groups: Sequence[PositionGroup], numerals: Numerals
    ) -> bool:
        """Whether the figures at `at` are one value without a position: "bolt one oh two"."""
        whole, rest = numerals.number(at), numerals.number(last)
        if whole is None or rest is None or whole.last <= last or whole.last != rest.last:
            return False
        if self._reference(whole.last) is not None or self._is_naught_point(last):
            return False
        if self._is_written_apart(at, last):
            return False
        whole_fits = any(group.plausible(whole.value) for group in groups)
        rest_fits = any(group.plausible(rest.value) is not False for group in groups)
        if numerals.is_weak_zero(last) or (whole_fits and not rest_fits):
            self._passage.doubted[self._atoms[at].start] = ("ambiguous_number", (rest.value,))
            return True
        return False

    def _note_hull(self, at: int) -> None:
        """Note where values are expected, where the name of a field begins at `at`; a sentence ends
        what was named in it."""
        text = self._text(at)
        if text == "." and not self._dotted(at - 1):
            self._hull = None
        for length in range(self._cues.hull_heads.get(text, 0), 0, -1):
            hull = self._cues.hulls.get(tuple(self._texts[at : at + length]))
            if hull is not None:
                self._hull = hull
                return

    def _implausible(self, value: Decimal, groups: Sequence[PositionGroup]) -> bool:
        if self._hull is not None:
            return not self._hull[0] <= value <= self._hull[1]
        return all(group.plausible(value) is False for group in groups)

    def _plausible(self, value: Decimal, groups: Sequence[PositionGroup]) -> bool:
        if self._hull is not None:
            return self._hull[0] <= value <= self._hull[1]
        return any(group.plausible(value) for group in groups)

    def _is_written_apart(self, at: int, last: int) -> bool:
        """Whether a number was written behind the figure at `at` that is one by itself: "jack 2
        0.5", "hold one 3.9"; a recogniser writes no number half in words."""
        mixed = self._atoms[at].shape == "word" and self._atoms[last].shape == "digits"
        return mixed or self._dotted(last)

    def _is_naught_point(self, at: int) -> bool:
        """Whether "nought point" stands at `at`, which begins a number of its own."""
        zero = self._text(at) in ("nought", "naught", "zero", "oh", "0")
        return zero and self._text(at + 1) in ("point", "decimal")

    def _check_value(self, first: int, last: int, groups: Sequence[PositionGroup]) -> None:
        """Note the one number that the figures of a position and its value could be: it is asked
        about where that is the likelier value."""
        numerals = self._passage.numerals(last)  # `first` is claimed by the position
        whole, rest = numerals.number(first), numerals.number(last)
        if whole is None or rest is None or whole.last != rest.last or whole.last <= last:
            return
        reference = self._reference(whole.last)
        if reference is not None:
            if whole.value <= reference:
                self._note(last, whole.value, reference)
            return
        if self._implausible(whole.value, groups):
            return
        if "digits" in whole.qualifiers or self._plausible(whole.value, groups):
            self._note(last, whole.value)

    def _note(self, at: int, value: Decimal, reference: Decimal | None = None) -> None:
        other: Value = value if reference is None else Ratio(value, reference)
        self._passage.doubted[self._atoms[at].start] = ("", (other,))
