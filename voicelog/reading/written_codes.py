"""Written codes: a serial or part number that the recogniser wrote as one ("HT66-902")."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.capitals import in_capitals
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.spelling import Code
from voicelog.reading.spoken import heads, letters
from voicelog.reading.talk import everyday_words
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.reading.atoms import Atom
    from voicelog.reading.passage import Passage

_SIGNS = frozenset("-/.")
_MOST_LETTERS = 4
_SHORTEST = 4
"""Characters of a written code that is taken for one without a cue."""
_DECIMAL = re.compile(r"[A-Z][0-9]+\.[0-9]+")
"""A decimal behind what is left of a word ("J12.1"); no code is written so."""
_PARTS_OF_NUMBERS = frozenset({"th", "st", "nd", "rd", "ths", "er", "x", "ish"})


def written(passage: Passage, at: int) -> Code | None:
    """A code written as one: "HT66-902", "4479R", "32-41-00"."""
    atoms = passage.atoms
    last = at
    while last < len(atoms) and not passage.claims[last] and (last == at or atoms[last].glued):
        if atoms[last].shape not in ("word", "digits") and atoms[last].text not in _SIGNS:
            break
        last += 1
    while last > at and atoms[last - 1].text in _SIGNS:
        last -= 1
    if last - at < 2 or atoms[at].text in _SIGNS:
        return None  # "-44 C"
    parts = atoms[at:last]
    value = _joined(parts)
    if _letter_behind(passage, last):
        last += 1
        value += atoms[last - 1].text.upper()
    letters_in = sum(char.isalpha() for char in value)
    figures_in = sum(char.isdigit() for char in value)
    if not value.isascii() or figures_in == 0 or "'" in value:
        return None
    groups = [atom.text for atom in parts if atom.shape == "digits"]
    if letters_in == 0:
        signs = {atom.text for atom in parts if atom.shape == "sign"}
        several = len(groups) >= 3 and len(signs) == 1 and any(len(group) > 1 for group in groups)
        measured = signs == {"-"} and unit_words.find(atoms, last, len(atoms)) is not None
        if not several or signs == {"/"} or measured:
            return None  # "90-91-89 bar"
    elif _is_measure(passage, at, last) or len(value) < _SHORTEST or _DECIMAL.fullmatch(value):
        return None
    elif parts[1].text == "." and len(parts[0].text) > 2 and not in_capitals(passage, at):
        return None  # "boom.04": a place and a decimal
    bare = frozenset(range(len(value)))
    return Code(value, last, letters_in, 0, figures_in, False, bare)


def _letter_behind(passage: Passage, last: int) -> bool:
    """Whether a code goes on with a letter at the end of its clause: "SK441 B"."""
    if last >= len(passage.atoms) or passage.claims[last]:
        return False
    letter, behind = passage.atoms[last], passage.texts[last + 1]
    alone = letter.shape == "word" and len(letter.text) == 1 and in_capitals(passage, last)
    placed = (letter.text,) in passage.cues.phrases
    return alone and not placed and behind in ("", ",", ".", ";")


def grouped(passage: Passage, at: int, *, cued: bool = False) -> Code | None:
    """A code written in two: letters, then figures ("KET 20338"). They belong together when they
    fit a form that the card asks for, or, behind the words for an identifier, when the letters
    are capitals."""
    pair = passage.atoms[at : at + 2]
    if len(pair) < 2 or any(passage.claims[at : at + 2]) or pair[1].shape != "digits":
        return None
    word, figures = pair
    if word.shape != "word" or not 2 <= len(word.text) <= _MOST_LETTERS or not word.text.isascii():
        return None
    ends = at + 2 == len(passage.atoms) or not passage.atoms[at + 2].glued
    ends = ends or (
        passage.atoms[at + 2].text in (",", ".", ";") and not _decimals(passage, at + 2)
    )
    value = (word.text + figures.text).upper()
    fits = any(cue.pattern and cue.pattern.fullmatch(value) for cue in passage.cues.patterns)
    capitals = in_capitals(passage, at) and len(figures.text) > 1
    fits = fits and (capitals or not _is_a_word(passage, word.text))
    if not ends or not word.text.isalpha() or not (fits or (cued and capitals)):
        return None
    letters_in, figures_in = len(word.text), len(figures.text)
    return Code(value, at + 2, letters_in, 0, figures_in, False, frozenset(range(len(value))))


def _decimals(passage: Passage, at: int) -> bool:
    """Whether the point at `at` is that of a number: "run 8930.5 hours"."""
    after = passage.atoms[at + 1] if at + 1 < len(passage.atoms) else None
    return after is not None and after.glued and after.shape == "digits"


def _is_a_word(passage: Passage, text: str) -> bool:
    """Whether it is a word of everyday talk, or one of the card: "run 8930", "pump 4471"."""
    return text in everyday_words() or word_key(text) in lexicon_of(passage.cues.card).starts


def _joined(parts: Sequence[Atom]) -> str:
    """The row as one word; hyphens between figures said one by one ("TM-2-0-5") are the
    recogniser's."""
    kept: list[str] = []
    for index, atom in enumerate(parts):
        around = parts[index - 1 : index + 2] if index else ()
        between = (
            atom.text == "-"
            and len(around) == 3
            and all(
                each.shape == "digits" and len(each.text) == 1 for each in (around[0], around[2])
            )
        )
        if not between:
            kept.append(atom.text)
    return "".join(kept).upper()


