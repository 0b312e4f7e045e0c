"""Stage: names of the card that hold figures, so that "N one" is no number."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.chain import stage
from voicelog.reading.cues import digits_of

if TYPE_CHECKING:
    from spacy.tokens import Doc

    from voicelog.reading.passage import Passage

NAME = "names"


@stage(NAME)
def names(doc: Doc) -> None:
    """Claim the atoms of such names; what they name is for the terms to say."""
    passage: Passage = doc._.passage
    doc._.names = []
    for index, atom in enumerate(passage.atoms):
        for words in passage.cues.names.get(atom.text, ()):
            last = _end(passage, index, words)
            if last is not None:
                passage.claim(index, last, NAME)
                break


def _end(passage: Passage, first: int, words: tuple[str, ...]) -> int | None:
    """Index behind `words` when they stand at `first`, with or without hyphens."""
    index = first
    for word in words:
        if index > first and index < len(passage.atoms) and passage.atoms[index].text == "-":
            index += 1
        if index >= len(passage.atoms) or passage.claims[index]:
            return None
        if digits_of((passage.atoms[index].text,))[0] != word:
            return None
        index += 1
    following = passage.atoms[index] if index < len(passage.atoms) else None
    if following is not None and following.glued and following.shape in ("digits", "word"):
        return None
    return index


STAGE = names
