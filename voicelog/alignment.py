"""Two wordings of the same speech laid side by side: where a stretch of one stands in the other."""

from __future__ import annotations

import re
from difflib import SequenceMatcher
from functools import lru_cache

_WORD = re.compile(r"\S+")


@lru_cache(maxsize=64)
def _met(text: str, other: str) -> tuple[tuple[int, int], ...]:
    """(word of `text`, word of `other`) that are the same, in order; marks and case don't count."""
    ours, theirs = (
        [re.sub(r"\W", "", word).casefold() for word in _WORD.findall(each)]
        for each in (text, other)
    )
    matcher = SequenceMatcher(None, ours, theirs, autojunk=False)
    return tuple(
        (block.a + at, block.b + at)
        for block in matcher.get_matching_blocks()
        for at in range(block.size)
    )


def counterpart(text: str, start: int, end: int, other: str) -> tuple[int, int]:
    """The stretch of `other` (first character, character behind the last) for `text[start:end]`.

    Where none of its words stand in `other`, it is what lies between the nearest words on both
    sides that do; if nothing lies there, it is empty and in that place.
    """
    ours, theirs = ([match.span() for match in _WORD.finditer(each)] for each in (text, other))
    inside = [at for at, (a, b) in enumerate(ours) if a < end and start < b]
    if not inside:
        return len(other), len(other)
    met = _met(text, other)
    first = max((its + 1 for own, its in met if own < inside[0]), default=0)
    last = min((its for own, its in met if own > inside[-1]), default=len(theirs))
    same = [its for own, its in met if inside[0] <= own <= inside[-1]]
    if same:  # words before and behind it that only the other wording has are not of it
        own_first = next(own for own, its in met if its == same[0])
        own_last = next(own for own, its in met if its == same[-1])
        first = same[0] if own_first == inside[0] else first
        last = same[-1] + 1 if own_last == inside[-1] else last
    if first >= last:
        at = theirs[first][0] if first < len(theirs) else len(other)
        return at, at
    return theirs[first][0], theirs[last - 1][1]
