"""Left out: all the places of a field but some, "all but the second"."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.fused import EXCEPT_PAIRS
from voicelog.reading.other_places import OtherPlaces
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from voicelog.reading.position_words import PositionGroup
    from voicelog.reading.running_list import Found

    Named = tuple[tuple[str, ...], tuple[PositionGroup, ...], int]
    """Places, their groups, and the index behind their words."""


def leaves_out(word: str) -> bool:
    """Whether `word` behind "all" leaves some out."""
    return word == "but" or word in talk().everyday.excepting


_EACH = frozenset({"all", "everything"})
_ALL = _EACH | {"everywhere", "throughout"}
_ROUND = frozenset({"around", "over", "round"})
_OF_IT = frozenset({
    "", ",", ".", ";", ":", "!", "-", "one", "ones", "where", "which", "that", "that's", "there",
    "this",
})  # fmt: skip
"""What may stand behind a place that is left out, so that nothing else is told of it."""


class LeftOut(OtherPlaces):
    """Reads all places but those that are named."""

    def _leaves_out(self, at: int) -> int | None:
        """The index behind "all but", "everything apart from", "all round except" at `at`."""
        if self._text(at) not in _ALL:
            return None
        at += self._text(at) == "all" and self._text(at + 1) in _ROUND
        pair = self._text(at + 1), self._text(at + 2)
        if pair in EXCEPT_PAIRS:
            return at + len(pair) + 1
        return at + 2 if leaves_out(pair[0]) else None

    def _all_but(self, at: int, after: int) -> Found | None:
        """ "Spray fine on all but four", "all but the second", "all but the rear left"."""
        after += self._text(after) == "for"
        after += self._text(after) == "the"
        word = self._strong_word(after)
        after = self._number_sign(after) if word is None else word[1]
        groups = self._numeric_here(at)
        left_out = self._left_out(after, groups) or self._phrases_at(after, self._groups_here(at))
        if left_out is None:
            return None
        names, groups, last = left_out
        named = self._strong_word(last)  # "all but the middle panel"
        if named is not None and not named[0].many and next(self._prefixes(named[1]), None) is None:
            last = named[1]
        spread = self._text(at) not in _EACH or self._text(at + 1) in _ROUND
        if spread and self._text(last) not in _OF_IT:
            return None  # "good all round but the sill compression is six"
        kept = [name for name in groups[0].positions if name not in names]
        self._enter(groups, [n for n, name in groups[0].numbers.items() if name in kept], last)
        return self._mentions(at, last, kept, groups, {"group"}, ()), last

    def _left_out(self, at: int, groups: tuple[PositionGroup, ...]) -> Named | None:
        """The numbered places at `at`, by number or by their order."""
        if not groups:
            return None
        numbers = groups[0].numbers
        if self._text(at) == "last":
            return (groups[0].positions[-1],), groups, at + 1
        ordinal = self._passage.numerals(at).ordinal(at) if self._may_count(at) else None
        if ordinal is not None:
            name = numbers.get(int(ordinal.value))
            return None if name is None else ((name,), groups, ordinal.last)
        head = self._next_position(at, set(numbers))
        if head is None:
            return None
        values = [head[0]]
        last = self._more(values, head[1], set(numbers), many=True)
        return tuple(numbers[value] for value in values if value in numbers), groups, last

    def _phrases_at(self, at: int, groups: tuple[PositionGroup, ...]) -> Named | None:
        """As `_left_out`, places that are words or letters."""
        found = self._phrase(at, groups)
        if found is None or found[3]:
            return None
        named, last = self._row(found[0], at, found[1], found[2])
        return tuple(named), found[2], last
