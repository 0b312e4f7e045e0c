"""Stage: serial, part, batch and tool numbers, spelt or written.

An identifier is a row of letters, figures and separators. It is looked for behind its cue
("serial number", the words of a card's identifier field), and without a cue where letters
and figures stand together ("hotel tango six six dash niner zero two", "HT66-902"). It
ends before the first word that spells nothing, and before figures that have a unit.
Sources: ICAO Annex 10 and ITU RR App. 14 (alphabet), FAA JO 7110.65 2-4-17 (figures singly).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.chain import stage
from voicelog.reading.cues import CodeCue
from voicelog.reading.spoken import heads, letter_names, letters, separators

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from spacy.tokens import Doc

    from voicelog.objects import Mention, Value
    from voicelog.reading.atoms import Atom
    from voicelog.reading.passage import Passage

NAME = "identifiers"

_KINDS: dict[tuple[str, ...], str] = {
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
_CUE_HEADS = frozenset(words[0] for words in _KINDS)
_LONGEST_CUE = 6
_FILLERS = frozenset({
    "is", "was", "number", "no", ".", ":", "#", ",", "reads", "the", "a", "new", "one's", "=",
    "serial", "s", "/", "n", "fitted", "installed", "on", "off", "removed", "old", "now",
})  # fmt: skip
_LOOK_ALIKE = {"B": "8", "8": "B", "O": "0", "0": "O", "5": "S", "S": "5", "M": "N", "N": "M"}
_MOST_ALTERNATIVES = 8
_SIGNS = frozenset("-/.")
_REACH = 5
"""Words that may stand between a cue and the verb before its identifier."""
_SHORTEST = 4
"""Characters of a written code that is taken for one without a cue."""
_REPAIRS = frozenset({"correction", "sorry", "negative", "mean", "rather", "wait"})
_BETWEEN_REPAIRS = frozenset({",", ".", ";", "-", "…", "i", "no", "it's", "that's", "say", "again"})
_WORDS_OF_ONE_LETTER = frozenset({"a", "i", "o"})


@dataclass(frozen=True, slots=True)
class _Code:
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
    unsure: bool = False
    """Where it ends is open: figures of a value were said right behind it."""


@stage(NAME)
def identifiers(doc: Doc) -> None:
    """Read identifiers behind their cues, then those that show by their form."""
    passage: Passage = doc._.passage
    doc._.identifiers = list(_read(passage))


def _read(passage: Passage) -> Iterator[Mention]:
    index = 0
    repaired = -1
    """Where a code follows the word that takes back the one before it."""
    while index < len(passage.atoms):
        if passage.claims[index]:
            index += 1
            continue
        found = _repaired(passage, index) if index == repaired else None
        found = found or _cued(passage, index) or _by_form(passage, index)
        if found is None:
            index += 1
            continue
        mention, last = found
        yield mention
        index = last
        repaired = _behind_repair(passage, index)


def _behind_repair(passage: Passage, at: int) -> int:
    """Index behind "correction" and its like at `at`; -1 when something else follows."""
    index = at
    heard = False
    while index < len(passage.atoms) and index < at + _REACH + 2:
        text = passage.atoms[index].text
        if text in _REPAIRS:
            heard = True
        elif text not in _BETWEEN_REPAIRS:
            return index if heard else -1
        index += 1
    return -1


def _repaired(passage: Passage, at: int) -> tuple[Mention, int] | None:
    """ "alpha one two, correction, alpha one three": the second needs no cue of its own."""
    code = _code(passage, at)
    if code is None or not code.figures or not (code.letters or code.figures > 2):
        return None
    return _mention(passage, at, code, CodeCue(None, None, None))


# --- where a code begins --------------------------------------------------------------


def _cue_at(passage: Passage, at: int) -> tuple[CodeCue, int] | None:
    """The longest cue at `at`: (cue, index behind)."""
    first = passage.atoms[at].text
    if first not in _CUE_HEADS and not any(words[0] == first for words in passage.cues.codes):
        return None
    for length in range(_LONGEST_CUE, 0, -1):
        words = tuple(atom.text for atom in passage.atoms[at : at + length])
        if len(words) < length:
            continue
        cue = passage.cues.codes.get(words)
        if cue is not None:
            return cue, at + length
        kind = _KINDS.get(words)
        if kind is not None:
            return CodeCue(None, kind, None), at + length
    return None


def _cued(passage: Passage, at: int) -> tuple[Mention, int] | None:
    cue = _cue_at(passage, at)
    if cue is None:
        return None
    spec, index = cue
    end = index
    while end < len(passage.atoms) and end < index + _LONGEST_CUE:
        more = _cue_at(passage, end)
        if more is not None:
            spec = CodeCue(spec.field, more[0].kind or spec.kind, spec.pattern)
            end = more[1]
            continue
        direct = _code(passage, end)
        if direct is not None and _acceptable(passage, end, direct, spec):
            return _mention(passage, end, direct, spec)
        if passage.atoms[end].text not in _FILLERS:
            return _behind_verb(passage, end, spec)
        end += 1
    return None


def _behind_verb(passage: Passage, at: int, spec: CodeCue) -> tuple[Mention, int] | None:
    """ "serial number on the damper is double zero seven three"."""
    for index in range(at, min(at + _REACH, len(passage.atoms) - 1)):
        atom = passage.atoms[index]
        if passage.claims[index] or atom.shape != "word":
            return None
        if atom.text in ("is", "was", "reads"):
            code = _code(passage, index + 1)
            if code is None or not code.figures or not _acceptable(passage, index + 1, code, spec):
                return None
            return _mention(passage, index + 1, code, spec)
    return None


def _acceptable(passage: Passage, at: int, code: _Code, spec: CodeCue) -> bool:
    """Whether a code behind a cue is one, and not an ordinary word or value."""
    if passage.atoms[at].text in _WORDS_OF_ONE_LETTER and code.last == at + 1:
        return False
    if len(code.value) < 2 and spec.kind in ("serial number", "part number", None):
        return False  # "serial on number two is ...": a place, no serial number
    if spec.field is not None and spec.kind is None and code.figures == 0:
        return False
    return code.figures > 0 or code.letters > 1


def _by_form(passage: Passage, at: int) -> tuple[Mention, int] | None:
    """A code without a cue: letters and figures together."""
    atom = passage.atoms[at]
    if atom.glued and at and passage.atoms[at - 1].text not in ("(", '"', "'", ","):
        return None
    if _is_place(passage, at):
        return None
    written = _written(passage, at)
    if written is not None:
        return _mention(passage, at, written, CodeCue(None, None, None))
    if atom.shape == "digits" and len(atom.text) >= 3:
        numbered = _code(passage, at)
        if numbered is not None and numbered.spelt and not numbered.value.isalnum():
            return _mention(passage, at, numbered, CodeCue(None, None, None))
        return None
    if atom.shape != "word" or (
        (atom.text,) not in letters()
        and not _starts_letter_pair(passage, at)
        and len(atom.text) > 1
    ):
        return None
    code = _code(passage, at)
    if code is None or code.figures == 0:
        return None
    if code.spelt >= 2 or (code.spelt == 1 and code.figures >= 3):
        return _mention(passage, at, code, CodeCue(None, None, None))
    if code.letters >= 2 and code.figures >= 2 and not code.by_sound and len(atom.text) == 1:
        return _mention(passage, at, code, CodeCue(None, None, None))
    return None


def _is_place(passage: Passage, at: int) -> bool:
    """Whether a letter or figures at `at` are a place of the card: "phase U280", "bolts 1-6"."""
    before = (passage.atoms[at - 1].text,) if at else ()
    if before in passage.cues.words and not passage.cues.words[before].weak:
        return True
    atom = passage.atoms[at]
    following = passage.atoms[at + 1] if at + 1 < len(passage.atoms) else None
    if len(atom.text) > 1 or following is None or following.shape != "digits":
        return False
    step = passage.step_at(at)
    return any(
        (atom.text,) in group.phrases and step in group.steps for group in passage.cues.groups
    )


def _starts_letter_pair(passage: Passage, at: int) -> bool:
    return tuple(atom.text for atom in passage.atoms[at : at + 2]) in letters()


def _written(passage: Passage, at: int) -> _Code | None:
    """A code written as one: "HT66-902", "4479R", "32-41-00"."""
    atoms = passage.atoms
    last = at
    while last < len(atoms) and not passage.claims[last] and (last == at or atoms[last].glued):
        if atoms[last].shape not in ("word", "digits") and atoms[last].text not in _SIGNS:
            break
        last += 1
    while last > at and atoms[last - 1].text in _SIGNS:
        last -= 1
    if last - at < 2:
        return None
    parts = atoms[at:last]
    value = _joined(parts)
    letters_in = sum(char.isalpha() for char in value)
    figures_in = sum(char.isdigit() for char in value)
    if not value.isascii() or figures_in == 0 or "'" in value:
        return None
    groups = [atom.text for atom in parts if atom.shape == "digits"]
    if letters_in == 0:
        signs = {atom.text for atom in parts if atom.shape == "sign"}
        several = len(groups) >= 3 and len(signs) == 1 and any(len(group) > 1 for group in groups)
        if not several or signs == {"/"}:
            return None
    elif _is_measure(passage, at, last) or len(value) < _SHORTEST:
        return None
    bare = frozenset(range(len(value)))
    return _Code(value, last, letters_in, 0, figures_in, False, bare)


def _joined(parts: Sequence[Atom]) -> str:
    """The row as one word; hyphens between figures said one by one ("TM-2-0-5") are the
    recogniser's."""
    kept: list[str] = []
    for index, atom in enumerate(parts):
        around = parts[index - 1 : index + 2] if index else ()
        between = (
            atom.text == "-"
            and len(around) == 3
            and all(
                each.shape == "digits" and len(each.text) == 1 for each in (around[0], around[2])
            )
        )
        if not between:
            kept.append(atom.text)
    return "".join(kept).upper()


