"""Things: the card's terms that say something by themselves, as remarks do."""

from __future__ import annotations

from bisect import bisect_left
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from voicelog.objects import Mention
    from voicelog.reading.lexicon import Lexicon
    from voicelog.reading.words import Token

Thing = tuple[int, str, Literal["fault", "counted", "statement", "subject"]]
"""A term that says something by itself: (end index, canonical, how)."""


def things_of(
    tokens: Sequence[Token], terms: Iterable[Mention], lexicon: Lexicon
) -> dict[int, Thing]:
    starts = [token.start for token in tokens]
    things: dict[int, Thing] = {}
    for term in terms:
        canonical = str(term.value)
        how = _how(canonical, lexicon)
        if how is not None and "near" not in term.qualifiers:
            first = bisect_left(starts, term.start)
            things[first] = (bisect_left(starts, term.end), canonical, how)
    return things


def _how(
    canonical: str, lexicon: Lexicon
) -> Literal["fault", "counted", "statement", "subject"] | None:
    if canonical in lexicon.counted:
        return "counted"
    if canonical in lexicon.faults:
        return "fault"
    if canonical in lexicon.statements:
        return "statement"
    return "subject" if canonical in lexicon.subjects else None
