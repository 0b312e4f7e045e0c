"""Places that look like codes: "phase U280", "bolts 1-6", "B forty three"."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading import code_mentions
from voicelog.reading.spelling import code_at
from voicelog.reading.spoken import letters

if TYPE_CHECKING:
    from voicelog.reading.passage import Passage


def is_place(passage: Passage, at: int) -> bool:
    """Whether a letter or figures at `at` are a place of the card: "phase U280", "bolts 1-6"."""
    before = (passage.atoms[at - 1].text,) if at else ()
    atom = passage.atoms[at]
    following = passage.atoms[at + 1] if at + 1 < len(passage.atoms) else None
    if before in passage.cues.words and not passage.cues.words[before].weak:
        groups = passage.cues.words[before].groups
        if not groups:
            return False  # "sealant seven seven four dash two bravo"
        alone = atom.shape == "word" and len(atom.text) == 1
        alone = alone and following is not None and following.shape == "word"  # "wheels P U dash"
        spelt = (atom.text,) in letters() or starts_letter_pair(passage, at) or alone
        return not spelt or any((atom.text,) in group.phrases for group in groups)
    if len(atom.text) > 1 or following is None:
        return False
    if following.shape != "digits":
        return _is_spoken_pair(passage, at)
    if following.glued and code_mentions.has_form(passage, atom.text + following.text):
        return False  # "R20815", where "right" is a place
    step = passage.step_at(at)
    said = {(atom.text,), (atom.text, following.text)}
    return any(said & group.phrases.keys() and step in group.steps for group in passage.cues.groups)


def _is_spoken_pair(passage: Passage, at: int) -> bool:
    """Whether a letter and the figure said behind it are a place of the step, with a number behind:
    "L two four hundred"."""
    said = (passage.texts[at], passage.texts[at + 1])
    behind = at + 2 + (passage.texts[at + 2] == ",")
    if passage.words[at + 1] is None or behind >= len(passage.words):
        return False
    step = passage.step_at(at)
    places = (g.phrases for g in passage.cues.groups if step in g.steps)
    if passage.words[behind] is None or not any(said in phrases for phrases in places):
        return False
    code = code_at(passage, at)
    return code is None or not code_mentions.is_formed(passage, at, code)


def is_letter_place(passage: Passage, at: int) -> bool:
    """Whether a bare letter with a number said in one behind it is a place, "B forty three", or the
    end of a value with the next behind a pause: "fourteen amps A, thirty four B"."""
    step = passage.step_at(at)
    behind = at + 1 + (passage.texts[at + 1] == ",")
    number = passage.numerals(behind).number(behind) if behind < len(passage.atoms) else None
    in_one = number is not None and "digits" not in number.qualifiers
    said = (passage.atoms[at].text,)
    return in_one and any(
        said in group.phrases and step in group.steps for group in passage.cues.groups
    )


def starts_letter_pair(passage: Passage, at: int) -> bool:
    behind = at + 1 + (passage.texts[at + 1] == "-")  # "x-ray"
    return (passage.texts[at], passage.texts[behind]) in letters()
