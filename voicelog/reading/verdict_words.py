"""models_config/verdict_words.toml: what everyday words tell of a check, by what its label wants.

"Came open" is good of a valve that opens, and bad of a lock that holds. Such words are open-ended
and their meaning is a guess: a verdict that comes from them is always asked about.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from voicelog import config
from voicelog.reading.statements import split
from voicelog.reading.talk import talk
from voicelog.reading.words import verb_stem

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.objects import Field

_WORD = re.compile(r"[^\W\d_]+(?:'[a-z]+)?")
_DENIES = re.compile(
    r"n't$|^(?:no|not|never|nothing|none|nowhere|without|cannot|neither|nor|hardly|barely)$"
)
_DENIED_LABEL = re.compile(r"\b(?:no|free\s+(?:of|from)|without)\b", re.IGNORECASE)
_JUST_DENIED = re.compile(
    r"\A\W*(?:just\s+|simply\s+)?\w+n['’]t(?:\s+(?:it|they|though|either|at\s+all))?\s*(?:[,.;]|\Z)",
    re.IGNORECASE,
)
""" "The flame failure didn't, ..." """
_BARE = ("it", "them")
_REACH = 3
"""Words that a denial reaches over."""
_OF_LABEL, _OF_ANY, _OF_OTHERS = 8, 4, 1
"""What a word counts of a phrase of the label's kind, of one that is good or bad of anything, and
of one of other kinds."""


@dataclass(frozen=True, slots=True)
class Words:
    """What is good and what is bad, whatever is checked."""

    good: frozenset[str]
    bad: frozenset[str]


@dataclass(frozen=True, slots=True)
class Open:
    """What tells that a clause is no finding."""

    words: frozenset[str]
    habits: frozenset[str]
    """Words of what is usual, which may tell how the one of two is."""


@dataclass(frozen=True, slots=True)
class Kind:
    """What is good and what is bad of the things that are to be so."""

    name: str
    label: frozenset[str]
    """Words of labels that want it."""
    good: frozenset[str]
    bad: frozenset[str]


@dataclass(frozen=True, slots=True)
class VerdictWords:
    """The shape of verdict_words.toml."""

    open: Open
    always: Words
    kinds: tuple[Kind, ...]


@cache
def verdict_words() -> VerdictWords:
    """The words of this installation. Raises ConfigError."""
    return config.load(VerdictWords, "verdict_words.toml")


@cache
def _phrases() -> dict[tuple[str, ...], tuple[tuple[str, int], ...]]:
    """Every phrase, as its words, with the kinds that it tells of and +1 or -1 for each."""
    found: dict[tuple[str, ...], list[tuple[str, int]]] = {}
    known = verdict_words()
    ever = Kind("", frozenset(), known.always.good, known.always.bad)
    for kind in (ever, *known.kinds):
        for phrases, sign in ((kind.good, 1), (kind.bad, -1)):
            for phrase in phrases:
                said = _keys(phrase)
                found.setdefault(said, []).append((kind.name, sign))
                if len(said) > len(_BARE) and said[-1] in _BARE:
                    found.setdefault(said[:-1], []).append((kind.name, sign))
    return {words: tuple(kinds) for words, kinds in found.items()}


def _any_of(phrases: frozenset[str]) -> re.Pattern[str]:
    words = "|".join(map(re.escape, sorted(phrases)))
    return re.compile(rf"\b(?:{words})\b", re.IGNORECASE)


@cache
def _opens() -> re.Pattern[str]:
    return _any_of(verdict_words().open.words)


@cache
def _habits() -> re.Pattern[str]:
    return _any_of(verdict_words().open.habits)


@cache
def _longest() -> int:
    return max(map(len, _phrases()))


@cache
def _labels() -> dict[tuple[str, ...], tuple[str, ...]]:
    """Every phrase of a label, as the keys of its words, with the kinds that want it."""
    found: dict[tuple[str, ...], list[str]] = {}
    for kind in verdict_words().kinds:
        for phrase in kind.label:
            found.setdefault(_keys(phrase), []).append(kind.name)
    return {words: tuple(dict.fromkeys(kinds)) for words, kinds in found.items()}


@cache
def _wanted(field: Field) -> tuple[tuple[str, ...], frozenset[str]]:
    """The keys of what the label says of its thing, and the kinds of it."""
    words, said = _keys(field.label), split(field)[1]
    return said or words, _kinds(said) or _kinds(words)


def _kinds(told: Sequence[str]) -> frozenset[str]:
    """The kinds of the longest phrase among the keys of a label."""
    longest, kinds = 0, frozenset[str]()
    for at in range(len(told)):
        for end in range(at + 1, len(told) + 1):
            named = _labels().get(tuple(told[at:end]), ())
            if named and end - at >= longest:
                kinds, longest = frozenset(named), end - at
    return kinds


def said_of_it(text: str, field: Field) -> list[str]:
    """The words of `text` that the label says of its thing; a "shut-off" is a thing, not off."""
    last = field.label.lower().split()[-1:]
    told = split(field)[1] or [e for e in last if e in talk().remarks.particles or e == "right"]
    return [word for word in text.lower().split() if verb_stem(word) in told]


def _words(text: str) -> list[str]:
    return _WORD.findall(text.lower().replace("’", "'"))


def _keys(text: str) -> tuple[str, ...]:
    """The words of `text` without their endings: "stayed dark" is "stays dark"; but what is gone
    is not what goes."""
    return tuple(word if word == "gone" else verb_stem(word) for word in _words(text))


def is_no_finding(said: str) -> bool:
    """Whether words tell of what is wanted, put off, or heard of."""
    return _opens().search(said) is not None


def is_denied(said: str) -> bool:
    """Whether a thing is only told not to do it: "didn't", "won't either"."""
    return _JUST_DENIED.search(said) is not None


@cache
def _heads() -> frozenset[str]:
    return frozenset(phrase[0] for phrase in _phrases())


def begins(word: str) -> bool:
    """Whether a word is one with which people begin to tell what a thing does, or does not."""
    return _DENIES.search(word.lower()) is not None or verb_stem(word.lower()) in _heads()


def verdict(said: str, field: Field) -> str | None:
    """ "pass" or "fail": what `said` tells most likely of the check `field`; None for nothing."""
    if is_no_finding(said) or _habits().search(said):
        return None
    words = _keys(said)
    told, kinds = _wanted(field)
    score = sum(_weights(words, kinds)) + _of_label(words, told, kinds, field)
    return None if not score else "pass" if score > 0 else "fail"


def _weights(words: Sequence[str], kinds: frozenset[str]) -> Iterator[float]:
    """What each phrase among `words` speaks for what the label wants, or against it."""
    at = 0
    while at < len(words):
        told = _told(words, at, kinds)
        if told is not None:
            phrase, meanings = told
            yield len(phrase) * _worth(meanings, kinds, _sign(words, at, phrase))
            at += len(phrase) - 1
        at += 1


def _told(
    words: Sequence[str], at: int, kinds: frozenset[str]
) -> tuple[tuple[str, ...], tuple[tuple[str, int], ...]] | None:
    """The longest phrase that begins at a word, one of the label's kind before all others."""
    found = None
    for length in range(min(_longest(), len(words) - at), 0, -1):
        phrase = tuple(words[at : at + length])
        meanings = _phrases().get(phrase)
        if meanings is None:
            continue
        if any(kind in kinds for kind, _ in meanings):
            return phrase, meanings
        found = found or (phrase, meanings)
    return found


