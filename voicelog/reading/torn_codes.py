"""Torn codes: signs around a spelt row that a part of it was lost, or heard as another word."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.spelling import code_at
from voicelog.reading.spoken import letter_names, letters, separators

if TYPE_CHECKING:
    from voicelog.reading.passage import Passage

_BEFORE_PLACE = frozenset({"at", "for", "from", "in", "of", "on", "side", "to"})


def is_torn(passage: Passage, first: int, last: int) -> bool:
    """Whether something of the row `first`..`last` seems to be lost."""
    return _spelt_before(passage, first) or _goes_on(passage, last)


def _spelt_before(passage: Passage, at: int) -> bool:
    """Whether a letter was spelt before the word in front of `at`: "bravo batch seven one".

    What stands between may be a separator that was not heard as one.
    """
    before = at - 2
    if before < 0 or passage.atoms[at - 1].shape != "word":
        return False
    text = passage.atoms[before].text
    return not passage.claims[before] and len(text) > 1 and (text,) in letters()


def _goes_on(passage: Passage, at: int) -> bool:
    """Whether a separator stands behind the row with nothing of it after: "seven one dash double",
    or a word that spells nothing hangs on its last figure: "tango whisky 1-iron"; or a letter comes
    behind a word or with it: "yankee 7, 7, either delta", "one I see there's eleven".

    What followed was lost, or heard as another word.
    """
    if at >= len(passage.atoms):
        return False
    if (passage.atoms[at].text,) in separators() or _letter_adrift(passage, at):
        return True
    hung = passage.atoms[at : at + 2]
    tied = len(hung) == 2 and hung[0].text == "-" and all(atom.glued for atom in hung)
    return tied and hung[1].shape == "word"


def _letter_adrift(passage: Passage, at: int) -> bool:
    """Whether a letter that no code begins with stands one word behind the row ending at `at`."""
    at += passage.texts[at] == ","
    word, letter = passage.texts[at : at + 2]
    if word == "i":
        return (letter,) in letter_names()
    spelt = len(letter) > 1 and (letter,) in letters()
    if not spelt or not word.isalpha() or (word,) in letters() or word in _BEFORE_PLACE:
        return False
    code = code_at(passage, at + 1)
    return code is not None and not code.figures
