"""Places that a recogniser wrote as they sound: "star board", "out a brush", "hoover" for hover.

Looked for only where a place must stand: before a value, among those of the field spoken of. One
that only lost a blank or gained a pause is as said; one that sound alone tells is asked about.
"""

from __future__ import annotations

import re
from contextlib import suppress
from functools import lru_cache
from typing import TYPE_CHECKING

from voicelog.phonetics import alike, likeness, sound
from voicelog.reading.named_rows import PERSONS
from voicelog.reading.places import HEARD_LETTERS
from voicelog.reading.row_gaps import RowGaps, is_ordinary
from voicelog.reading.running_list import BREAKS
from voicelog.reading.spoken import letter_names

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.reading.atoms import Key
    from voicelog.reading.position_words import PositionGroup
    from voicelog.reading.running_list import Found

_LONGEST = 4
"""Atoms of a place that was misheard, at most."""
_SHORTEST = 3
"""Letters of a place that is known by its sound."""
_LONG = 8
"""Letters of several words that are known by their sound though no field was spoken of."""
_LEFT = 0.4
"""Least likeness by ear of the one place that is left to say."""
_SECOND = 0.45
"""Least likeness by ear of the second word of the one place that begins so."""
_NEAR, _SAME = 0.68, 0.9
"""Least likeness (Jaro-Winkler) of words with the same sound, and of others."""
_WEAK_END = re.compile(r"(?:er|or|ar|re|a)\Z")


