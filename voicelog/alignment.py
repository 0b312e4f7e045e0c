"""Two wordings of the same speech laid side by side: the words that both have, and where a stretch
of one stands in the other."""

from __future__ import annotations

import re
from difflib import SequenceMatcher
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

_WORD = re.compile(r"\S+")


def met(ours: Sequence[str], theirs: Sequence[str]) -> tuple[tuple[int, int], ...]:
    """(place in `ours`, place in `theirs`) of the words that both have, in order."""
    matcher = SequenceMatcher(None, ours, theirs, autojunk=False)
    return tuple(
        (block.a + at, block.b + at)
        for block in matcher.get_matching_blocks()
        for at in range(block.size)
    )


@lru_cache(maxsize=64)
def _met(text: str, other: str) -> tuple[tuple[int, int], ...]:
    """The same for two texts; marks and case don't count."""
    ours, theirs = (
        [re.sub(r"\W", "", word).casefold() for word in _WORD.findall(each)]
        for each in (text, other)
    )
    return met(ours, theirs)


def counterpart(text: str, start: int, end: int, other: str) -> tuple[int, int]:
    """The stretch of `other` (first character, character behind the last) for `text[start:end]`.

    Where none of its words stand in `other`, it is what lies between the nearest words on both
    sides that do, less a word for each of `text` there that is not of the stretch. If nothing lies
    there, it is empty and in that place.
    """
    ours, theirs = ([match.span() for match in _WORD.finditer(each)] for each in (text, other))
    inside = [at for at, (a, b) in enumerate(ours) if a < end and start < b]
    if not inside:
        return len(other), len(other)
    pairs = dict(_met(text, other))
    before = max((own for own in pairs if own < inside[0]), default=-1)
    behind = min((own for own in pairs if own > inside[-1]), default=len(ours))
    first, last = pairs.get(before, -1) + 1, pairs.get(behind, len(theirs))
    first = pairs.get(inside[0], min(first + inside[0] - before - 1, last))
    last = pairs.get(inside[-1], max(last - (behind - inside[-1] - 1), first) - 1) + 1
    if first >= last:
        at = theirs[first][0] if first < len(theirs) else len(other)
        return at, at
    return theirs[first][0], theirs[last - 1][1]
