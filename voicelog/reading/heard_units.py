"""Units that a recogniser wrote as they sound: "420 megomes", "15 looks", "4,200 litters".

Looked for only where a unit must stand: right behind a number, at the end of a clause or before
the next name, among the units of the card. Such a unit is asked about; what recognisers write
often is in units.toml. So is a unit of the card whose "per" was lost: "0.18 milligrams L".
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

from voicelog import units
from voicelog.errors import UnitError
from voicelog.phonetics import alike, sound
from voicelog.reading import unit_words
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.percard import per_card
from voicelog.reading.state_words import state_words
from voicelog.reading.unit_words import SpokenUnit
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from voicelog.objects import Card
    from voicelog.reading.passage import Passage

MISHEARD = "misheard_unit"
_SHORTEST = 4
"""Letters of a word that is taken for a unit by its sound."""
_NEAR = 0.5
"""Least likeness (Jaro-Winkler) of two words with the same sound."""
_EXACTLY = "flat"
""" "Twelve flat" is no twelve volts."""
_ENDS = frozenset({"", ",", ".", ";", ":", "!", "?", "and", "but"})


@per_card
def _sounds(card: Card | None) -> Mapping[str, tuple[str, SpokenUnit]]:
    """Sound -> (word, unit) of each word that is a unit of the card."""
    own = (
        {field.unit for step in card.steps for field in step.fields} if card is not None else set()
    )
    own -= {None, "dimensionless"}
    found: dict[str, tuple[str, SpokenUnit]] = {}
    for word, unit in unit_words.single_words():
        if len(word) >= _SHORTEST - 1 and any(_same(unit.units[0], str(each)) for each in own):
            found.setdefault(sound(word), (word, unit))
    return found


def _same(one: str, other: str) -> bool:
    try:
        return units.convert(Fraction(1), one, other) == 1
    except UnitError:
        return False


_OF = ("", "in", "and", "on")
"""What is left of "per" or of "an" between two units."""


@per_card
def _phrases(card: Card | None) -> Mapping[str, tuple[tuple[tuple[str, ...], SpokenUnit], ...]]:
    """First word -> phrases that stand for a unit of the card: those that units.toml has as heard,
    and units by another without the word between them."""
    own = {f.unit for step in card.steps for f in step.fields if f.unit} if card else set()
    found: dict[str, list[tuple[tuple[str, ...], SpokenUnit]]] = {}
    for unit in own - {"dimensionless"}:
        heard = (way for other, ways in unit_words.heard() if _same(other, unit) for way in ways)
        for phrase in {*heard, *_without_per(unit)}:
            words = unit_words.phrase_key(phrase)
            found.setdefault(words[0], []).append((words, SpokenUnit((unit,), MISHEARD)))
    for each in found.values():
        each.sort(key=lambda phrase: -len(phrase[0]))
    return {first: tuple(each) for first, each in found.items()}


def _without_per(unit: str) -> Iterator[str]:
    above, _, below = unit.partition("/")
    if not below.isalpha():
        return
    for one in _ways(above):
        for other in _ways(below):
            yield from (f"{one} {link} {other}" for link in _OF if link or len(one) > 1)


@cache
def _ways(unit: str) -> tuple[str, ...]:
    every = unit_words.ways_by_unit().items()
    return tuple(way for other, ways in every if _same(other, unit) for way in ways)


def listed(passage: Passage, at: int, stop: int) -> tuple[SpokenUnit, int] | None:
    """The unit of the card that the words at `at` are known to stand for: (meaning, index
    behind)."""
    for words, unit in _phrases(passage.cues.card).get(passage.texts[at], ()) if at < stop else ():
        last = at + len(words)
        if last > stop or tuple(passage.texts[at:last]) != words:
            continue
        behind = passage.atoms[last] if last < len(passage.atoms) else None
        tied = behind is not None and behind.glued and behind.shape != "sign"
        if tied or any(passage.claims[at:last]):
            continue
        if len(words) > 1 or passage.texts[last] in _ENDS:
            return unit, last
    return None


def find(passage: Passage, at: int, stop: int) -> tuple[SpokenUnit, int] | None:
    """The unit of the card that the word at `at` sounds like: (meaning, index behind)."""
    if at >= stop or passage.cues.card is None or passage.atoms[at].shape != "word":
        return None
    word = passage.atoms[at].text.replace("'", "")
    known_words = lexicon_of(passage.cues.card).exact
    behind = passage.texts[at + 1]
    if behind not in _ENDS and word_key(behind) not in known_words:
        return None
    if len(word) < _SHORTEST or passage.words[at] or word_key(word) in known_words:
        return None  # "two nuts" are no knots
    if word == _EXACTLY or word in state_words() or word in passage.cues.phrase_heads:
        return None  # "all three fail", "0.4 main" where the card has a main pool
    known = _sounds(passage.cues.card).get(sound(word))
    if known is None or alike(word, known[0]) < _NEAR:
        return None
    return SpokenUnit(known[1].units[:1], MISHEARD), at + 1