_PARTS_OF_NUMBERS = frozenset({"th", "st", "nd", "rd", "ths", "er", "x", "ish"})


def _is_measure(passage: Passage, at: int, last: int) -> bool:
    """Whether the row is a number with a unit, an ordinal, or hyphenated words."""
    atoms = passage.atoms
    unit = unit_words.find(atoms, at, len(atoms))
    if unit is not None and unit[1] >= last:
        return True  # "kg/cm2" behind a number that was spoken
    index = at
    while index < last and atoms[index].shape == "word":
        index += 1
        if index < last and atoms[index].text == "-":
            index += 1
    if atoms[at].shape == "word" and (len(atoms[at].text) > 4 or atoms[at].text == "step"):
        return True  # "bolts1", "step-30"
    if re.fullmatch(r"\d+h\d+(m|min)?", "".join(atom.text for atom in atoms[at:last])):
        return True  # hours and minutes
    if (atoms[at].text,) in letters() or atoms[at].text in heads():
        return True  # words: they are read as such
    if atoms[at].shape != "digits":
        return False
    index = at
    while index < last:
        if atoms[index].shape == "word":
            if atoms[index].text in _PARTS_OF_NUMBERS or atoms[index].text in heads():
                return True
            unit = unit_words.find(atoms, index, len(atoms))
            return unit is not None and unit[1] >= last
        index += 1
    return True


