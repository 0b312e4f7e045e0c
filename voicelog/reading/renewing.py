"""Renewing: whether a new thing is told to be in its place ("new tubes on pumps one and
three", "the ring's a new one"), and not to be fetched, wanted or lying ready."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from voicelog.reading.negation import BREAKS
from voicelog.reading.spoken import lexemes
from voicelog.reading.words import verb_stem

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from voicelog.objects import Mention
    from voicelog.reading.words import Token

NEW = frozenset({"fresh", "new", "replacement"})
ONES = frozenset({"one", "ones"})
STEMS = frozenset(map(verb_stem, ("changed", "exchanged", "renewed", "replaced", "swapped")))
"""Stems of the words of a label that ask for it."""
_COME = frozenset({
    "are", "been", "gone", "got", "has", "have", "is", "now", "put", "was", "went", "were",
})  # fmt: skip
"""Words between a new thing and where it went: "new line went in"."""
_IN_PLACE = frozenset({"fitted", "in", "installed", "on", "there"})
_FITTED = frozenset({
    "fitted", "fitting", "gave", "given", "installed", "popped", "put", "stuck",
})  # fmt: skip
_SWAPPED = frozenset({"changed", "exchanged", "swapped"})
_AHEAD = frozenset({
    "ask", "asked", "before", "bring", "fetch", "get", "if", "must", "need", "needs",
    "once", "order", "ordered", "ordering", "should", "till", "to", "until", "wait", "waiting",
    "want", "wants", "when", "will", "would",
})  # fmt: skip
"""Words before a new thing that is not in yet."""
_TO_GO = frozenset({"later", "next", "soon", "tomorrow", "tonight", "when"})
_GOES_ON = frozenset({
    "and", "as", "because", "but", "it", "now", "since", "so", "then", "today", "while", "with",
})  # fmt: skip
"""Words behind which the clause goes on with something else."""
_JOINS = frozenset({"and", "because", "but", "so", "then"})
_LEADS = frozenset({"a", "also", "an", "both", "brand", "just", "now", "only", "some"})
_IS = frozenset({"are", "is", "its", "theyre", "thats"})
_HAS = frozenset({"gets", "got", "had", "has", "have"})
_PERSONS = frozenset({"he", "i", "ive", "she", "they", "theyve", "we", "weve", "you", "youve"})
_SIDES = frozenset({"end", "ends", "side", "sides"})
_TO_PLACE = frozenset({"all", "at", "both", "each", "in", "of", "on", "the", "to"})


def named(subject: str, predicate: tuple[str, ...]) -> str:
    """What a label asks to be renewed: "O-ring" of "New O-ring in", "wick" of "Wick replaced"; ""
    where it asks for something else."""
    new, _, thing = subject.partition(" ")
    if new.lower() in NEW:
        return thing
    return subject if not STEMS.isdisjoint(predicate) else ""


class Renewing:
    """Reads whether a new thing is in place, from the words around it."""

    def __init__(self, tokens: Sequence[Token], positions: Iterable[Mention]) -> None:
        self._tokens = tokens
        self._positions = positions

    @cached_property
    def words(self) -> list[str]:
        return [token.text.lower().replace("'", "").replace("’", "") for token in self._tokens]

    @cached_property
    def _ends(self) -> dict[int, int]:
        return {place.start: place.end for place in self._positions}

    def _word(self, index: int) -> str:
        return self.words[index] if 0 <= index < len(self.words) else ""

    def is_put(self, index: int, end: int) -> bool:
        """Whether the new thing named at `index`..`end` is told to have been put in."""
        first = self._clause(index)
        before = self.words[first:index]
        shall = any(
            token.text.lower().endswith(("'ll", "’ll")) for token in self._tokens[first:end]
        )
        could = "could" in before and not {"do", "use"}.isdisjoint(before)
        if shall or could or not _AHEAD.isdisjoint(before):
            return False
        at = self.in_place(end)
        if at > end:
            after = self.words[at : at + 2]
            return self._stands(self.past_places(at)) and _TO_GO.isdisjoint(after)
        if not self._stands(self.past_places(end)):
            return False
        swapped = "for" in before[-2:] and not _SWAPPED.isdisjoint(before)
        return (
            swapped
            or not _FITTED.isdisjoint(before)
            or self._is_it(first, index)
            or self._has_it(first, index)
            or self._is_all(first, index)
        )

    def is_new(self, index: int, end: int) -> bool:
        """Whether what was named before is told to be new: "both rings are new"."""
        first = self._clause(index)
        return self._is_it(first, index) and self._stands(self.past_places(end))

    def in_place(self, end: int) -> int:
        """Index behind the words for its place that stand right behind the thing, else `end`."""
        at = end
        while self._word(at) in _COME:
            at += 1
        if self._word(at) not in _IN_PLACE or self._is_at(at + 1):
            return end
        return at + 1 + (self._word(at + 1) in {"it", "there"})

    def _is_at(self, at: int) -> bool:
        """Whether places follow, that "in" or "on" belongs to: "new wicks in one and two"."""
        return self.past_places(at) > at

    def _clause(self, index: int) -> int:
        first = index
        while first and self.words[first - 1] not in BREAKS:
            first -= 1
        return first

    def _stands(self, at: int) -> bool:
        return self._word(at) in BREAKS | _GOES_ON | {""}

    def past_places(self, at: int) -> int:
        """Index behind the places that are told from `at` on, and "at the" before them."""
        past = at
        while at < len(self.words):
            end = self._ends.get(self._tokens[at].start)
            if end is not None:
                while at < len(self.words) and self._tokens[at].start < end:
                    at += 1
                at += self._word(at) in _SIDES
                past = at
            elif self.words[at] in _TO_PLACE:
                at += 1
            else:
                break
        return past

    def _is_it(self, first: int, index: int) -> bool:
        """ "The ring's a new one", "both are new"."""
        before = index - 1
        while before >= first and self.words[before] in _LEADS | {"all"}:
            before -= 1
        short = self._tokens[before].text.lower().endswith(("'s", "’s", "'re", "’re"))
        return before >= first and (self.words[before] in _IS or short)

    def _has_it(self, first: int, index: int) -> bool:
        """ "Burner three has a new wick": a thing, and nobody."""
        before = index - 1
        while before >= first and self.words[before] in _LEADS:
            before -= 1
        had = before > first and self.words[before] in _HAS
        return had and _PERSONS.isdisjoint(self.words[first:before])

    def _is_all(self, first: int, index: int) -> bool:
        """Whether nothing is told before the new thing in its clause: "new wick on four"."""
        joined = (at + 1 for at in range(index - 1, first - 1, -1) if self.words[at] in _JOINS)
        first = max(first, next(joined, first))
        words = self.words[first:index]
        return all(word in _LEADS or word.isdigit() or (word,) in lexemes() for word in words)
