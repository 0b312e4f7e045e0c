"""Places of two words of which a recogniser wrote one as it sounds: "dry end" for the drive end,
"free and", "see side".

The other word is said plainly, and no other place of the step that ends so is as near by ear. It
is asked about.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.phonetics import likeness
from voicelog.reading.leaving import Leaving
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.places import HEARD_LETTERS
from voicelog.reading.running_list import REACH
from voicelog.reading.spoken import spoken
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from voicelog.reading.position_words import PositionGroup

_NEAR, _AHEAD = 0.5, 0.1
"""Least likeness by ear, and how much more than that of the next place."""
_SHORTEST = 3
"""Letters of a word that is known by its sound."""
_MEANT = frozenset({
    "a", "an", "any", "at", "each", "every", "far", "from", "in", "near", "no", "of", "on", "one",
    "other", "own", "same", "that", "the", "this", "which",
})  # fmt: skip
"""Words that are meant before "end" and "side"."""
_SOUNDED = {letter: word for word, letter in HEARD_LETTERS.items()}
_BY_EAR = {"and": "end", "hand": "end", "sight": "side"}


class HalfHeard(Leaving):
    """Reads places of which one word was misheard."""

    def _half_heard(self, at: int) -> tuple[str, int, tuple[PositionGroup, ...]] | None:
        """A place whose first word at `at` or whose last word was misheard: (position, index
        behind, its groups)."""
        last = self._text(at + 1)
        tail = _BY_EAR.get(last, last)
        if tail not in self._cues.tails or not (self._free(at) and self._free(at + 1)):
            return None
        said = _SOUNDED.get(self._text(at), self._text(at))
        groups = self._spoken_of(at) or self._groups_here(at)
        if tail != last:
            meant = (said, tail)
            follows = self._text(at + 2) in self._cues.phrase_heads  # "drive and idle side"
            position = None if follows else self._named_so(meant, groups)
        else:
            position = None if self._is_meant(at) else self._nearest(said, tail, groups)
        if position is None:
            return None
        return position, at + 2, tuple(each for each in groups if position in each.positions)

    def _spoken_of(self, at: int) -> tuple[PositionGroup, ...]:
        """The groups of the running list or of the field that was named; () when none was."""
        context = self._context
        if context.heard and at - context.heard_at <= REACH:
            return context.heard
        return context.groups if context.running(at) else ()

    def _is_meant(self, at: int) -> bool:
        """Whether the word at `at` is a plain one before the end of a place."""
        said = self._text(at)
        known = said in _MEANT or said in spoken().sides or said in self._cues.phrase_heads
        short = len(said) < _SHORTEST and said not in _SOUNDED
        known = known or short or self._atoms[at].shape != "word"
        known = known or self._is_asked(said)  # "lids tight front left"
        if self._passage.words[at] is not None:  # "at the three end"
            known = known or self._text(at - 1) not in ("the", "at")
        lexicon = lexicon_of(self._cues.card)
        name = lexicon.exact.get(word_key(said), "")
        return known or (name in lexicon.places and lexicon.plainness(name) > 0.5)

    def _named_so(self, words: tuple[str, str], groups: tuple[PositionGroup, ...]) -> str | None:
        return next((g.phrases[words] for g in groups if words in g.phrases), None)

    def _nearest(self, said: str, tail: str, groups: tuple[PositionGroup, ...]) -> str | None:
        """The place that ends in `tail` and begins with a word that `said` sounds like."""
        scores: dict[str, float] = {}
        for group in groups:
            for words, position in group.phrases.items():
                if len(words) == 2 and words[1] == tail and len(words[0]) >= _SHORTEST:
                    score = likeness(said, words[0])
                    scores[position] = max(score, scores.get(position, 0.0))
        best = max(scores, key=scores.__getitem__, default=None)
        if best is None or scores[best] < _NEAR:
            return None
        rivals = (score for position, score in scores.items() if position != best)
        return best if max(rivals, default=0.0) <= scores[best] - _AHEAD else None
