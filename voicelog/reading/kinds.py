"""Kinds of things, by the last word of their names, and what is good or bad of each: a bell rings,
a seal goes hard (models_config/deeds.toml)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from voicelog import config
from voicelog.errors import ConfigError
from voicelog.reading.words import verb_stem, word_key

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.reading.state_words import Polarity

_PAST = {
    "crept": "creep", "sank": "sink", "slid": "slide", "sprang": "spring", "sprung": "spring",
    "swept": "sweep", "bit": "bite", "froze": "freeze", "frozen": "freeze", "hung": "hang",
    "hanging": "hang", "blew": "blow", "blown": "blow", "broke": "break", "broken": "break",
    "fallen": "fall", "fell": "fall", "let": "let", "lit": "light", "made": "make", "rang": "ring",
    "rode": "ride", "rung": "ring", "shook": "shake", "shone": "shine", "spun": "spin",
    "struck": "strike", "stuck": "stick", "swollen": "swell", "swung": "swing", "threw": "throw",
    "thrown": "throw", "did": "do", "does": "do", "spat": "spit",
    "flew": "fly", "sang": "sing", "sung": "sing", "flies": "fly", "springs": "spring",
}  # fmt: skip
"""Verbs whose past has another form, besides those that every verb of a label may be."""
_SAME_AS_PAST = frozenset({"cut", "let", "shut", "split"})
"""Verbs that are their own past: "the interlock cut the motor"."""


_ADVERBS = frozenset({"right", "straight"})
""" "The dogs go right home"."""


def deed_stem(word: str) -> str:
    """The stem of a verb in any of its forms: "ring" for "rang"."""
    return verb_stem(_PAST.get(word, word))


@dataclass(frozen=True, slots=True)
class Kind:
    """The words of one kind of things; see the file."""

    things: frozenset[str]
    good: tuple[str, ...]
    bad: tuple[str, ...]
    is_good: tuple[str, ...] = ()
    is_bad: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Deed:
    """A verb in its basic form, or a word for a state, with the words behind it."""

    words: tuple[str, ...]
    polarity: Polarity
    is_verb: bool

    def length(self, said: Sequence[str], *, basic: bool) -> int:
        """How many words of `said` tell of it; 0 for none. Its basic form counts where `basic`."""
        size = len(self.words)
        first = self.words[0]
        if tuple(said[1:size]) != self.words[1:]:
            # "knocked the motor off", "went right home"
            behind = said[2:3] if said[1:2] and said[1] in _ADVERBS else said[3:4]
            between = said[1:2] and (said[1] in _ADVERBS or said[1] == "the")
            if not between or size != 2 or tuple(behind) != self.words[1:]:
                return 0
            size += 1 + (said[1] == "the")
        if said[0] == first:
            return size if basic or not self.is_verb or first in _SAME_AS_PAST else 0
        return size if self.is_verb and deed_stem(said[0]) == deed_stem(first) else 0


@cache
def _kinds() -> Mapping[str, Kind]:
    kinds = config.load(dict[str, Kind], "deeds.toml")
    seen: dict[str, str] = {}
    for name, kind in kinds.items():
        for thing in kind.things:
            if seen.setdefault(thing, name) != name:
                raise ConfigError(f"deeds.toml: {thing} is of two kinds, {seen[thing]} and {name}")
    return kinds


@cache
def _kind_of_things() -> Mapping[str, str]:
    return {word_key(thing): name for name, kind in _kinds().items() for thing in kind.things}


@cache
def deeds_of(kind: str) -> Mapping[str, tuple[Deed, ...]]:
    """What things of a kind may do or be, by the stem of its first word; the longest first."""
    told = _kinds()[kind]
    listed: dict[str, list[Deed]] = {}
    for phrases, polarity, is_verb in (
        (told.good, "pass", True),
        (told.bad, "fail", True),
        (told.is_good, "pass", False),
        (told.is_bad, "fail", False),
    ):
        for phrase in phrases:
            words = tuple(phrase.split())
            deed = Deed(words, "pass" if polarity == "pass" else "fail", is_verb)
            listed.setdefault(deed_stem(words[0]), []).append(deed)
    return {
        stem: tuple(sorted(deeds, key=lambda deed: -len(deed.words)))
        for stem, deeds in listed.items()
    }


@cache
def deed_stems() -> frozenset[str]:
    """Stems of the first words of all deeds: most words of a note are none."""
    return frozenset(stem for kind in _kinds() for stem in deeds_of(kind))


@cache
def _basic_forms() -> frozenset[str]:
    return frozenset(
        deed.words[0]
        for kind in _kinds()
        for deeds in deeds_of(kind).values()
        for deed in deeds
        if deed.is_verb
    )


@cache
def _deed_verbs() -> frozenset[str]:
    return frozenset(map(deed_stem, _basic_forms()))


@cache
def tells_deed(word: str) -> bool:
    """Whether a word is a form of a verb that tells what some one thing does or did: "ran",
    "dribbles", but not "stop" or "nozzles"."""
    return word not in _basic_forms() and deed_stem(word) in _deed_verbs()


ANY = "any"
"""The kind of a thing of which nothing is known."""


@cache
def kind_of(key: str, *, whole: bool = False) -> str | None:
    """The kind of the thing that a word names, or two words written as one; None for none. With
    `whole` the end of a word tells nothing."""
    kinds = _kind_of_things()
    if key in kinds or whole:
        return kinds.get(key)
    ends = (key[first:] for first in range(_LEAST_BEFORE, len(key) - _LEAST_END + 1))
    return next((kinds[end] for end in ends if end in kinds and end not in _NO_ENDS), None)


_LEAST_BEFORE, _LEAST_END = 3, 5
_NO_ENDS = frozenset({"earth", "level", "meter", "mount", "water"})
"""Ends of words that are no compounds of them: a "millimeter" measures nothing by itself."""


def does(kind: str, stem: str) -> bool:
    """Whether a verb, or a state, with that stem is good of a thing of the kind."""
    return any(deed.polarity == "pass" for deed in told_of(kind, stem))


def told_of(kind: str, stem: str) -> tuple[Deed, ...]:
    """What begins with a word of that stem and is told of things of the kind, or of any thing."""
    return (*deeds_of(kind).get(stem, ()), *deeds_of(ANY).get(stem, ()))


@lru_cache(maxsize=20_000)
def deed_length(said: tuple[str, ...], kinds: frozenset[str], *, basic: bool = False) -> int:
    """How many of the words `said` tell by themselves what a thing of one of the `kinds` does or
    is; 0 for none. The basic form of a verb counts where `basic`."""
    stem = deed_stem(said[0]) if said else ""
    told = (deed for kind in kinds for deed in told_of(kind, stem))
    return max((deed.length(said, basic=basic) for deed in told), default=0)
