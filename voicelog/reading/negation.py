"""Negation: how far a "no" or a "not" reaches over the words behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.spoken import lexemes
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.reading.words import Token

_REACH = 8
"""Words that a "not" reaches over at most."""
_ASIDE = 5
"""Words from a negation to the comma behind what is put in, at most: "isn't, you know, tight"."""
_ONES = (("even", "one"), ("a", "single", "one"), ("a", "single"), ("a", "one"), ("one",), ("a",))
_OF_THEM = frozenset({"of", "the", "them", "those", "these", "em", "my", "our"})
_DID = frozenset({"has", "had", "have", "did", "ever", "yet", "checked", "looked", "tested"})
BREAKS = frozenset({",", ".", ";", "!", "?", ":", "…"})


def _spoken(token: Token) -> str:
    return token.text.lower().replace("'", "").replace("’", "")


class Negation:
    """The negation in force at a word, and the severity named before it."""

    def __init__(self, tokens: Sequence[Token]) -> None:
        self.talk = talk().remarks
        self.words = [_spoken(token) for token in tokens]
        self.keys = [token.key for token in tokens]
        self.severity: tuple[int, str] | None = None
        self.clear()

    def clear(self) -> None:
        """Leave the scope of a negation."""
        self.negation: int | None = None
        self.negations = 0
        self.soft = False  # a comma passed since: only a list that ends in "or" carries on
        self.misheard = False
        self.listed = False  # a condition was named within the negation
        self.listed_to = 0  # index behind the last of them
        self.cut = ""  # a pause stands within the negation: behind its "word", or behind "any"

    def word(self, index: int) -> str:
        return self.words[index] if 0 <= index < len(self.words) else ""

    def _by_no(self) -> bool:
        return self.negation is not None and self.words[self.negation] in {"no", "nil", "zero"}

    def negate(self, index: int, *, misheard: bool = False) -> None:
        if self.negation is None or self.soft or self.listed or self.cut:  # "no, not dry"
            self.clear()
            self.negation = index
        self.negations += 1
        self.misheard = self.misheard or misheard

    def _pause(self, index: int) -> None:
        comma = self.words[index] == ","
        stray = self.words[index] == "." and self.word(index - 1) == "not"
        if comma and self.negation is not None and self.listed:
            self.soft = True
        elif (comma or stray) and (cut := self._cut_at(index)):
            self.cut = cut
        else:
            self.clear()
        self.severity = None

    def _cut_at(self, index: int) -> str:
        """What of a negation stands before the comma at `index`, when it goes on behind it: "no,
        unusual noise", "couldn't find any metal, particles"."""
        first = self.negation
        if first is None:
            return ""
        if index == first + 1 or (self.cut == "word" and index - first <= _ASIDE):
            return "word"
        between = self.words[first:index]
        return "any" if "any" in between[:-1] and index - first <= 5 else ""

    def _cut_doubts(self) -> tuple[str, ...]:
        return ("negation_scope",) if self.cut else ()

    def _spent(self, index: int) -> bool:
        """A "no" is spent on the condition that it denied ("no leaks, pass"), and so is a "not"
        when another clause has begun ("wasn't any debris and the spline looks good")."""
        if self.negation is None or self.soft:
            return True
        denied = self.words[self.negation]
        if self.cut and (self.cut == "any" or denied in self.talk.no):
            return True  # "no, that's fine"
        if self._ended(self.negation, index):
            return True
        return self.listed and (
            denied in self.talk.no or "and" in self.words[self.negation : index]
        )

    def _ended(self, first: int, index: int) -> bool:
        """Whether a number or many words stand between: "won't take it, stops at eleven hundred
        newton metres witness marks fail" without its pauses."""
        if index - first > _REACH:
            return True
        begin = first + 2 if self._is_no_one(first) else self.past_one(first + 1)
        return any(word.isdigit() or (word,) in lexemes() for word in self.words[begin:index])

    def past_one(self, at: int) -> int:
        """Index behind the "one" or "a single" of a "not" that stands before `at`, or the "of the
        six" of a "none"."""
        if self.word(at - 1) == "none" and self.word(at) == "of":
            while self.word(at) in _OF_THEM:
                at += 1
            return at + (self.word(at).isdigit() or (self.word(at),) in lexemes())
        if self.word(at - 1) == "not":
            for words in _ONES:
                if tuple(self.words[at : at + len(words)]) == words:
                    return at + len(words)
        return at

    def _is_no_one(self, index: int) -> bool:
        """ "No one has signed it", but not "no one-inch bolts"."""
        pair = self.words[index] == "no" and self.word(index + 1) == "one"
        return pair and self.word(index + 2) in _DID

    def _or_ahead(self, index: int) -> bool:
        for word in self.words[index : index + 12]:
            if word in {"or", "nor"}:
                return True
            if word in BREAKS - {","} or word in self.talk.stop:
                return False
        return False

    def _severity(self, index: int) -> tuple[str, ...]:
        if self.severity is not None and index - self.severity[0] <= 3:
            return (self.severity[1],)
        return ()