class HeardPlaces(RowGaps):
    """Reads places by their sound."""

    def _by_sound(self, at: int) -> Found | None:
        """A place of the field spoken of that stands at `at` as it sounds."""
        words = self._passage.words
        half = self._half_heard(at)
        if half is not None:
            return self._place(at, half[1], half[0], half[2], ("misheard_term",))
        if words[at] is not None or not any(words[at + 1 : at + _LONGEST + 3]):
            return None
        if self._text(at) == "left" and self._is_verb(at):
            return None
        if self._text(at - 1) in PERSONS or (self._names_place(at) and self._text(at + 1) != ","):
            return None
        if self._text(at) not in ("odd", "even") and self._meant_half(at):
            return self._every_second(at)
        gap = self._in_gap(at)
        if gap is not None:
            return gap
        spoken = self._spoken_of(at)
        return self._letter(at, spoken) or self._word(at, spoken) or self._left_to_say(at, spoken)

    def _half_said(self, at: int) -> Found | None:
        """The one place that begins with the plain word at `at`, before a value, where its second
        word is written as it sounds: "centre chuck 0.12" for the centre truck."""
        first, second = self._text(at), self._text(at + 1)
        if first not in self._cues.phrase_heads or not self._number_behind(at + 2):
            return None
        plain = (first, second.removesuffix("'s")) in self._cues.phrases
        if plain or not self._free(at + 1) or not self._is_unknown(at + 1):
            return None
        groups = self._spoken_of(at) or self._groups_here(at)
        ways = [(words, place) for g in groups for words, place in g.phrases.items()]
        begun = {place: words for words, place in ways if words[0] == first}
        if len(begun) != 1 or any(words == (first,) for words, _ in ways):
            return None
        (position, words), *_ = begun.items()
        if len(words) != 2 or likeness(second, words[1]) < _SECOND:
            return None
        fits = tuple(g for g in groups if position in g.positions)
        return self._place(at, at + 2, position, fits, ("misheard_term",))

    def _left_to_say(self, at: int, spoken: tuple[PositionGroup, ...]) -> Found | None:
        """The one place that is named nowhere else, at a strange word with a value where a list of
        places goes on or begins: "ground eight, crew six, hover five"."""
        before = self._text(at - 1)
        if not self._is_unknown(at) or not self._number_behind(at + 1):
            return None
        named = {name for first, name in self._placed if first >= self._context.heard_at}
        for group in spoken:
            if before not in BREAKS and before not in group.tokens:
                continue
            said = {place for words, place in group.phrases.items() if self._comes(words, at)}
            rest = set(group.positions) - named - said
            if len(rest) != 1 or rest == set(group.positions):
                continue
            place = rest.pop()
            ways = ("".join(words) for words, meant in group.phrases.items() if meant == place)
            if any(likeness(self._text(at), way) >= _LEFT for way in ways):
                return self._place(at, at + 1, place, (group,), ("misheard_term",))
        return None

    def _comes(self, words: Key, at: int) -> bool:
        """Whether `words` are said behind `at`."""
        said, first = self._texts, at
        with suppress(ValueError):
            while True:
                first = said.index(words[0], first + 1)  # ends in the error when there is none
                if tuple(said[first : first + len(words)]) == words:
                    return True
        return False

    def _letter(self, at: int, groups: tuple[PositionGroup, ...]) -> Found | None:
        """ "B 116 volts see 115 volts": the next letter of a list, by its name."""
        letter = letter_names().get((self._text(at),)) or HEARD_LETTERS.get(self._text(at))
        if letter is None or not (self._text(at - 1) in BREAKS or self._value_ends(at)):
            return None
        said = (letter.casefold(),)
        fits = tuple(group for group in groups if said in group.phrases)
        if not fits or fits[0].phrases[said] in self._said() or not self._number_behind(at + 1):
            return None
        return self._place(at, at + 1, fits[0].phrases[said], fits, ("homophone_position",))

    def _word(self, at: int, spoken: tuple[PositionGroup, ...]) -> Found | None:
        for last, heard in self._windows(at):
            groups, end = spoken, last
            if not groups and last > at + 1 and len(heard) >= _LONG:
                groups = self._groups_here(at)
            if not self._number_behind(last):
                word = (
                    self._strong_word(last) if self._text(last) in self._cues.word_heads else None
                )
                if word is None or not self._number_behind(word[1]):
                    continue
                end = word[1]
                groups = tuple(g for g in self._in_step(word[0].groups, at) if g.phrases)
            best = self._best(at, last, heard, groups) if groups else None
            if best is not None:
                position, group, doubts = best
                fits = tuple(g for g in groups if g.positions == group.positions)
                return self._place(at, end, position, fits, doubts)
        return None

    def _windows(self, at: int) -> Iterator[tuple[int, str]]:
        """(index behind, letters) of the words at `at`, longest first; a pause is none."""
        heard = ""
        found: list[tuple[int, str]] = []
        for index in range(at, min(at + _LONGEST, len(self._atoms))):
            text = self._text(index)
            if text in ("-", ",") and heard:
                continue
            taken = not self._free(index) or self._passage.words[index] is not None
            if taken or self._atoms[index].shape != "word":
                break
            heard += text
            found.append((index + 1, heard))
        yield from reversed(found)

    def _best(
        self, at: int, last: int, heard: str, groups: tuple[PositionGroup, ...]
    ) -> tuple[str, PositionGroup, tuple[str, ...]] | None:
        alone = last == at + 1
        ordinary = alone and is_ordinary(heard)
        sounds = _sound(heard)
        best: tuple[float, str, PositionGroup] | None = None
        for group in groups:
            for meant, meant_sounds, single, position in _ways(group):
                if heard == meant:
                    if alone and single:
                        continue
                    return position, group, ()
                same = sounds == meant_sounds
                if (ordinary and not same) or (alone and len(heard) < len(meant) - 2):
                    continue
                score = alike(heard, meant)
                if score < (_NEAR if same else _SAME) or (best is not None and score <= best[0]):
                    continue
                if ordinary and not self._goes_on_by(at, position):
                    continue
                if any(self._names_place(index) for index in range(at, last)):
                    return None  # "at mid span" is no place of its own
                best = score, position, group
        return None if best is None else (best[1], best[2], ("misheard_term",))

    def _names_place(self, at: int) -> bool:
        """Whether a place of the card is named plainly at `at`."""
        heads, text = self._cues.phrase_heads, self._text(at)
        if text.removesuffix("'s") not in heads and text not in self._cues.parted:
            return False
        return any(words in self._cues.phrases for words, _ in self._walk(at, heads))

    def _goes_on_by(self, at: int, position: str) -> bool:
        """Whether the next place of a list stands at `at`, behind a value: "white 1.1 milliohms
        read 0.8 milliohms" for the red one."""
        listed = {name for first, name in self._placed if first >= self._context.heard_at}
        last = at - (self._text(at - 1) == ",")
        coded = last > 0 and self._claims[last - 1] == "identifiers"
        if position in listed or not listed or not (coded or self._value_ends(last)):
            return False
        if self._text(at) == "after" and not coded:
            if last == at:
                return False  # "15.8 millimetres after 16 months"
            self._doubt_before(last)
        return True

    def _doubt_before(self, at: int) -> None:
        """Ask about the value that ends at `at`, too: "forward 0.4, after 0.7" may tell of the aft
        one, or of the forward one after the work."""
        first = self._value_before(at)
        if first is not None:
            self._passage.doubted[self._atoms[first].start] = ("ambiguous_place", ())

    def _number_behind(self, at: int) -> bool:
        """Whether a number stands at `at`, or behind one verb or pause."""
        at += self._text(at) in ("is", "was", "at", "reads", ",", ":")
        at += self._text(at) == "minus"
        if at < len(self._claims) and self._claims[at] == "identifiers":
            return True
        return self._free(at) and self._passage.words[at] is not None

    def _place(
        self,
        first: int,
        last: int,
        position: str,
        groups: tuple[PositionGroup, ...],
        doubts: tuple[str, ...],
    ) -> Found:
        mentions = self._mentions(first, last, (position,), groups, set(), doubts)
        self._enter(groups, (), last)
        return mentions, self._skip_value(last)


@lru_cache(maxsize=2_000)
def _ways(group: PositionGroup) -> tuple[tuple[str, str, bool, str], ...]:
    """The ways to say the places of `group` that are long enough to be known by their sound:
    (letters, sound, whether it is one word, place)."""
    ways = [("".join(words), len(words) == 1, place) for words, place in group.phrases.items()]
    return tuple(
        (letters, _sound(letters), single, place)
        for letters, single, place in ways
        if len(letters) >= _SHORTEST
    )


@lru_cache(maxsize=20_000)
def _sound(letters: str) -> str:
    """How a word sounds to those who don't roll the R at its end."""
    return sound(_WEAK_END.sub("a", letters))
