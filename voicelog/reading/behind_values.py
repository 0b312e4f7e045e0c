"""Places behind their values: "forty five foot pounds on one and three, forty four on two"."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.continued import Continued
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.places import NIL, TELLERS
from voicelog.reading.running_list import BREAKS, REACH
from voicelog.reading.state_words import trade
from voicelog.reading.talk import talk
from voicelog.reading.words import verb_stem, word_key

if TYPE_CHECKING:
    from voicelog.reading.position_words import PositionGroup
    from voicelog.reading.running_list import Found

_PAIR = 2
AT = frozenset({"at", "for", "in", "on"})
_NOTHING = NIL | {"nothing"}

_AS = frozenset({"before", "found", "it", "left", "they"})
""" "On one, two and four as they stood"."""


class BehindValues(Continued):
    """Reads the places that stand behind their values."""

    def _is_of_a_part(self, at: int) -> bool:
        """Whether the "of" at `at` leads from a thing at which a value was measured to its places:
        "forty newton metres on the legs of A and B"."""
        if self._text(at) != "of":
            return False
        lexicon, thing = lexicon_of(self._cues.card), self._text(at - 1)
        if lexicon.canonical(thing) not in lexicon.places:
            return False
        links = (each for each in range(at - 2, max(-1, at - 5), -1) if self._text(each) in AT)
        return any(self._value_ends(each) for each in links)

    def _comes_from(self, at: int) -> bool:
        """ "Nothing from three", "nothing out of three"."""
        if self._text(at) == "from":
            return self._text(at - 1) in _NOTHING
        return (self._text(at - 1), self._text(at)) == ("out", "of") and self._text(
            at - 2
        ) in _NOTHING

    def _behind_value(self, at: int) -> Found | None:
        """ "forty five foot pounds on one and three, forty four on two"."""
        under = self._is_put_under(at) or self._is_of_a_part(at) or self._comes_from(at)
        if at == 0 or (self._text(at) not in ("on", "for", "into", "in", "at") and not under):
            return None
        ends = self._value_ends(at) or self._text(at - 1) in NIL
        loose = self._text(at) in ("in", "at") and not ends
        if loose and not self._happens(at):
            return None
        loose = loose or self._is_chosen(at)
        context = self._context
        running = context.running(at)
        heard = context.heard if at - context.heard_at <= REACH else ()
        groups = tuple(g for g in (context.groups if running else heard) if g.numbers)
        if not (groups or loose or ends):
            return None
        groups = groups or self._numeric_here(at)
        first = at + 2 if self._text(at + 1) == "," else at + 1
        start = self._number_sign(first)
        phrase = self._phrase(start, self._groups_here(at))
        if not loose and phrase and not phrase[3] and self._text(phrase[1]) in (*BREAKS, ""):
            named, last = self._row(phrase[0], start, phrase[1], phrase[2])
            return self._mentions(start, last, named, phrase[2], {"continued"}, ()), last
        if not groups and ends and start > first:
            groups = self._counted_alike(start)
        if not groups:
            return None
        if context.heard_at > context.at or self._is_excepted(start):
            context.used = set()  # another field was named since, or these are left out of all
        self._link = self._text(at)
        listed = self._numbers_at(start, groups)
        self._link = ""
        if listed is None:
            return None
        values, last = self._without_next(*listed)
        before = self._text(at - 1)
        so = word_key(before) in trade("CONDITION") or before in talk().remarks.passed
        if loose and len(values) == 1 and not so:
            return None  # "lifts at four", but not "fine at four"
        goes_on = self._next_is_told(last, set(groups[0].numbers) - set(values))
        told = goes_on or self._state_follows(last) or (len(values) > 1 and self._are_so(last))
        measured = self._text(last) in TELLERS and self._value_follows(last)
        told = told or measured  # "on three I get ..."
        ended = self._text(last) in BREAKS or (start > first and self._text(last) in AT)
        ended = ended or (self._text(last) == "as" and self._text(last + 1) in _AS)
        ended = ended or self._is_so_too(start, last)
        if self._free(last) and not (ended or told or under):
            return None
        named = tuple(groups[0].numbers[value] for value in values)
        qualifiers = {"continued"} | ({"group"} if len(values) > 1 else set())
        mentions = self._mentions(start, last, named, groups, qualifiers, ())
        context.at = last
        other = running and groups[0] not in context.groups
        if told or other or not (running or ends):  # "intact on one and two; three is ..."
            self._enter(groups, values, last)
        else:
            self._trail(groups, values, at)
        if goes_on:
            context.resume = self._told = last + (self._text(last) in (",", ";"))
        return mentions, self._skip_value(last) if measured else last

    def _counted_alike(self, at: int) -> tuple[PositionGroup, ...]:
        """The groups of which the number at `at` counts a place, the longest first: "on number
        two", where the name of the field is still to come."""
        figure = next(self._prefixes(at), None)
        value = -1 if figure is None else figure[0]
        here = self._in_step(self._passage.cues.groups, at)
        groups = [group for group in here if value in group.numbers]
        groups.sort(key=lambda group: -len(group.numbers))
        return tuple(g for g in groups if g.numbers[value] == groups[0].numbers[value])

    def _happens(self, at: int) -> bool:
        """Whether "at" stands right behind what is so there: "no weeping at one, two or four"; or
        "in", before several places: "even in one and four, uneven in two and three"."""
        before = self._text(at - 1)
        so = word_key(before) in trade("CONDITION") or self._is_state(before)
        so = so or self._is_state(before.removeprefix("un"))
        so = so or self._is_asked_of(at - 1) or self._asked_ends(at)
        if self._text(at) != "in":
            return self._text(at) == "at" and so
        groups = self._numeric_here(at) if so else ()
        listed = self._numbers_at(at + 1, groups) if groups else None
        return listed is not None and len(listed[0]) > 1

    def _is_chosen(self, at: int) -> bool:
        """Whether an option stands before the "on" at `at`, and behind it several places: "air
        going past the rings on two and four"."""
        chosen = word_key(self._text(at - 1)) in lexicon_of(self._cues.card).option_words
        groups = self._numeric_here(at) if self._text(at) == "on" and chosen else ()
        listed = self._numbers_at(at + 1, groups) if groups else None
        return listed is not None and len(listed[0]) > 1

    def _asked_ends(self, at: int) -> bool:
        """Whether what a label asks for ends before `at`: "spring back"."""
        stems = tuple(verb_stem(self._text(each)) for each in range(max(0, at - 3), at))
        asked = lexicon_of(self._cues.card).predicates
        return any(stems[first:] in asked for first in range(len(stems)))

    def _are_many_at(self, at: int, groups: tuple[PositionGroup, ...]) -> bool:
        """Whether more than two places are listed at `at`, where something is so."""
        if not self._happens(at - 1):
            return False
        listed = self._numbers_at(at, groups)
        return listed is not None and len(listed[0]) > _PAIR

    def _without_next(self, values: list[int], last: int) -> tuple[list[int], int]:
        """The places of a list without what stands behind the pause: the next place, of which a
        number is told, or the next value ("57 on four, five draws 66", "450 on one, four forty
        eight on two", "9.2 on number two and ten on number one")."""
        if len(values) < 2 or self._text(last - 2) not in (",", "and"):
            return values, last
        if self._text(last) in AT and self._is_other_place(last + 1, values):
            return values[:-1], last - 2
        if self._text(last - 2) == "and":
            return values, last
        whole = self._passage.numerals(last - 1).number(last - 1)
        goes_on = whole is not None and whole.last > last
        goes_on = goes_on or self._is_measured(last) or self._is_nil(last)
        goes_on = goes_on or (self._text(last - 4) == "and" and self._state_behind(last))
        return (values[:-1], last - 2) if goes_on else (values, last)

    def _is_other_place(self, at: int, values: list[int]) -> bool:
        """Whether a place by number that is none of `values` stands at `at`, and then a pause."""
        figure = next(self._prefixes(self._number_sign(at)), None)
        other = figure is not None and figure[0] not in values
        return other and figure is not None and self._text(figure[1]) in (*BREAKS, "", *AT)

    def _is_put_under(self, at: int) -> bool:
        """Whether a thing that was counted was put somewhere: "put one shim under three"."""
        if self._text(at) not in ("under", "behind", "beneath") or at < 2:
            return False
        words = self._passage.words[max(0, at - 3) : at]  # a number and one or two words
        counted = words[-1] is None and any(word is not None for word in words)
        return counted and not self._value_ends(at) and self._context.running(at)
