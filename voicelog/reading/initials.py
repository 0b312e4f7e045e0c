"""Initials: places that are written by the first letters of their sides ("NE", "FL")."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.atoms import atomise, key
from voicelog.reading.spoken import spoken
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.reading.atoms import Key

_NORTH_SOUTH = {"n": "north", "s": "south"}
_EAST_WEST = {"e": "east", "w": "west"}
_OPPOSITES = (
    _NORTH_SOUTH,
    _EAST_WEST,
    {"l": "left", "r": "right"},
    {"f": "front", "r": "rear"},
    {"f": "forward", "a": "aft"},
    {"u": "upper", "l": "lower"},
    {"t": "top", "b": "bottom"},
)
"""Sides by the letters that stand for them, where a card has both."""
_COMPASS = (_NORTH_SOUTH, _EAST_WEST, _NORTH_SOUTH | _EAST_WEST)


def initials_of(positions: Sequence[str]) -> Iterator[tuple[Key, str]]:
    """Places of two sides by their initials, in either order: "FL" and "LF" for front left."""
    words = [key(position) for position in positions]
    known = spoken().sides
    if len(positions) > 2 and all(len(each) == 2 and known.keys() >= set(each) for each in words):
        for one, other in ((0, 1), (1, 0)):
            short = [each[one][0] + each[other][0] for each in words]
            if len(set(short)) == len(short):
                named = zip(short, positions, strict=True)
                yield from (((way,), name) for way, name in named if not _means_more(way))


def _means_more(word: str) -> bool:
    """Whether letters are a word ("as") or a unit ("lb") as well."""
    everyday = talk().everyday
    known = word in everyday.plain | everyday.common | everyday.ordinary
    return known or unit_words.find(tuple(atomise(word)), 0, 1) is not None


def in_full_of(positions: Sequence[str]) -> dict[str, str]:
    """Places that the card writes by the initials of their sides, in full: "NE" is north east,
    where the card has its opposites, too. One letter is a side of the compass only."""
    columns = tuple(zip(*(map(str.casefold, positions)), strict=False))
    if not positions or {len(position) for position in positions} != {len(columns)}:
        return {}
    known = _OPPOSITES if len(columns) == 2 else _COMPASS
    meant = [next((each for each in known if set(column) == set(each)), None) for column in columns]
    if not 1 <= len(columns) <= 2 or None in meant:
        return {}
    return {
        position: " ".join(
            ways[letter] for ways, letter in zip(meant, position.casefold(), strict=True) if ways
        )
        for position in positions
    }
