"""What a code becomes: its mention, with what else it may read and what is doubtful about it."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.reading import code_cues, torn_codes
from voicelog.reading.look_alikes import fitting, in_form, look_alikes

if TYPE_CHECKING:
    from voicelog.objects import Mention, Value
    from voicelog.reading.cues import CodeCue
    from voicelog.reading.passage import Passage
    from voicelog.reading.spelling import Code

STAGE = "identifiers"
_MOST_ALTERNATIVES = 8
_FEWEST = 3
"""Figures of a code that only its form tells, at least."""
_BEFORE_ARTICLE = frozenset({
    "fit", "fitted", "got", "has", "installed", "is", "it's", "of", "put", "that's", "used", "was",
    "with",
})  # fmt: skip
"""Words behind which an article stands before a thing: "fitted a Z nine one"."""


def of(passage: Passage, first: int, code: Code, spec: CodeCue) -> tuple[Mention, int]:
    """The mention of `code`, which begins at atom `first` behind the cue `spec`, and the index
    behind it."""
    qualifiers = {spec.kind} if spec.kind else set()
    doubts: list[str] = []
    alternatives: list[Value] = []
    value = code.value
    if code.by_sound:
        doubts.append("letter_by_sound")
    if code.unsure:
        doubts.append("joined_digits")
    if not code.figures:
        doubts.append("no_figure")
    if torn_codes.is_torn(passage, first, code.last):
        doubts.append("torn_code")
    if first and passage.atoms[first - 1].text == "a" and value[0].isdigit():
        doubts.append("letter_by_sound")  # "serial A seven seven oh", or an article
        alternatives.append(f"A{value}")
    elif _may_be_article(passage, first):
        doubts.append("letter_by_sound")
        alternatives.append(value[1:])
    forms = [cue for cue in passage.cues.patterns if cue.pattern and in_form(value, cue.pattern)]
    fits = [cue for cue in forms if cue.pattern and cue.pattern.fullmatch(value)] or forms
    qualifiers |= {f"field:{cue.field}" for cue in fits}
    if (passage.atoms[first].text,) in code_cues.KINDS and not any(
        cue.field == spec.field for cue in fits
    ):
        doubts.append("ambiguous_number")  # "SN4471" may be the serial number 4471
        alternatives.append(value[len(passage.atoms[first].text) :])
    if (code.torn or _may_be_zero(passage, first, code.last)) and not fits:
        doubts.append("letter_by_sound")
    if spec.field is not None:
        qualifiers.add(f"field:{spec.field}")
    if spec.pattern is not None and not spec.pattern.fullmatch(value):
        doubts.append("pattern_misfit")
        alternatives += fitting(value, code.bare, spec.pattern)
    alternatives += [other for other in look_alikes(value, code.bare) if other not in alternatives]
    if any(
        atom.text == "er" and atom.glued and passage.atoms[first + place].text.endswith("9")
        for place, atom in enumerate(passage.atoms[first + 1 : code.last])
    ):  # "447-9er": niner, or nine and R
        alternatives.insert(0, f"{value}R")
        doubts.append("letter_by_sound")
    niner = re.fullmatch(r"([0-9]*9)R", value)
    if niner is not None:  # "niner" was cut into "9" and "r"
        alternatives.insert(0, Decimal(niner[1]))
        doubts.append("letter_by_sound")
    passage.claim(first, code.last, STAGE)
    mention = passage.mention(
        "identifier",
        first,
        code.last,
        STAGE,
        value=value,
        alternatives=tuple(alternatives[:_MOST_ALTERNATIVES]),
        qualifiers=frozenset(qualifiers),
        doubts=tuple(doubts),
    )
    return mention, code.last


def _may_be_article(passage: Passage, first: int) -> bool:
    """Whether the "a" that begins a code may stand before it: "the anode is a Z nine one"."""
    before = passage.atoms[first - 1].text if first else ""
    return passage.atoms[first].text == "a" and before in _BEFORE_ARTICLE


def _may_be_zero(passage: Passage, first: int, last: int) -> bool:
    """Whether an "o" that was said alone stands before a figure: "L O seven seven"."""
    return any(
        passage.texts[at] == "o" and not passage.atoms[at].glued and passage.words[at + 1]
        for at in range(first + 1, last - 1)
    )


def has_form(passage: Passage, text: str) -> bool:
    """Whether the card asks for codes of this form."""
    forms = (cue.pattern for cue in passage.cues.patterns)
    return any(form is not None and form.fullmatch(text.upper()) for form in forms)


def is_formed(passage: Passage, first: int, code: Code) -> bool:
    """Whether a code that nothing names has a form that the card asks for, each figure said by
    itself ("W two zero eight five"), and begins with no place ("L two four zero zero volts")."""
    singly = code.figures >= _FEWEST and code.last - first > code.figures
    placed = (passage.texts[first], code.value[1:2]) in passage.cues.phrases
    return singly and not placed and has_form(passage, code.value)
