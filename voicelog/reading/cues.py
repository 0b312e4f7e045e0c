"""What a task card contributes to reading: how its positions, names and codes are said.

Built once for a card by `of_card`; a reading only looks things up.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.reading import cut_words, labels
from voicelog.reading.atoms import key
from voicelog.reading.percard import per_card
from voicelog.reading.position_words import glued_of, groups_of, hulls_of, sounds_of, words_of
from voicelog.reading.spoken import lexemes
from voicelog.reading.talk import talk
from voicelog.reading.trade import trade_phrases

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator
    from decimal import Decimal

    from voicelog.objects import Card, Field, Step
    from voicelog.reading.atoms import Key
    from voicelog.reading.position_words import PositionGroup, PositionWord


_WITHIN = frozenset({"after", "for", "in", "over", "per", "within"})


@dataclass(frozen=True, slots=True)
class CodeCue:
    """Words after which an identifier is said, and what it must look like."""

    field: str | None
    kind: str | None
    pattern: re.Pattern[str] | None
    loose: bool = False
    """They name the thing alone, and what follows has to look like a code."""


@dataclass(frozen=True, slots=True)
class Cues:
    """A card as reading looks it up, and the step that the note begins in."""

    card: Card | None = None
    step: str | None = None
    groups: tuple[PositionGroup, ...] = ()
    words: dict[Key, PositionWord] = field(default_factory=dict)
    """Position words and names of fields that have positions."""
    phrases: dict[Key, tuple[PositionGroup, ...]] = field(default_factory=dict)
    """The groups that have a position of that name, for each way to say a position."""
    names: dict[str, tuple[tuple[str, ...], ...]] = field(default_factory=dict)
    """Names of the card that hold figures ("N1"), by first atom, figures as digits."""
    before_point: dict[str, bool] = field(default_factory=dict)
    """Words before "point" in the names of the card ("dew point") -> whether it has the word for a
    name as well, so that a decimal may go on behind it."""
    fractions: frozenset[Key] = frozenset()
    """First two atoms of names and places that begin as a fraction does ("quarter bell")."""
    codes: dict[Key, CodeCue] = field(default_factory=dict)
    """Cue words of the card's identifiers."""
    code_heads: frozenset[str] = frozenset()
    """First atoms of those."""
    dates: frozenset[Key] = frozenset()
    """Names of the card's dates."""
    patterns: tuple[CodeCue, ...] = ()
    """Identifiers of the card that have a pattern."""

    numbered: frozenset[str] = frozenset()
    """Words that a count is named by with "number" behind ("riser number")."""
    sounds: dict[str, tuple[Key, ...]] = field(default_factory=dict)
    """How a position word sounds -> the words, for what a recogniser wrote in its place."""
    word_heads: dict[str, int] = field(default_factory=dict)
    """First atom of a position word -> atoms of the longest that begins so."""
    phrase_heads: dict[str, int] = field(default_factory=dict)
    """The same for the ways to say a position."""
    place_ends: frozenset[str] = frozenset()
    """Last words of places of several words, one of them a number ("boom 1 front")."""
    tails: frozenset[str] = frozenset()
    """Last words of places of two words ("drive end")."""
    parted: frozenset[str] = frozenset()
    """What a place or a position word may begin with where a recogniser parted it ("axle box")."""
    glued: dict[str, int] = field(default_factory=dict)
    """A place and a word of its field written as one ("playright") -> letters of the first."""
    place_words: frozenset[str] = frozenset()
    """Words of places, as they may be said."""
    hulls: dict[Key, tuple[Decimal, Decimal]] = field(default_factory=dict)
    """Names of measured fields -> where their values are expected."""
    hull_heads: dict[str, int] = field(default_factory=dict)
    """First atoms of those."""
    others: frozenset[Key] = frozenset()
    """Names of several words of fields that hold no identifier ("hour meter")."""

    @property
    def steps(self) -> tuple[Step, ...]:
        return self.card.steps if self.card else ()

    def at_step(self, step: str | None) -> Cues:
        """The same cues for a note that begins in `step`."""
        return replace(self, step=step)


