"""Looking for positions: words of the card, small numbers, and what makes one a value."""

from __future__ import annotations

from itertools import takewhile
from typing import TYPE_CHECKING

from voicelog.phonetics import alike, sound
from voicelog.reading import unit_words
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.spoken import letter_names, lexemes
from voicelog.reading.talk import talk
from voicelog.reading.words import is_plural, verb_stem, word_key

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from decimal import Decimal

    from voicelog.reading.passage import Passage
    from voicelog.reading.position_words import PositionGroup, PositionWord

LINKS = frozenset({
    "is", "was", "at", "reads", "reading", "read", "=", ":", "now", "are", "were", "came",
    "took", "got", "gave", "only", "showed", "measured", "went", "also", "has", "had", "have",
    "still", "just", "to", "done", "checked", "all", "both", "each", "torqued", "it's", "that's",
    "they're", "'s", "which", "respectively", "found",
})  # fmt: skip
"""Words between a position and its value."""
TELLERS = frozenset({"it", "it's", "that", "i", "we", "i've", "we've"})
_TELL = frozenset({
    "is", "was", "reads", "read", "get", "got", "had", "have", "make", "measure", "measured",
    "found", "see", "saw",
})  # fmt: skip
""" "On three it is ...", "on four I get ..."."""
THESE, FEW = frozenset({"these", "those"}), frozenset({"two", "three", "four", "five", "six"})
"""Together they point at the places before them."""
NIL = frozenset({"nil", "none"})
"""Behind a place, or before it, they stand for its number: "three one, four nil"."""
_COULD, _ONLY = frozenset({"would", "could"}), frozenset({"just", "only"})
_TAKE = frozenset({"come", "get", "give", "go", "make", "manage", "pull", "reach", "take"})
_PARTICIPLES = frozenset({"brought", "done", "found", "left", "set", "taken"})
_HOLDS = frozenset({"held", "holds"})
_NUMBER_SIGNS = (("number",), ("numbers",), ("no", "."), ("no",), ("nos",), ("nr",), ("#",))
_SIGN_HEADS = frozenset(sign[0] for sign in _NUMBER_SIGNS)
_OF_ONE = frozenset({"is", "was", "has", "reads", "'s"})
_STAYS = frozenset({"remains", "stays"})
HEARD_LETTERS = {"you": "u", "be": "b", "bee": "b", "see": "c", "sea": "c", "are": "r", "ell": "l"}
_MUCH_ALIKE = 0.9
"""Least likeness (Jaro-Winkler) of a position word and what was written for it."""
_NUMBER_REACH = 10
"""Atoms of a number with its unit, looked back on."""
_NEAR = 4
"""Atoms before a position word that may tell which of its groups is meant."""


_LONGEST_NAME = 4


