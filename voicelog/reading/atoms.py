"""Atoms: the smallest pieces that reading works on, with their exact place in the text.

A recogniser glues and splits at will ("11.4mm", "447-9er", "2-5-0", "N·m"), so text is cut
at every change between letters, digits and signs, and the grammar above puts the pieces
together again. An atom is one run of letters (with inner apostrophes), one run of digits
0-9, one vulgar fraction sign, or one other character. White space belongs to no atom.
"""

from __future__ import annotations

import re
from typing import Literal, NamedTuple, cast

VULGAR_FRACTIONS = {
    "½": (1, 2), "⅓": (1, 3), "⅔": (2, 3), "¼": (1, 4), "¾": (3, 4), "⅕": (1, 5), "⅖": (2, 5),
    "⅗": (3, 5), "⅘": (4, 5), "⅙": (1, 6), "⅚": (5, 6), "⅛": (1, 8), "⅜": (3, 8), "⅝": (5, 8),
    "⅞": (7, 8),
}  # fmt: skip
_NOT_LETTERS = "".join(VULGAR_FRACTIONS) + "²³¹⁰⁴⁵⁶⁷⁸⁹"
_LETTERS = rf"[^\W\d_{_NOT_LETTERS}]+"
_PIECE = re.compile(
    rf"(?P<word>{_LETTERS}(?:['’]{_LETTERS})*)|(?P<digits>[0-9]+)"
    rf"|(?P<fraction>[{''.join(VULGAR_FRACTIONS)}])|(?P<sign>\S)"
)
"""One atom; the group that matched is its shape."""

_BETWEEN = frozenset({"-", ".", "'", "’"})
"""Signs that may stand between the words of a phrase."""

Shape = Literal["word", "digits", "fraction", "sign"]
Key = tuple[str, ...]
"""A phrase as atoms, the form in which phrases are compared."""


class Atom(NamedTuple):
    """One piece: `text` is case-folded; `start`..`end` are characters of the transcript."""

    text: str
    start: int
    end: int
    shape: Shape
    glued: bool
    """No white space before it (and it isn't the first)."""


def atomise(text: str) -> tuple[Atom, ...]:
    """The atoms of `text` in order; linear in its length."""
    atoms = []
    last_end = -1
    for match in _PIECE.finditer(text):
        start, end = match.span()
        folded = match[0].casefold().replace("’", "'")
        shape = cast("Shape", match.lastgroup)
        atoms.append(Atom(folded, start, end, shape, start == last_end))
        last_end = end
    return tuple(atoms)


def key(phrase: str) -> Key:
    """`phrase` as atoms, without the signs that may stand between its words."""
    return tuple(atom.text for atom in atomise(phrase) if atom.text not in _BETWEEN)
