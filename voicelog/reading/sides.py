"""Places named by a word or letter alone: "left", "inboard right", "B forty three" in a list."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.leaving import WAS
from voicelog.reading.letter_places import LetterPlaces
from voicelog.reading.position_rows import JOINTS
from voicelog.reading.running_list import BREAKS, REACH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.reading.position_words import PositionGroup
    from voicelog.reading.running_list import Found

_AFTER_AS = frozenset({"as", "all", "per", "a", "turn", "turned", "have", "has", "had", "been"})
"""Words before "left" and "right" that make them something else ("as left", "all right")."""
_ADVERBS = frozenset({"up", "down", "back", "in", "out", "off", "over", "through", "round"})
_REACHED = frozenset({"to", "against", "into", "onto"})
_RELATIVE = frozenset({"which", "that", ",", "."})
_IS_ALONE = frozenset({"is", "was", "isn't", "wasn't", "has", "hasn't", "'s"})
_GIVEN = frozenset({"get", "gets", "give", "giving", "got", "it", "make", "them", "with"})
_ARE_SO = frozenset({"is", "are", "was", "were", "has", "had"})
_CLAUSE = 8


class Sides(LetterPlaces):
    """Reads places that need no position word beside them."""

    def _side(self, at: int) -> Found | None:
        """A position that is a word of its own: "left", "inboard right"; a letter inside a
        list ("B forty three")."""
        for words, last in self._walk(at, self._cues.phrase_heads):
            groups = self._cues.phrases.get(words)
            if groups is None or words[0].isdigit() or self._is_other(at, last):
                continue
            if words == ("left",) and self._is_verb(at):
                continue
            if words == ("a",) and self._is_article(at, last):
                continue
            groups = self._spelt_so(groups, words, at)
            short = len(words) == 1 and len(words[0]) < 2
            if short:
                groups = self._of_letter(at, last, words, groups)
                if not groups:
                    continue
            groups = self._in_step(groups, at)
            word = self._strong_word(last)
            end = word[1] if word is not None and not word[0].many else last
            doubts: tuple[str, ...] = ()
            if words == ("left",) and self._may_be_left(at):
                doubts += ("ambiguous_place",)
                self._doubt_before(self._past_pause(at))
            if short and self._glued_figures(last, groups):
                doubts += ("fused_position",)
            if self._by_a_figure(at, last, groups):
                doubts += ("homophone_position",)
            position = groups[0].phrases[words]
            single = end
            named, end = self._row(position, at, end, groups)
            closes = self._closes_value(at, single) and self._value_follows(end)
            if closes or (len(named) == 2 and self._closes_state(at, single, end)):
                named, end = (position,), single
            told = {"group"} if len(named) > 1 else set()
            mentions = self._mentions(at, end, named, groups, told, doubts)
            if short:
                self._enter(groups, (), end)
                return mentions, self._skip_value(end)
            return mentions, end
        return None

    def _abridged(self, at: int) -> Found | None:
        """ "Boom one front five, rear four", "front left 49, right 50": the last word of a place,
        the others of which were said with the one before it."""
        end = self._text(at)
        if not self._placed or end not in self._cues.place_ends | self._cues.tails:
            return None
        (first, place), groups = self._placed[-1], self._recent
        heard = self._named_here(at)
        if at - first > REACH or (heard and set(heard).isdisjoint(groups)):
            return None
        if end == "left" and self._is_verb(at):
            return None
        found = self._same_beginning(place, at, groups)
        if found is None:
            return None
        named, last = self._row(found[0], at, found[1], groups)
        if not (self._value_follows(last) or self._state_follows(last)):
            return None
        told = {"group"} if len(named) > 1 else set()
        mentions = self._mentions(at, last, named, groups, told, ())
        return mentions, self._skip_value(last)

    def _is_of_another_step(self, at: int, groups: Sequence[PositionGroup]) -> bool:
        """Whether a name of fields of another step is a state here: "vent free on B", where another
        step has the free chlorine."""
        step = self._passage.step_at(at)
        strange = step is not None and not any(step in group.steps for group in groups)
        return strange and self._is_so(at)

    def _is_other(self, at: int, last: int) -> bool:
        """Whether the word before makes it no place ("a left turn"); a letter may stand there,
        too: "dim A top 416"."""
        before = self._text(at - 1)
        if last == at + 1 and self._goes_somewhere(at):
            return True
        if before == "a" and self._free(last):
            return self._passage.numerals(last).number(last) is None
        if before == "that's":  # "that's right", but "that's black, cyan and yellow"
            return last == at + 1 and not self._goes_on_in_row(last)
        return before in _AFTER_AS

    def _goes_on_in_row(self, at: int) -> bool:
        """Whether the next place of a row stands at `at`, behind "and" or a pause."""
        while self._text(at) in JOINTS:
            at += 1
        return self._text(at - 1) in JOINTS and any(
            words in self._cues.phrases and not self._value_follows(last)
            for words, last in self._walk(at, self._cues.phrase_heads)
        )

    def _goes_somewhere(self, at: int) -> bool:
        """Whether the word at `at` tells how far something went, or what was done: "closed right up
        to", "pulled up to 46", "back-flushed"."""
        word, after = self._text(at), self._text(at + 1)
        if word == "right" and after in _ADVERBS:
            return self._text(at + 2) in _REACHED
        if word in _ADVERBS and after == "to":
            return True
        return word in _ADVERBS and after == "-" and self._text(at + 2).endswith("ed")

    def _closes_value(self, at: int, last: int) -> bool:
        """Whether the place at `at` belongs to the value before it, and a pause follows: "one
        millimetre at the rear, and left and right both ..."."""
        link = at - 2 if self._text(at - 1) == "the" else at - 1
        linked = link > 0 and self._text(link) in ("at", "on", "for", "in")
        return linked and self._text(last) == "," and self._value_ends(link)

    def _closes_state(self, at: int, last: int, end: int) -> bool:
        """Whether the place at `at` belongs to the state before it, and of the next one, which
        ends at `end`, something else is told: "leaking at the dock end, the far end is sound"."""
        link = at - 2 if self._text(at - 1) == "the" else at - 1
        if link < 1 or self._text(link) not in ("at", "on", "in"):
            return False
        if self._text(end) in _RELATIVE or not self._is_state(self._text(link - 1)):
            return False
        if self._text(last) == ",":
            return self._is_told(end)
        for index in range(end, end + _CLAUSE if self._text(last) == "and" else end):
            if self._text(index) in BREAKS | {"and", "but", ""}:
                break
            if self._text(index) in _IS_ALONE:
                return True
        return False

    def _is_article(self, at: int, last: int) -> bool:
        """ "That's a fail", "hoses is a pass": a letter there is no place."""
        before = self._text(at - 1)
        leads = before in WAS | _AFTER_AS or before.endswith("'s") or before in _GIVEN
        return leads and self._text(last) not in _ARE_SO and self._state_follows(last)

    def _spelt_so(
        self, groups: tuple[PositionGroup, ...], words: tuple[str, ...], at: int
    ) -> tuple[PositionGroup, ...]:
        """Those of `groups` that mean one position by `words`: of the field spoken of, else
        those that spell it just so ("top" is "top" before it is "upper")."""
        spoken = self._groups_here(at)
        groups = tuple(group for group in groups if group in spoken) or groups
        exact = tuple(g for g in groups if " ".join(words) == g.phrases[words].casefold())
        groups = exact or groups
        return tuple(g for g in groups if g.phrases[words] == groups[0].phrases[words])
