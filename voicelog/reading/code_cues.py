"""Words after which an identifier is said: the names of a card's identifiers and of their kinds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.capitals import in_capitals
from voicelog.reading.cues import CodeCue
from voicelog.reading.pronouns import MEANT
from voicelog.reading.spoken import letter_heads, letters

if TYPE_CHECKING:
    from voicelog.reading.passage import Passage

KINDS: dict[tuple[str, ...], str] = {
    ("serial", "number"): "serial number", ("serial", "no"): "serial number",
    ("serial",): "serial number", ("s", "/", "n"): "serial number", ("sn",): "serial number",
    ("serial", "numbers"): "serial number", ("cereal", "number"): "serial number",
    ("part", "number"): "part number", ("part", "no"): "part number",
    ("p", "/", "n"): "part number", ("pn",): "part number",
    ("batch", "number"): "batch number", ("batch", "no"): "batch number",
    ("batch",): "batch number", ("lot", "number"): "batch number", ("lot", "no"): "batch number",
    ("lot",): "batch number", ("tool", "number"): "tool number", ("tool", "no"): "tool number",
    ("tool",): "tool number", ("asset", "number"): "tool number",
    ("wrench", "number"): "tool number", ("gauge", "number"): "tool number",
}  # fmt: skip
_HEADS = frozenset(words[0] for words in KINDS)
_LONGEST = 8
_ABBREVIATED = 4
"""Letters of a word that is written short, with a full stop ("ser. no."), at most."""


def at(passage: Passage, first: int) -> tuple[CodeCue, int] | None:
    """The longest cue at `first`: (cue, index behind)."""
    text = passage.texts[first].removesuffix("'s")
    if text not in _HEADS and text not in passage.cues.code_heads:
        return None
    said = _words(passage, first)
    for length in range(len(said), 0, -1):
        words = tuple(word for word, _ in said[:length])
        words = (*words[:-1], words[-1].removesuffix("'s"))
        kind = KINDS.get(words)
        cue = passage.cues.codes.get(words) or (CodeCue(None, kind, None) if kind else None)
        if cue is not None:
            last = said[length - 1][1]
            return None if _ends_another_name(passage, first, last) else (cue, last)
    return None


def _words(passage: Passage, first: int) -> list[tuple[str, int]]:
    """The words from `first` on, each with the index behind it and its full stop."""
    said: list[tuple[str, int]] = []
    index = first
    while index < len(passage.atoms) and len(said) < _LONGEST:
        word = passage.texts[index]
        index += 1
        if word == "-":
            continue  # "o-ring batch"
        short = index < len(passage.atoms) and passage.atoms[index].glued
        if short and passage.texts[index] == "." and len(word) <= _ABBREVIATED:
            index += 1
        said.append((word, index))
    return said


def _ends_another_name(passage: Passage, first: int, last: int) -> bool:
    """Whether the cue is the end of a field's name that wants no identifier: "hour meter"."""
    return any(
        tuple(passage.texts[before:last]) in passage.cues.others
        for before in range(max(0, last - _LONGEST), first)
    )


def is_glued(passage: Passage, first: int, last: int, kind: str | None) -> bool:
    """Whether the words are one with their figures: "SN4471" may be written so on the part, and so
    may the "SN 4471" of a "serial number SN 4471"."""
    if last != first + 1 or last >= len(passage.atoms):
        return False
    digits = passage.atoms[last].shape == "digits"
    short = kind is not None and len(passage.texts[first]) == 2 and in_capitals(passage, first)
    return digits and (passage.atoms[last].glued or short)


def is_thing(passage: Passage, at: int) -> bool:
    """Whether the "one" at `at` is no figure of a code: "part number of the new one Sierra ..."."""
    if passage.texts[at] != "one" or passage.texts[at - 1] not in MEANT:
        return False
    letter = passage.texts[at + 1]
    spelt = (letter,) in letters() or letter in letter_heads()
    return spelt or (bool(letter) and in_capitals(passage, at + 1))
