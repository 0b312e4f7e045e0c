"""Rows of numbered places: the first of a list and those that are counted with it.

"Bolts one to four", "latch one two three closed", "one, two and three".
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.told_places import ToldPlaces

if TYPE_CHECKING:
    from voicelog.reading.position_words import PositionGroup

TO = frozenset({"to", "through", "thru", "-", "–", "—"})
_BEFORE_TO = frozenset(
    {"the", "this", "that", "each", "every", "torque", "torqued", "tighten", "tightened", "set"}
)
"""Words before "bolt to ninety eight" that make the "to" a preposition."""
JOINTS = frozenset({",", "and", "&", "or", "nor"})
_ROW_GOES_ON = JOINTS | {"", ".", ";", "also", "as", "too"}
"""What may stand behind a place of a row to which the same word leads as to the first."""


_OWN = 5
"""Words before the value of a place, at most."""


class Rows(ToldPlaces):
    """Reads the numbers of places that stand together."""

    def _head(
        self,
        first: int,
        at: int,
        groups: tuple[PositionGroup, ...],
        numbers: set[int],
        *,
        many: bool,
        weak: bool,
        doubts: list[str],
        told: set[str],
    ) -> tuple[list[int], int] | None:
        """The first position: ([values], index behind); [] when the card has no such one."""
        if not self._free(at):
            return None
        numerals = self._passage.numerals(at)
        fused = None if weak else self._fused(at, groups, numbers, many=many)
        if fused is not None:
            doubts.append("fused_position")
            return fused
        if self._is_pointed_for_all_but(at):
            return None
        for value, last in self._prefixes(at):
            if value in numbers and self._point_splits(at, last, groups, mark=not weak):
                return [value], last
            pointed = not weak and not many and self._text(last) in ("point", "decimal")
            if value in numbers and pointed and numerals.number(last) is not None:
                doubts.append("fused_position")  # bolt one, point two five; or 1.25?
                return [value], last
            if value in numbers and not self._is_value(last, at):
                if not many and self._whole_is_meant(at, last, groups, numerals):
                    return None
                return [value], last
        if weak:
            return None
        heard = None if self._text(first - 1) in _BEFORE_TO else numerals.by_ear(at)
        after = at + 2 if self._text(at + 1) == "," else at + 1
        if heard is not None and heard in numbers and numerals.number(after) is not None:
            told.add("homophone")
            if not self._context.expects(heard, at):
                doubts.append("homophone_position")
            return [heard], at + 1
        number = numerals.whole_number(at)
        if (
            number is not None
            and number.last - at <= 3
            and number.value < 100
            and not many
            and not self._is_value(number.last, at)
            and self._implausible(number.value, groups)
        ):
            return [], number.last
        return None

    def _more(self, values: list[int], last: int, numbers: set[int], *, many: bool) -> int:
        """Extend `values` by what follows: "to four", ", two and three", "two three four"."""
        ranged = closed = False
        while self._free(last):
            unjoined = self._text(last) not in JOINTS and not self._ranges(last, values[-1])
            if closed and (unjoined or self._next_is_told(last, numbers - set(values))):
                return last  # "rings on one and two, three is silent": "and" ends the row
            closed = self._text(last) in ("and", "&")
            step = self._to(values, last, numbers) or self._to_by_ear(
                values, last, numbers, many=many
            )
            step = step or self._downwards(values, last, numbers, many=many)
            ranged = ranged or step is not None
            if step is None:
                step = self._and(values, last, numbers, many=many, ranged=ranged)
            if step is None:
                return last
            last = step
        return last

    def _ranges(self, at: int, first: int) -> bool:
        """Whether a range goes on at `at`: "one to four and six to eight", but not "two and four
        to six forty newton metres", nor "three and four to fifty"."""
        if self._text(at) not in TO:
            return False
        numbers = {value for group in self._listing for value in group.numbers}
        found = self._next_position(at + 1, numbers)
        if found is None or found[0] <= first:
            return False
        whole, rest = (self._passage.numerals(each).number(each) for each in (at + 1, found[1]))
        if whole is None or whole.last <= found[1] or (rest and rest.last > whole.last):
            return True
        return not self._plausible(whole.value, self._listing)

    def _several(self, values: list[int], last: int, numbers: set[int], *, many: bool) -> int:
        """`_more`; a singular word may head a row too: "latch one two three closed"."""
        if len(values) == 1:
            bare = self._bare_row(values[0], last, numbers)
            several = bare is not None and (
                many
                or self._text(bare[1]) in ("are", "were")
                or self._measure_at(bare[1])
                or self._measures_all(bare[1])
            )
            if bare is not None and several:
                values[:] = bare[0]
                return bare[1]
        if not many and len(values) == 1:
            row = list(values)
            end = self._more(row, last, numbers, many=True)
            if len(row) > 2 and (not self._value_follows(end) or self._row_behind(end, len(row))):
                values[:] = row
                return end
        return self._more(values, last, numbers, many=many)

    def _bare_row(self, first: int, at: int, numbers: set[int]) -> tuple[list[int], int] | None:
        """ "Bolts one three five and seven forty two": rising figures, the last behind "and", with
        or without pauses between them."""
        row, last = [first], at
        joined = False
        while not joined and self._free(last):
            last += self._text(last) == ","
            joined = self._text(last) == "and"
            figure = next(self._prefixes(last + joined), None)
            if figure is None or figure[0] not in numbers or figure[0] <= row[-1]:
                if joined or not self._is_every_second(row, numbers):
                    return None
                last -= self._text(last - 1) == ","
                break
            row.append(figure[0])
            last = figure[1]
        told = self._text(last) in ("are", "were")
        told = told or (self._value_follows(last) and not self._is_value(last))
        return (row, last) if len(row) > 2 and told else None

    @staticmethod
    def _is_every_second(row: list[int], numbers: set[int]) -> bool:
        """Whether `row` is all the odd places of the card, or all the even ones."""
        return len(row) > 3 and row == [n for n in sorted(numbers) if (n - row[0]) % 2 == 0]

    def _to(self, values: list[int], at: int, numbers: set[int]) -> int | None:
        at += self._text(at) == "-" and self._text(at + 1) == "to"
        if self._text(at) not in TO:
            return None
        at += self._text(at) == "to" and self._text(at + 1) == "-"  # "1-to-8"
        found = self._next_position(at + 1, numbers) or self._end_by_ear(at + 1, values[-1])
        found = found or self._fused_end(at + 1, values[-1], self._listing, numbers)
        found = found or self._end_before_unit(at + 1, values[-1], numbers)
        if found is None or found[0] <= values[-1]:
            if (
                found is None
                and self._free(at + 1)
                and self._passage.numerals(at + 1).starts_number(at + 1)
            ):
                self._passage.doubted[self._atoms[at + 1].start] = ("fused_position", ())
            return None
        values.extend(n for n in sorted(numbers) if values[-1] < n <= found[0])
        return found[1]

    def _downwards(
        self, values: list[int], at: int, numbers: set[int], *, many: bool
    ) -> int | None:
        """ "Bolts eight to five, one ninety, ...", "bolts eight down to five"; one bolt that is
        down to five has that value."""
        down = self._text(at) == "down"
        if len(values) != 1 or not many or self._text(at + down) not in TO:
            return None
        begin = at + down + 1
        found = self._next_position(begin, numbers)
        if found is None or found[0] >= values[0]:
            return None
        whole = self._passage.numerals(begin).number(begin)
        if whole and whole.last > found[1] and not self._implausible(whole.value, self._listing):
            return None  # "bolts eight to one ninety"
        row = [n for n in sorted(numbers, reverse=True) if found[0] <= n < values[0]]
        if not (self._value_follows(found[1]) or self._state_follows(found[1])):
            return None
        values.extend(row)
        return found[1]

    def _end_before_unit(self, at: int, first: int, numbers: set[int]) -> tuple[int, int] | None:
        """ "Spokes one to six kilonewtons, forty one, forty two, ...": the last place, where a row
        of as many values as places stands behind the unit."""
        for value, last in self._prefixes(at):
            unit = unit_words.find(self._atoms, last, self._passage.barrier(last))
            count = sum(first <= number <= value for number in numbers)
            if unit is not None and value in numbers and self._row_behind(unit[1], count):
                return value, last
        return None

    def _end_by_ear(self, at: int, first: int) -> tuple[int, int] | None:
        """The "for" of "heads one to for fifteen inch pounds"; it is asked about."""
        heard = self._passage.numerals(at).by_ear(at) if self._free(at) else None
        if heard is None or heard <= first or not self._value_follows(at + 1):
            return None
        self._heard_two = at
        return heard, at + 1

    def _to_by_ear(
        self, values: list[int], at: int, numbers: set[int], *, many: bool
    ) -> int | None:
        """ "Bolts five two eight, one oh one": a "to" between two places that was heard as two;
        it is asked about."""
        if self._text(at) != "two" or len(values) != 1:
            return None
        found = self._next_position(at + 1, numbers)
        if found is None or found[0] <= max(values[-1], 3 if values[-1] == 1 else 0):
            return None
        paused = self._text(found[1]) == ","
        if not (paused or many) or not self._value_follows(found[1]):
            return None
        values.extend(n for n in sorted(numbers) if values[-1] < n <= found[0])
        self._heard_two = at
        return found[1]

    def _and(
        self, values: list[int], at: int, numbers: set[int], *, many: bool, ranged: bool
    ) -> int | None:
        after = at
        if self._text(after) == "," and many:
            after += 1
        if self._text(after) in ("and", "&", "or"):
            after += 1
        after = self._past_link(after, numbers) if after > at else after
        found = self._next_position(after, numbers)
        if found is None and self._text(after - 1) in ("and", "&"):
            found = self._fused_end(after, values[-1], self._listing, numbers)
        if found is None or found[0] in values or found[0] in self._context.used:
            return None
        if self._passage.numerals(at).is_weak_zero(found[1]):
            return None  # "five to eight, one oh two"
        if self._text(after - 1) == "," and self._is_alone(found[1]):
            return None  # "34 on two, three is down at 27"
        if self._is_located(found[1]):
            return None  # "nineteen at lamp three and seven at lamp four"
        if self._text(at) == "," and (found[0] < values[-1] or self._is_cut(after, found[1])):
            return None
        if after == at and (not many or ranged or found[0] != values[-1] + 1):
            return None
        if after == at and self._is_longer_value(at, found[1]):
            return None  # "three four one five" is 415 at place three
        several = many or self._many_named or self._measure_at(found[1])
        if not several and self._passage.numerals(found[1]).starts_number(found[1]):
            return None
        values.append(found[0])
        return found[1]

    def _past_link(self, at: int, numbers: set[int]) -> int:
        """Behind the word that led to the row where it leads to one more place at `at`, of which
        nothing else is told: "on one and on four", "at two, at three and also at five"."""
        start = at + (self._text(at) == "also")
        if not self._link or self._text(start) != self._link:
            return at
        found = self._next_position(start + 1, numbers)
        if found is None or self._text(found[1]) not in _ROW_GOES_ON:
            return at
        pause = self._text(found[1]) == ","
        return at if pause and self._state_follows(found[1] + 1) else start + 1

    def _measure_at(self, at: int) -> bool:
        """Whether a number with its unit stands at `at`: "wear one and three 1.4 millimetres"."""
        number = self._passage.numerals(at).number(at) if self._free(at) else None
        if number is None:
            return False
        return unit_words.find(self._atoms, number.last, self._passage.barrier(at)) is not None

    def _measures_all(self, at: int) -> bool:
        """Whether a number with its unit stands behind a pause at `at`, and no place of its own
        behind it: "seat bolts one, two and four, sixty foot pounds"."""
        number = self._passage.numerals(at + 1).number(at + 1) if self._free(at + 1) else None
        if self._text(at) != "," or number is None:
            return False
        unit = unit_words.find(self._atoms, number.last, self._passage.barrier(at + 1))
        return unit is not None and not self._is_located(unit[1])

    def _is_located(self, at: int) -> bool:
        """Whether words behind a number tell where it was measured, so that it is no place."""
        if self._text(at) not in ("on", "at", "for", "in") or self._is_time(at + 1):
            return False
        if self._strong_word(at + 1) is not None:
            return True
        return self._text(at) != "at" and next(self._prefixes(at + 1), None) is not None

    def _is_cut(self, at: int, last: int) -> bool:
        """Whether the figures at `at` are a value of the list that can be one, and can't be once a
        place has taken the first of them: "bolts one to three, five four zero"."""
        numerals = self._passage.numerals(at)
        whole, rest = numerals.number(at), numerals.number(last)
        if whole is None or rest is None or whole.last != rest.last or whole.last <= last:
            return False
        fits = self._plausible(whole.value, self._listing)
        return fits and self._implausible(rest.value, self._listing)

    def _is_longer_value(self, at: int, last: int) -> bool:
        """Whether the figures at `at` are one value of the list, of which a place would take
        the first."""
        numerals = self._passage.numerals(at)
        whole, rest = numerals.number(at), numerals.number(last)
        if whole is None or rest is None or whole.last != rest.last or whole.last <= last:
            return False
        return "digits" in whole.qualifiers and self._plausible(whole.value, self._listing)

    def _listed_from(
        self, at: int, groups: tuple[PositionGroup, ...], *, by_range: bool = True
    ) -> bool:
        """Whether "from" opens a row of places, not of values: "temperatures from one to five:"."""
        numbers = {value for group in groups for value in group.numbers}
        head = self._next_position(at, numbers)
        values = [] if head is None else [head[0]]
        last = None if head is None else self._to(values, head[1], numbers)
        if head is not None and last is None and not by_range:
            last = self._more(values, head[1], numbers, many=True)
        return last is not None and len(values) > 1 and not self._is_value(last)

    def _are_others(self, at: int) -> bool:
        """Whether places with a value of their own stand at `at`, behind that of some of them: "six
        of the eight bolts went to 118 newton metres, 3 and 7 only made 112"."""
        start = self._sentence_start(at)
        some = self._passage.numerals(start).number(start)
        if some is None or self._text(some.last) != "of":
            return False
        groups = self._numeric_here(at)
        listed = self._numbers_at(at, groups) if groups else None
        if listed is None or len(listed[0]) + some.value != len(groups[0].order):
            return False
        return any(self._number_at(each) for each in range(listed[1], listed[1] + _OWN))

    def _number_at(self, at: int) -> bool:
        return self._free(at) and self._passage.numerals(at).number(at) is not None

    def _numbers_at(
        self, at: int, groups: tuple[PositionGroup, ...]
    ) -> tuple[list[int], int] | None:
        """The places of `groups` that are listed by number from `at` on, and the index behind."""
        self._listing = groups
        numbers = set(groups[0].numbers)
        head = self._next_position(at, numbers)
        if head is None:
            return None
        values = [head[0]]
        bare = self._bare_row(*head, numbers)
        return bare or (values, self._more(values, head[1], numbers, many=True))

    def _next_position(self, at: int, numbers: set[int]) -> tuple[int, int] | None:
        for value, last in self._prefixes(at):
            if value not in numbers:
                continue
            if not self._is_value(last, at) or self._point_splits(at, last, self._listing):
                return value, last
        return None
