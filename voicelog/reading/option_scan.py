"""What speaks of the options of a choice around a word: the field that is named, and denials."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from typing import TYPE_CHECKING

from voicelog.reading.negation import BREAKS
from voicelog.reading.trade import faults
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.objects import Mention
    from voicelog.reading.lexicon import Lexicon, Place
    from voicelog.reading.words import Token

ENDS = frozenset({".", ";", "!", "?"})
SIGNS = BREAKS | {""}
WHERE = frozenset({
    "about", "across", "all", "along", "around", "at", "behind", "below", "between", "by", "down",
    "everywhere", "from", "here", "in", "inside", "near", "of", "off", "on", "out", "over", "right",
    "round", "there", "through", "to", "under", "up", "where",
})  # fmt: skip
GOES_ON = WHERE | {
    "again", "and", "as", "badly", "because", "but", "slightly", "so", "that", "too", "which",
    "with",
}  # fmt: skip
"""Words behind a form with which it stands by itself: a "leak test" is no leak."""
SO = frozenset({
    "again", "all", "and", "as", "at", "because", "both", "but", "everywhere", "here", "now", "on",
    "so", "there", "which",
})  # fmt: skip
"""Words behind an adjective that tells how a thing is: "hard to reach" does not."""
IS = frozenset({
    "a", "are", "bit", "both", "completely", "feel", "feels", "fully", "gone", "got", "is", "quite",
    "rather", "rock", "too", "turned", "very", "well", "went",
})  # fmt: skip
"""Words before such an adjective, unless it is the name of the thing or its place."""
_NEGATIVE = frozenset({
    "any", "cannot", "free", "hardly", "if", "neither", "never", "nil", "no", "nobody", "none",
    "nor", "not", "nothing", "unless", "without", "zero",
})  # fmt: skip
_TURNS = frozenset({"but", "just", "only", "now"})
_DENIES = 8
"""Words over which a denial reaches."""


class OptionScan:
    """The words of a note with the names and places in it."""

    def __init__(
        self,
        tokens: Sequence[Token],
        terms: Sequence[Mention],
        positions: Sequence[Mention],
        lexicon: Lexicon,
    ) -> None:
        self.tokens = tokens
        self.words = [token.text.lower().replace("’", "'") for token in tokens]
        self.lexicon = lexicon
        self.terms = sorted(terms, key=lambda term: term.start)
        self.starts = [term.start for term in self.terms]
        self.placed = {place.start: place.end for place in positions}
        self.begins = self._begins()
        """Index of the first word of the sentence of each word."""

    def _begins(self) -> list[int]:
        begins, first = [], 0
        for index, word in enumerate(self.words):
            begins.append(first)
            first = index + 1 if word in ENDS else first
        return begins

    def word(self, index: int) -> str:
        return self.words[index] if 0 <= index < len(self.words) else ""

    def is_known(self, token: Token) -> bool:
        """Whether the word is part of a name."""
        at = bisect_right(self.starts, token.start) - 1
        return at >= 0 and token.start < self.terms[at].end

    def is_denied(self, index: int) -> bool:
        listed = not {"or", "nor"}.isdisjoint(self.words[max(0, index - 1) : index + 4])
        for at in range(index - 1, max(-1, index - 1 - _DENIES), -1):
            word = self.words[at]
            if word in ENDS or word in _TURNS or (word in BREAKS and not listed):
                return False
            if word in _NEGATIVE or word.endswith("n't"):
                return True
        return False

    def named(self, index: int, options: Mapping[Place, str], least: float = 0.0) -> str | None:
        """The one of `options` whose field the sentence speaks of at `index`: named last before it,
        or behind it in the clause, and as plainly as `least`."""
        start = self.tokens[index].start
        at = bisect_right(self.starts, start) - 1
        first = self.begins[index]
        while at >= 0 and self.terms[at].end > start:
            at -= 1  # what sounds like the name of something else
        while at >= 0 and self.terms[at].end > self.tokens[first].start:
            places = self.places(at)
            if places:
                meant = {option for place, option in options.items() if place in places}
                if meant and max(places.values()) >= least:
                    return meant.pop() if len(meant) == 1 else None
                if not meant:
                    break
            at -= 1
        last = index
        while last + 1 < len(self.words) and self.words[last + 1] not in BREAKS:
            last += 1
        for at in range(bisect_right(self.starts, start), len(self.terms)):
            if self.terms[at].start > self.tokens[last].start:
                break
            places = self.places(at)
            if places and max(places.values()) >= least:
                meant = {option for place, option in options.items() if place in places}
                return meant.pop() if len(meant) == 1 else None
        return None

    def named_before(self, index: int, options: Mapping[Place, str], least: float) -> str | None:
        """The same, of the sentence before: where the one of `index` names no field at all, and
        the last one named there is meant."""
        first = self.begins[index]
        if first == 0:
            return None
        at = bisect_left(self.starts, self.tokens[first].start) - 1
        before = self.begins[first - 1]
        while at >= 0 and self.terms[at].end > self.tokens[before].start:
            places = self.places(at)
            if places and max(places.values()) >= least:
                meant = {option for place, option in options.items() if place in places}
                return meant.pop() if len(meant) == 1 else None
            at -= 1
        return None

    def names_any(self, index: int, least: float) -> bool:
        """Whether the sentence at `index` names any field as plainly as `least`."""
        first, last = self.begins[index], index
        while last + 1 < len(self.words) and self.words[last + 1] not in ENDS:
            last += 1
        at = bisect_left(self.starts, self.tokens[first].start)
        while at < len(self.terms) and self.terms[at].start <= self.tokens[last].start:
            if max(self.places(at).values(), default=0.0) >= least:
                return True
            at += 1
        return False

    def places(self, at: int) -> Mapping[Place, float]:
        """The fields that the term at `at` names; none for one that is an option itself."""
        canonical = str(self.terms[at].value)
        if word_key(canonical) in self.lexicon.option_words or canonical in faults():
            return {}
        return self.lexicon.places.get(canonical, {})
