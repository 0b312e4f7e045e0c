"""Look-alikes: what else a code may read, with a character taken for one that looks like it."""

from __future__ import annotations

import re

_CLASSES = re.compile(r"\[[^\]]*\]")
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
    """Readings of `value` that the card's pattern allows: a look-alike, or a separator too many or
    of another kind. They are offered, never put in."""
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


def in_form(value: str, pattern: re.Pattern[str]) -> str | None:
    """`value` as the card writes such codes: itself, or with separators that were not said ("T M
    four one seven" for TM-417). None when it has not that form."""
    if pattern.fullmatch(value):
        return value
    literal = _CLASSES.sub("", pattern.pattern)
    signs = [sign for sign in "-/" if sign in literal]
    ways = {value}
    for _ in range(sum(map(literal.count, signs))):
        ways = {
            f"{way[:place]}{sign}{way[place:]}"
            for way in ways
            for sign in signs
            for place in range(1, len(way))
        }
        found = {way for way in ways if pattern.fullmatch(way)}
        if found:
            return found.pop() if len(found) == 1 else None
    return None
