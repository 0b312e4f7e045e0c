"""Gaps in a row of numbered places: where the next place of a running list must stand, and a word
that is none stands before its value.

"Three seventy five, war seventy one, five seventy seven": only the four can be meant. It is known
by the place behind it, or by its sound; and so is a word before the next place that is not their
own ("strut one ..., stuck two ..."). Every such place is asked about.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.phonetics import likeness
from voicelog.reading import unit_words
from voicelog.reading.half_heard import HalfHeard
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.position_pairs import figure_ways
from voicelog.reading.position_words import PositionWord
from voicelog.reading.spoken import by_ear
from voicelog.reading.talk import talk
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from voicelog.reading.running_list import Found

_NEAR = 0.5
"""Least likeness by ear of a word to the place that must stand there."""
_PAUSES = frozenset({",", ".", ";", "and"})
_SHORTEST = 3
_ROW = 2
"""Places that were told of before a gap, at least, where nothing behind it tells of the list."""


class RowGaps(HalfHeard):
    """Fills such gaps."""

    def _in_gap(self, at: int) -> Found | None:
        """The next place of the list, where a word that is none stands for it."""
        context = self._context
        if not context.filled or context.last is None or not context.running(at):
            return None
        if not self._is_behind_value(at) or not self._number_is_at(at + 1):
            return None
        order = context.groups[0].order
        rest = [n for n in order[order.index(context.last) + 1 :] if n not in context.used]
        if not rest or not self._may_stand_for(at, rest):
            return None
        named = (context.groups[0].numbers[rest[0]],)
        doubts = ("homophone_position",)
        mentions = self._mentions(at, at + 1, named, context.groups, {"continued"}, doubts)
        self._enter(context.groups, (rest[0],), at + 1)
        return mentions, self._skip_value(at + 1)

    def _may_stand_for(self, at: int, rest: list[int]) -> bool:
        """Whether the word at `at` sounds like the next place, or stands before the one behind."""
        text = self._text(at)
        ways = figure_ways(str(rest[0]))
        heard = by_ear().get(text) == rest[0] or any(likeness(text, way) >= _NEAR for way in ways)
        if len(text) < _SHORTEST or text in _PAUSES or self._strong_word(at) is not None:
            return False
        if self._tells_of_place(at + 1, rest):
            return False  # "seven fifty six, then eight fifty seven"
        if heard:
            plain = not self._is_unknown(at)
            told = len(self._context.used) >= _ROW
            return told and (not plain or len(rest) == 1 or self._next_stands_behind(at, rest))
        return self._is_unknown(at) and self._next_stands_behind(at, rest)

    def _next_stands_behind(self, at: int, rest: list[int]) -> bool:
        """Whether the place after the next one, with a number, follows the value behind `at`."""
        number = self._passage.numerals(at + 1).number(at + 1)
        if number is None or len(rest) < _ROW:
            return False
        unit = unit_words.find(self._atoms, number.last, self._passage.barrier(number.last))
        last = number.last if unit is None else unit[1]
        if self._text(last) not in _PAUSES:
            return False
        last += 1 + (self._text(last + 1) == "and")
        figures = self._prefixes(last) if self._free(last) else ()
        return any(value == rest[1] and self._number_is_at(end) for value, end in figures)

    def _tells_of_place(self, at: int, places: list[int]) -> bool:
        """Whether one of `places` stands at `at`, with its value, and no value as a whole."""
        number = self._passage.numerals(at).number(at)
        if number is not None and self._plausible(number.value, self._context.groups):
            return False
        figures = self._prefixes(at)
        return any(value in places and self._number_is_at(end) for value, end in figures)

    def _is_behind_value(self, at: int) -> bool:
        """Whether nothing but a pause stands between the last value and `at`."""
        resume = self._context.resume
        return 0 <= at - resume <= _ROW and _PAUSES.issuperset(self._texts[resume:at])

    def _number_is_at(self, at: int) -> bool:
        at += self._text(at) in ("is", "was", "at", ",")
        return self._free(at) and self._passage.numerals(at).number(at) is not None

    def _is_unknown(self, at: int) -> bool:
        """Whether the word at `at` means nothing by itself."""
        text = self._text(at)
        known = is_ordinary(text) or text in self._cues.phrase_heads
        known = known or word_key(text) in lexicon_of(self._cues.card).exact
        unit = unit_words.find(self._atoms, at, at + 1)
        return len(text) >= _SHORTEST and not known and unit is None

    def _heard_word(self, at: int) -> tuple[PositionWord, int] | None:
        return super()._heard_word(at) or self._word_in_turn(at)

    def _word_in_turn(self, at: int) -> tuple[PositionWord, int] | None:
        """The word of the places of the running list, where another one that means nothing stands
        before the next of them: "strut one 0.08 mm, stuck two 0.11 mm"."""
        context = self._context
        if not context.filled or not context.running(at) or not self._is_behind_value(at):
            return None
        figure = next(self._prefixes(at + 1), None) if self._is_unknown(at) else None
        if figure is None or not context.expects(figure[0], at) or not context.groups[0].word:
            return None
        if self._is_value(figure[1], at + 1) or not self._number_is_at(figure[1]):
            return None
        return PositionWord(context.groups), at + 1


def is_ordinary(word: str) -> bool:
    """Whether a word of everyday speech, which no name of a card was misheard as."""
    return word in talk().everyday.ordinary or word in talk().everyday.plain
