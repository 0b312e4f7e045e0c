"""Lost colons: a full stop that a recogniser wrote where a speaker only paused.

"Hinge pin clearance, one to five. One point two, one point four, ..." tells of no places by
themselves: what stands behind such a row of places are their values, as behind a comma.
"""

from __future__ import annotations

import re

from voicelog.reading import unit_words
from voicelog.reading.atoms import atomise
from voicelog.reading.lexing import lex
from voicelog.reading.numerals import Numerals

_ROW = re.compile(
    r"\b(?P<first>\w+)\s*(?:\b(?:to|through|thru)\b|[-–—])\s*(?P<last>\w+)"
    r"(?:\s*,?\s+(?:all\s+)?in\s+[a-z]+(?:\s+[a-z]+){0,2}|\s*,?\s+then)?(?P<stop>\.)\s+(?=\w)",
    re.IGNORECASE,
)
_VALUE = 60
"""Characters of a number with its unit, at most."""
_GOES_ON = frozenset({",", "and", ""})


def mended(text: str) -> str:
    """`text` with a comma for each such stop, and nothing else changed."""
    for row in _ROW.finditer(text):
        ends = (row["first"], row["last"])
        if all(_number(each) is not None for each in ends) and _begins_value(text, row.end()):
            text = f"{text[: row.start('stop')]},{text[row.end('stop') :]}"
    return text


def _number(text: str) -> int | None:
    """Index behind the number at the head of `text`."""
    atoms = atomise(text)
    number = Numerals(atoms, len(atoms), lex(atoms)).number(0) if atoms else None
    return None if number is None else number.last


def _begins_value(text: str, at: int) -> bool:
    """Whether a number stands at `at` that has its unit, or is the first of several: "two lamps
    dead" is none of a row."""
    piece = text[at : at + _VALUE]
    last = _number(piece)
    if last is None:
        return False
    atoms = atomise(piece)
    behind = atoms[last].text if last < len(atoms) else ""
    return behind in _GOES_ON or unit_words.find(atoms, last, len(atoms)) is not None
