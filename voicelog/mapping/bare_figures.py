"""Bare figures: numbers that tell of which place something is told, and stand with no name of it.

"Burners one, two and four light, three just clicks", "mixer two purrs along": nobody can list the
verbs. Where one stands behind a number that no field took, and the number is a place of the check
spoken of, it is taken for that place. Common practice, no source.
"""

from __future__ import annotations

import re
from bisect import insort
from typing import TYPE_CHECKING

from voicelog.mapping.row import HALF, START, Cue, Spans, Spot
from voicelog.objects import Interval
from voicelog.reading import verdict_words
from voicelog.reading.kinds import kind_of
from voicelog.reading.words import is_plural, word_key

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.mapping.row import Events
    from voicelog.objects import Field, FieldValue
    from voicelog.reading.lexicon import Place

_OPENS = re.compile(r"(?:[,;]|\b(?:and|but|while))\s+(?:number\s+)?\Z", re.IGNORECASE)
_LISTED = re.compile(r"[\s,]*(?:(?:and|&)\s+)?", re.IGNORECASE)
_FIGURES = frozenset({"count", "range"})
_MANY = 40
"""Places of a range, at most."""
_VERB = re.compile(
    r"\s+(?:(?:just|only|still|never)\s+)?(?P<verb>[a-z]+(?:n['’]t)?)\s", re.IGNORECASE
)


def name(row: Events, checks: Mapping[Place, Field], values: Sequence[FieldValue]) -> None:
    """Take figures for places where a verb stands behind them, if they begin a clause behind other
    places, or stand behind a name: "one, two and four light, three just clicks"."""
    taken = Spans(mention for value in values for mention in value.mentions)
    figures = [each for each in row.said if each.kind in _FIGURES]
    at = 0
    while at < len(figures):
        first = last = at
        while last + 1 < len(figures) and _LISTED.fullmatch(
            row.text, figures[last].end, figures[last + 1].start
        ):
            last += 1
        at = last + 1
        start, end = figures[first].start, figures[last].end
        verb = _VERB.match(row.text, end)
        if verb is None or not verdict_words.begins(verb["verb"]) or taken.touch(start, end):
            continue
        if is_plural(verb["verb"]) and kind_of(word_key(verb["verb"])):
            continue  # "three screws to get it off"
        before = _before(row, start)
        names = tuple(name for each in figures[first:at] for name in _names(each.mention.value))
        positions = before and _positions(before, checks)
        if positions and positions.issuperset(names):
            mentions = tuple(each.mention for each in figures[first:at])
            insort(row.anchors, Spot(start, end, names, mentions), key=START)


def _before(row: Events, start: int) -> Cue | Spot | None:
    """The name right before a figure, or the places named last before the clause it begins."""
    begin = row.breaks.sentence_start(start)
    for anchor in reversed(row.anchors_in(begin, start)):
        if isinstance(anchor, Spot):
            return anchor if _OPENS.search(row.text, anchor.end, start) else None
        if not anchor.in_spot and row.text[anchor.end : start].isspace():
            return anchor
    return None


def _positions(before: Cue | Spot, checks: Mapping[Place, Field]) -> set[str]:
    """The places of the check that a name is of, or of those that have some places, too."""
    if isinstance(before, Cue):
        place = next(
            (p for p, plain in before.places.items() if plain > HALF and p in checks), None
        )
        return {*checks[place].positions} if place else set()
    known = [{*each.positions} for each in checks.values() if {*before.names} < {*each.positions}]
    return {name for each in known for name in each if name not in before.names}


def _names(value: object) -> Iterator[str]:
    """The figures that a number, or a range of them, may stand for."""
    if isinstance(value, Interval) and value.low is not None and value.high is not None:
        yield from map(str, range(int(value.low), int(value.high) + 1)[:_MANY])
    else:
        yield str(value)
