"""Number words and numerals of a passage, looked up once for every atom."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from voicelog.reading.spoken import heads, lexemes, spoken

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.reading.atoms import Atom

LONGEST = 48
"""Figures in one number at most; a longer row of digits is no measurement."""

SUFFIXES = {"st": False, "nd": False, "rd": False, "th": False, "ths": True, "rds": True}
"""What makes a numeral an ordinal, and whether it is a plural ("5/16ths")."""


class NumberWord(NamedTuple):
    """What stands at an atom: a word of spoken.toml, or a numeral."""

    kind: str
    """A `spoken.WordClass`, or "numeral"."""
    value: int
    last: int
    """Index behind the word."""
    digits: str = ""
    """The digits of a numeral."""

    def moved(self, count: int) -> NumberWord:
        """The same word, `count` atoms further on."""
        return NumberWord(self.kind, self.value, self.last + count, self.digits)


def lex(atoms: Sequence[Atom]) -> list[NumberWord | None]:
    """For each atom the number word that begins at it."""
    known = heads()
    return [
        word_at(atoms, at) if atom.shape == "digits" or atom.text in known else None
        for at, atom in enumerate(atoms)
    ]


def word_at(atoms: Sequence[Atom], at: int) -> NumberWord | None:
    """The number word or numeral at atom `at`."""
    atom = atoms[at]
    if atom.shape == "digits":
        return _numeral(atoms, at) if len(atom.text) <= LONGEST else None
    if atom.shape != "word" or _is_shape(atoms, at):
        return None
    for length in range(heads().get(atom.text, 0), 0, -1):
        found = _lookup(atoms, at, length)
        if found is not None:
            return found
    return None


def _is_shape(atoms: Sequence[Atom], at: int) -> bool:
    """Whether an "o" is the shape of a thing, and no zero: "eight O-rings"."""
    if atoms[at].text != "o":
        return False
    behind = [each.text for each in atoms[at + 1 : at + 3] if each.text != "-"]
    return bool(behind) and behind[0] in spoken().o_shaped


def _lookup(atoms: Sequence[Atom], at: int, length: int) -> NumberWord | None:
    key: list[str] = []
    index = at
    while len(key) < length:
        if index >= len(atoms):
            return None
        text = atoms[index].text
        if text != "-" or not key:
            key.append(text)
        index += 1
    lexeme = lexemes().get(tuple(key))
    return None if lexeme is None else NumberWord(lexeme.kind, lexeme.value, index)


def _numeral(atoms: Sequence[Atom], at: int) -> NumberWord:
    digits = atoms[at].text
    last = at + 1
    if last < len(atoms) and atoms[last].glued:
        suffix = atoms[last].text
        if suffix == "er" and digits.endswith("9"):  # "9er": niner
            return NumberWord("numeral", 0, last + 1, digits)
        if suffix in SUFFIXES and len(digits) <= 6:
            kind = "ordinals" if SUFFIXES[suffix] else "ordinal"
            return NumberWord(kind, int(digits), last + 1, digits)
    return NumberWord("numeral", 0, last, digits)
