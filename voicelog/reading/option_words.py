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

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.reading.lexicon import Place

_ONLY_GOOD = "*"


@dataclass(frozen=True, slots=True)
class State:
    """How a thing can be, and what is said of it then."""

    options: tuple[str, ...]
    """As cards spell it, nearest meaning first."""
    same: tuple[str, ...] = ()
    told: tuple[str, ...] = ()
    unless: frozenset[str] = frozenset()
    good: bool = False

    def meant(self, options: Sequence[str], good: str | None) -> tuple[int, str] | None:
        """(how far off, the one of a field's `options` that tells of this state)."""
        if not self.unless.isdisjoint(map(str.lower, options)):
            return None
        if self.options == (_ONLY_GOOD,):
            return None if good is None else (len(_states()), good)
        ranked = {name: rank for rank, name in enumerate(self.options)}
        near = [(ranked[each.lower()], each) for each in options if each.lower() in ranked]
        return min(near, default=None)


@dataclass(frozen=True, slots=True)
class OptionWords:
    """The shape of option_words.toml."""

    states: tuple[State, ...]


@dataclass(frozen=True, slots=True)
class Meant:
    """The option that a phrase tells of, and whether that is a guess."""

    option: str
    told: bool
    good: bool
    """Whether nothing is wrong with a thing that is so."""


@cache
def _states() -> tuple[State, ...]:
    return config.load(OptionWords, "option_words.toml").states


@cache
def _good() -> frozenset[str]:
    return frozenset(name for state in _states() if state.good for name in state.options)


def phrases_of(
    options: Mapping[Place, Mapping[str, str]],
) -> dict[str, dict[tuple[str, ...], dict[Place, Meant]]]:
    """First word -> words of a phrase -> the fields in which it tells of an option, which stands
    there by its canonical term. Raises ConfigError."""
    found: dict[str, dict[tuple[str, ...], dict[Place, Meant]]] = {}
    for place, chosen in options.items():
        canonical = {option: term for term, option in chosen.items()}
        for phrase, meant in _phrases(tuple(canonical)):
            fields = found.setdefault(phrase[0], {}).setdefault(phrase, {})
            fields[place] = replace(meant, option=canonical[meant.option])
    return found


@cache
def _phrases(options: tuple[str, ...]) -> tuple[tuple[tuple[str, ...], Meant], ...]:
    """The phrases that tell of one of a field's `options`."""
    good = [each for each in options if each.lower() in _good()]
    only = good[0] if len(good) == 1 else None
    ranked: dict[str, list[tuple[int, str, bool]]] = {}
    for state in _states():
        meant = state.meant(options, only)
        if meant is not None:
            for phrase, told in _said(state):
                ranked.setdefault(phrase, []).append((*meant, told))
    found = []
    known = {each.lower() for each in options}
    for phrase, near in ranked.items():
        rank = min(near)[0]
        nearest = {option for at, option, _ in near if at == rank}
        if len(nearest) == 1 and phrase not in known:
            option = nearest.pop()
            told = all(guess for at, _, guess in near if at == rank)
            found.append((tuple(phrase.split()), Meant(option, told, option.lower() in _good())))
    return tuple(found)


def _said(state: State) -> Iterator[tuple[str, bool]]:
    yield from ((phrase, False) for phrase in state.same)
    yield from ((phrase, True) for phrase in state.told)
