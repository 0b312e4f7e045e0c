"""models_config/spoken.toml: the words for figures, letters and signs, ready for look-up."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal

from voicelog import config
from voicelog.reading.atoms import atomise

if TYPE_CHECKING:
    from collections.abc import Iterator

WordClass = Literal[
    "figure",  # 0 to 9
    "weak zero",  # "oh": zero beside another figure
    "teen",  # 10 to 19
    "tens",  # 20, 30, ... 90
    "power",  # value is the exponent of ten
    "point",
    "minus",
    "plus",
    "repeat",  # value is how often the next figure stands
    "ordinal",
    "ordinals",  # the plural, which names a fraction
]


@dataclass(frozen=True, slots=True)
class Spoken:
    """The shape of spoken.toml."""

    weak_zero: tuple[str, ...]
    o_shaped: tuple[str, ...]
    point: tuple[str, ...]
    before_point: tuple[str, ...]
    minus: tuple[str, ...]
    plus: tuple[str, ...]
    figures: dict[str, tuple[str, ...]]
    by_ear: dict[str, tuple[str, ...]]
    teens: dict[str, tuple[str, ...]]
    tens: dict[str, tuple[str, ...]]
    powers: dict[str, tuple[str, ...]]
    repeat: dict[str, tuple[str, ...]]
    ordinals: dict[str, tuple[str, ...]]
    letters: dict[str, tuple[str, ...]]
    letters_by_ear: dict[str, tuple[str, ...]]
    letter_names: dict[str, tuple[str, ...]]
    separators: dict[str, tuple[str, ...]]
    sides: dict[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Lexeme:
    """What a word means in a number."""

    kind: WordClass
    value: int


Key = tuple[str, ...]
"""A word as its atoms."""


@cache
def spoken() -> Spoken:
    """The words of this installation. Raises ConfigError."""
    return config.load(Spoken, "spoken.toml")


def _key(word: str) -> Key:
    return tuple(atom.text for atom in atomise(word) if atom.shape != "sign")


def _entries(words: Spoken) -> Iterator[tuple[str, Lexeme]]:
    tables: tuple[tuple[WordClass, dict[str, tuple[str, ...]]], ...] = (
        ("figure", words.figures),
        ("teen", words.teens),
        ("tens", words.tens),
        ("power", words.powers),
        ("repeat", words.repeat),
        ("ordinal", words.ordinals),
    )
    for kind, table in tables:
        for value, ways in table.items():
            for way in ways:
                yield way, Lexeme(kind, int(value))
                if kind == "ordinal":
                    yield way + "s", Lexeme("ordinals", int(value))
    singles: tuple[tuple[WordClass, tuple[str, ...]], ...] = (
        ("weak zero", words.weak_zero),
        ("point", words.point),
        ("minus", words.minus),
        ("plus", words.plus),
    )
    for kind, ways in singles:
        for way in ways:
            yield way, Lexeme(kind, 0)


@cache
def lexemes() -> dict[Key, Lexeme]:
    """Number words by their atoms."""
    return {_key(way): lexeme for way, lexeme in _entries(spoken())}


@cache
def heads() -> dict[str, int]:
    """First atom of a number word -> number of atoms of the longest word that begins so."""
    longest: dict[str, int] = {}
    for key in lexemes():
        longest[key[0]] = max(len(key), longest.get(key[0], 0))
    return longest


@cache
def by_ear() -> dict[str, int]:
    """Ordinary words that sound like a figure."""
    return {word: int(figure) for figure, words in spoken().by_ear.items() for word in words}


@cache
def letter_heads() -> frozenset[str]:
    """First words of the spelling alphabet's names."""
    return frozenset(words[0] for words in letters())


@cache
def letters() -> dict[Key, str]:
    """Words of the spelling alphabet -> letter."""
    words = [*spoken().letters.items(), *spoken().letters_by_ear.items()]
    return {_key(word): letter for letter, said in words for word in said}


@cache
def letters_by_ear() -> frozenset[str]:
    """Words that are no letter, and are written for one."""
    return frozenset(word for words in spoken().letters_by_ear.values() for word in words)


@cache
def letter_pairs() -> dict[str, str]:
    """Two words of the spelling alphabet that were written as one ("kilotango") -> letters."""
    single = {words[0]: letter for words, letter in letters().items() if len(words) == 1}
    return {one + other: single[one] + single[other] for one in single for other in single}


@cache
def letter_names() -> dict[Key, str]:
    """Written-out names of the bare letters -> letter."""
    return {_key(word): letter for letter, words in spoken().letter_names.items() for word in words}


@cache
def _sides() -> dict[str, frozenset[str]]:
    ways = {way for said in spoken().sides.values() for way in said if " " not in way}
    return {
        way: frozenset(side for side, said in spoken().sides.items() if way in said) for way in ways
    }


def sides_of(words: str) -> frozenset[str]:
    """The sides that words in lower case tell of, as cards spell them: "LH inboard"."""
    return frozenset[str]().union(*(_sides().get(word, ()) for word in words.split()))


@cache
def separators() -> dict[Key, str]:
    """Words between the parts of an identifier -> sign."""
    return {_key(word): sign for sign, words in spoken().separators.items() for word in words}