@per_card
def of_card(card: Card | None) -> Cues:
    """The cues of `card`."""
    if card is None:
        return Cues()
    fields = tuple(each for step in card.steps for each in step.fields)
    groups = tuple(groups_of(card))
    words = words_of(groups, fields, dict(card.terms))
    phrases = {
        phrase: tuple(group for group in groups if phrase in group.phrases)
        for each in groups
        for phrase in each.phrases
    }
    said = _phrases(card, fields)
    names = {each.name.replace("_", " ") for each in fields}
    words |= cut_words.of(words, map(key, said - names))
    codes = _parts(fields, words) | dict(_codes(fields))
    return Cues(
        card,
        None,
        groups,
        words,
        phrases,
        _names(said),
        _before_point({*said, *_places(fields)}),
        frozenset(
            words[:2]
            for words in map(key, {*said, *_places(fields)})
            if len(words) > 1 and words[0] in ("half", "quarter")
        ),
        codes,
        frozenset(words[0] for words in codes),
        frozenset(
            key(phrase) for each in fields if each.type == "date" for phrase in labels.names(each)
        ),
        tuple(cue for cue in map(_code_cue, fields) if cue is not None and cue.pattern),
        frozenset(_numbered(fields)),
        sounds_of(words.items()),
        _heads(words),
        _heads(phrases),
        frozenset(
            words[-1]
            for words in phrases
            if len(words) > 2
            and any(map(str.isdigit, words[:-1]))
            and not digits_of(words[-1:])[0].isdigit()
        ),
        frozenset(words[1] for words in phrases if len(words) == 2 and len(words[1]) > 2),
        frozenset(_first_parts((*words, *phrases))),
        dict(glued_of(groups)),
        frozenset(word for words in phrases for word in words),
        hulls := hulls_of(fields),
        _heads(hulls),
        frozenset(
            words
            for each in fields
            if each.type != "identifier"
            for words in map(key, labels.names(each))
            if len(words) > 1
        ),
    )


def _numbered(fields: Iterable[Field]) -> Iterator[str]:
    for each in fields:
        counts = each.type == "choice" and all(map(str.isdigit, each.options))
        if each.type in ("count", "measurement") or counts:
            for phrase in labels.names(each):
                words = key(phrase)
                if len(words) > 1 and words[-1] == "number":
                    yield words[-2]
                elif counts and words:
                    yield words[-1]


_LEAST_PART = 3
"""Letters of either part of a word that was parted."""


def _first_parts(phrases: Iterable[Key]) -> Iterator[str]:
    for phrase in phrases:
        for length in range(_LEAST_PART, len(phrase[0]) - _LEAST_PART + 1 if phrase else 0):
            if phrase[0].isalpha():
                yield phrase[0][:length]


def _heads(phrases: Iterable[Key]) -> dict[str, int]:
    longest: dict[str, int] = {}
    for phrase in phrases:
        if phrase:
            longest[phrase[0]] = max(len(phrase), longest.get(phrase[0], 0))
    return longest


# --- names and codes ----------------------------------------------------------------


def digits_of(words: Key) -> Key:
    """`words` with figure words as digits: ("n", "one") is ("n", "1")."""
    table = lexemes()
    return tuple(
        str(table[(word,)].value)
        if (word,) in table and table[(word,)].kind in ("figure", "teen", "tens")
        else word
        for word in words
    )


def _phrases(card: Card, fields: tuple[Field, ...]) -> frozenset[str]:
    """The names of the card's fields, terms, options and positions, as they are said."""
    phrases = {
        phrase
        for each in fields
        for phrase in (
            *labels.names(each),
            each.name.replace("_", " "),
            *each.options,
            *_meanwhile(each),
        )
    }
    phrases |= {way for canonical, ways in card.terms for way in (canonical, *ways)}
    said = " ".join(phrases).lower()
    phrases |= {way for canonical, way in trade_phrases() if canonical in said}  # "O2": oxygen
    return frozenset(phrases)


