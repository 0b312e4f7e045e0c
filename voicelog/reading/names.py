"""Stage: names of the card that hold figures or a "point", so that "N one" is no number."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.chain import stage
from voicelog.reading.cues import digits_of
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.spoken import letter_names, letters, lexemes, separators, spoken
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from spacy.tokens import Doc

    from voicelog.reading.passage import Passage

NAME = "names"
_WORD = 3
"""Letters of a word that goes on behind its first letter."""

_TOLD = frozenset({",", ":", "at", "in", "is", "takes", "took", "was"})
"""Words between a name that begins with a figure and its value."""


@stage(NAME)
def names(doc: Doc) -> None:
    """Claim the atoms of such names; what they name is for the terms to say."""
    passage: Passage = doc._.passage
    doc._.names = []
    for index, atom in enumerate(passage.atoms):
        if tuple(passage.texts[index : index + 2]) in passage.cues.fractions:
            passage.named.add(index)
        figure = passage.words[index] is not None
        head = digits_of((atom.text,))[0] if figure else atom.text
        for words in passage.cues.names.get(head, ()):
            last = _end(passage, index, words)
            counted = words[0].isdigit() and _is_counted(passage, index, last or index)
            if last is not None and not counted:
                passage.claim(index, last, NAME)
                break
        if atom.text == "point" and index:
            _point(passage, index)


def _is_counted(passage: Passage, first: int, last: int) -> bool:
    """Whether a name that begins with a figure is a number of things, and not told of: "back one
    turn", but "one turn in 92 seconds"."""
    if first and passage.texts[first - 1] not in (".", ",", ";", "and"):
        return True
    behind = last + (passage.texts[last] in _TOLD)
    return behind >= len(passage.atoms) or passage.numerals(behind).number(behind) is None


def _point(passage: Passage, at: int) -> None:
    """ "Dew point four": where a thing is called so, its "point" is no decimal sign; where that is
    open, the number is asked about."""
    hyphened = at > 1 and passage.atoms[at - 1].text == "-" and passage.atoms[at].glued
    before = passage.atoms[at - 1 - hyphened].text
    alone = passage.cues.before_point.get(before)
    asked = at
    if alone is not None:
        passage.words[at] = None
        asked = at + 1
        if (before, "point") not in passage.cues.words:
            passage.claim(at, asked, NAME)  # nor one of the places that are called points
    elif before in spoken().before_point:
        alone = True
    if alone and asked < len(passage.atoms):
        passage.doubted[passage.atoms[asked].start] = "ambiguous_number", ()


def _end(passage: Passage, first: int, words: tuple[str, ...]) -> int | None:
    """Index behind `words` when they stand at `first`, with or without signs between them,
    "the" and the "s" of a unit."""
    index = first
    for word in words:
        if (
            index > first
            and index < len(passage.atoms)
            and passage.atoms[index].text in ("-", ".", ",")
        ):
            index += 1
        if index >= len(passage.atoms) or passage.claims[index]:
            return None
        if word.isdigit() and index > first and passage.atoms[index].text in ("the", "those"):
            index += 1
        if index >= len(passage.atoms):
            return None
        said = digits_of((passage.atoms[index].text,))[0]
        if said != word and (said != f"{word}s" or word.isdigit()):
            return None
        index += 1
    following = passage.atoms[index] if index < len(passage.atoms) else None
    if following is not None and following.glued and following.shape in ("digits", "word"):
        return None
    return index


def begins_word(passage: Passage, at: int) -> bool:
    """Whether a letter at `at` is the first of a word or a name, and spells nothing: "o-ring", "V
    belt" where the card has one."""
    atom, more = passage.atoms[at], passage.atoms[at + 1 : at + 3]
    if atom.shape != "word" or len(atom.text) > 1 or atom.glued or not more:
        return False
    hyphened = more[0].text == "-" and more[0].glued
    word = more[-1] if hyphened else more[0]
    if word.shape != "word" or len(word.text) < _WORD or (hyphened and not word.glued):
        return False
    spelt = ((word.text,), (atom.text, word.text))
    tables = (letters(), letter_names(), lexemes(), separators())
    if any(each in table for table in tables for each in spelt):
        return False
    starts = lexicon_of(passage.cues.card).starts
    return hyphened or f"{atom.text}{word_key(word.text)}" in starts


STAGE = names
