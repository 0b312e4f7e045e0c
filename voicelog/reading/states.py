"""States and verdicts: what is said of a thing, plainly or denied."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from voicelog.objects import Mention
from voicelog.reading.negation import BREAKS, Negation
from voicelog.reading.words import verb_stem

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.reading.lexicon import Lexicon
    from voicelog.reading.things import Thing
    from voicelog.reading.words import Token

_CLAUSE_ENDS = frozenset({"", "and", "but", "because", "so", "as", "since", "until"})
_PERSONS = frozenset({"i", "we", "you"})
_NO_SUBJECT = frozenset({"", "still", "and", "but", "just"})
"""Before "haven't" these tell that somebody did not do it: no part is spoken of."""

Polarity = Literal["pass", "fail"]


class States(Negation):
    """Reads verdicts and states within the scope of a negation."""

    def __init__(
        self, text: str, tokens: Sequence[Token], things: Mapping[int, Thing], lexicon: Lexicon
    ) -> None:
        super().__init__(tokens)
        self.text = text
        self.tokens = tokens
        self.undone: int | None = None
        """The verb of what was said last not to have been done."""
        self.things = things
        self.predicates = lexicon.predicates
        self._subject_ends = {end: name for end, name, how in things.values() if how == "subject"}
        self.fitted = lexicon.fitted
        self.openings = {predicate[0] for predicate in lexicon.predicates}

    def mention(
        self,
        first: int,
        end: int,
        value: str,
        *qualifiers: str,
        negated: bool = False,
        doubts: tuple[str, ...] = (),
    ) -> Mention:
        start, stop = self.tokens[first].start, self.tokens[end - 1].end
        return Mention(
            "remark",
            self.text[start:stop],
            start,
            stop,
            value,
            negated=negated,
            stage="remarks",
            qualifiers=frozenset(qualifiers),
            doubts=doubts,
        )

    def _verdict(self, index: int, end: int, carrier: str, polarity: Polarity) -> Mention | None:
        word = self.words[index]
        if word in {"pass", "passed", "passes"} and end < len(self.words):
            # "pass me that torch"; "leak passed the valve" is how "past" gets written
            handed = self.words[end] in self.talk.handed_over or (
                word != "passes" and self.words[end] == "the"
            )
            if handed:
                return None
        if not self._spent(index) and not self._is_own_verdict(index, carrier, polarity):
            return self._denied(index, end, carrier, polarity)
        if word == "serviceable" and self.word(index - 1) in {
            "and",
            "an",
            "on",
            "in",
            "under",
            "a",
        }:
            return self.mention(index - 1, end, "pass", carrier, doubts=("misheard_polarity",))
        if word == "serviceable" and self.word(index - 1) in {"un", "non"}:
            return self.mention(index - 1, end, "fail", carrier)
        limits = (
            {"limits"}
            if {"limit", "limits", "tolerance", "spec"} & set(self.words[index:end])
            else set()
        )
        return self.mention(index, end, polarity, carrier, *limits)

    def _is_own_verdict(self, index: int, carrier: str, polarity: Polarity) -> bool:
        """ "Latch does not close, fail" is no failure denied; "did not fail" is."""
        between = set(self.words[(self.negation or 0) + 1 : index]) - {"a", "an", "been", "really"}
        return carrier == "verdict" and polarity == "fail" and bool(between)

    def _denied(self, index: int, end: int, carrier: str, polarity: Polarity) -> Mention:
        first = self.negation or 0
        doubts: tuple[str, ...] = ("misheard_polarity",) if self.misheard else ()
        between = self.words[first:index]
        if self.negations > 1 or self.words[index].startswith("un"):
            doubts += ("double_negation",)
        if self.talk.vague.intersection(between) or {"say", "sure", "tell"}.intersection(between):
            doubts += ("hedged",)
        doubts += self._cut_doubts()
        undone = self.words[index] in self.talk.undone or self._put_off(first, end)
        self.clear()
        if carrier == "state" and polarity == "pass" and undone:
            return self.mention(first, end, "not done", carrier, negated=True, doubts=doubts)
        flipped = "fail" if polarity == "pass" else "pass"
        return self.mention(first, end, flipped, carrier, negated=True, doubts=doubts)

    def _put_off(self, first: int, end: int) -> bool:
        """Whether what is denied from `first` was not done so far, and is no fault: "isn't locked
        yet", "haven't wire locked the bolts"."""
        until = end
        while self.word(until) not in BREAKS | _CLAUSE_ENDS:
            until += 1
        near = {*self.words[first : end + 2], self.word(max(end, until - 1))}
        if not self.talk.not_yet.isdisjoint(near):
            return True
        verb = first - 1 if self.words[first] == "not" else first
        before = self.word(verb - 1)
        if self.words[verb] in {"havent", "have"} and before in BREAKS | _NO_SUBJECT:
            return True
        return self.words[verb] in {"havent", "have", "didnt", "did"} and before in _PERSONS

    def _predicate(self, index: int) -> tuple[Mention | None, int]:
        """A state that some label of the card names, or the opposite of one.

        Whether it is good depends on the field: "closed" is what one valve has to be and
        another must not be. So the remark says which state ("says:<stems>"), as "pass".
        """
        stem = verb_stem(self.words[index])
        if stem in self.openings:
            for length in range(3, 0, -1):
                said = tuple(verb_stem(word) for word in self.words[index : index + length])
                known = len(said) == length and said in self.predicates
                if known and self._closes(index, length):
                    return self._state(index, length, said), length
        opposite = self.talk.opposites.get(stem)
        if opposite and (opposite,) in self.predicates and self._closes(index, 1):
            return self._state(index, 1, (stem,)), 1
        if self._says_fitted(index):
            return self._verdict(index, index + 1, "state", "pass"), 1
        if self.words[index] in self.talk.either_way and self._ends_clause(index + 1):
            return self._state(index, 1, (stem,)), 1
        if stem in self.talk.staying:
            kept = verb_stem(self.word(index + 1))
            opposites = {self.talk.opposites.get(kept), "out" if kept == "on" else None}
            if any(len(said) == 2 and said[1] in opposites for said in self.predicates):
                return self._state(index, 2, (stem, kept)), 2
        return None, 1

    def _state(self, index: int, length: int, said: tuple[str, ...]) -> Mention | None:
        found = self._verdict(index, index + length, "state", "pass")
        return (
            None if found is None else with_qualifiers(found, "predicate", f"says:{' '.join(said)}")
        )

    def _says_fitted(self, index: int) -> bool:
        """Whether "in" or "on" says of a pin or a cap that it is fitted ("cotter pin's in")."""
        if self.words[index] not in {"in", "on"} or not self._closes(index, 1):
            return False
        before = index - 1
        links = {"is", "are", "now", "back", "all", "both"} | self.talk.not_
        while self.word(before) in links:
            before -= 1
        named = self.tokens[before].key if before >= 0 else ""
        subject = self._subject_ends.get(before + 1)
        return subject is not None and (named in self.talk.fittings or subject in self.fitted)

    def _closes(self, index: int, length: int) -> bool:
        """Whether a particle ("in", "out") stands as a statement, not before a noun."""
        if self.words[index] not in self.talk.particles or length > 1:
            return True
        after = self.word(index + length)
        return after in BREAKS or after in {"", "and", "now", "then", "but", "ok", "fully"}

    def _ends_clause(self, index: int) -> bool:
        return self.word(index) in BREAKS or self.word(index) in {"", "and", "now", "then", "but"}

    def _misheard_verdict(self, index: int) -> Mention | None:
        """A lone word that sounds like a verdict ("Ass." for "Pass.")."""
        before, after = self.word(index - 1), self.word(index + 1)
        if (before and before not in BREAKS) or (after and after not in BREAKS):
            return None
        word = self.words[index]
        if word in self.talk.sounds_like_pass or word in self.talk.sounds_like_fail:
            value = "pass" if word in self.talk.sounds_like_pass else "fail"
            return self.mention(index, index + 1, value, "verdict", doubts=("misheard_polarity",))
        return None


def with_qualifiers(mention: Mention, *qualifiers: str) -> Mention:
    return replace(mention, qualifiers=mention.qualifiers | frozenset(qualifiers))