def _names(phrases: Iterable[str]) -> dict[str, tuple[Key, ...]]:
    found: dict[str, set[Key]] = {}
    for phrase in phrases:
        words = digits_of(key(phrase))
        if len(words) > 1 and any(word.isdigit() for word in words):
            found.setdefault(words[0], set()).add(words)
        for pair in _ordinal_pairs(words):
            found.setdefault(pair[0], set()).add(pair)
    return {head: tuple(sorted(words, key=len, reverse=True)) for head, words in found.items()}


def _ordinal_pairs(words: Key) -> Iterator[Key]:
    """ "First lift", "second stage": an ordinal in a name with the word behind it, but no unit
    ("litres per second")."""
    for before, word, behind in zip(("", *words), words, words[1:], strict=False):
        lexeme = lexemes().get((word,))
        unit = before == "per" or before.isdigit() or behind.isdigit()
        if lexeme is not None and lexeme.kind == "ordinal" and not unit:
            yield word, behind


def _meanwhile(each: Field) -> Iterator[str]:
    """ "Sink in 5 minutes": the names of a field with how long what its label speaks of goes on."""
    for label in (each.label, labels.in_full(each)):
        words = label.lower().split()
        at = next((at for at, word in enumerate(words) if at and word in _WITHIN), len(words))
        if len(words) > at + 2 and words[at + 1].isdigit():
            long = " ".join(words[at : at + 3])
            yield from (f"{name} {long}" for name in each.say)


def _places(fields: Iterable[Field]) -> Iterator[str]:
    for each in fields:
        yield from each.positions
        yield each.position_word or ""


def _before_point(phrases: Collection[str]) -> dict[str, bool]:
    names = set(map(key, phrases))
    pairs = {pair for name in names for pair in pairwise(name)}
    said = (word for word, point in pairs if point == "point" and word not in labels.WHERE)
    return {word: (word,) in names for word in said}


def _code_cue(each: Field) -> CodeCue | None:
    if each.type != "identifier":
        return None
    pattern = re.compile(each.pattern, re.IGNORECASE) if each.pattern else None
    return CodeCue(each.name, each.kind, pattern)


_OF_CODES = frozenset({
    "batch", "cast", "certificate", "heat", "id", "lot", "n", "no", "number", "p", "part", "s",
    "ser", "serial",
})  # fmt: skip


def _parts(fields: Iterable[Field], places: Collection[Key]) -> dict[Key, CodeCue]:
    """What the things are called that have codes, and are no places; of several fields that call
    theirs so none is meant."""
    parts: dict[Key, CodeCue] = {}
    for each in fields:
        for name in _things(each) - set(places):
            one = each.name if name not in parts else None
            pattern = re.compile(each.pattern, re.IGNORECASE) if one and each.pattern else None
            parts[name] = CodeCue(one, None, pattern, loose=True)
    return parts


def _things(each: Field) -> set[Key]:
    """ "Pack" for "Pack removed", "regulator" for "Regulator ser. no.", "tensioner" for "Bolt
    tensioner", what the card itself calls the field, "hose batch" for "Batch no.
    of new hose"; "oil" alone says what oil it is ("oil SAE 30"), and not its batch."""
    said = [word for word in key(each.label) if word.isalpha()]
    if each.type != "identifier":
        return set()
    idle = talk().everyday.taken_off | talk().everyday.put_on | {"the", "used"}
    turned = said.index("of") if "of" in said else 0
    told = said[turned + 1 :] if turned else said
    thing = tuple(word for word in told if word not in _OF_CODES | idle)
    found = set()
    if thing and turned:
        found.add((*thing, said[0]))
    if each.kind == "batch number":
        return found
    if thing and (len(thing) < len(said) or each.kind == "tool number"):
        found |= {thing, thing[-1:]}
    own = key(each.name.replace("_", " "))
    return found if _OF_CODES.union(idle).intersection(own) else found | {own}


def _codes(fields: Iterable[Field]) -> Iterator[tuple[Key, CodeCue]]:
    for each in fields:
        cue = _code_cue(each)
        if cue is not None:
            for phrase in labels.names(each):
                words = key(phrase)
                if words:
                    yield words, cue
