"""Turns: places by their bare numbers, each with its value, in the order of the card.

"Hanger temperature after ground run one fifty five, two fifty eight, three sixty one": behind
whatever words, three such pairs or all of them can be nothing else, where the figures are no values
of the field as they stand, or a word between place and value parts them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from voicelog.reading import unit_words
from voicelog.reading.corrected import REPAIRS
from voicelog.reading.measured_lists import MeasuredLists

if TYPE_CHECKING:
    from voicelog.reading.number import Number
    from voicelog.reading.position_words import PositionGroup

_FEWEST = 3
"""Places told in turn that need no name before them, where the card has more."""
_LINKS = frozenset({"at", "is", "was", "are", "were"})
_PAUSES = frozenset({",", ".", ";"})
_PAUSE = 3
"""Atoms of a pause with the words that take a value back, at most."""


class Piece(NamedTuple):
    """Places of such a list that have one value."""

    places: int
    value_at: int
    last: int
    """Index behind their value."""
    wild: bool
    """Their figures can be no value together."""


class Turns(MeasuredLists):
    """Begins a list where the first place of the card is told of, and the next ones behind it."""

    def _begin_turns(self, at: int) -> bool:
        """Begin such a list at `at`."""
        groups = self._counted_here(at)
        order = groups[0].order if groups else ()
        if len(order) < _FEWEST or all(value != order[0] for value, _ in self._prefixes(at)):
            return False
        heads: list[int] = []
        values: list[int] = []
        told, start, wild = 0, at, 0
        while told < len(order):
            piece = self._piece(start, groups, order[told:])
            if piece is None:
                break
            heads.append(start)
            values.append(piece.value_at)
            told += piece.places
            wild += piece.wild
            start = self._past_pause_between(piece.last)
        whole = told == len(order)
        if len(heads) < (2 if whole else _FEWEST) or wild < (1 if whole else len(heads)):
            return False
        if at and self._text(at - 1) not in _PAUSES:
            # "tried shim one at 3.2, two at 3.4, three at 3.6": these may be tries
            for value_at in values:
                self._passage.doubted[self._atoms[value_at].start] = ("ambiguous_place", ())
        self._take_turns(at, groups, heads)
        return True

    def _counted_here(self, at: int) -> tuple[PositionGroup, ...]:
        """The groups that count the places spoken of: those of the field named last, of the one
        that the sentence began with, or all that the step has, where they count the same ones."""
        context = self._context
        headed = context.headed if context.headed_at >= self._sentence_start(at) else ()
        for groups in (self._numeric_here(at), headed, self._in_step(self._cues.groups, at)):
            known = tuple(group for group in groups if group.numbers)
            if known and len({tuple(group.numbers) for group in known}) == 1:
                return known
        return ()

    def _piece(
        self, at: int, groups: tuple[PositionGroup, ...], order: tuple[int, ...]
    ) -> Piece | None:
        """What is told at `at` of the first places of `order`."""
        for value, last in self._prefixes(at):
            piece = self._told_piece(at, last, 1, groups) if value == order[0] else None
            if piece is not None:
                return piece
        listed = self._numbers_at(at, groups)
        if listed is None or tuple(listed[0]) != order[: len(listed[0])]:
            return None
        return self._told_piece(at, listed[1], len(listed[0]), groups)

    def _told_piece(
        self, at: int, last: int, places: int, groups: tuple[PositionGroup, ...]
    ) -> Piece | None:
        """The piece at `at` whose places end at `last`, where a value of theirs follows."""
        value_at = last + (self._text(last) in _LINKS)
        number = self._passage.numerals(value_at).number(value_at) if self._free(value_at) else None
        whole = self._passage.numerals(at).number(at)
        if number is None or self._implausible(number.value, groups):
            return None
        unit = unit_words.find(self._atoms, number.last, self._passage.barrier(number.last))
        end = number.last if unit is None else unit[1]
        wild = value_at > last or self._is_wild(whole, number, last, groups)
        return Piece(places, value_at, end, wild)

    def _is_wild(
        self, whole: Number | None, number: Number, last: int, groups: tuple[PositionGroup, ...]
    ) -> bool:
        """Whether a place that ends at `last` and the `number` behind it are no one value: their
        figures as a `whole` are none of such fields, or nobody says one so ("two two point one").
        """
        if whole is None or whole.last <= last:
            return False
        if whole.last < number.last or "digits" in whole.qualifiers:
            return True
        return self._implausible(whole.value, groups)

    def _past_pause_between(self, at: int) -> int:
        """Index behind the pause at `at`, and behind a value that takes back the one before it."""
        at += self._text(at) in _PAUSES
        after = next((at + n for n in range(_PAUSE) if self._text(at + n) in REPAIRS), None)
        if after is not None:
            after += 1 + (self._text(after + 1) == ",")
            number = self._passage.numerals(after).number(after) if self._free(after) else None
            if number is not None:
                at = number.last + (self._text(number.last) in _PAUSES)
        return at + (self._text(at) == "and")
