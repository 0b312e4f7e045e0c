"""Letter units: letters behind a number that are its unit and begin no code."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading import unit_words

if TYPE_CHECKING:
    from voicelog.reading.passage import Passage

_UNIT = 2
"""Atoms of a number and the first word of its unit, at least."""
_PAUSES = frozenset({",", ";"})


def ends_unit(passage: Passage, at: int) -> bool:
    """Whether a letter is the last of a unit: "seventy nine degrees C, B twenty four"."""
    if at < _UNIT or len(passage.texts[at]) > 1:
        return False
    unit = unit_words.find(passage.atoms, at - 1, at + 1)
    return unit is not None and unit[1] > at and passage.words[at - 2] is not None


def is_unit(passage: Passage, at: int) -> bool:
    """Whether a letter is the unit of written figures before a pause: "L2 37.9 A, L3 39 A",
    "205 N, 212 N"."""
    if at < _UNIT or len(passage.texts[at]) > 1 or passage.texts[at + 1] not in _PAUSES:
        return False
    if passage.atoms[at].glued or passage.atoms[at - 1].shape != "digits":
        return False
    return unit_words.find(passage.atoms, at, at + 1) is not None