def _is_name(passage: Passage, at: int, last: int) -> bool:
    """Whether a word of the card is tied by a hyphen to a number with a unit."""
    atoms = passage.atoms
    tied = atoms[at].shape == "word" and atoms[at + 1].text == "-"
    tied = tied and all(a.shape == "digits" or a.text == "." for a in atoms[at + 2 : last])
    known = tied and word_key(atoms[at].text) in lexicon_of(passage.cues.card).starts
    return known and unit_words.find(atoms, last, len(atoms)) is not None


def _begins_words(passage: Passage, at: int) -> bool:
    """Whether the word behind a hyphen goes on in words: "1-to 8", "1-to-8", "64-line pressure"."""
    text = passage.atoms[at].text
    if passage.atoms[at - 1].text != "-":
        return False
    if passage.texts[at + 1] in _SIGNS:
        return text == "to" and passage.texts[at + 1] == "-" and passage.texts[at + 2].isdigit()
    known = len(text) > 3 and word_key(text) in lexicon_of(passage.cues.card).starts
    return text == "to" or known


def _is_measure(passage: Passage, at: int, last: int) -> bool:
    """Whether the row is a number with a unit, an ordinal, or hyphenated words."""
    atoms = passage.atoms
    unit = unit_words.find(atoms, at, len(atoms))
    if unit is not None and unit[1] >= last:
        return True  # "kg/cm2" behind a number that was spoken
    index = at
    while index < last and atoms[index].shape == "word":
        index += 1
        if index < last and atoms[index].text == "-":
            index += 1
    if atoms[at].shape == "word" and (len(atoms[at].text) > 4 or atoms[at].text == "step"):
        return True  # "bolts1", "step-30"
    if _is_name(passage, at, last):
        return True  # "CO-88 ppm"
    counted = passage.cues.words.get((atoms[at].text,))
    if counted is not None and not counted.weak and len(atoms[at].text) > 2:
        return True  # "bolt-1"
    if re.fullmatch(r"\d+h\d+(m|min)?", "".join(atom.text for atom in atoms[at:last])):
        return True  # hours and minutes
    if (atoms[at].text,) in letters() or atoms[at].text in heads():
        return True  # words: they are read as such
    if atoms[at].shape != "digits":
        return False
    index = at
    while index < last:
        if atoms[index].shape == "word":
            if atoms[index].text in _PARTS_OF_NUMBERS or atoms[index].text in heads():
                return True
            if _begins_words(passage, index):
                return True
            unit = unit_words.find(atoms, index, len(atoms))
            tied = index == last - 1 and atoms[index - 1].text == "-" and index == at + 2
            if tied and len(atoms[at].text) > 2 and in_capitals(passage, index):
                return False  # "7714-C" are no degrees
            return unit is not None and unit[1] >= last
        index += 1
    return True
