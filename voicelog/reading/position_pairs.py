"""Position pairs: places between two ("L1-L2", "A-B"), and how figures in the name of a place are
said."""

from __future__ import annotations

import re
from itertools import product
from typing import TYPE_CHECKING

from voicelog.reading.spoken import spoken

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.reading.atoms import Key

_PAIR = re.compile(r"([A-Z]?[0-9]{0,2})[-/]([A-Z]?[0-9]{0,2})")
_TO = ("to", "2", "two", "-", "/", "and", "against")


def between(position: str) -> Iterator[Key]:
    """What is measured between two: "L1 to L2" for L1-L2, "A B" for A-B."""
    pair = _PAIR.fullmatch(position)
    if pair is None:
        return
    first, last = ([*_each(end.casefold())] for end in pair.groups())
    for one, other in product(first, last):
        yield one + other
        for link in _TO:
            yield (*one, link, *other)


def _each(end: str) -> Iterator[Key]:
    """How one end of a pair is said: a letter, a figure, or a letter with its figure."""
    letter, figure = end[: end[:1].isalpha()], end[end[:1].isalpha() :]
    for way in (figure, *figure_ways(figure)) if figure else ("",):
        yield (*letter, *way.split())


def figure_ways(number: str) -> tuple[str, ...]:
    """How a number of one or two figures is said as a number."""
    words = spoken()
    ways = words.figures.get(number) or words.teens.get(number) or words.tens.get(number)
    if ways is None and len(number) == 2 and f"{number[0]}0" in words.tens:
        tens, figures = words.tens[f"{number[0]}0"], words.figures[number[1]]
        ways = tuple(f"{ten} {figure}" for ten in tens for figure in figures)
    return ways or ()
