"""Cut words: position words and names of fields cut short before a place ("cyl 3", "comp 1").

The card has neither such a word nor another one that begins so, and a value has to follow.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.position_words import PositionWord
from voicelog.reading.spoken import lexemes
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from voicelog.reading.atoms import Key

_LEAST, _LEAST_OF_NAME = 3, 4
"""Letters that are left of a position word, and of another name of the field, at least."""
_MOST = 6
_LOST = 3
"""Letters that are cut off, at least."""


def of(words: Mapping[Key, PositionWord], said: Iterable[Key]) -> dict[Key, PositionWord]:
    """What is left of the single `words` -> their groups; `said` is what the card says besides."""
    others = {word for phrase in (*said, *words) for word in phrase}
    whole = {each[0]: known for each, known in words.items() if len(each) == 1}
    found: dict[Key, PositionWord] = {}
    for word, known in whole.items():
        groups = tuple(group for group in known.groups if group.numbers)
        if known.many or not word.isalpha() or not groups:
            continue
        least = _LEAST_OF_NAME if known.weak else _LEAST
        for length in range(least, min(_MOST, len(word) - _LOST) + 1):
            cut = word[:length]
            begun = {each for each in others if each.startswith(cut)} - {cut}
            begun = {each for each in begun if not each.startswith(word)}
            if not begun and (cut,) not in words and not _is_word(cut):
                found[(cut,)] = PositionWord(groups, weak=True)
    return found


def _is_word(text: str) -> bool:
    everyday = talk().everyday
    known = text in everyday.plain | everyday.common | everyday.ordinary | everyday.verbs
    return known or (text,) in lexemes() or unit_words.may_begin(text)
