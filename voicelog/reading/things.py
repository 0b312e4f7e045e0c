"""Things: the card's terms that say something by themselves, as remarks do."""

from __future__ import annotations

import re
from bisect import bisect_left
from operator import attrgetter
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
        if how == "counted" or (how is not None and "near" not in term.qualifiers):
            first = bisect_left(starts, term.start)
            things[first] = (bisect_left(starts, term.end), canonical, how)
    return things


def longer_names(tokens: Sequence[Token], terms: Iterable[Mention]) -> frozenset[int]:
    """Where names of several words begin: the "split" of a split pin is no fault."""
    starts = [token.start for token in tokens]
    return frozenset(
        bisect_left(starts, term.start)
        for term in terms
        if "near" not in term.qualifiers and " " in term.text
    )


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


def places_of_things(
    text: str, places: Iterable[Mention], terms: Iterable[Mention]
) -> set[tuple[int, int]]:
    """Words that name a place, with the name of a thing behind them: the "fixed jaw" is one of
    the jaws, and nothing was mended."""
    things = {term.start for term in terms}
    spans = {(place.start, place.end) for place in places}
    return {(start, end) for start, end in spans if _past_gap(text, end) in things}


_SOME = (" a", " an", " any", " no", " one", " some")
_NEAR = 8
"""Characters before a place that hold one of these words."""


def places_by_name(text: str, places: Iterable[Mention]) -> set[tuple[int, int]]:
    """Words that are the whole name of a place: the button "in the pit", but not "a pit"."""
    return {
        (place.start, place.end)
        for place in places
        if place.text.lower() == str(place.value).lower()
        and not text[max(0, place.start - _NEAR) : place.start].lower().rstrip().endswith(_SOME)
    }


def names_only(
    text: str, places: Iterable[Mention], remarks: Sequence[Mention]
) -> set[tuple[int, int]]:
    """Words that name a place and say nothing, where something else is told of it, or of several
    places, in the same clause ("unlocked stays dark", "locked and landed"), or where it is left out
    of what was told of all of them ("all but unlocked")."""
    found: set[tuple[int, int]] = set()
    for place in places:
        first = bisect_left(remarks, place.start, key=_START)
        last = bisect_left(remarks, place.end, first, key=_START)
        for at, remark in enumerate(remarks[first:last], first):
            if remark.end <= place.end:
                several = (place.start, place.end) != (remark.start, remark.end)
                behind = remarks[at + 1].start if at + 1 < len(remarks) else -1
                heads = text[place.end : place.end + 1] == " " and _HEAD.search(
                    text, 0, place.start
                )
                pause = _STOP if heads else _PAUSE  # "locked good, unlocked let us down, fail"
                more = behind >= place.end and not pause.search(text, place.end, behind)
                left_out = remark.start == place.start and _BUT.search(text, 0, place.start)
                if several or more or left_out:
                    found.add((remark.start, remark.end))
    return found


_PAUSE = re.compile(r"[,.;:!?]")
_STOP = re.compile(r"[.;:!?]")
_HEAD = re.compile(r"(?:\A|[,.;:!?])\s*(?:(?:and|the)\s+)*\Z", re.IGNORECASE)
_BUT = re.compile(
    r"\b(?:but|bar|except(?:\s+for)?|apart\s+from|other\s+than|save)\s+(?:the\s+)?\Z", re.IGNORECASE
)
_START = attrgetter("start")


def _past_gap(text: str, at: int) -> int:
    while text[at : at + 1] in (" ", "-"):
        at += 1
    return at
