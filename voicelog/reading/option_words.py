"""models_config/option_words.toml: what a choice is called in other words than the card's.

"Ripped along the seam" of what the card calls torn, "won't budge" of what it calls seized, "fine"
of what it calls sound. What such words mean hangs on the other options of the field: the nearest
of them is meant, and none where two are as near.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING

from voicelog import config
from voicelog.reading.words import verb_stem

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from voicelog.reading.lexicon import Place

_ONLY_GOOD = "*"
_FAR = 100
"""How far off what is meant only for want of anything nearer."""
_LONGEST = 7
"""Words in the longest phrase."""


@dataclass(frozen=True, slots=True)
class State:
    """How a thing can be, and what is said of it then."""

    options: tuple[str, ...]
    """As cards spell it, nearest meaning first."""
    near: tuple[str, ...] = ()
    """Those that are meant where there is none of these."""
    same: tuple[str, ...] = ()
    told: tuple[str, ...] = ()
    unless: frozenset[str] = frozenset()
    good: bool = False
    work: bool = False
    found: bool = False

    def meant(self, options: Sequence[str], good: str | None) -> tuple[int, str, bool] | None:
        """(how far off, the one of a field's `options` that tells of this state, whether only
        nearly so)."""
        if not self.unless.isdisjoint(map(str.lower, options)):
            return None
        if self.options == (_ONLY_GOOD,):
            return None if good is None else (_FAR, good, True)
        ranked = {name: rank for rank, name in enumerate((*self.options, *self.near))}
        found = [(ranked[each.lower()], each) for each in options if each.lower() in ranked]
        if not found:
            return None
        rank, option = min(found)
        near = rank >= len(self.options)
        return rank + _FAR * near // 2, option, near


@dataclass(frozen=True, slots=True)
class OptionWords:
    """The shape of option_words.toml."""

    verbs: frozenset[str]
    states: tuple[State, ...]


@dataclass(frozen=True, slots=True)
class Meant:
    """The option that a phrase tells of, and whether that is a guess."""

    option: str
    told: bool
    good: bool
    """Whether nothing is wrong with a thing that is so."""
    work: bool
    """Whether it tells of what was done to the thing."""


Phrases = dict[str, dict[tuple[str, ...], dict["Place", Meant]]]
"""First word, or verb that it is a form of -> words of a phrase -> what it means in which field."""


@cache
def option_words() -> OptionWords:
    """The words of this installation. Raises ConfigError."""
    return config.load(OptionWords, "option_words.toml")


def _states() -> tuple[State, ...]:
    return option_words().states


@cache
def _good() -> frozenset[str]:
    return frozenset(name for state in _states() if state.good for name in state.options)


@cache
def _bad() -> frozenset[str]:
    faults = [each for each in _states() if not (each.good or each.work or each.found)]
    return frozenset(name for state in faults for name in state.options) - _good()


def is_bad(option: str) -> bool:
    """Whether something is wrong with a thing of which the card's `option` is told."""
    return option.lower() in _bad()


def phrases_of(
    options: Mapping[Place, Mapping[str, str]],
) -> Phrases:
    """The phrases that tell of `options`, which stand there by their canonical terms. Raises
    ConfigError."""
    found: Phrases = {}
    for place, chosen in options.items():
        canonical = {option: term for term, option in chosen.items()}
        for phrase, meant in _phrases(tuple(canonical)):
            fields = found.setdefault(phrase[0], {}).setdefault(phrase, {})
            fields[place] = replace(meant, option=canonical[meant.option])
    return found


def longest(
    phrases: Phrases, word: Callable[[int], str], at: int
) -> tuple[int, dict[Place, Meant]] | None:
    """Where the longest of `phrases` that begins at `at` ends, and what it means; `word` gives the
    words of the note by their index, "" behind the last."""
    verb = begun((word(at),))[0]
    heads = [head for head in dict.fromkeys((word(at), verb)) if head in phrases]
    for length in range(_LONGEST, 0, -1) if heads else ():
        rest = tuple(map(word, range(at + 1, at + length)))
        for head in heads:
            if (head, *rest) in phrases[head]:
                return at + length, phrases[head][head, *rest]
    return None


@cache
def _phrases(options: tuple[str, ...]) -> tuple[tuple[tuple[str, ...], Meant], ...]:
    """The phrases that tell of one of a field's `options`."""
    good = [each for each in options if each.lower() in _good()]
    only = good[0] if len(good) == 1 else None
    ranked: dict[str, list[tuple[int, str, bool, State]]] = {}
    for state in _states():
        meant = state.meant(options, only)
        if meant is not None:
            rank, option, near = meant
            for phrase, told in _said(state):
                ranked.setdefault(phrase, []).append((rank, option, told or near, state))
    found = []
    known = {each.lower() for each in options}
    for phrase, entries in ranked.items():
        rank = min(at for at, *_ in entries)
        nearest = [entry for entry in entries if entry[0] == rank]
        chosen = {option for _, option, _, _ in nearest}
        if len(chosen) == 1 and phrase not in known:
            option = chosen.pop()
            told = all(guess for _, _, guess, _ in nearest)
            work = all(state.work for *_, state in nearest)
            meaning = Meant(option, told, option.lower() in _good(), work)
            found.append((begun(tuple(phrase.split())), meaning))
    return tuple(found)


def begun(words: tuple[str, ...]) -> tuple[str, ...]:
    """The words of a phrase; for a verb that it begins with, the mark of any of its forms."""
    stem = verb_stem(words[0])
    return (f"{stem}-", *words[1:]) if stem in _verbs() else words


@cache
def _verbs() -> frozenset[str]:
    return frozenset(map(verb_stem, option_words().verbs))


def _said(state: State) -> Iterator[tuple[str, bool]]:
    named = (phrase for phrase in state.options if phrase != _ONLY_GOOD)
    yield from ((phrase, phrase in state.told) for phrase in (*named, *state.same))
    yield from ((phrase, True) for phrase in state.told)
