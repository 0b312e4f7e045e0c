"""Stage: places that are left to be told, where a recogniser wrote them as they sound.

"Front left 75, rear left 62, front right 75, wheel right 74": what stands where a place must stand,
before or behind a value that the field takes, sounds at all like the one that was told less often
than the others of the card, and is no name, is that place. A place of several words is known by
those that were written plainly ("fun left ... fun right" beside "rear left ... rear right"). From
here on the words are read as the card has them, and asked about.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from voicelog.phonetics import likeness
from voicelog.reading import unit_words
from voicelog.reading.atoms import key
from voicelog.reading.chain import stage
from voicelog.reading.corrected import REPAIRS
from voicelog.reading.heard_names import Finder
from voicelog.reading.percard import fields_of, per_card
from voicelog.reading.spoken import spoken
from voicelog.reading.state_words import state_words
from voicelog.reading.talk import everyday_words
from voicelog.reading.words import other_spellings, word_key

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from spacy.tokens import Doc

    from voicelog.objects import Card
    from voicelog.reading.atoms import Key
    from voicelog.reading.lexicon import Place
    from voicelog.reading.passage import Passage
    from voicelog.reading.position_words import PositionGroup

NAME = "heard_rest"
_LONGEST = 3
"""Words that were misheard, at most."""
_LAST = 0.05
"""Least likeness by ear of one word of the only place that is left, the others being plain."""
_PART, _AHEAD = 0.3, 0.1
"""The same where more places are left, and how much more than that of the next one."""
_CLOSE, _NAME_WORDS = 3, 4
"""Words behind a place of which one begins its value, and more of them where a name follows."""
_ALONE, _ORDINARY, _NAMED = 0.5, 0.62, 0.25
"""Least likeness of the only place that is left: of strange words, of plain ones, and of any others
before the name of what has such places ("white castor")."""
_STRANGE, _SAME, _NEVER = 0.65, 0.85, 2.0
"""The same of strange words where others are left, too, and of one word of everyday speech."""
_TWO = 2
_REACH = 6
"""Words of a value before a place, at most."""
_SHORTEST = 3
_HEADS = frozenset({
    "and", "but", "the", "on", "at", "for", "of", "both", "then", "while", "to", "only", "a", "in",
})  # fmt: skip
"""Words behind which a place may stand, beside pauses and values."""
_PAUSES = frozenset({",", ".", ";", ":"})


@dataclass(frozen=True, slots=True)
class _Set:
    """The places that some fields of a step have."""

    group: PositionGroup
    fields: frozenset[Place]
    ways: Mapping[str, tuple[Key, ...]]
    """Place -> the ways to say it that are words."""


@per_card
def _sets(card: Card | None) -> Mapping[str, tuple[_Set, ...]]:
    from voicelog.reading.cues import of_card

    fields = fields_of(card)
    found: dict[str, tuple[_Set, ...]] = {}
    for group in of_card(card).groups:
        ways: dict[str, list[Key]] = {}
        for words, place in group.phrases.items():
            if _is_own(words, key(place)) and all(map(str.isalpha, words)):
                ways.setdefault(place, []).append(words)
        if len(ways) != len(group.positions) or len(ways) < 2:
            continue
        told = {place: tuple(each) for place, each in ways.items()}
        for step in group.steps:
            own = frozenset(
                place
                for place, each in fields.items()
                if place[0] == step
                and each.positions == group.positions
                and (each.position_word or "") == group.word
            )
            found[step] = (*found.get(step, ()), _Set(group, own, told))
    return found


def _is_own(words: Key, place: Key) -> bool:
    """Whether `words` are those by which the card calls a place, or what its letters stand for:
    "forward left" is none of "front left"."""
    if len(words) < len(place) and words == place[: len(words)]:
        return True  # "main" for the main leaf, where the card allows it
    if len(words) != len(place):
        return False
    sides = spoken().sides
    pairs = zip(words, place, strict=True)
    return all(said == meant or (len(meant) < _SHORTEST and said in sides) for said, meant in pairs)


@stage(NAME)
def heard_rest(doc: Doc) -> None:
    """Read misheard places as the card has them."""
    passage: Passage = doc._.passage
    doc._.heard_rest = []
    if passage.cues.card is not None and any(_sets(passage.cues.card).values()):
        found = list(_Rest(passage).run())
        for first, last, words in reversed(found):
            passage.respell(first, last, words)


class _Rest(Finder):
    """Finds them."""

    def __init__(self, passage: Passage) -> None:
        super().__init__(passage)
        self._sets = _sets(self._card)
        self._told: dict[int, tuple[int, Key]] = dict(self._phrases())
        """First atom of each place that was said -> index behind it, its words."""

    def run(self) -> Iterator[tuple[int, int, Key]]:
        """(first atom, index behind, words meant) of each misheard place."""
        at = 0
        while at < len(self._passage.atoms):
            found = self._place_at(at) if self._may_stand(at) else None
            if found is None:
                at += 1
                continue
            yield at, *found
            at = found[0]

    def _phrases(self) -> Iterator[tuple[int, tuple[int, Key]]]:
        """Where places of the card are said, the longest at each atom."""
        cues, at = self._passage.cues, 0
        texts = self._texts
        while at < len(self._passage.atoms):
            longest = cues.phrase_heads.get(texts[at].removesuffix("'s"), 0)
            for length in range(longest, 0, -1):
                words = tuple(texts[at : at + length])
                words = (*words[:-1], words[-1].removesuffix("'s"))
                groups = cues.phrases.get(words, ())
                if any(self._passage.step_at(at) in group.steps for group in groups):
                    yield at, (at + length, words)
                    at += length - 1
                    break
            at += 1

    def _may_stand(self, at: int) -> bool:
        """Whether a place may begin at `at`: behind a pause, a value or a word that opens."""
        if not self._is_word(at):
            return False
        before = self._texts[at - 1] if at else ","
        if before in _PAUSES or before in _HEADS:
            return True
        return self._value_ends(at)

    def _value_ends(self, at: int) -> bool:
        """Whether a value ends at `at`: a number, or its unit."""
        for first in range(max(at - _REACH, 0), at):
            if self._passage.words[first] is None or self._passage.claims[first]:
                continue
            number = self._passage.numerals(first).number(first)
            if number is None:
                continue
            unit = unit_words.find(self._passage.atoms, number.last, len(self._passage.atoms))
            if at in (number.last, unit[1] if unit is not None else -1):
                return True
        return False

    def _place_at(self, at: int) -> tuple[int, Key] | None:
        step = self._passage.step_at(at) or ""
        if at in self._told:
            return self._torn(at, step)
        best: tuple[float, int, Key] | None = None
        for each in self._sets.get(step, ()):
            counts = self._counts(each, step)
            most = max(counts.values(), default=0)
            rest = [place for place in each.ways if counts[place] < most]
            found = self._partly(at, each, rest) or self._head_of_both(at, each, rest)
            found = found or self._wholly(at, each, rest)
            if found is not None and (best is None or found[0] > best[0]):
                best = found
        return best[1:] if best is not None else self._torn(at, step)

    def _counts(self, each: _Set, step: str) -> Counter[str]:
        """How often each place was said in the step, "both fronts" among them."""
        texts, passage = self._texts, self._passage
        counts = Counter(
            each.group.phrases[words]
            for first, (_, words) in self._told.items()
            if words in each.group.phrases and passage.step_at(first) == step
        )
        for at in range(1, len(passage.atoms)):
            if texts[at - 1] == "both" or texts[at].endswith("s"):
                half = texts[at].removesuffix("s").removesuffix("'")
                counts.update({p for p, ways in each.ways.items() if _begin(ways, half)})
        return counts

    def _torn(self, at: int, step: str) -> tuple[int, Key] | None:
        """A place of two words with a pause between them: "the aft, deck"."""
        words = (self._texts[at], self._texts[at + 2].removesuffix("'s"))
        if self._texts[at + 1] != "," or self._told.get(at, (at + 1,))[0] > at + 1:
            return None
        if at + 3 < len(self._passage.words) and self._passage.words[at + 3] is not None:
            return None  # before a number the positions know it
        for each in self._sets.get(step, ()):
            plain = any(words in ways for ways in each.ways.values())
            plain = plain and not any(words[:1] in ways for ways in each.ways.values())
            if plain and not self._is_name(words[0], each):
                return at + 3, words
        return None

    def _partly(self, at: int, each: _Set, rest: list[str]) -> tuple[float, int, Key] | None:
        """A place of two words at `at` of which one is plain."""
        one, other = self._texts[at], self._texts[at + 1].removesuffix("'s")
        end = at + 2
        words = (one, other)
        if not (self._is_word(at) and self._is_word(at + 1)) or words in self._passage.cues.phrases:
            return None
        if self._texts[at - 1] == "both" or not (self._is_heard(one) or self._is_heard(other)):
            return None
        twice = self._is_said_again(one) or self._is_said_again(other)
        named = self._names(end, each)
        open_ = each.ways if not rest and (twice or named) else rest
        ranked = sorted(self._scored(words, each, open_), reverse=True)
        if not ranked:
            return None
        score, place, meant = ranked[0]
        second = next((s for s, other_place, _ in ranked if other_place != place), 0.0)
        least = _LAST if len(rest) == 1 else _PART
        said = one if meant[1] == other else other
        sole = len(open_) == 1 or score - second >= _AHEAD
        sided = len(rest) == 1 and meant[1] == other and self._texts[at - 1] in _PAUSES
        known = self._is_name(said, each) and not (sided and said in each.group.tokens)
        if score < least or not sole or known or not self._is_heard(said):
            return None
        return (1 + score, end, meant) if named or self._is_told_there(at, end, each) else None

    def _scored(
        self, said: Key, each: _Set, places: Iterable[str]
    ) -> Iterator[tuple[float, str, Key]]:
        """How near the misheard word of `said` is to that of each place that has the other one."""
        for place in places:
            for words in each.ways[place]:
                if len(words) == _TWO and (words[0] == said[0]) != (words[1] == said[1]):
                    at = words[0] == said[0]
                    yield _likeness(said[at], words[at]), place, words

    def _is_heard(self, word: str) -> bool:
        """Whether `word` may stand for another one: it is none of everyday speech nor of places."""
        words = self._passage.cues.place_words
        plain = word in everyday_words() or word in REPAIRS or word in _HEADS
        return not plain and words.isdisjoint((word, word.removesuffix("s")))

    def _is_said_again(self, word: str) -> bool:
        """Whether the same word stands elsewhere beside another plain word of a place: "we're left,
        ... we're right"."""
        said = [index for index, each in enumerate(self._texts) if each == word]
        words = self._passage.cues.place_words
        behind = {self._texts[index + 1] for index in said} & words
        before = {self._texts[index - 1] for index in said if index} & words
        return max(len(behind), len(before)) > 1 and word not in words

    def _head_of_both(self, at: int, each: _Set, rest: list[str]) -> tuple[float, int, Key] | None:
        """ "Both from seventy", where of the fronts nothing was told, but of the others."""
        if self._texts[at - 1] != "both" or not self._is_word(at):
            return None
        heads = {words[0] for p in rest for words in each.ways[p] if len(words) == _TWO}
        ranked = sorted(((_likeness(self._texts[at], head), head) for head in heads), reverse=True)
        if not ranked or ranked[0][0] < _ALONE or ranked[0][1] == self._texts[at]:
            return None
        head = ranked[0][1]
        begun = [place for place, ways in each.ways.items() if _begin(ways, head)]
        if len(begun) != _TWO or not set(begun) <= set(rest):
            return None
        plural = f"{head}s"
        return (ranked[0][0], at + 1, (plural,)) if self._fits(each.fields, at + 1) else None

    def _wholly(self, at: int, each: _Set, rest: list[str]) -> tuple[float, int, Key] | None:
        """A place at `at` by its sound: the one that is left, or another than the last one told."""
        before = [words for first, (_, words) in self._told.items() if first < at]
        last = next((each.group.phrases[w] for w in before[::-1] if w in each.group.phrases), None)
        places = rest if len(rest) == 1 else [p for p in each.ways if p != last] if last else []
        best: tuple[float, int, Key] | None = None
        for end in range(at + 1, at + _LONGEST + 1) if places else ():
            if end > len(self._strange) or not self._is_free(end - 1):
                break
            if self._texts[at - 1] == "both" or self._is_half(at, end, each):
                break
            said = " ".join(self._texts[at:end])
            scores = ((_likeness(said, " ".join(w)), w) for p in places for w in each.ways[p])
            score, words = max(scores)
            if score < self._least(at, end, each, rest) or (best is not None and score <= best[0]):
                continue
            if any(self._is_name(word, each) for word in self._texts[at:end]):
                continue
            if self._is_told_there(at, end, each):
                best = score, end, words
        return best

    def _names(self, at: int, each: _Set) -> bool:
        """Whether a word at `at` stands for what has such places: a name of theirs, or "one"."""
        text, behind = self._texts[at], self._texts[at + 1]
        if text in ("one", "one's"):
            unit = unit_words.find(self._passage.atoms, at + 1, len(self._passage.atoms))
            return text == "one's" or not (behind in _PAUSES or unit is not None)
        word = word_key(text.removesuffix("'s"))
        plain = word in everyday_words() and word not in self._passage.cues.tails
        return len(word) >= _SHORTEST and word in each.group.tokens and not plain

    def _is_half(self, first: int, last: int, each: _Set) -> bool:
        """Whether a word of a place stands at `first`, or a whole one that only lost a blank."""
        words = {word for ways in each.ways.values() for way in ways for word in way}
        said = self._texts[first].removesuffix("s")
        whole = "".join(self._texts[first:last])
        spelt = {whole, whole + self._texts[last], *other_spellings(whole)}
        lost = any("".join(way) in spelt for ways in each.ways.values() for way in ways)
        unit = unit_words.find(self._passage.atoms, first, last)
        return lost or unit is not None or not words.isdisjoint((said, self._texts[first]))

    def _least(self, first: int, last: int, each: _Set, rest: list[str]) -> float:
        """Least likeness of the words from `first` to `last` to be a place."""
        said = self._texts[first:last]
        plain = [word in everyday_words() or word in REPAIRS for word in said]
        strange = all(self._strange[first:last]) and not any(plain)
        cut = (word.removesuffix("'s") for word in said)
        if any("'" in word or word in state_words() for word in cut):
            return _NEVER
        if len(rest) != 1:
            return _STRANGE if strange else _NEVER
        named = self._names(last, each)
        if named and not any(plain):
            return _NAMED
        if len("".join(said)) < _SHORTEST:
            return _NEVER
        if self._texts[first - 1] in ("the", "a"):
            return _ORDINARY
        if any(plain):
            return _SAME if len(said) == 1 else _ORDINARY
        return _ALONE if strange else _ORDINARY

    def _is_word(self, at: int) -> bool:
        """Whether a word that is no number, and read by nobody, stands at `at`."""
        passage = self._passage
        if at >= len(passage.atoms) or passage.claims[at] or passage.words[at] is not None:
            return False
        return passage.atoms[at].shape == "word"

    def _is_free(self, at: int) -> bool:
        """Whether the word at `at` is none that tells of a place or a number."""
        return self._is_word(at) and at not in self._told

    def _is_name(self, word: str, each: _Set) -> bool:
        """Whether `word` names fields of the card, and none that have these places."""
        word = word.removesuffix("'s")
        name = self._lexicon.exact.get(word_key(word), "")
        led = self._lexicon.places.get(name, {})
        return any(plain > 0.7 for plain in led.values()) or word in each.group.tokens

    def _is_told_there(self, first: int, last: int, each: _Set) -> bool:
        """Whether a value of such a field stands behind, or right before with the end behind."""
        named = self._names(last + (self._texts[last] == "the"), each)
        reach = _CLOSE + _NAME_WORDS * named
        for index in range(last, last + reach):
            if index in self._told or (self._texts[index] in _PAUSES and index > last):
                reach = index - last
                break
        paused = self._texts[last] in _PAUSES
        number = last + 1 < len(self._strange) and self._passage.words[last + 1] is not None
        if (number or not paused) and self._fits(each.fields, last, reach):
            return True
        ends = self._texts[last] in _PAUSES or self._texts[last] in ("", "and")
        return ends and self._value_ends(first)


def _begin(ways: Iterable[Key], word: str) -> bool:
    """Whether one of the ways to say a place is of two words and begins with `word`."""
    return any(len(words) == _TWO and words[0] == word for words in ways)


_likeness = lru_cache(maxsize=50_000)(likeness)

STAGE = heard_rest
