"""Look-alikes: what else a code may read, with a character taken for one that looks like it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import re

_LOOK_ALIKE = {"B": "8", "8": "B", "O": "0", "0": "O", "5": "S", "S": "5", "M": "N", "N": "M"}


def look_alikes(value: str, bare: frozenset[int]) -> list[str]:
    """`value` with one written character as its look-alike."""
    if not any(char.isalpha() for char in value):
        return []
    return [
        value[:place] + _LOOK_ALIKE[char] + value[place + 1 :]
        for place, char in enumerate(value)
        if place in bare and char in _LOOK_ALIKE
    ]


def fitting(value: str, bare: frozenset[int], pattern: re.Pattern[str]) -> list[str]:
    """Readings of `value` that the card's pattern allows: a look-alike, or a separator that
    was not said. They are offered, never put in."""
    found = [other for other in look_alikes(value, bare) if pattern.fullmatch(other)]
    for sign in ("-", "/"):
        for place in range(1, len(value)):
            other = value[:place] + sign + value[place:]
            if pattern.fullmatch(other) and other not in found:
                found.append(other)
    plain = value.replace("-", "").replace("/", "")
    if plain != value and pattern.fullmatch(plain):
        found.append(plain)
    return found
