"""Places that are letters: "B forty three", "track on A is one millimetre", "fourteen amps A, ...".

A letter may be an article, a unit or the beginning of a code: it is a place where the list of its
field runs, or where nothing else can stand.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.heard_places import HeardPlaces
from voicelog.reading.labels import WHERE
from voicelog.reading.running_list import BREAKS, SAME

if TYPE_CHECKING:
    from voicelog.reading.position_words import PositionGroup

_BEHIND_EXCEPTED = BREAKS | {"", "which", "that"}
""" "All good except A which is chafed"."""
_LEAST_ROW = 3
"""Letters of a row that needs no name before it."""
_ROW_REACH = 24
_ARE = frozenset({"are", "were", "both", "each", "read", "have"})
_TELLS = frozenset({"is", "was", "reads", "it", "it's", "i", "i've", "we", "we've"})
_ENDS = BREAKS | {""}
_ABOUT = frozenset({"for", "on"})
""" "4.8 mm A on the gauges"."""
_VOWELS = frozenset("aeio")
_A_PART = frozenset({
    "half", "quarter", "third", "bit", "few", "couple", "dozen", "hundred", "thousand",
})  # fmt: skip
""" "Twenty five and a half bar", "a hundred and fifty amps": an article."""
_JOINTS = frozenset({",", "and", "&", ""})
_ALONG = frozenset({"across", "all", "along", "around", "over", "right", "round", "where"})
""" "Chafed at B along the edge"."""
_POINTS = frozenset({"at", "for", "in", "into", "on", "to"})
_HEADS = BREAKS | {"so", "while", "whereas"}
"""Words before the first of a clause."""
_DOES = frozenset({
    "does", "doesn't", "fails", "had", "has", "hasn't", "is", "isn't", "leaks", "looks", "needs",
    "passes", "reads", "was", "wasn't",
})  # fmt: skip
"""Verbs of one thing: before them no "a" is an article."""


class LetterPlaces(HeardPlaces):
    """Knows which letters are places."""

    def _of_letter(
        self, at: int, last: int, letter: tuple[str, ...], groups: tuple[PositionGroup, ...]
    ) -> tuple[PositionGroup, ...]:
        """Those of `groups` of which the letter at `at` is a place, none where it is no place."""
        if self._ends_unit(at, last) or self._is_bare_article(at):
            return ()
        counted = self._before_its_word(at, last, groups)
        if counted:
            return counted
        headed = self._heads_name(at, last, groups)
        if headed:
            return headed
        here = tuple(g for g in self._groups_here(at) if g in groups)
        listed = self._context.running(at) or self._context.heard
        rowed = not listed and bool(here) and self._heads_row(last, letter, here[0])
        excepted = self._is_excepted(at) and self._text(last) in _BEHIND_EXCEPTED
        alone = not listed and bool(here) and self._named_together(at, last, letter, here)
        pointed = excepted or self._is_pointed_at(at, last) or self._is_subject(at, last)
        pointed = pointed or (self._text(last) in _JOINTS and self._is_of_a_part(at - 1))
        measured = bool(here) and self._is_of_a_row(at, last, here)
        if not here or not (listed or rowed or alone or pointed or measured):
            return ()
        same = self._text(at - 1) in SAME or self._is_same(last)
        followed = pointed or same or self._value_follows(last) or self._state_follows(last)
        followed = followed or self._is_nil(last)
        followed = followed or self._is_so_somewhere(at, last)
        heads = self._text(at - 1) in _HEADS and self._text(at) not in ("a", "i")
        followed = followed or (heads and self._is_measured(last))  # "C gives 19.5"
        if self._ends_value(at, last):
            followed = self._behind = True
        if not followed and len(self._row(here[0].phrases[letter], at, last, here)[0]) < 2:
            return ()
        return here

    def _is_bare_article(self, at: int) -> bool:
        """Whether the "a" at `at` is no letter, for what stands behind it."""
        return self._text(at) == "a" and self._text(at + 1) in _A_PART

    def _is_so_somewhere(self, at: int, last: int) -> bool:
        """ "C lifting at the hinge", at the head of a clause: an "a" is no article there."""
        heads = not at or self._text(at - 1) in _HEADS
        return heads and self._text(last + 1) in WHERE | _ALONG and self._is_state(self._text(last))

    def _before_its_word(
        self, at: int, last: int, groups: tuple[PositionGroup, ...]
    ) -> tuple[PositionGroup, ...]:
        """Those of `groups` whose places are counted by the word behind the letter: "B end". "A" is
        an article there, unless it can be none ("A end") or another letter stands so, too."""
        word = self._strong_word(last)
        own = tuple(g for g in word[0].groups if g in groups) if word is not None else ()
        if not own or word is None or word[0].many or self._text(at) != "a":
            return own if word is not None and not word[0].many else ()
        return own if self._text(last)[:1] in _VOWELS or self._stands_so(last, own) else ()

    def _stands_so(self, last: int, groups: tuple[PositionGroup, ...]) -> bool:
        """Whether another letter stands before the word at `last` somewhere."""
        return any(
            self._texts[index + 1 : index + 2] == [self._text(last)]
            and (text,) != ("a",)
            and any((text,) in group.phrases for group in groups)
            for index, text in enumerate(self._texts)
            if len(text) == 1
        )

    def _ends_value(self, at: int, last: int) -> bool:
        """Whether the letter at `at` stands between a value and a pause, and is no unit: "fourteen
        amps A and thirty four B"."""
        if self._text(last) not in _ENDS | _ABOUT or not self._value_ends(at):
            return False
        unit = unit_words.find(self._atoms, at, last)
        return unit is None or not self._is_bare(at) or self._behind

    def _is_of_a_row(self, at: int, last: int, groups: tuple[PositionGroup, ...]) -> bool:
        """Whether a letter stands behind or before a value as another one of `groups` does: "7 mm B
        and 4.8 mm on A", "B 36 kilopascals, A 28"."""
        heads = (not at or self._text(at - 1) in _HEADS) and self._number_at(last)
        if not heads and not self._ends_value(at, last):
            return False
        letters = {words[0] for group in groups for words in group.phrases if len(words) == 1}
        for index, text in enumerate(self._texts):
            if text not in letters or len(text) > 1 or text == self._text(at):
                continue
            if heads and self._text(index - 1) in _HEADS and self._number_at(index + 1):
                return self._measured_at(min(at, index) + 1)
            first = index - (self._text(index - 1) == "the")
            first -= self._text(first - 1) in _POINTS
            if not heads and self._value_ends(first) and self._text(index + 1) in _ENDS | _ABOUT:
                return True
            if not heads and self._text(index - 1) in _HEADS and self._value_follows(index + 1):
                return True
        return False

    def _ends_unit(self, at: int, last: int) -> bool:
        """Whether the letter at `at` is the last of a unit: "33 degrees C and B 67"."""
        unit = unit_words.find(self._atoms, at - 1, last) if at else None
        return unit is not None and unit[1] > at and self._is_bare(at - 1)

    def _is_bare(self, at: int) -> bool:
        """Whether a number ends right before `at`, and no unit."""
        first = self._value_before(at)
        number = None if first is None else self._passage.numerals(first).number(first)
        return number is not None and number.last == at

    def _heads_name(
        self, at: int, last: int, groups: tuple[PositionGroup, ...]
    ) -> tuple[PositionGroup, ...]:
        """Those of `groups` whose field is named right behind the letter at the head of a clause:
        "B trim pump current 24 amps", "A: trim pump ...". "A" without a sign behind it is an
        article there, unless the list goes on with another letter."""
        if at and self._text(at - 1) not in BREAKS:
            return ()
        apart = self._text(last) in (",", ":") and self._text(at - 1) not in (",", ":")
        known = self._position_word(last + apart)
        own = tuple(g for g in known[0].groups if g in groups) if known is not None else ()
        if own and self._text(at).endswith("'s"):
            return own  # "C's seal was running ..."
        if known is None or not own or not self._value_follows(known[1]):
            return ()
        listed = self._context.running(at) and not set(own).isdisjoint(self._context.groups)
        if self._text(at) == "a" and not (
            apart or listed or self._goes_on_by_letter(known[1], own)
        ):
            return ()
        return own

    def _goes_on_by_letter(self, at: int, groups: tuple[PositionGroup, ...]) -> bool:
        """Whether another letter of `groups` begins a clause behind the value at `at`, with a value
        or a name behind it."""
        link = self._past_links(at)
        number = self._passage.numerals(link).number(link) if self._free(link) else None
        if number is None:
            return False
        unit = unit_words.find(self._atoms, number.last, self._passage.barrier(number.last))
        index = number.last if unit is None else unit[1]
        while self._text(index) in BREAKS:
            index += 1
        letter = (self._text(index),)
        if letter == ("a",) or not any(letter in group.phrases for group in groups):
            return False
        return self._value_follows(index + 1) or self._position_word(index + 1) is not None

    def _heads_row(self, at: int, letter: tuple[str, ...], group: PositionGroup) -> bool:
        """Whether the first letter of the card stands before `at`, and number by number the next
        ones follow: "a 41, B43, C40.5, D52 degrees" is no article."""
        places = [words for words in group.phrases if len(words) == 1 and len(words[0]) == 1]
        if len(places) < _LEAST_ROW or letter != places[0] or not self._value_follows(at):
            return False
        following = iter(places[1:_LEAST_ROW])
        wanted = next(following, None)
        for index in range(at, min(at + _ROW_REACH, len(self._atoms))):
            if wanted is not None and (self._text(index),) == wanted:
                if not self._value_follows(index + 1):
                    return False
                wanted = next(following, None)
        return wanted is None

    def _named_together(
        self, at: int, last: int, letter: tuple[str, ...], groups: tuple[PositionGroup, ...]
    ) -> bool:
        """Whether letters are joined, and told of in the plural: "A, B and N are fifty"."""
        if self._text(last) not in (",", "and", "&"):
            return False
        named, end = self._row(groups[0].phrases[letter], at, last, groups)
        return len(named) > 1 and self._text(end) in _ARE

    def _is_subject(self, at: int, last: int) -> bool:
        """Whether a letter begins a clause that tells of it: "A is tight, B's got a leak"."""
        if self._text(at) == "i" or (at and self._text(at - 1) not in _HEADS):
            return False
        return self._text(at).endswith("'s") or self._text(last) in _DOES

    def _is_pointed_at(self, at: int, last: int) -> bool:
        """Whether a letter can only be a place: "track on A is one millimetre", "on B it's two",
        "on the B", "for the root gap on A, ..."."""
        if self._text(at - 1 - (self._text(at - 1) == "the")) not in _POINTS:
            return False
        told = self._text(last) in ("the", "there", "there's") or (
            self._text(last) in _TELLS
            and (self._value_follows(last) or self._value_follows(last + 1))
        )
        return told or self._text(last) in {"", *BREAKS, *WHERE, *_ALONG}  # "on B at the core"
