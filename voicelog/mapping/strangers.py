"""Strangers: words before a value that may name another thing, of which the card knows nothing.

"Stern tube nought point four" may be no word on the bearing; "it sat at fifty four" tells of
nothing but the thing that was spoken of.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from voicelog.mapping.beside import is_its_verb, own_words
from voicelog.mapping.plainly import VERB
from voicelog.mapping.row import Cue
from voicelog.reading.spoken import lexemes
from voicelog.reading.talk import talk
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field

_DOER = re.compile(r"\b(?:he|I|it|she|they|we|who|you)(?:['’](?:d|s|ve|re))?\s+\Z", re.IGNORECASE)
"""Behind one of these stands a verb: "it sat at ...", "she throws ..."."""


_NUMBER = 80
"""Characters of a number with its unit, at most."""


def stand(
    row: Events, said: Said, field: Field, stretch: tuple[int, int], since: int | None
) -> bool:
    """Whether a word that may name another thing stands in the last clause of the stretch, or in
    all of it `since` a name: one that nothing explains, that does not tell of a thing and, before
    a number, is no word of `field`. In the clause of a remark a verb may be a misheard remark."""
    start, end = stretch
    own = own_words(field)
    for word in row.strange_words(start, end, since):
        text, at = word[0].lower(), word.start()
        told = text in _telling() or (text,) in lexemes()  # "sixty, correction, fifty three bar"
        told = told or (said.kind != "remark" and word_key(text) in own)
        told = told or _was_taken_back(row, at)
        if said.is_number and not told:
            named = row.anchors_in(max(0, at - 40), at)
            told = any(
                isinstance(cue, Cue) and cue.end + 1 == at and is_its_verb(row, cue, text)
                for cue in named
            )
        if said.kind != "remark" or row.breaks.between(at, end):
            told = told or VERB.search(text) is not None
            told = told or _DOER.search(row.text, max(0, at - 8), at) is not None
        if not told and not _is_of_talk(row, at, first=not start):
            return True
    return False


def _was_taken_back(row: Events, at: int) -> bool:
    """Whether the word at `at` is of a number that was corrected: "two point six millimetres,
    correction, two point nine millimetres"."""
    near = row.said_in(max(0, at - _NUMBER), at + 1)
    return any(each.dropped and each.is_number and each.start <= at < each.end for each in near)


def _is_of_talk(row: Events, at: int, *, first: bool) -> bool:
    """Whether the word at `at` is one of the procedure; before the `first` value "negative" may be
    what is left of a name."""
    over = (each for each in row.words if each.start <= at < each.end)
    return any(not first or each.value != "negative" for each in over)


@cache
def _telling() -> frozenset[str]:
    """Words that tell of a thing, and name none."""
    said = talk().everyday
    return (said.beside | said.orders | said.states | said.verbs) - {"into", "onto"}
