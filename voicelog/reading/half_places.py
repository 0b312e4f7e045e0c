"""Half places: places of two words of which one was said with another place, or for several.

"Upper caliper 1.1, lower 1.2", "left and right main", "clean on the mains".
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from voicelog.reading.atoms import key
from voicelog.reading.fused import CLAIM as NAME
from voicelog.reading.places import NIL
from voicelog.reading.position_rows import Rows
from voicelog.reading.running_list import BREAKS, REACH

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.reading.atoms import Key
    from voicelog.reading.position_words import PositionGroup
    from voicelog.reading.running_list import Found

_BOTH = frozenset({"and", "&", "or", "nor"})
_GOES_ON = BREAKS | {"", "both", "one", "each", "again", "only", "too", "now"}
_AT = frozenset({"at", "in", "of", "on", "for"})
_TWO = 2


class HalfPlaces(Rows):
    """Reads places that lack their second word, and that second word for all that have it."""

    def _half(
        self, at: int, groups: Sequence[PositionGroup]
    ) -> tuple[str, int, tuple[PositionGroup, ...], bool] | None:
        """As `_phrase`, the first word of one place, the second of which was said with another."""
        first = self._text(at)
        if not self._placed or first not in self._cues.phrase_heads or not self._free(at):
            return None
        if at - self._placed[-1][0] > REACH or not self._ends_half(at + 1):
            return None
        ends = {_end_of(place) for place in self._all_placed} - {()}
        for group in groups:
            if (first,) in group.phrases:
                return None
            begun = {
                place
                for words, place in group.phrases.items()
                if len(words) == _TWO and words[0] == first and len(_end_of(place)) == 1
            }
            place = begun.pop() if len(begun) == 1 else None
            if place is not None and _end_of(place) in ends:
                same = tuple(other for other in groups if place in other.positions)
                return place, at + 1, same, False
        return None

    def _ends_half(self, at: int) -> bool:
        text = self._text(at)
        told = self._value_follows(at) or self._is_nil(at) or self._state_follows(at)
        return text in _GOES_ON or told

    def _half_alone(self, at: int) -> Found | None:
        """ "Upper caliper 1.1, lower 1.2", where the last word of the place is left out."""
        if self._text(at) == "left" or self._text(at - 1) in ("as", "to"):
            return None
        found = self._half(at, self._recent)
        if found is None:
            return None
        last = found[1] + (self._text(found[1]) == "one" and not self._is_counted_so(at, found[1]))
        mentions = self._mentions(at, last, (found[0],), found[2], set(), ())
        return mentions, self._skip_value(last)

    def _is_counted_so(self, at: int, one: int) -> bool:
        """Whether the "one" behind a place is its number, as the place before has one: "bottom
        section three, middle none, top one"."""
        before = at - 1
        while self._text(before) in (",", "and"):
            before -= 1
        if before == at - 1 or before < 1 or self._text(one + 1) not in (*BREAKS, ""):
            return False
        number = self._passage.words[before] is not None or self._text(before) in NIL
        return number and self._claims[before - 1] == NAME

    def _shared_end(self, at: int) -> Found | None:
        """ "The left and right main", "town and harbour legs": two places that have their second
        word together."""
        if self._text(at + 1) not in _BOTH or self._text(at) not in self._cues.phrase_heads:
            return None
        first, other, end = (self._text(index) for index in (at, at + 2, at + 3))
        if not self._free(at + 3):
            return None
        for word in dict.fromkeys((end, end.removesuffix("s"))):
            groups = tuple(
                group
                for group in self._cues.phrases.get((other, word), ())
                if (first, word) in group.phrases
            )
            here = self._in_step(groups, at) if groups else ()
            if here:
                phrases = here[0].phrases
                named = (phrases[first, word], phrases[other, word])
                if named[0] != named[1]:
                    mentions = self._mentions(at, at + 4, named, here, {"group"}, ())
                    return mentions, self._skip_value(at + 4)
        return None

    def _all_ends(self, at: int) -> Found | None:
        """ "Clean on the mains": all places that end so, where no number is told of them."""
        end = self._text(at).removesuffix("s")
        if end == self._text(at) or end not in self._cues.tails or self._text(at - 1) != "the":
            return None
        pointed = self._text(at - 2) in _AT and not self._value_ends(at - 2)
        told = pointed and self._text(at + 1) in (*BREAKS, "")
        if not told and not self._state_follows(at + 1):
            return None
        found = next(self._ending(end, at), None)
        if found is None:
            return None
        return self._mentions(at, at + 1, found[1], found[0], {"group"}, ()), at + 1

    def _ending(
        self, end: str, at: int
    ) -> Iterator[tuple[tuple[PositionGroup, ...], tuple[str, ...]]]:
        here = self._groups_here(at)
        for group in here:
            members = tuple(place for place in group.positions if _end_of(place) == (end,))
            if len(members) > 1:
                yield tuple(each for each in here if each.positions == group.positions), members


@lru_cache(maxsize=20_000)
def _end_of(place: str) -> Key:
    """What is left of a place without its first word."""
    return key(place)[1:]
