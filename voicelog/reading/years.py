"""Years: a year in figures or in words, and figures that are said one by one."""

from __future__ import annotations

from voicelog.reading import unit_words
from voicelog.reading.times import Times

YEARS = range(1900, 2200)
CENTURY = 2000  # a year in two figures is of this century; asked about all the same
_SINGLE = frozenset({"figure", "weak zero"})
_ENDS = frozenset({"", ",", ".", ";", "and"})


class Years(Times):
    """Reads the year of a date."""

    def _year(self, at: int) -> tuple[int, int, bool] | None:
        """(year, index behind, said in two figures) at `at`."""
        if self._text(at) in (",", "-", "/", "of", "'"):
            at += 1
        if at >= len(self._atoms) or self._passage.claims[at]:
            return None
        atom = self._atoms[at]
        if atom.text == "20" and (halves := self._year_in_halves(at)) is not None:
            return halves
        if atom.shape == "digits":
            if len(atom.text) == 4 and atom.text[0] in "12":
                return int(atom.text), at + 1, False
            joined = self._text(at - 1) in ("-", "/", "'")
            if len(atom.text) == 2 and (joined or not self._unit_follows(at + 1)):
                return CENTURY + int(atom.text), at + 1, True
            return None
        number = self._numerals(at).whole_number(at)
        if number is None:
            return None
        if number.value in YEARS:
            cut = number.value % 100 == 0 and self._text(number.last) in ("and", ",")
            return int(number.value), number.last, cut  # "two thousand and, twenty nine"
        if 20 <= number.value <= 99 and len(number.digits) == 2:
            return CENTURY + int(number.value), number.last, True
        return None

    def _year_in_halves(self, at: int) -> tuple[int, int, bool] | None:
        """ "20, 27" and "20th, 27th" are what recognisers write for "twenty twenty seven"."""
        after = at + 1
        for text in ("th", ","):
            if self._text(after) == text:
                after += 1
        if after >= len(self._atoms) or len(self._text(after)) != 2:
            return None
        if self._atoms[after].shape != "digits":
            return None
        last = after + 2 if self._text(after + 1) in ("th", "st", "nd", "rd") else after + 1
        if self._unit_follows(last):
            return None
        return CENTURY + int(self._text(after)), last, True

    def _unit_follows(self, at: int) -> bool:
        return unit_words.find(self._atoms, at, len(self._atoms)) is not None or (
            self._text(at) in (".", "point") and self._numeric_at(at + 1)
        )

    def _ends(self, at: int) -> bool:
        """Whether nothing goes on at `at`."""
        return self._text(at) in _ENDS

    def _figures_at(self, at: int) -> str:
        """The figures that one atom says: "two", "0420"."""
        if at >= len(self._atoms) or self._passage.claims[at]:
            return ""
        word = self._passage.words[at]
        if self._atoms[at].shape == "digits":
            return self._text(at)
        return str(word.value) if word is not None and word.kind in _SINGLE else ""