class Places:
    """Look-ups that the reading of positions needs."""

    def __init__(self, passage: Passage) -> None:
        self._passage = passage
        self._cues = passage.cues
        self._atoms = passage.atoms
        self._texts = passage.texts
        self._claims = passage.claims
        self._hull: tuple[Decimal, Decimal] | None = None
        """Where values of the field are expected that was named in this sentence."""
        self._guessed: tuple[PositionGroup, ...] = ()
        """Groups of a list whose position word was guessed: all its places are asked about."""
        self._decimals: set[int] = set()
        """Every "point" of a row of values behind measuring points."""

    def _text(self, at: int) -> str:
        try:
            return self._texts[at]  # just before the first atom stands what is behind the last
        except IndexError:
            return ""

    def _free(self, at: int) -> bool:
        return at < len(self._claims) and not self._claims[at]

    # --- words of the card --------------------------------------------------------

    def _walk(self, at: int, heads: dict[str, int]) -> Iterator[tuple[tuple[str, ...], int]]:
        """The words at `at` as far as a phrase of `heads` goes, longest first; hyphens don't
        count."""
        longest = heads.get(self._text(at).removesuffix("'s"), 0)
        words: list[str] = []
        ends: list[int] = []
        index = at
        if not longest and self._text(at) in self._cues.parted:
            joined = self._joined(at)
            longest = heads.get(joined, 0)
            words, ends, index = [joined], [at + 2], at + 2
        while len(words) < longest and self._free(index):
            text = self._text(index)
            if text != "-" or not words:
                words.append(text.removesuffix("'s"))
                ends.append(index + 1)
            index += 1
        for length in range(len(words), 0, -1):
            yield tuple(words[:length]), ends[length - 1]

    def _joined(self, at: int) -> str:
        """The words at `at` and behind it as one: "tail stock"; but "stand by" is said to others,
        unless an article makes it a place."""
        if not self._free(at) or not self._free(at + 1) or self._atoms[at + 1].shape != "word":
            return ""
        second = self._text(at + 1)
        loose = second in talk().remarks.particles or second == "by"
        return "" if loose and self._text(at - 1) != "the" else self._text(at) + second

    def _position_word(self, at: int) -> tuple[PositionWord, int] | None:
        """(the longest position word at `at`, index behind)."""
        for words, last in self._walk(at, self._cues.word_heads):
            known = self._cues.words.get(words)
            if known is not None and not self._is_decimal(at, known.groups):
                return known, last
        return None

    def _is_decimal(self, at: int, groups: Sequence[PositionGroup]) -> bool:
        """Whether the "point" at `at` is one of a number: behind figures, and where the step has no
        measuring points."""
        if self._text(at) != "point":
            return False
        if at in self._decimals:
            return True
        step = self._passage.step_at(at)
        other = step is not None and all(step not in group.steps for group in groups)
        return other or (at > 0 and self._passage.words[at - 1] is not None)

    def _heard_word(self, at: int) -> tuple[PositionWord, int] | None:
        """A word that sounds like a position word, with a place of it behind ("belts 1-4"), or
        that is nearly written so, with the value behind that, too ("crew 4 took 60")."""
        after = self._past_hyphen(at + 1)
        after += self._text(after) == "is"  # "pulle is one, two and four"
        plain = (self._text(at),) in self._cues.phrases  # the "south" one, where there are seats
        if plain or not self._cues.sounds or not self._may_count(after):
            return None
        figure = next(self._prefixes(after), None)
        if figure is None or self._is_value(figure[1]):
            return None  # "draw one point six" is no door
        known = self._sounds_like(at)
        if known is None and self._value_follows(figure[1]):
            known = self._much_like(at)
            self._guessed = known.groups if known is not None else ()
        if known is None:
            return None
        numbers = {value for group in known.groups for value in group.numbers}
        said = any(value in numbers for value, _ in self._prefixes(after))
        return (known, at + 1) if said else None

    def _past_hyphen(self, at: int) -> int:
        """Index behind a hyphen that ties figures to the word before them: "bolts-1 and 2"."""
        tied = self._text(at) == "-" and self._atoms[at].glued
        tied = tied and at + 1 < len(self._atoms) and self._atoms[at + 1].glued
        return at + (tied and self._atoms[at + 1].shape == "digits")

    def _sounds_like(self, at: int) -> PositionWord | None:
        """The position word that a word without a meaning of its own sounds like."""
        text = self._text(at)
        meant = self._cues.sounds.get(sound(text)) if self._is_strange(at) else None
        if meant is None:
            return None
        words = [(word[0], self._cues.words[word]) for word in meant]
        numbered = [each for each in words if any(group.numbers for group in each[1].groups)]
        return max(numbered or words, key=lambda each: alike(text, each[0]))[1]

    def _much_like(self, at: int) -> PositionWord | None:
        """The position word that a word without a meaning of its own is nearly written like."""
        if not self._is_strange(at):
            return None
        words = [word for each in self._cues.sounds.values() for word in each]
        nearest = max(words, key=lambda word: alike(self._text(at), word[0]))
        near = alike(self._text(at), nearest[0]) >= _MUCH_ALIKE
        return self._cues.words[nearest] if near else None

    def _is_strange(self, at: int) -> bool:
        """Whether the word at `at` has no meaning of its own, here or elsewhere."""
        text = self._text(at)
        if len(text) < 4 or not self._free(at) or self._atoms[at].shape != "word":
            return False
        known = text in talk().everyday.ordinary
        return not known and word_key(text) not in lexicon_of(self._cues.card).exact

    def _may_count(self, at: int) -> bool:
        """A quick look whether a small cardinal can begin at `at`."""
        return self._free(at) and (self._passage.words[at] is not None or "'" in self._text(at))

    def _strong_word(self, at: int) -> tuple[PositionWord, int] | None:
        """The longest position word at `at` that is no mere name of a field; before what a label
        asks of it ("latch closed") it is one, too."""
        for words, last in self._walk(at, self._cues.word_heads):
            known = self._cues.words.get(words)
            if known is not None and not known.weak:
                return None if self._is_decimal(at, known.groups) else (known, last)
            if known is not None and not self._is_asked(words[-1]):
                return None
        return None

    def _is_asked(self, text: str) -> bool:
        """Whether some label of the card asks for a state with this word."""
        return (verb_stem(text),) in lexicon_of(self._cues.card).predicates

    def _plural_word(self, at: int) -> tuple[PositionWord, int] | None:
        """The plural of a position word at the head of a longer name ("pulleys free")."""
        for words, last in self._walk(at, self._cues.word_heads):
            known = self._cues.words.get(words)
            if known is not None and known.many and not known.weak:
                return known, last
        return None

    def _phrase(
        self, at: int, groups: Sequence[PositionGroup]
    ) -> tuple[str, int, tuple[PositionGroup, ...], bool] | None:
        """A position of `groups` that is a word or a letter: (position, index behind, groups,
        by ear)."""
        for words, last in self._walk(at, self._cues.phrase_heads):
            fits = tuple(group for group in groups if words in group.phrases)
            if fits:
                return fits[0].phrases[words], last, fits, False
        letter = letter_names().get((self._text(at),)) or HEARD_LETTERS.get(self._text(at))
        if self._text(at) == "are" and is_plural(self._text(at - 1)):
            return None  # "elements are twenty six ohms left and right"
        if letter is not None and self._free(at):
            said = (letter.casefold(),)
            fits = tuple(group for group in groups if said in group.phrases)
            if fits:
                return fits[0].phrases[said], at + 1, fits, True
        return None

    def _in_step(self, groups: Sequence[PositionGroup], at: int) -> tuple[PositionGroup, ...]:
        """Those of `groups` that the step has; all when it has none of them."""
        step = self._passage.step_at(at)
        here = tuple(group for group in groups if step in group.steps)
        return here or tuple(groups)

    def _meant(self, groups: Sequence[PositionGroup], at: int) -> tuple[PositionGroup, ...]:
        """Those of `groups` that the words before `at` and the step speak of."""
        groups = self._in_step(groups, at)
        near = {self._text(index) for index in range(max(0, at - _NEAR), at + 1)}
        scores = [len(group.tokens & near) for group in groups]
        best = max(scores, default=0)
        return tuple(g for g, score in zip(groups, scores, strict=True) if score == best)

    def _number_sign(self, at: int) -> int:
        """Index behind "number", "no." or "#" at `at`; `at` when there is none."""
        if self._text(at) not in _SIGN_HEADS:
            return at
        for sign in _NUMBER_SIGNS:
            if all(self._text(at + offset) == part for offset, part in enumerate(sign)):
                last = at + len(sign)
                return last + 1 if sign == ("number",) and self._text(last) == "," else last
        return at

    # --- numbers ------------------------------------------------------------------

    def _prefixes(self, at: int) -> Iterator[tuple[int, int]]:
        """Small cardinals that begin at `at`, longest first: (value, index behind)."""
        if not self._free(at):
            return
        atom = self._atoms[at]
        if atom.shape == "digits":
            if len(atom.text) <= 4:
                yield int(atom.text), at + 1
            return
        figure = self._contracted(at)
        if figure is not None:
            yield figure, at + 1
            return
        if self._passage.words[at] is None:
            return
        numerals = self._passage.numerals(at)
        pair = numerals.pair(at)
        if pair is not None:
            yield int(pair[0]), pair[1]
            return
        single = numerals.figures(at)
        if single is not None and len(single[0]) == 1:
            yield int(single[0]), single[1]

    def _is_alone(self, at: int) -> bool:
        """Whether a verb of one thing stands behind the figure that ends at `at`, or in it."""
        at += self._text(at) == "it" and self._text(at + 1) in _OF_ONE  # "on three it is empty"
        is_ = self._text(at) == "'" and self._text(at + 1) == "s"  # "3's"
        stays = self._text(at) in _STAYS and (self._text(at),) not in self._cues.words
        of_one = is_ or stays or self._text(at) in _OF_ONE
        return of_one or self._contracted(at - 1) is not None

    def _contracted(self, at: int) -> int | None:
        """The figure of "three's" ("three is"), which is always a place."""
        text = self._text(at)
        lexeme = lexemes().get((text.removesuffix("'s"),)) if text.endswith("'s") else None
        counts = lexeme is not None and lexeme.kind in ("figure", "teen")
        return lexeme.value if lexeme is not None and counts else None

    def _is_value(self, last: int, first: int | None = None) -> bool:
        """Whether the number that ends at `last` is a value: a unit or decimals follow, or it
        is the reading of a ratio."""
        if not self._free(last):
            return False
        text = self._text(last)
        at = last + 1 if text == "-" and self._atoms[last].glued else last
        found = unit_words.find(self._atoms, at, self._passage.barrier(last))
        apart = found is not None and found[0].symbol and not self._atoms[at].glued
        if found is not None and not (apart and not self._is_written_symbol(at)):
            verb = found[1] == at + 1 and self._is_asked(self._text(at + 1))  # "four drops home"
            verb = verb and next(self._prefixes(at + 2), None) is None  # "four mm on three"
            return not (verb or self._names_field(at))
        if text in ("over", "/", "%", "point", "decimal", "hundred", "thousand"):
            return True
        if text == "." and last + 1 < len(self._atoms) and self._atoms[last + 1].glued:
            return self._atoms[last + 1].shape == "digits" and self._atoms[last].glued
        if text == "and":
            part = self._passage.numerals(last).fraction(last + 1)
            return part is not None and part[0] < 1
        if first is not None and last == first + 1 and self._atoms[last].shape == "word":
            return self._atoms[last].glued and self._atoms[first].shape == "digits"
        return False

    def _is_written_symbol(self, at: int) -> bool:
        """Whether a symbol of several letters stands behind figures: "4 mm", no word of its own."""
        figures = at > 0 and self._atoms[at - 1].shape == "digits"
        return figures and len(self._text(at)) > 1 and self._text(at) != "in"

    def _names_field(self, at: int) -> bool:
        """Whether the unit at `at` begins a name of the card, "jack one foot plate", or is one and
        a number stands behind it: "door three strokes nineteen"."""
        ahead = (self._text(at + count) for count in range(_LONGEST_NAME))
        words = list(takewhile(str.isalnum, ahead))
        known = lexicon_of(self._cues.card).places
        number = self._passage.words[at + 1 : at + 2]
        least = 1 if number and number[0] is not None else 2
        names = (" ".join(words[:count]) for count in range(least, len(words) + 1))
        return any(lexicon_of(self._cues.card).canonical(name) in known for name in names)

    def _reference(self, at: int) -> Decimal | None:
        """The reference of a ratio that goes on at `at`: "over eighty", ", slash 80"."""
        at += self._text(at) == "," and self._text(at + 1) == "slash"
        if self._text(at) not in ("over", "/", "slash"):
            return None
        number = self._passage.numerals(at + 1).number(at + 1)
        return None if number is None else number.value

    def _past_links(self, at: int) -> int:
        """Index behind the words that may stand between a position and its value."""
        while self._free(at):
            verb = self._text(at).endswith("ed") or self._text(at) in _PARTICIPLES
            verb = verb or self._is_way(at)
            timed = self._text(at + 1) == "in" and self._is_time(at + 2)  # "tripped in 22 ms"
            verb = verb and (timed or self._text(at + 1) in ("at", "to"))
            pair = self._text(at), self._text(at + 1)
            is_ = pair == ("'", "s")  # "3's"
            ordered = pair[0] == "in" and pair[1] in ("order", "turn", "sequence")
            those = pair[0] in THESE and pair[1] in FEW  # "nine and ten, those two at 45"
            those = those or pair == ("left", "alone")  # "B left alone at six"
            held = pair[0] in _HOLDS and self._passage.numerals(at + 1).number(at + 1) is not None
            if is_ or ordered or those or (pair[0] in TELLERS and pair[1] in _TELL):
                at += 1
            elif held:
                return at + 1  # "A and B both held 208"
            elif self._only_takes(at + (pair[0] in TELLERS)):
                at += 2 + (pair[0] in TELLERS)
            elif self._text(at) == "in" and self._is_time(at + 1):
                return at + 1  # "damper eleven in forty two seconds"
            elif self._text(at) not in LINKS and self._text(at) not in (",", "the") and not verb:
                break
            at += 1
        return at

    def _only_takes(self, at: int) -> bool:
        """ "Three would only take 170", "three I could only get to 170"."""
        could, only = self._text(at) in _COULD, self._text(at + 1) in _ONLY
        return could and only and self._text(at + 2) in _TAKE

    def _is_way(self, at: int) -> bool:
        """Whether "down" or "up" stands at `at`, and is no place: "three's down at 27"."""
        return self._text(at) in ("down", "up") and self._text(at) not in self._cues.phrase_heads

    def _is_time(self, at: int) -> bool:
        """Whether a number of seconds, minutes or the like stands at `at`."""
        number = self._passage.numerals(at).number(at) if self._free(at) else None
        if number is None:
            return False
        unit = unit_words.find(self._atoms, number.last, self._passage.barrier(number.last))
        return unit is not None and unit_words.dimension_of(unit[0].units[0]) == "time"

    def _value_follows(self, at: int) -> bool:
        """Whether a number stands at `at`, perhaps behind linking words."""
        link = self._past_links(at)
        if link >= len(self._atoms):
            return False
        if self._claims[link] in ("identifiers", "dates"):
            return True
        return self._passage.numerals(link).number(link) is not None

    def _value_ends(self, at: int) -> bool:
        """Whether a number, perhaps with its unit, ends right before `at`."""
        return self._value_before(at) is not None

    def _value_before(self, at: int) -> int | None:
        """Where the number begins that ends, perhaps with its unit, right before `at`."""
        for first in range(max(0, at - _NUMBER_REACH), at):
            if self._free(first):
                number = self._passage.numerals(first).number(first)
                if number is not None:
                    unit = unit_words.find(self._atoms, number.last, at)
                    if at in (number.last, number.last if unit is None else unit[1]):
                        return first
        return None
