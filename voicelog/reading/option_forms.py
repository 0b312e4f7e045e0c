"""Options of a choice in another form of their word: "flaking" or "has a flake off it" for flaked.

An option that says what befell a thing ("cracked", "leaking") is told as well by its other
participle, by the verb ("leaks") and by the noun ("a groove in it"); one that is a degree, by its
adverb beside the fault that the field is about ("heavily worn"). A form counts only where the field
is named in the same sentence and nothing denies it; a mere noun is asked about. What is done to a
thing is no form of how it is: "cleaned" is no word for clean, nor "needs greasing" for greased.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.reading.negation import BREAKS
from voicelog.reading.option_scan import GOES_ON, IS, SIGNS, SO, WHERE, OptionScan
from voicelog.reading.renewing import NEW, ONES, Renewing
from voicelog.reading.state_words import trade, work_stems
from voicelog.reading.talk import talk
from voicelog.reading.words import verb_stem

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.reading.lexicon import Lexicon, Place
    from voicelog.reading.words import Token

_HAS = frozenset(
    {"has", "have", "having", "got", "shows", "show", "showing", "with", "there's", "found"}
)
_DETERMINERS = frozenset({
    "a", "an", "another", "one", "two", "three", "four", "five", "six", "several", "some", "few",
    "couple", "lot", "lots", "of", "the", "more",
})  # fmt: skip
_BECAME = frozenset({"gone", "turned", "went"})
""" "That's gone blue" of what is called blued."""
_TO_COME = frozenset(
    {
        "need",
        "needs",
        "needed",
        "want",
        "wants",
        "wanted",
        "stop",
        "prevent",
        "for",
        "before",
        "to",
        "was",
        "were",
        "had",
        "could",
        "may",
        "might",
        "will",
        "would",
    }
)
"""Words before a form that make it what is to be done, was so, or may come: "needs patching"."""
_RENEWED = frozenset({"changed", "new", "renewed", "replaced", "swapped"})
_DESCRIBING = 3
"""Words between "has" and the noun, at most."""
_SHORTEST = 3
_LEAST_EN = 5
"""Letters of a stem in -en that has an adjective, or one less."""


def stems_of(options: Mapping[Place, Mapping[str, str]]) -> dict[str, dict[Place, str]]:
    """Stem of an option -> the fields that have it, with the option; a stem that two options of a
    field share tells neither."""
    found: dict[str, dict[Place, str]] = {}
    for place, chosen in options.items():
        stems = [(stem_of(option), option) for option in chosen if _is_told(option)]
        stems += [(stem_of(stem[:-2]), each) for stem, each in stems if _is_adjective_of(stem)]
        others = [stem for stem, _ in stems]
        others += [stem_of(option) for option in chosen if not _is_told(option)]
        for stem, option in dict.fromkeys(stems):
            if others.count(stem) == 1:
                found.setdefault(stem, {})[place] = option
    return found


def _is_told(option: str) -> bool:
    """Whether an option is a participle of what befell a thing."""
    word = option.lower()
    said = talk().remarks
    good = word in trade("GOOD") or word in said.either_way or word == "missing"
    good = good or verb_stem(word) in work_stems() | said.opposites.keys()
    return (
        word.isalpha()
        and word.endswith(("ed", "ing"))
        and len(stem_of(word)) >= _SHORTEST
        and not good
    )


def _is_adjective_of(stem: str) -> bool:
    """Whether a stem is one in -en that has an adjective: "hard" for hardened."""
    return stem.endswith("en") and len(stem) > _LEAST_EN


def stem_of(word: str) -> str:
    """A word without its ending: "pits", "pitted" and "pitting" are one."""
    stem = verb_stem(word)
    doubled = len(stem) > _SHORTEST and stem[-1] == stem[-2] and stem[-1] not in "ls"
    return stem[:-1] if doubled else stem


def find(
    text: str,
    tokens: Sequence[Token],
    terms: Sequence[Mention],
    positions: Sequence[Mention],
    lexicon: Lexicon,
) -> Iterator[Mention]:
    """The options of `lexicon` in other forms, as terms."""
    if not (lexicon.option_stems or lexicon.option_degrees or lexicon.option_renewed):
        return
    scan = _Scan(tokens, terms, positions, lexicon)
    for index, token in enumerate(tokens):
        if token.is_word and not scan.is_known(token):
            renewed = scan.renewed_at(index)
            found = renewed or scan.form_at(index) or scan.degree_at(index)
            if found is not None:
                option, doubts = found
                yield Mention(
                    "term", text[token.start : token.end], token.start, token.end, option,
                    stage="terms", doubts=doubts,
                    qualifiers=frozenset({"renewed"} if renewed else ()),
                )  # fmt: skip


class _Scan(OptionScan):
    """Looks for the forms."""

    def __init__(
        self,
        tokens: Sequence[Token],
        terms: Sequence[Mention],
        positions: Sequence[Mention],
        lexicon: Lexicon,
    ) -> None:
        super().__init__(tokens, terms, positions, lexicon)
        self.renewing = Renewing(tokens, positions)

    def form_at(self, index: int) -> tuple[str, tuple[str, ...]] | None:
        """The option of which another form stands at `index`, and its doubts."""
        word = self.words[index]
        options = self.lexicon.option_stems.get(stem_of(word))
        if options is None or self.word(index + 1) not in SIGNS | GOES_ON | SO | {"marks"}:
            return None
        option = self.named(index, options)
        if option is None or self.is_denied(index):
            return None
        before = self.word(index - 1)
        if before in _TO_COME:
            return None
        if stem_of(word) != stem_of(option):
            return (option, ()) if self._is_so(index) else None
        told = word.endswith("ing") or (word.endswith("ed") and before in _HAS)
        finite = word.endswith("s") and not (before in _DETERMINERS or before in SIGNS)
        if told or finite or before in _BECAME or self._is_had(index):
            return option, ()
        noun = not word.endswith("ed") and self.word(index + 1) in WHERE
        if noun and not self._is_in_thing(index + 2, option):
            return None
        return option, () if self._is_there(index) else ("named_only",)

    def _is_so(self, index: int) -> bool:
        """Whether an adjective at `index` tells how the thing is: "gone hard", "seal's hard"."""
        if self.word(index + 1) not in SIGNS | SO or index == 0:
            return False
        before = self.tokens[index - 1]
        named = self.is_known(before) or before.start in self.placed
        return named or before.text.lower() in IS | {"just"} or before.text[-2:] in {"'s", "’s"}

    def _is_in_thing(self, at: int, option: str) -> bool:
        """Whether a place that is told at `at` is on the thing: "a hole in the filter bag", but not
        "a crack in the sill"."""
        while self.word(at) in {"the", "a", "its", "my", "our", "of", "both", "either", "each"}:
            at += 1
        if self.word(at) in SIGNS | {"it", "them", "there", "here"}:
            return True
        known = bisect_right(self.starts, self.tokens[at].start) - 1
        if known >= 0 and self.tokens[at].start < self.terms[known].end:
            places = self.places(known)
            return any(option in self.lexicon.options.get(place, {}) for place in places)
        return self.tokens[at].start in self.placed

    def _is_there(self, index: int) -> bool:
        """Whether what stands at `index` is told as found: "there's a hole in it", or at the head
        of the clause."""
        at = index - 1
        while self.word(at) in _DETERMINERS - {"the"}:
            at -= 1
        return self.word(at) in SIGNS | _HAS | {"and", "but", "is", "are"}

    def degree_at(self, index: int) -> tuple[str, tuple[str, ...]] | None:
        """The degree that an adverb at `index` tells, beside the fault that the field asks for:
        "lightly worn"."""
        options = self.lexicon.option_degrees.get(self.words[index])
        if options is None:
            return None
        for at in (index + 1, index - 1):
            fault = trade("FAULT").get(self.word(at))
            asked = {place: option for (place, about), option in options.items() if about == fault}
            option = self.named(index, asked) if asked else None
            if option is not None and not self.is_denied(index):
                return option, ()
        return None

    def renewed_at(self, index: int) -> tuple[str, tuple[str, ...]] | None:
        """The option that a thing was renewed, where a new one is told to be in its place: "so
        there's a new one in", "fitted a fresh filter", "new towel on"."""
        if self.words[index] not in NEW or not self.lexicon.option_renewed:
            return None
        if self.word(index + 1) in ONES:
            end, option = index + 2, self.named(index, self.lexicon.option_renewed)
        else:
            end, option = self._new_thing(index)
        told = option is not None and self.renewing.is_put(index, end) and not self.is_denied(index)
        return (option, ()) if told and option is not None else None

    def _new_thing(self, index: int) -> tuple[int, str | None]:
        """Index behind the name that stands right behind a "new", and the option of its field."""
        if index + 1 >= len(self.tokens):
            return index + 1, None
        at = bisect_right(self.starts, self.tokens[index + 1].start) - 1
        if at < 0 or self.terms[at].start != self.tokens[index + 1].start:
            return index + 1, None
        renewed = self.lexicon.option_renewed
        meant = {renewed[place] for place in self.places(at) if place in renewed}
        end = index + 1
        while end < len(self.tokens) and self.tokens[end].start < self.terms[at].end:
            end += 1
        return end, meant.pop() if len(meant) == 1 else None

    def _is_had(self, index: int) -> bool:
        """Whether a thing has what stands at `index`: "has got a nasty groove"."""
        near = self.words[max(0, index - _DESCRIBING - 1) : index]
        return not _HAS.isdisjoint(near) and BREAKS.isdisjoint(near)


def renewed_of(options: Mapping[Place, Mapping[str, str]]) -> dict[Place, str]:
    """The option of each field that says its thing was renewed."""
    found: dict[Place, str] = {}
    for place, chosen in options.items():
        renewed = [option for option in chosen.values() if option.lower() in _RENEWED]
        if len(renewed) == 1:
            found[place] = next(each for each, option in chosen.items() if option == renewed[0])
    return found


def degrees_of(
    options: Mapping[Place, Mapping[str, str]], about: Mapping[Place, frozenset[str]]
) -> dict[str, dict[tuple[Place, str], str]]:
    """Adverb of an option that is a degree -> (field, fault that it is about) -> option."""
    degrees = talk().remarks.light | talk().remarks.heavy | {"even"}
    found: dict[str, dict[tuple[Place, str], str]] = {}
    for place, chosen in options.items():
        for option in chosen:
            if option.lower() in degrees and not option.endswith("ly"):
                adverb = f"{option.lower().removesuffix('y')}i" if option.endswith("y") else option
                for fault in about.get(place, ()):
                    found.setdefault(f"{adverb}ly".lower(), {})[place, fault] = option
    return found
