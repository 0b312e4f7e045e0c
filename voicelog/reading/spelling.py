"""Spelling: letters, figures and separators put together, piece by piece.

The row ends before the first word that spells nothing, and before figures that have a unit.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.spelt_pieces import Pieces
from voicelog.reading.spoken import separators

if TYPE_CHECKING:
    from voicelog.reading.passage import Passage


@dataclass(frozen=True, slots=True)
class Code:
    """A spelt or written row."""

    value: str
    last: int
    letters: int
    spelt: int
    """Letters said with the spelling alphabet."""
    figures: int
    by_sound: bool
    bare: frozenset[int]
    """Places of characters that were written, not spelt: their look-alikes are possible."""
    torn: bool = False
    """A word for tens stands among figures said one by one: "eighty zero four"."""
    unsure: bool = False
    """Where it ends is open: figures of a value were said right behind it."""


_GROUP = 4
"""Figures behind a pause that are a code of their own, at least."""
_PLACED = re.compile(r"[0-9][A-Z]")
"""A figure that may be the place of a code that begins with a letter."""


def code_at(passage: Passage, at: int) -> Code | None:
    """The row of letters, figures and separators that begins at atom `at`."""
    return _Spelling(passage, at).read()


class _Spelling(Pieces):
    """Puts an identifier together, piece by piece; a piece is cut off again when it turns
    out to be a value."""

    def __init__(self, passage: Passage, at: int) -> None:
        super().__init__(passage, at)
        self._paused = False
        """A pause stands within it."""

    def read(self) -> Code | None:
        index = self._at
        while index < self._passage.barrier(index) and len(self._pieces) < 32:
            piece = self._piece(index)
            if piece is None:
                break
            self._paused = self._paused or self._atoms[index].text == ","
            self._pieces.append(piece)
            index = piece[1]
        self._cut_value()
        while self._pieces and self._pieces[-1][2] == "sign":
            self._pieces.pop()
        if not self._pieces:
            return None
        self._drop_hyphen()
        self._go_on()
        self._unsure = self._unsure or self._figures_behind(self._pieces[-1][1])
        value = "".join(chars for chars, *_ in self._pieces)
        bare: set[int] = set()
        place = 0
        for chars, _, how in self._pieces:
            if how in ("bare", "sound"):
                bare |= set(range(place, place + len(chars)))
            place += len(chars)
        return Code(
            value,
            self._pieces[-1][1],
            sum(char.isalpha() for char in value),
            sum(len(chars) for chars, _, how in self._pieces if how == "spelt"),
            sum(char.isdigit() for char in value),
            any(how == "sound" for *_, how in self._pieces) or self._mixed(),
            frozenset(bare),
            self._torn(),
            self._unsure,
        )

    def _drop_hyphen(self) -> None:
        """ "L7-7-1": of figures said one by one no hyphen was said, the first as little as the
        others."""
        for index in range(len(self._pieces) - 2, 0, -1):
            chars, last, how = self._pieces[index]
            (before, *_), (after, *_) = self._pieces[index - 1], self._pieces[index + 1]
            singly = how == "sign" and chars == "-" and before.isdigit() and len(before) == 1
            if singly and after.isdigit() and self._hyphened(last):
                del self._pieces[index]

    def _hyphened(self, at: int) -> bool:
        """Whether single figures with hyphens stand around `at`, all written as one: "7-7-1"."""
        row = self._atoms[at - 2 : at + 3]
        figures = [atom.text for atom in row if atom.shape == "digits" and len(atom.text) == 1]
        signs = [atom for atom in row if atom.text == "-"]
        return len(figures) == 3 and len(signs) == 2 and all(atom.glued for atom in row[1:])

    def _torn(self) -> bool:
        """Whether a zero follows a word for tens: "eighty zero four" was "A T zero four", or
        eight, or eighty four."""
        for (_, tens, _), (zero, _, _) in pairwise(self._pieces):
            word = self._passage.words[tens - 1]
            if zero == "0" and word is not None and word.kind == "tens":
                return True
        return False

    def _mixed(self) -> bool:
        """ "Hotel I M": letters by name right behind one that was spelt are hardly as they were."""
        how = [how if chars.isalpha() else "" for chars, _, how in self._pieces]
        return ["spelt", "bare", "bare"] in (how[at : at + 3] for at in range(len(how)))

    def _cut_value(self) -> None:
        """Cut off figures at the end that have a unit or decimals: they are a value."""
        if not self._pieces or self._pieces[-1][2] not in ("figure", "sign"):
            return
        last = self._pieces[-1][1]
        stop = self._passage.barrier(last)
        text = self._atoms[last].text if last < len(self._atoms) else ""
        unit = unit_words.find(self._atoms, last, stop) if last < stop else None
        decimals = text in ("point", "decimal", ".") and self._numeric(last + 1, text)
        ratio = text in ("over",)
        letters_in = any(map(str.isalpha, "".join(chars for chars, *_ in self._pieces)))
        if text == "in" and letters_in:
            unit = None  # "BK 512 out, BK 515 in"
        if unit is None and not decimals and not ratio:
            return
        figures = 0
        while figures < len(self._pieces) and self._pieces[-1 - figures][2] == "figure":
            figures += 1
        cuts = [n for n in range(1, figures + 1) if self._fits(self._pieces[:-n])] or [1]
        singly = all(len(piece[0]) == 1 for piece in self._pieces[-2:])
        self._unsure = (
            figures > 1 and singly and len(cuts) == 1 and not self._fits(self._pieces[: -cuts[0]])
        )
        del self._pieces[-cuts[0] :]

    def _go_on(self) -> None:
        """Put to it what a pause cut off: "two six zero, five one one stroke alpha". The whole
        is asked about; two codes that are complete in themselves stay two."""
        last = self._pieces[-1][1]
        if last + 1 >= len(self._atoms) or self._atoms[last].text != ",":
            return
        if self._passage.claims[last + 1]:
            return
        rest = _Spelling(self._passage, last + 1)
        code = rest.read()
        if code is None or not code.figures:
            return
        value = "".join(chars for chars, *_ in self._pieces)
        if not code.letters and code.value.isalnum():
            ends = len(code.value) < _GROUP and self._figures_behind(last)
            if ends and any(map(str.isalpha, value)):  # "PG dash zero, one two."
                self._pieces += rest._pieces
                self._unsure = True
            return
        complete = any(map(str.isalpha, value)) and sum(map(str.isdigit, value)) > 1
        if complete and code.value[0].isalpha() and code.figures > 1:
            return
        if complete and _PLACED.match(code.value) and code.figures > 2:
            return  # "..., two A C oh oh four two": the next of a list, behind its place
        self._pieces += rest._pieces
        self._unsure = True

    def _figures_behind(self, at: int) -> bool:
        """Whether what follows a pause at `at` may belong to it: "hotel tango six six, nine zero
        two"; a full stop may be a pause, too ("kilo. slash one nine")."""
        ends_full = self._pieces[-1][0].endswith("00")
        if at < len(self._atoms) and self._atoms[at].text == "and" and ends_full:
            return self._one(at + 2 if self._atoms[at + 1].text == "," else at + 1) is not None
        if at + 1 >= len(self._atoms) or self._atoms[at].text not in (",", "."):
            return False
        if (self._atoms[at + 1].text,) in separators() or self._for_word(at + 1) is not None:
            return True
        index = at + 1
        while (figure := self._one(index) or self._group(index)) is not None:
            index = figure[1]
        ends = index >= len(self._atoms) or self._atoms[index].text in (".", ",", ";")
        paused = self._paused and self._atoms[at].text == ","
        return index > at + 1 and (ends or paused)

    def _group(self, at: int) -> tuple[str, int] | None:
        """Two or three figures written together at `at`: the "15" of "62, 15, 43"."""
        if at >= len(self._atoms) or self._atoms[at].shape != "digits":
            return None
        text = self._atoms[at].text
        alone = at + 1 >= len(self._atoms) or not self._digit_at(at + 2)
        return (text, at + 1) if 1 < len(text) < 4 and alone else None

    def _numeric(self, at: int, sign: str) -> bool:
        if at >= len(self._atoms):
            return False
        if sign == "." and not self._atoms[at].glued:
            return False
        return self._numerals.starts_number(at)