# --- reading a code -------------------------------------------------------------------


def _code(passage: Passage, at: int) -> _Code | None:
    """The row of letters, figures and separators that begins at atom `at`."""
    reader = _Spelling(passage, at)
    return reader.read()


class _Spelling:
    """Puts an identifier together, piece by piece; a piece is cut off again when it turns
    out to be a value."""

    def __init__(self, passage: Passage, at: int) -> None:
        self._passage = passage
        self._atoms = passage.atoms
        self._at = at
        self._numerals = passage.numerals(at)
        self._unsure = False
        """Figures said one by one go over from the identifier into a value."""
        self._pieces: list[tuple[str, int, str]] = []
        """(characters, index behind, how: "spelt", "bare", "sound", "figure", "sign")"""

    def read(self) -> _Code | None:
        index = self._at
        while index < self._passage.barrier(index) and len(self._pieces) < 32:
            piece = self._piece(index)
            if piece is None:
                break
            self._pieces.append(piece)
            index = piece[1]
        self._cut_value()
        while self._pieces and self._pieces[-1][2] == "sign":
            self._pieces.pop()
        if not self._pieces:
            return None
        value = "".join(chars for chars, *_ in self._pieces)
        bare: set[int] = set()
        place = 0
        for chars, _, how in self._pieces:
            if how in ("bare", "sound"):
                bare |= set(range(place, place + len(chars)))
            place += len(chars)
        return _Code(
            value,
            self._pieces[-1][1],
            sum(char.isalpha() for char in value),
            sum(len(chars) for chars, _, how in self._pieces if how == "spelt"),
            sum(char.isdigit() for char in value),
            any(how == "sound" for *_, how in self._pieces),
            frozenset(bare),
            self._unsure,
        )

    def _piece(self, at: int) -> tuple[str, int, str] | None:
        at = self._past_comma(at)
        return self._separator(at) or self._spelt(at) or self._figures(at) or self._written(at)

    def _past_comma(self, at: int) -> int:
        """Behind a comma between figures dictated one by one ("hotel kilo 2, 1, dash 3, 3"),
        and behind the full stops of an abbreviation ("C.B. 0-0-8-1")."""
        if self._dotted(at):
            return at + 1
        if not self._pieces or self._atoms[at].text != "," or at + 1 >= len(self._atoms):
            return at
        if self._pieces[-1][2] not in ("figure", "spelt") or len(self._pieces[-1][0]) > 1:
            return at
        after = self._atoms[at + 1]
        if (after.text,) in separators():
            return at + 1
        alone = at + 2 >= len(self._atoms) or self._atoms[at + 2].text in (",", ".", "-")
        figure = after.shape == "digits" and len(after.text) == 1
        return at + 1 if figure and alone else at

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

    def _separator(self, at: int) -> tuple[str, int, str] | None:
        if not self._pieces or self._pieces[-1][2] == "sign":
            return None
        text = self._atoms[at].text
        if text in ("-", "/"):
            follows = at + 1 < len(self._atoms) and self._piece_follows(at + 1)
            if not follows:
                return None
            singly = self._singly(at)
            return ("", at + 1, "figure") if singly else (text, at + 1, "sign")
        found = self._phrase(at, separators())
        if found is None or not self._piece_follows(found[1]):
            return None
        return found[0], found[1], "sign"

    def _singly(self, at: int) -> bool:
        """Whether the hyphen at `at` stands between figures said one by one ("2-5-0")."""
        before, after = self._atoms[at - 1], self._atoms[at + 1]
        if self._atoms[at].text != "-":
            return False
        one = before.shape == "digits" and len(before.text) == 1
        if after.shape == "word":
            return before.shape == "word" and self._atoms[at].glued
        return one and len(after.text) == 1 and not self._longer_group(at)

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

    def _spelt(self, at: int) -> tuple[str, int, str] | None:
        repeat = {"double": 2, "triple": 3, "treble": 3}.get(self._atoms[at].text, 1)
        start = at + 1 if repeat > 1 else at
        if start >= len(self._atoms):
            return None
        found = self._phrase(start, letters())
        if found is not None:
            return found[0] * repeat, found[1], "spelt"
        atom = self._atoms[start]
        glued_after = start + 1 < len(self._atoms) and self._atoms[start + 1].glued
        if atom.shape == "word" and len(atom.text) == 1 and atom.text.isascii():
            if atom.text == "a" and not glued_after and not self._piece_follows_letter(start):
                return None
            if atom.text == "o" and (self._pieces and self._pieces[-1][2] == "figure"):
                return "0" * repeat, start + 1, "bare"
            return atom.text.upper() * repeat, start + 1, "bare"
        if self._pieces or repeat > 1:
            named = self._phrase(start, letter_names())
            if named is not None and self._piece_follows(named[1]):
                return named[0] * repeat, named[1], "sound"
        return None

    def _piece_follows_letter(self, at: int) -> bool:
        """Whether "a" is a letter: only inside a row, with more of it or a break behind."""
        if not self._pieces:
            return False
        ends = at + 1 >= len(self._atoms) or self._atoms[at + 1].shape == "sign"
        return ends or self._piece_follows(at + 1)

    def _figures(self, at: int) -> tuple[str, int, str] | None:
        atom = self._atoms[at]
        if atom.shape == "digits":
            last = at + 1
            if last < len(self._atoms) and self._atoms[last].glued:
                if self._atoms[last].text == "er" and atom.text.endswith("9"):
                    last += 1
                elif self._atoms[last].text == "." and self._digit_at(last + 1):
                    return None  # a decimal is no part of an identifier
            return atom.text, last, "figure"
        if self._numerals.is_weak_zero(at):
            return "0", at + 1, "figure"
        whole = self._numerals.whole_number(at)
        pair = self._numerals.pair(at)
        if whole is not None and self._has_power(at, whole.last):
            return str(int(whole.value)), whole.last, "figure"
        if pair is not None:
            return pair[0], pair[1], "figure"
        single = self._numerals.figures(at)
        return None if single is None else (single[0], single[1], "figure")

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
            and self._atoms[small[1]].text
            in (
                "hundred",
                "thousand",
            )
        )

    def _written(self, at: int) -> tuple[str, int, str] | None:
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
        if before_glued or after_glued:
            return atom.text.upper(), at + 1, "bare"
        if (
            len(atom.text) == 2
            and following is not None
            and following.shape == "digits"
            and not self._pieces
            and atom.text not in heads()
            and not _is_common(atom.text)
        ):
            return atom.text.upper(), at + 1, "bare"  # "HT 66-902"
        return None

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

    def _fits(self, pieces: list[tuple[str, int, str]]) -> bool:
        """Whether `pieces` spell an identifier that the card knows the form of."""
        value = "".join(chars for chars, *_ in pieces)
        patterns = self._passage.cues.patterns
        return any(cue.pattern is not None and cue.pattern.fullmatch(value) for cue in patterns)

    def _numeric(self, at: int, sign: str) -> bool:
        if at >= len(self._atoms):
            return False
        if sign == "." and not self._atoms[at].glued:
            return False
        return self._numerals.starts_number(at)


