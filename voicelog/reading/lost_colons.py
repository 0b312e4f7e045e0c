"""Lost colons: a full stop that a recogniser wrote where a speaker only paused.

"Hinge pin clearance, one to five. One point two, one point four, ..." tells of no places by
themselves: what stands behind such a row of places are their values, as behind a comma.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.atoms import atomise
from voicelog.reading.lexing import lex
from voicelog.reading.numerals import Numerals

if TYPE_CHECKING:
    from decimal import Decimal

_FROM = re.compile(r"\bfrom\s+\Z", re.IGNORECASE)
_ALL = re.compile(r"\A(?:all|each|both)\s+(?:at\s+)?", re.IGNORECASE)
""" "Ways one to eight. All five newton metres.": of those places."""
_LINKS = frozenset({",", "and"})
_ROW = re.compile(
    r"\b(?P<first>\w+)\s*(?:\b(?:to|through|thru)\b|[-–—])\s*(?P<last>\w+)"
    r"(?:\s*,?\s+(?:all\s+)?in\s+[a-z]+(?:\s+[a-z]+){0,2}|\s*,?\s+then)?(?P<stop>\.)\s+(?=\w)",
    re.IGNORECASE,
)
_REACH = 160
"""Characters of a row of values, at most."""
_FEW = 2
"""So many numbers behind the stop may be the next place and its value."""


def mended(text: str) -> str:
    """`text` with a comma for each such stop, and nothing else changed."""
    stops = [row.start("stop") for row in _ROW.finditer(text) if _tells_places(text, row)]
    for stop in stops:
        text = f"{text[:stop]},{text[stop + 1 :]}"
    return text


def _tells_places(text: str, row: re.Match[str]) -> bool:
    """Whether a row is of places whose values stand behind its stop: not where the sentence has a
    value before it ("22 newton metres on bolts one to four. Five, 24"), and not where the next
    place stands there ("no access to one to three. Four, 24")."""
    first, last = (_numbers(row[end])[0] for end in ("first", "last"))
    if not first or not last or _FROM.search(text, 0, row.start()):
        return False
    sentence = max(text.rfind(stop, 0, row.start()) for stop in ".!?;") + 1
    if _measured(text[sentence : row.start()]):
        return False
    behind = _ALL.sub("", text[row.end() : row.end() + _REACH], 1)
    values, unit = _numbers(behind)
    if len(values) == 1:
        return unit
    if len(values) < _FEW or values[0] == last[0] + 1:
        return False
    places = abs(last[0] - first[0]) + 1
    return len(values) > _FEW or len(values) == places  # a longer row may have lost one


def _numbers(text: str) -> tuple[list[Decimal], bool]:
    """The numbers that stand in a row at the head of `text`, and whether the first has a unit."""
    atoms = atomise(text)
    numerals = Numerals(atoms, len(atoms), lex(atoms))
    values: list[Decimal] = []
    at, unit = 0, False
    while at < len(atoms) and (number := numerals.number(at)) is not None:
        found = unit_words.find(atoms, number.last, len(atoms))
        unit = unit or (not values and found is not None)
        values.append(number.value)
        at = number.last if found is None else found[1]
        if at < len(atoms) and atoms[at].text not in _LINKS:
            break
        while at < len(atoms) and atoms[at].text in _LINKS:
            at += 1
    return values, unit


def _measured(text: str) -> bool:
    """Whether a number with its unit stands in `text`."""
    atoms = atomise(text)
    numerals = Numerals(atoms, len(atoms), lex(atoms))
    for at in range(len(atoms)):
        number = numerals.number(at)
        if number is not None and unit_words.find(atoms, number.last, len(atoms)) is not None:
            return True
    return False
