"""Places of several words, one of them a number: "boom one front", "the rear four", "both boom
one pads".

The words before the last one may count places by themselves, and they may be left out where they
were said before.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.behind_values import BehindValues
from voicelog.reading.running_list import REACH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.reading.position_words import PositionGroup
    from voicelog.reading.running_list import Found

_LEAST_LONG = 3
"""Words of a place that a shorter one may begin, at least."""


class LongPlaces(BehindValues):
    """Reads places that begin as others do."""

    def _named_here(self, at: int) -> tuple[PositionGroup, ...]:
        """The groups of the field that was named before `at`."""
        context = self._context
        return context.heard if at - context.heard_at <= REACH else ()

    def _whole_place(
        self, at: int, behind: int, known: Sequence[PositionGroup]
    ) -> tuple[str, int, tuple[PositionGroup, ...], bool] | None:
        """As `_phrase`, a place that begins with a position word, which counts other places: "boom
        one front" and "boom one, front", where there is a boom 1 as well. It may be shorter where
        this step has none of those `known`: "elevator up", and in another step the elevator."""
        step = self._passage.step_at(at)
        elsewhere = step is not None and all(step not in group.steps for group in known)
        longest = self._cues.phrase_heads.get(self._text(at), 0)
        words: list[str] = []
        found = None
        for index in range(at, len(self._atoms)):
            if len(words) == longest or not self._free(index):
                break
            if self._text(index) in ("-", ",", ":"):
                continue
            words.append(self._text(index))
            groups = self._cues.phrases.get(tuple(words)) if index >= behind else None
            if groups is None or len(words) < _LEAST_LONG - elsewhere:
                continue
            if len(words) < _LEAST_LONG:
                groups = tuple(group for group in groups if step in group.steps)
            if groups:
                found = groups[0].phrases[tuple(words)], index + 1, groups
        heard = self._named_here(at)
        if found is None or (heard and set(found[2]).isdisjoint(heard)):
            return None  # another field is spoken of: "feed rope boom one, front strand frayed"
        return *found, False

    def _cut_short(self, at: int, behind: int, known: Sequence[PositionGroup]) -> Found | None:
        """A place of the field spoken of without its last word, and a value: "slide pad boom one
        four", where the pads are at boom 1 front and boom 1 rear. It is none of another field."""
        heard = self._named_here(at)
        if not heard or not set(heard).isdisjoint(known):
            return None
        for _, last in self._prefixes(behind):
            if self._beginning(at, last, heard) and self._value_follows(last):
                return [self._unknown(at, last, heard)], last
        return None

    def _beginning(
        self, at: int, last: int, groups: Sequence[PositionGroup]
    ) -> tuple[PositionGroup, tuple[str, ...]] | None:
        """The places of one of `groups` that begin with the words at `at`..`last`."""
        said = tuple(text for text in self._texts[at:last] if text != "-")
        for group in groups:
            longer = (words for words in group.phrases if words[: len(said)] == said)
            places = (group.phrases[words] for words in longer if len(words) > len(said))
            members = tuple(dict.fromkeys(places))
            if members:
                return group, members
        return None

    def _all_beginning(self, first: int, at: int) -> Found | None:
        """ "Both boom one pads": the places that begin so."""
        word = self._strong_word(at)
        for _, last in self._prefixes(word[1]) if word is not None else ():
            found = self._beginning(at, last, self._passage.cues.groups)
            if found is not None and len(found[1]) > 1:
                if self._text(first) == "both" and len(found[1]) != 2:
                    return None
                same = tuple(g for g in self._cues.groups if g.positions == found[0].positions)
                return self._mentions(first, last, found[1], same, {"group"}, ()), last
        return None

    def _is_of_open_place(self, at: int, after: int, groups: Sequence[PositionGroup]) -> bool:
        """Whether the figures at `after`, behind the name of a field at `at`, are one number, of
        the place that its sentence began with: "door one: lever force one eighty newtons"."""
        figure = next(self._prefixes(after), None) if self._free(after) else None
        if figure is None or not self._placed or self._context.filled:
            return False
        first = self._placed[-1][0]
        alone = sum(each == first for each, _ in self._placed[-2:]) == 1
        if not alone or first < self._sentence_start(at) or set(self._recent).isdisjoint(groups):
            return False
        number = self._passage.numerals(after).number(after)
        return number is not None and number.last > figure[1]
