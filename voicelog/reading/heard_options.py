"""Options of a choice that a recogniser wrote as they sound: "agitation week", "plume is blew".

Looked for only where an option must stand: behind the name of its field, with nothing but its
places and plain words between, and with nothing more said of it. It is asked about.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import TYPE_CHECKING

from voicelog.phonetics import alike, sound

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.objects import Mention
    from voicelog.reading.lexicon import Lexicon, Place
    from voicelog.reading.words import Token

_LINKS = frozenset({
    ",", ":", "is", "are", "was", "were", "looks", "look", "looked", "still", "now", "all", "both",
    "the", "a", "it", "its", "it's", "and", "shows", "showing",
})  # fmt: skip
"""Words between the name of a field and its option."""
_ENDS = frozenset({"", ",", ".", ";", "!", "and", "but", "because", "so"})
_NEAR = 0.68
"""Least likeness (Jaro-Winkler) of an option and what was written for it."""


def find(
    tokens: Sequence[Token],
    terms: Sequence[Mention],
    positions: Sequence[Mention],
    lexicon: Lexicon,
) -> Iterator[tuple[int, int, str]]:
    """(start, end, canonical option) of each misheard option, in characters."""
    if not lexicon.options or not terms:
        return
    known = sorted((mention.start, mention.end) for mention in (*terms, *positions))
    starts = [start for start, _ in known]
    named: set[Place] = set()
    by_start = {term.start: term for term in terms}
    placed = {place.start: place.end for place in positions}
    past = 0
    for index, token in enumerate(tokens):
        past = max(past, placed.get(token.start, 0))
        if token.start < past:
            continue
        at = bisect_right(starts, token.start) - 1
        if at >= 0 and token.start < known[at][1]:
            term = by_start.get(token.start)
            places = lexicon.places.get(str(term.value), {}) if term is not None else {}
            fields = {place for place in places if place in lexicon.options}
            named = fields or (set() if places and term is not None else named)
            continue
        if not named:
            continue
        option = _option(token, named, lexicon)
        after = tokens[index + 1] if index + 1 < len(tokens) else None
        ends = after is None or after.text.lower() in _ENDS or after.start in starts
        if option is not None and ends:
            yield token.start, token.end, option
        elif token.text.lower() not in _LINKS:
            named = set()


def _option(token: Token, fields: set[Place], lexicon: Lexicon) -> str | None:
    """The one option of `fields` that a word sounds like."""
    if len(token.key) < 3 or not token.key.isalpha():
        return None
    found = {
        canonical
        for place in fields
        for canonical in lexicon.options[place]
        if sound(token.key) == sound(canonical.lower()) and alike(token.key, canonical) >= _NEAR
    }
    return found.pop() if len(found) == 1 else None
