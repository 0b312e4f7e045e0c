"""Words for several places at once that a recogniser wrote as they sound: "all twelve volts" for
twelve bolts, "out bolts ..., even bolts ..." for the odd ones. They are asked about.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.phonetics import alike, sound
from voicelog.reading.everyone import Everyone

if TYPE_CHECKING:
    from voicelog.reading.running_list import Found

_MUCH_ALIKE = 0.85
"""Least likeness (Jaro-Winkler) of a plural of the card and what was written for it."""
_HALVES = {"odd": "even", "even": "odd"}


class HeardGroups(Everyone):
    """Reads such words."""

    def _all_by_ear(self, at: int) -> Found | None:
        """ "I'll 8 bolts 100 newton metres" for "all eight bolts ...": asked about."""
        if self._text(at) == "all":
            return self._so_many_by_ear(at)
        counted = self._counted(at + 1) if self._text(at) == "i'll" else None
        word = None if counted is None else self._plural_ahead(counted[1])
        if counted is None or word is None or not self._value_follows(word[1]):
            return None
        groups = tuple(group for group in word[0] if len(group.positions) == counted[0])
        if not groups:
            return None
        doubts = ("misheard_term",)
        named = groups[0].positions
        return self._mentions(at, word[1], named, groups, {"group"}, doubts), word[1]

    def _so_many_by_ear(self, at: int) -> Found | None:
        """ "All twelve volts at 760 newton metres", where the card counts twelve bolts: as many as
        its places, and a value is told of them."""
        for value, last in self._prefixes(at + 1):
            if not self._value_follows(last + 1) or self._word_ahead(last) is not None:
                continue
            here = self._in_step(self._groups_here(at), at)
            groups = tuple(
                group
                for group in here
                if len(group.positions) == value > 1
                and group.word
                and alike(self._text(last), f"{group.word}s") >= _MUCH_ALIKE
            )
            if groups:
                doubts = ("misheard_term",)
                named = groups[0].positions
                return self._mentions(at, last + 1, named, groups, {"group"}, doubts), last + 1
        return None

    def _meant_half(self, at: int) -> str:
        """ "odd" or "even" where it stands at `at`, or where a word that sounds like it does before
        the places of which the other half is named elsewhere; else ""."""
        text = self._text(at)
        for half, other in _HALVES.items():
            if text in (half, f"{half}s"):
                return half
            told = {other, f"{other}s"}.isdisjoint(self._texts)
            if not told and sound(text) == sound(half) and self._plural_ahead(at + 1) is not None:
                return half
        return ""