def _worth(told: Sequence[tuple[str, int]], kinds: frozenset[str], sign: int) -> float:
    """What a word of a phrase counts; what is denied tells nothing of other kinds."""
    own = [each for kind, each in told if kind in kinds]
    if own:
        return sign * _OF_LABEL * sum(own) / len(own)
    ever = [each for kind, each in told if not kind]
    if ever:
        return float(sign * _OF_ANY * ever[0])
    return _OF_OTHERS * sum(each for _, each in told) / len(told) if sign > 0 else 0.0


def _sign(words: Sequence[str], at: int, phrase: Sequence[str]) -> int:
    """-1 where a denial before the phrase turns it round."""
    denied = any(map(_DENIES.search, words[max(0, at - _REACH) : at]))
    return -1 if denied and not any(map(_DENIES.search, phrase)) else 1


def _of_label(
    words: Sequence[str], told: Sequence[str], kinds: frozenset[str], field: Field
) -> float:
    """What the words speak for that the label says of its thing, or that such labels say:
    affirmed, or denied."""
    wish = -1 if _DENIED_LABEL.search(field.label) else 1
    wanted = {word for word in told if len(word) > _REACH}
    at = [at for at, word in enumerate(words) if word in wanted]
    at += [
        at
        for at in range(len(words))
        for length in (1, 2)
        if not kinds.isdisjoint(_labels().get(tuple(words[at : at + length]), ()))
    ]
    return wish * sum(_sign_of_label(words, each) * _OF_ANY for each in set(at))


def _sign_of_label(words: Sequence[str], at: int) -> int:
    """The same for a word of the label, which may be what does not do so: "the room never ..."."""
    denied = any(map(_DENIES.search, words[at + 1 : at + _REACH]))
    return -1 if denied else _sign(words, at, ())
