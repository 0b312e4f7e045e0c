"""Pronouns: "one" where it stands for a thing and is no number ("the other one", "lower one")."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.kinds import tells_deed
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.numerals import Numerals
from voicelog.reading.places import FEW, NIL, THESE
from voicelog.reading.state_words import state_words
from voicelog.reading.talk import talk
from voicelog.reading.thousandths import Thousandths
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from voicelog.reading.passage import Passage

MEANT = frozenset({
    "this", "that", "the", "other", "another", "last", "next", "which",
    "each", "either", "every", "no", "any", "new", "old", "good", "bad",
    "same", "only", "loose", "worn", "damaged", "wrong", "right", "left",
    "first", "second", "big", "small", "top", "bottom",
})  # fmt: skip
"""Before "one" these make it a pronoun: "the other one", "this one"."""
_PLACED = frozenset({"in", "on", "along", "across", "within", "per", "under", "near", "over"})
"""Between one of these and a thing, "one" says where: "in one lay", "on one side"."""
_LONGEST = 8
"""Words of a number with its unit, at most."""
_DESCRIBING = 2
"""Words between an article and the "one" that they describe, at most."""
_OF_PRONOUN = frozenset({"i", "we", "i'll", "we'll", "i've", "we've", "i'm", "he", "she", "they"})
_AUXILIARIES = frozenset({
    "is", "isn't", "was", "wasn't", "has", "hasn't", "had", "won't", "doesn't", "didn't", "needs",
    "looks", "feels", "seems",
})  # fmt: skip
"""Behind "one" these tell something of it: "lower one was stiff"."""
_ADVERBS = frozenset({"also", "always", "just", "never", "now", "only", "still"})
""" "Centre one only dribbles"."""
_PARTS = frozenset({",", ".", ";", ":", "and", "but"})
_LISTING = _PARTS - {".", ";"}
_THIS, _ONE = frozenset({"this", "that"}), frozenset({"one"})
_ENDS = frozenset({"", ",", ".", ";"})
_JUST = frozenset({"just", "only"})
_ARTICLES = frozenset({"the", "this", "that", "my", "our"})
_SOUGHT = frozenset({"find", "found", "see", "seen", "spot", "hear", "heard", "notice"})
_NOT = frozenset({"not", "never", "cannot", "cant"})
_WHERE = frozenset({"at", "for", "in", "on"})
_FIGURES = range(1, 10)
_NOUGHT = frozenset({"nought", "naught", "oh", "zero"})
_JOINING = frozenset({"and", "to", "or", "over", "by", "of", "point", "decimal", "is", "was", "at"})


class Pronouns(Thousandths):
    """Tells the pronoun from the number in the atoms `start`..`stop` of a passage."""

    def __init__(self, passage: Passage, start: int, stop: int) -> None:
        super().__init__(passage, start, stop)
        self._claims = passage.claims
        self._lexicon = lexicon_of(passage.cues.card)
        self.numerals = Numerals(passage.atoms, stop, passage.words)

    def _is_pronoun(self, at: int) -> bool:
        """Whether the "one" at `at`, with a word before it, stands for a thing."""
        before = self._atoms[at - 1].text
        if before in _PLACED and self._names_a_thing(at + 1):
            return True  # "seven wires in one lay"
        if before in _SOUGHT and self._is_denied(at - 1):
            return True
        if before in _ENDS and self._text(at + 1) in _AUXILIARIES and self._tells_state(at + 2):
            return True  # "blocks fail, one is torn right through"
        if self._is_in_list(at):
            return False
        if before in _JUST and self._text(at - 2) not in _ARTICLES:
            return False  # "only one broken wire"
        if before == "the" and self._text(at - 2) in _JUST and self._is_counted(at + 1):
            return False  # "just the one broken wire"
        return before in MEANT or self._is_placed(at) or self._is_described(at)

    def _is_in_list(self, at: int) -> bool:
        """Whether the "one" at `at`, as the number of the clause before it or behind it, stands
        right behind its place, and nothing else in these clauses: "top two, middle none, bottom
        one"."""
        if not self._is_placed_number(at):
            return False
        before, behind = self._place_before(at) - 1, at + 2
        while self._claimed(behind):
            behind += 1
        listed = []
        if self._any(before) in _LISTING:
            first = before - 1
            while first and before - first < _LONGEST and not self._claimed(first - 1):
                first -= 1
            listed.append(first)
        listed += [behind] if self._any(at + 1) in _LISTING else []
        return any(map(self._is_placed_number, listed))

    def _is_placed_number(self, at: int) -> bool:
        """Whether a number, or that there is none, is told at `at` right behind a place, and is all
        of its clause."""
        first = self._place_before(at)
        begins = first < at and (not first or self._any(first - 1) in _PARTS)
        if not begins or not 0 < at < len(self._atoms):
            return False
        if self._any(at) in NIL:
            return self._any(at + 1) in _PARTS | {""}
        number = Numerals(self._atoms, len(self._atoms), self._words).number(at)
        if number is None:
            return False
        unit = unit_words.find(self._atoms, number.last, min(number.last + 4, len(self._atoms)))
        return self._any(number.last if unit is None else unit[1]) in _PARTS | {""}

    def _place_before(self, at: int) -> int:
        """Where the places begin that end right before `at`."""
        while self._claimed(at - 1):
            at -= 1
        return at

    def _claimed(self, at: int) -> bool:
        return 0 <= at < len(self._claims) and self._claims[at] == "positions"

    def _any(self, at: int) -> str:
        """The word at `at`, whoever has claimed it."""
        return self._atoms[at].text if 0 <= at < len(self._atoms) else ""

    def _is_pointed_at(self, at: int) -> bool:
        """Whether the figure at `at` counts what is pointed at: "number six, that one seventy
        five", "those two eleven sixty"."""
        before = self._text(at - 1) if at else ""
        if at > 1 and self._text(at - 2) not in _PARTS:
            return False  # "make that one ninety two"
        return self._text(at) in (_ONE if before in _THIS else FEW if before in THESE else ())

    def _is_counted(self, at: int) -> bool:
        """Whether a word of what the card counts stands at `at`, or the clause ends there."""
        text = self._text(at)
        return text in _ENDS or word_key(text) in self._lexicon.counted_words

    def _is_one_of(self, at: int) -> bool:
        """Whether the "one" at `at` is no figure of the number behind it: "right one 0.3", "the
        inner one 2.6", which nobody writes so for 10.3 and 12.6."""
        if self._text(at) != "one" or self._text(at + 2) != "." or not self._atoms[at + 2].glued:
            return False
        placed = at > 0 and self._claims[at - 1] == "positions"
        figure = self._text(at + 1)
        return figure == "0" or (placed and len(figure) == 1 and figure.isdigit())

    def _may_be_one_of(self, at: int) -> bool:
        """Whether it may be none: "right one nought point three", "the inner one seventy four",
        "on the inner one two point six", but not "on the right one point three"."""
        if self._text(at) != "one" or not at or self._claims[at - 1] != "positions":
            return False
        first = at - 1
        while first >= 0 and self._claims[first] == "positions":
            first -= 1
        nought = self._text(at + 1) in _NOUGHT
        figure = nought or self._is_figure(at + 1)
        pointed = self._text(at + 1 + figure) in ("point", "decimal")
        articled = first >= 0 and self._atoms[first].text == "the"
        where = articled and first > 0 and self._atoms[first - 1].text in _WHERE
        if nought:
            return pointed  # "the rest one oh two" is a hundred and two
        return articled and (not where or (pointed and figure))

    def _is_figure(self, at: int) -> bool:
        whole = self.numerals.whole_number(at)
        return whole is not None and whole.last == at + 1 and whole.value in _FIGURES

    def _is_denied(self, at: int) -> bool:
        """Whether a "not" stands right before the verb at `at`: "can't find one that is torn"."""
        near = {self._atoms[index].text for index in range(max(0, at - 2), at)}
        return any(text.endswith("n't") for text in near) or not _NOT.isdisjoint(near)

    def _names_a_thing(self, at: int) -> bool:
        """Whether a word stands at `at` that neither goes on with a number nor joins."""
        if at >= self._stop or self._atoms[at].shape != "word":
            return False
        return self._atoms[at].text not in _JOINING and not self.numerals.starts_number(at)

    def _is_described(self, at: int) -> bool:
        """ "The warm one", "the really loose one": words behind an article that name nothing of
        the card, and "one"."""
        everyday = talk().everyday
        for index in range(at - 1, max(-1, at - 2 - _DESCRIBING), -1):
            atom = self._atoms[index]
            if atom.text in ("the", "that", "this", "a", "an"):
                return index < at - 1
            if atom.shape != "word" or self._claims[index] or self.numerals.starts_number(index):
                return False
            if atom.text in everyday.plain | everyday.verbs or atom.text in _JOINING | _PLACED:
                return False
            if word_key(atom.text) in self._lexicon.exact:
                return False
        return False

    def _is_placed(self, at: int) -> bool:
        """ "The blue one", "lower one I haven't looked at", "north one holds": a place with an
        article before it, or with what somebody does, what it is or does behind it, holds no
        number."""
        index = at - 1
        while index >= 0 and self._claims[index] == "positions":
            index -= 1
        articled = index >= 0 and self._atoms[index].text in ("the", "this", "that")
        tells = at + 1 + (self._text(at + 1) in _ADVERBS)
        told = self._text(tells) in _OF_PRONOUN | _AUXILIARIES or self._tells_state(tells)
        told = told or self._does(tells)
        code = at + 1 + (self._text(at + 1) == ",")  # "back one c c seven four two"
        told = told or (code < len(self._claims) and self._claims[code] == "identifiers")
        return (articled or told or self._says_too(at + 1)) and index < at - 1

    def _does(self, at: int) -> bool:
        """Whether the word at `at` tells what one thing does or did, and not how that is which is
        counted: "lower one ran on", but not "rudder one broken wire"."""
        text = self._text(at)
        participle = text.endswith(("ed", "en", "un"))
        if participle and self._text(at + 1) not in _ENDS | talk().remarks.particles:
            return False
        return tells_deed(text) and word_key(text) not in self._lexicon.counted_words

    def _says_too(self, at: int) -> bool:
        """ "North one too": the same of another."""
        last = at + 1 if self._text(at) == "too" else at + 2
        too = last == at + 1 or (self._text(at), self._text(at + 1)) == ("as", "well")
        return too and self._text(last) in _ENDS

    def _tells_state(self, at: int) -> bool:
        """Whether a word at `at` says how a thing is, and does not name what is counted."""
        text = self._text(at)
        key = word_key(text)
        if key in self._lexicon.counted_words:
            return False
        return key in self._lexicon.option_words or not state_words().isdisjoint((text, key))