def _is_common(word: str) -> bool:
    return word in {
        "is", "at", "to", "of", "on", "in", "it", "no", "or", "by", "as", "we", "an", "so", "up",
        "be", "do", "go", "if", "me", "my", "us", "he", "am", "pm", "nr",
    }  # fmt: skip


# --- what it becomes ------------------------------------------------------------------


def _mention(
    passage: Passage, first: int, code: _Code, spec: CodeCue
) -> tuple[Mention, int] | None:
    qualifiers = {spec.kind} if spec.kind else set()
    doubts: list[str] = []
    alternatives: list[Value] = []
    value = code.value
    if code.by_sound:
        doubts.append("letter_by_sound")
    if code.unsure:
        doubts.append("joined_digits")
    fits = [cue for cue in passage.cues.patterns if cue.pattern and cue.pattern.fullmatch(value)]
    qualifiers |= {f"field:{cue.field}" for cue in fits}
    if spec.field is not None:
        qualifiers.add(f"field:{spec.field}")
    if spec.pattern is not None and not spec.pattern.fullmatch(value):
        doubts.append("pattern_misfit")
        alternatives += _fitting(value, code.bare, spec.pattern)
    alternatives += [other for other in _look_alikes(value, code.bare) if other not in alternatives]
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
    passage.claim(first, code.last, NAME)
    mention = passage.mention(
        "identifier",
        first,
        code.last,
        NAME,
        value=value,
        alternatives=tuple(alternatives[:_MOST_ALTERNATIVES]),
        qualifiers=frozenset(qualifiers),
        doubts=tuple(doubts),
    )
    return mention, code.last


def _look_alikes(value: str, bare: frozenset[int]) -> list[str]:
    """`value` with one written character as its look-alike."""
    if not any(char.isalpha() for char in value):
        return []
    return [
        value[:place] + _LOOK_ALIKE[char] + value[place + 1 :]
        for place, char in enumerate(value)
        if place in bare and char in _LOOK_ALIKE
    ]


def _fitting(value: str, bare: frozenset[int], pattern: re.Pattern[str]) -> list[str]:
    """Readings of `value` that the card's pattern allows: a look-alike, or a separator that
    was not said. They are offered, never put in."""
    found = [other for other in _look_alikes(value, bare) if pattern.fullmatch(other)]
    for sign in ("-", "/"):
        for place in range(1, len(value)):
            other = value[:place] + sign + value[place:]
            if pattern.fullmatch(other) and other not in found:
                found.append(other)
    plain = value.replace("-", "").replace("/", "")
    if plain != value and pattern.fullmatch(plain):
        found.append(plain)
    return found


STAGE = identifiers
