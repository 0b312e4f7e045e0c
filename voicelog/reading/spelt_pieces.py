"""Pieces of a spelt code: a letter, figures or a separator, in whatever way each was said."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.capitals import in_capitals, is_common
from voicelog.reading.look_alikes import in_form
from voicelog.reading.names import begins_word
from voicelog.reading.spoken import (
    heads,
    letter_names,
    letter_pairs,
    letters,
    letters_by_ear,
    separators,
)
from voicelog.reading.talk import everyday_words
from voicelog.reading.unit_words import may_begin

if TYPE_CHECKING:
    from voicelog.reading.passage import Passage

Piece = tuple[str, int, str]
"""(characters, index behind, how: "spelt", "bare", "sound", "figure", "sign")"""


class Pieces:
    """Reads the next piece of a code that begins at atom `at`; what came before it counts."""

    def __init__(self, passage: Passage, at: int) -> None:
        self._passage = passage
        self._atoms = passage.atoms
        self._at = at
        self._numerals = passage.numerals(at)
        self._pieces: list[Piece] = []
        """Those that were taken so far."""
        self._unsure = False
        """Figures said one by one go over from the identifier into a value."""

    def _piece(self, at: int) -> Piece | None:
        at = self._past_comma(at)
        if begins_word(self._passage, at):
            return None
        return self._separator(at) or self._spelt(at) or self._figures(at) or self._written(at)

    def _past_comma(self, at: int) -> int:
        """Behind a comma between figures dictated one by one ("hotel kilo 2, 1, dash 3, 3"),
        and behind the full stops of an abbreviation ("C.B. 0-0-8-1")."""
        if self._dotted(at):
            return at + 1
        if not self._pieces or self._atoms[at].text != "," or at + 1 >= len(self._atoms):
            return at
        after = self._atoms[at + 1]
        if self._passage.claims[at + 1]:
            return at  # "..., November seventh"
        if (after.text,) in separators() or self._pieces[-1][2] == "sign":
            return at + 1
        if self._phrase(at + 1, letters()) is not None or self._for_word(at + 1) is not None:
            return at if self._is_complete() and self._code_follows(at + 1) else at + 1
        if not any(how == "figure" for *_, how in self._pieces):
            letter = after.shape == "word" and len(after.text) == 1 and after.text not in "aio"
            # "kilo echo tango, 00417"
            figures = after.shape == "digits" and len(after.text) > 2 and not self._digit_at(at + 3)
            letters_in = sum(len(chars) for chars, *_ in self._pieces)
            figures = figures and letters_in > 1  # not "phase A, 2904"
            return at + 1 if letter or figures or self._one(at + 1) is not None else at
        if self._pieces[-1][2] not in ("figure", "spelt") or len(self._pieces[-1][0]) > 1:
            return at
        last = at + 2
        alone = last >= len(self._atoms) or self._atoms[last].text in (",", ".", "-")
        alone = alone or (self._atoms[last].text,) in separators()
        figure = self._one(at + 1)
        single = figure is not None and len(figure[0]) == 1 and figure[1] == last
        return at + 1 if single and alone else at

    def _fits(self, pieces: list[Piece]) -> bool:
        """Whether `pieces` spell an identifier that the card knows the form of."""
        value = "".join(chars for chars, *_ in pieces)
        patterns = self._passage.cues.patterns
        return any(cue.pattern is not None and cue.pattern.fullmatch(value) for cue in patterns)

    def _is_complete(self) -> bool:
        """Whether the pieces so far may be a whole code: letters, and several figures."""
        value = "".join(chars for chars, *_ in self._pieces)
        return any(map(str.isalpha, value)) and sum(map(str.isdigit, value)) > 1

    def _code_follows(self, at: int) -> bool:
        """Whether letters with several figures are spelt at `at`: another code."""
        index = at
        while (letter := self._phrase(index, letters())) is not None:
            index = letter[1]
        parted = self._phrase(index, separators())
        index = index if parted is None else parted[1]
        count = 0
        while index < len(self._atoms) and (figure := self._figures(index)) is not None:
            count, index = count + len(figure[0]), figure[1]
        return count > 1

    def _dotted(self, at: int) -> bool:
        """Whether the full stop at `at` only marks the letter before it as an abbreviation."""
        if not self._pieces or self._atoms[at].text != "." or not self._atoms[at].glued:
            return False
        letter, more = self._atoms[at - 1], self._atoms[at + 1 : at + 3]
        if letter.shape != "word" or len(letter.text) > 1 or not more:
            return False
        single = more[0].shape == "word" and len(more[0].text) == 1
        return more[0].shape == "digits" or (single and len(more) > 1 and more[1].text == ".")

    def _phrase(self, at: int, table: dict[tuple[str, ...], str]) -> tuple[str, int] | None:
        for length in (2, 1):
            words = [atom.text for atom in self._atoms[at : at + length]]
            if len(words) == length and (found := table.get(tuple(words))) is not None:
                return found, at + length
        if at + 2 < len(self._atoms) and self._atoms[at + 1].text == "-":
            words = [self._atoms[at].text, self._atoms[at + 2].text]
            if (found := table.get(tuple(words))) is not None:
                return found, at + 3
        return None

    def _separator(self, at: int) -> Piece | None:
        if not self._pieces or self._pieces[-1][2] == "sign":
            return None
        text = self._atoms[at].text
        found = self._phrase(at + (text == "-"), separators())  # "H-dash-five"
        if found is None and text in ("-", "/"):
            if not self._follows_sign(at + 1):
                return None
            singly = self._singly(at)
            return ("", at + 1, "figure") if singly else (text, at + 1, "sign")
        if found is None:
            return None
        last = behind = found[1] + (self._passage.texts[found[1]] == "-")
        if behind < len(self._atoms) and self._atoms[behind].text == ",":
            behind += 1
        if not self._follows_sign(behind):
            return None
        return found[0], last, "sign"

    def _follows_sign(self, at: int) -> bool:
        """Whether the code goes on behind a separator: letters in capitals need no figures there
        ("CE208-MJ")."""
        return self._piece_follows(at) or self._capitals(at)

    def _capitals(self, at: int) -> bool:
        if at >= len(self._atoms) or self._passage.claims[at]:
            return False
        text = self._atoms[at].text
        short = self._atoms[at].shape == "word" and len(text) <= 4 and text.isascii()
        return short and text.isalpha() and in_capitals(self._passage, at)

    def _singly(self, at: int) -> bool:
        """Whether the hyphen at `at` stands between figures said one by one ("2-5-0")."""
        before, after = self._atoms[at - 1], self._atoms[at + 1]
        if self._atoms[at].text != "-":
            return False
        one = before.shape == "digits" and len(before.text) == 1
        if after.shape == "word":
            return before.shape == "word" and self._atoms[at].glued
        grouped = self._longer_group(at) or self._parted_by_blanks(at)
        return one and len(after.text) == 1 and not grouped

    def _parted_by_blanks(self, at: int) -> bool:
        """Whether other figures of the code stand apart without a hyphen: "1 0 4 - 2"."""
        before, after = max(self._at, at - 2), at + 2
        single = (*self._atoms[before : at - 1], *self._atoms[after : after + 1])
        return any(atom.shape == "digits" and len(atom.text) == 1 for atom in single)

    def _longer_group(self, at: int) -> bool:
        """Whether figures stand in a group of two or more on either side of the hyphen."""
        left = at - 2 >= self._at and self._atoms[at - 2].text != "-" and self._atoms[at - 1].glued
        right = (
            at + 2 < len(self._atoms)
            and self._atoms[at + 2].text not in ("-",)
            and (self._atoms[at + 2].glued and self._atoms[at + 2].shape == "digits")
        )
        return left or right

    def _piece_follows(self, at: int) -> bool:
        if at >= len(self._atoms) or self._passage.claims[at]:
            return False
        kept, self._pieces = self._pieces, []
        try:
            return (self._spelt(at) or self._figures(at) or self._written(at)) is not None
        finally:
            self._pieces = kept

    def _spelt(self, at: int) -> Piece | None:
        repeat = _REPEATS.get(self._atoms[at].text, 1)
        start = at + 1 if repeat > 1 else at
        if start >= len(self._atoms):
            return None
        found = self._for_word(start) or self._phrase(start, letters())
        if found is None and self._atoms[start].text in letter_pairs():
            found = letter_pairs()[self._atoms[start].text], start + 1
        if found is not None:
            heard = self._atoms[start].text in letters_by_ear()
            return found[0] * repeat, found[1], "sound" if heard else "spelt"
        atom = self._atoms[start]
        glued_after = start + 1 < len(self._atoms) and self._atoms[start + 1].glued
        if atom.shape == "word" and len(atom.text) == 1 and atom.text.isascii():
            word = atom.text == "a" or (atom.text == "i" and bool(self._pieces))
            spells = glued_after or self._is_capital(start) or self._piece_follows_letter(start)
            spells = spells or self._fits([*self._pieces, (atom.text.upper(), start + 1, "bare")])
            if word and not spells:
                return None
            if atom.text == "o" and (self._pieces and self._pieces[-1][2] == "figure"):
                return "0" * repeat, start + 1, "bare"
            return atom.text.upper() * repeat, start + 1, "bare"
        if self._pieces or repeat > 1:
            named = self._phrase(start, letter_names())
            if named is not None and self._piece_follows(named[1]):
                return named[0] * repeat, named[1], "sound"
        return None

    def _for_word(self, at: int) -> tuple[str, int] | None:
        """ "M for Mike", "B as in bravo": the letter, and the index behind the word."""
        if at + 2 >= len(self._atoms) or self._atoms[at].shape != "word":
            return None
        text = self._atoms[at].text
        letter = text.upper() if len(text) == 1 else letter_names().get((text,))
        link = (self._atoms[at + 1].text, self._atoms[at + 2].text)
        word = at + 3 if link == ("as", "in") else at + 2
        if link[0] not in ("for", "like") and link != ("as", "in"):
            return None
        if letter is None or word >= len(self._atoms):
            return None
        named = self._atoms[word].text
        fits = len(named) > 2 and named[0] == letter.casefold() and named.isalpha()
        return (letter, word + 1) if fits else None

    def _is_capital(self, at: int) -> bool:
        """Whether the letter at `at` is written large before figures; at the head of a sentence
        so many that no article stands before them ("A 997", not "A 12 inch wheel")."""
        if at + 1 >= len(self._atoms) or not in_capitals(self._passage, at):
            return False
        parted = self._phrase(at + 1, separators())
        begins = at == 0 or self._atoms[at - 1].text in (".", "!", "?")
        if parted is not None:
            return self._piece_follows(parted[1])
        index, count = at + 1, 0
        while index < len(self._atoms) and (figure := self._figures(index)) is not None:
            count, index = count + len(figure[0]), figure[1]
        return count >= (3 if begins else 1)

    def _piece_follows_letter(self, at: int) -> bool:
        """Whether "a" or "I" is a letter: inside a row, with more of it or a break behind, or
        before another letter ("A V seven seven oh", "A V dash five")."""
        if not self._pieces:
            pair = self._atoms[at + 1 : at + 3]
            bare = len(pair) == 2 and pair[0].shape == "word" and len(pair[0].text) == 1
            if not bare or pair[0].glued:
                return False
            if pair[1].glued and in_capitals(self._passage, at + 1):
                return in_capitals(self._passage, at)  # "that's a G611-4": an article
            behind = self._phrase(at + 2, separators())
            return self._piece_follows(at + 2 if behind is None else behind[1])
        ends = at + 1 >= len(self._atoms) or self._atoms[at + 1].shape == "sign"
        parted = self._phrase(at + 1, separators())
        return ends or self._piece_follows(at + 1 if parted is None else parted[1])

    def _figures(self, at: int) -> Piece | None:
        atom = self._atoms[at]
        if (repeat := _REPEATS.get(atom.text, 1)) > 1 and (row := self._row_behind(at)):
            return row[0] * (repeat - 1) + row, at + 2, "figure"  # "double 713"
        if atom.shape == "digits":
            last = at + 1
            if last < len(self._atoms) and self._atoms[last].glued:
                if self._atoms[last].text == "er" and atom.text.endswith("9"):
                    last += 1
                elif self._atoms[last].text == "." and self._digit_at(last + 1):
                    return None  # a decimal is no part of an identifier
            whole = self._numerals.whole_number(at) if atom.text.endswith("00") else None
            if whole is not None and whole.last > last and self._atoms[last].text == "and":
                self._unsure = True  # "one hundred and forty four", or two numbers
                return str(int(whole.value)), whole.last, "figure"
            return atom.text, last, "figure"
        if self._numerals.is_weak_zero(at):
            return "0", at + 1, "figure"
        whole = self._numerals.whole_number(at)
        pair = self._numerals.pair(at)
        if whole is not None and self._has_power(at, whole.last):
            self._unsure = self._unsure or self._runs_on(whole.last)
            return str(int(whole.value)), whole.last, "figure"
        if pair is not None:
            return pair[0], pair[1], "figure"
        single = self._numerals.figures(at)
        return None if single is None else (single[0], single[1], "figure")

    def _row_behind(self, at: int) -> str:
        """Figures of a code that are written together behind `at`."""
        row = self._atoms[at + 1 : at + 2]
        several = bool(row) and row[0].shape == "digits" and len(row[0].text) > 1
        return row[0].text if several and not self._digit_at(at + 2) else ""

    def _digit_at(self, at: int) -> bool:
        return (
            at < len(self._atoms) and self._atoms[at].glued and (self._atoms[at].shape == "digits")
        )

    def _has_power(self, first: int, last: int) -> bool:
        """Whether hundreds or thousands come right behind the first cardinal at `first`."""
        small = self._numerals.pair(first) or self._numerals.figures(first)
        return (
            small is not None
            and small[1] < last
            and self._atoms[small[1]].text in ("hundred", "thousand")
        )

    def _runs_on(self, at: int) -> bool:
        """Whether a hundred or a thousand ends at `at` and figures go on: "six hundred two eight"
        is 600 and 28, or 602 and 8."""
        if self._atoms[at - 1].text not in ("hundred", "thousand"):
            return False
        one = self._numerals.figures(at)
        single = one is not None and len(one[0]) == 1 and one[0] != "0"
        return one is not None and single and self._one(one[1]) is not None

    def _written(self, at: int) -> Piece | None:
        """Letters written together, when figures or a separator are glued to them."""
        atom = self._atoms[at]
        if atom.shape != "word" or len(atom.text) > 4 or not atom.text.isascii():
            return None
        if not atom.text.isalpha():
            return None
        following = self._atoms[at + 1] if at + 1 < len(self._atoms) else None
        before_glued = bool(self._pieces) and atom.glued
        after_glued = (
            following is not None
            and following.glued
            and (following.shape == "digits" or following.text in ("-", "/"))
        )
        behind_sign = bool(self._pieces) and self._pieces[-1][2] == "sign"
        if before_glued or after_glued or (behind_sign and self._capitals(at)):
            return atom.text.upper(), at + 1, "bare"
        if self._pieces or atom.text in heads():
            return None
        if self._has_separator(at):
            return atom.text.upper(), at + 1, "bare"  # "VB dash two two zero"
        if following is None:
            return None
        large = in_capitals(self._passage, at) and self._figures(at + 1) is not None
        large = large or self._paused_figures(at)
        large = large and len(atom.text) > 1 and (atom.text,) not in self._passage.cues.phrases
        pair = len(atom.text) == 2 and (following.shape == "digits" or self._formed(at))
        if atom.text not in _NUMBER and (large or (pair and not is_common(atom.text))):
            return atom.text.upper(), at + 1, "bare"  # "HT 66-902", "LDK four four one seven"
        return None

    def _figures_from(self, at: int) -> str:
        """The figures that are said at `at`, one number or several."""
        said = ""
        while at < len(self._atoms) and (figure := self._figures(at)) is not None:
            said, at = said + figure[0], figure[1]
        return said

    def _paused_figures(self, at: int) -> bool:
        """Whether letters in capitals have their figures behind a pause: "SK, 2904", but not "OK,
        2904" or "98 NM, 2904"."""
        paused = in_capitals(self._passage, at) and self._atoms[at + 1].text == ","
        word = self._atoms[at].text in everyday_words() or may_begin(self._atoms[at].text)
        return paused and not word and len(self._figures_from(at + 2)) >= _SEVERAL

    def _formed(self, at: int) -> bool:
        """Whether two small letters begin a code that the card knows the form of ("tm one one
        eight zero"), or one is a capital ("xR four four oh two")."""
        said = self._figures_from(at + 1)
        written = self._passage.text[self._atoms[at].start : self._atoms[at].end]
        mixed = written[0].islower() and not written.islower()
        value = written.upper() + said
        known = any(
            cue.pattern is not None and in_form(value, cue.pattern) is not None
            for cue in self._passage.cues.patterns
        )
        return len(said) >= _SEVERAL and (known or mixed)

    def _has_separator(self, at: int) -> bool:
        """Whether a separator is said behind letters that stand together, two or in capitals, and
        figures behind it."""
        atom = self._atoms[at]
        found = self._phrase(at + 1, separators()) if len(atom.text) > 1 else None
        if found is None or self._atoms[at + 1].text in ("-", "/"):
            return False
        figures = found[1] < len(self._atoms) and self._figures(found[1]) is not None
        pair = len(atom.text) == 2 and not is_common(atom.text)
        return figures and (pair or in_capitals(self._passage, at))

    def _one(self, at: int) -> tuple[str, int] | None:
        """Figures at `at`, "oh" among them."""
        if at >= len(self._atoms):
            return None
        if self._numerals.is_weak_zero(at):
            return "0", at + 1
        pair = self._numerals.pair(at)
        return self._numerals.figures(at) or (None if pair is None else (pair[0], pair[1]))


_NUMBER = frozenset({"no", "nr"})
_REPEATS = {"double": 2, "triple": 3, "treble": 3}
_SEVERAL = 3
"""Figures that make a code with letters that were not spelt, at least."""
