"""models_config/units.toml: spoken phrase -> canonical unit, by atoms."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cache
from itertools import product
from typing import TYPE_CHECKING

from voicelog import config
from voicelog.errors import ConfigError
from voicelog.reading.atoms import atomise
from voicelog.reading.spoken import spoken

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.reading.atoms import Atom

_JOINTS = frozenset("-·⋅•∙*×.'")
"""Signs between the parts of a unit that say nothing: "ft-lb", "N·m", "ft.lb"."""
_BREAK_WORDS = frozenset({
    "and", "or", "thick", "long", "wide", "deep", "high", "diameter", "dia", "apart", "gap",
    "clearance", "max", "min", "dc", "ac", "each",
})  # fmt: skip
"""Words behind which a symbol has ended: "2 in thick"."""
_WORDS_TOO = frozenset({"a", "in"})
"""Symbols that are words as well: "three in to the stop"."""
_IN_THEM = frozenset({"all", "both", "each", "either", "every"})
""" "1200 in both mains" are no inches."""
_WHERE = frozenset({"at", "from", "on"})
_GOES_ON_WITH = _WHERE | {
    "above", "across", "after", "afterwards", "again", "against", "all", "already", "as", "because",
    "before", "behind", "below", "between", "both", "but", "by", "either", "every", "for", "here",
    "if", "in", "instead", "into", "last", "now", "of", "off", "once", "only", "over", "per",
    "short", "since", "so", "still", "that", "then", "there", "this", "though", "through", "till",
    "today", "tonight", "too", "total", "under", "until", "when", "where", "which", "while", "with",
    "yesterday",
}  # fmt: skip
"""Words that tell where, when and how a thing was measured, and none of which makes a letter
before it the name of something: "323 g on the front gob", but not "door 2 L is stiff"."""


@dataclass(frozen=True, slots=True)
class Open:
    """A phrase that leaves its unit open."""

    say: tuple[str, ...]
    units: tuple[str, ...]
    """Candidates, likeliest first."""
    doubt: str


@dataclass(frozen=True, slots=True)
class Dimension:
    """One table of units.toml."""

    source: str
    units: dict[str, tuple[str, ...]]
    symbols: dict[str, tuple[str, ...]] = field(default_factory=dict)
    open: tuple[Open, ...] = ()


@dataclass(frozen=True, slots=True)
class Compound:
    """Two units said together, such as hours and minutes."""

    large: str
    small: str
    factor: int
    doubt: str | None = None


@dataclass(frozen=True, slots=True)
class UnitWords:
    """The shape of units.toml."""

    dimension: dict[str, Dimension]
    compound: tuple[Compound, ...]
    modes: dict[str, tuple[str, ...]]
    heard: dict[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class SpokenUnit:
    """What a phrase means: its units (one, or the candidates) and the doubt it brings."""

    units: tuple[str, ...]
    doubt: str | None = None
    symbol: bool = False
    """A single letter or a word of its own: accepted only right behind the figures."""


@cache
def unit_words() -> UnitWords:
    """The allow-list of this installation. Raises ConfigError."""
    return config.load(UnitWords, "units.toml")


_ALTERNATIVES = re.compile(r"\(([^()]*)\)")


def ways(pattern: str) -> Iterator[str]:
    """The phrases that `pattern` stands for: "(a|b)" either, "(s)" with or without."""
    pieces = _ALTERNATIVES.split(pattern)
    choices = [
        [piece] if index % 2 == 0 else piece.split("|") if "|" in piece else ["", piece]
        for index, piece in enumerate(pieces)
    ]
    for chosen in product(*choices):
        yield " ".join("".join(chosen).split())


def phrase_key(phrase: str) -> tuple[str, ...]:
    """`phrase` as atoms without the signs that say nothing."""
    return tuple(atom.text for atom in atomise(phrase) if atom.text not in _JOINTS)


Node = dict[str, "Node | SpokenUnit"]
_END = ""


def _enter(root: Node, phrase: str, meaning: SpokenUnit) -> None:
    node = root
    for part in phrase_key(phrase):
        below = node.setdefault(part, {})
        assert isinstance(below, dict)  # noqa: S101  (only _END leads to a SpokenUnit)
        node = below
    known = node.get(_END)
    if isinstance(known, SpokenUnit) and known.units != meaning.units:
        raise ConfigError(
            f"units.toml: {phrase!r} stands for {known.units[0]} and for {meaning.units[0]}"
        )
    node[_END] = meaning


@cache
def _tree() -> Node:
    """Every phrase as a path of atoms. Raises ConfigError."""
    root: Node = {}
    for dimension in unit_words().dimension.values():
        entries = [(unit, say, False) for unit, say in dimension.units.items()]
        entries += [(unit, say, True) for unit, say in dimension.symbols.items()]
        for unit, say, symbol in entries:
            for pattern in say:
                for phrase in ways(pattern):
                    _enter(root, phrase, SpokenUnit((unit,), symbol=symbol))
        for each in dimension.open:
            meaning = SpokenUnit(each.units, each.doubt)
            for pattern in each.say:
                for phrase in ways(pattern):
                    _enter(root, phrase, meaning)
    return root


@cache
def _mode_tree() -> dict[tuple[str, ...], str]:
    return {
        phrase_key(phrase): mode for mode, says in unit_words().modes.items() for phrase in says
    }


@cache
def dimension_of(unit: str) -> str | None:
    """Name of the table of units.toml that holds `unit`."""
    for name, dimension in unit_words().dimension.items():
        if unit in dimension.units or unit in dimension.symbols:
            return name
    return None


def single_words() -> Iterator[tuple[str, SpokenUnit]]:
    """The units that one word names, with that word."""
    for word, below in _tree().items():
        meaning = below.get(_END) if isinstance(below, dict) else None
        if isinstance(meaning, SpokenUnit) and word.isalpha():
            yield word, meaning


@cache
def ways_by_unit() -> dict[str, tuple[str, ...]]:
    """Every way to say each unit that leaves nothing open."""
    found: dict[str, tuple[str, ...]] = {}
    for each in unit_words().dimension.values():
        for unit, says in (*each.units.items(), *each.symbols.items()):
            found[unit] = (*found.get(unit, ()), *(way for say in says for way in ways(say)))
    return found


@cache
def heard() -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What a recogniser writes for units, where the card has them."""
    return tuple(
        (unit, tuple(way for say in says for way in ways(say)))
        for unit, says in unit_words().heard.items()
    )


@cache
def names_of_many() -> dict[str, SpokenUnit]:
    """The plain name of each unit as it is said of many ("volts", "psi", "newton metres"): a
    "metre" or a "second" may be a thing, and so may a "bar"."""
    found: dict[str, SpokenUnit] = {}
    for dimension in unit_words().dimension.values():
        named = [(say[0], SpokenUnit((unit,))) for unit, say in dimension.units.items()]
        named += [(way, SpokenUnit(o.units, o.doubt)) for o in dimension.open for way in o.say]
        for pattern, unit in named:
            phrases = set(ways(pattern))
            plurals = {each for each in phrases if each.endswith("s") and each[:-1] in phrases}
            if len(phrases) == 1 and pattern not in _THINGS and unit.doubt is None:
                plurals = phrases
            found |= dict.fromkeys(plurals, unit)
    return found


_THINGS = frozenset({"bar", "foot", "inch"})
_FIRST = re.compile(r"[^\W\d_]+|\S")


def may_begin(text: str) -> bool:
    """A quick look whether `text` is nothing but words of which the first opens a unit phrase."""
    first = _FIRST.match(text)
    opens = first is not None and first[0].casefold() in _tree()
    return opens and not any(char.isdigit() for char in text)


def find(atoms: Sequence[Atom], at: int, stop: int) -> tuple[SpokenUnit, int] | None:
    """The longest unit phrase that begins at atom `at`: (meaning, index behind)."""
    found = _listed(atoms, at, stop) or _feet(atoms, at, stop) or _flat(atoms, at, stop)
    if found is None or _does(atoms, at, found[1]):
        return None
    return _per(atoms, found, stop) or found


_TURNS = frozenset({"turn", "turns"})
_HOW = frozenset({
    "easily", "evenly", "freely", "nicely", "properly", "quietly", "smoothly", "stiffly", "sweetly",
})  # fmt: skip


def _does(atoms: Sequence[Atom], at: int, last: int) -> bool:
    """ "Sheave three turns freely": what it does."""
    return atoms[at].text in _TURNS and last < len(atoms) and atoms[last].text in _HOW


_OF_FLATS = frozenset({"1", "a", "another", "fifth", "half", "one", "quarter", "sixth", "third"})


def _flat(atoms: Sequence[Atom], at: int, stop: int) -> tuple[SpokenUnit, int] | None:
    """ "Half a flat" of a nut; "twenty four flat" is exactly so many."""
    one = 0 < at < stop and atoms[at].text == "flat" and atoms[at - 1].text in _OF_FLATS
    return (SpokenUnit(("flat",)), at + 1) if one else None


_INCHES = frozenset({'"', "″", "”"})


def _feet(atoms: Sequence[Atom], at: int, stop: int) -> tuple[SpokenUnit, int] | None:
    """The stroke of 2' 6": elsewhere one may be a quotation mark."""
    if not 0 < at < stop or atoms[at].text not in ("'", "′") or not atoms[at].glued:
        return None
    figures = atoms[at - 1].shape == "digits" and at + 2 < stop and atoms[at + 1].shape == "digits"
    inches = any(atom.text in _INCHES for atom in atoms[at + 2 : min(stop, at + 6)])
    return (SpokenUnit(("ft",)), at + 1) if figures and inches else None


_PER = frozenset({"per", "/", "slash"})
_A = frozenset({"a", "an"})
_GOES_BY = frozenset({"minute", "hour", "day"})
"""Times by which a thing goes on: "two millibar a minute"; "a second" may be another one."""


def _per(
    atoms: Sequence[Atom], found: tuple[SpokenUnit, int], stop: int
) -> tuple[SpokenUnit, int] | None:
    """ "Kilonewtons per metre": a unit by another that the list does not hold as one."""
    above, at = found
    if at + 1 >= stop or any("/" in unit for unit in above.units):
        return None
    link = atoms[at].text
    below = _listed(atoms, at + 1, stop) if link in _PER or link in _A else None
    divisor = None if below is None else _divisor(below[0])
    if below is None or divisor is None:
        return None
    if link in _A and not _goes_by(divisor, atoms, below, stop):
        return None
    return SpokenUnit(tuple(f"{unit}/{divisor}" for unit in above.units), above.doubt), below[1]


def _divisor(below: SpokenUnit) -> str | None:
    """The plain unit that another is set over; a minute is one of time there, never of arc."""
    unit = below.units[0]
    return unit if unit.isalpha() and (len(below.units) == 1 or unit == "minute") else None


_OVER = frozenset({"area", "length", "volume"})


def _goes_by(divisor: str, atoms: Sequence[Atom], below: tuple[SpokenUnit, int], stop: int) -> bool:
    """Whether "a" before a unit means "per": "newtons a metre", "milligrams a litre", and "two
    bar a minute", but not "two bar a minute later" or "ninety newtons a second time"."""
    if divisor not in _GOES_BY:
        return not below[0].symbol and dimension_of(divisor) in _OVER
    end = below[1]
    return end >= stop or atoms[end].shape == "sign" or atoms[end].text in _BREAK_WORDS


def _listed(atoms: Sequence[Atom], at: int, stop: int) -> tuple[SpokenUnit, int] | None:
    """The longest phrase of the list that begins at atom `at`."""
    node = _tree()
    best: tuple[SpokenUnit, int] | None = None
    index = at
    while index < stop:
        atom = atoms[index]
        if index > at and atom.text in _JOINTS and not (atom.text == "." and not atom.glued):
            index += 1
            continue
        if atom.shape == "digits" and not atom.glued:
            break
        if index > at and atom.text == "," and _goes_on(node, atoms, index + 1, stop):
            index += 1  # a pause: "newton, metres"
            continue
        below = node.get(atom.text)
        if below is None and atom.text == "slash":
            below = node.get("/")
        if below is None and atom.text.endswith("'s"):
            below = node.get(atom.text.replace("'", ""))  # "twelve second's"
        if not isinstance(below, dict):
            break
        node = below
        index += 1
        meaning = node.get(_END)
        if isinstance(meaning, SpokenUnit) and _allowed(meaning, atoms, at, index, stop):
            best = meaning, index
    return best


def _goes_on(node: Node, atoms: Sequence[Atom], at: int, stop: int) -> bool:
    """Whether the unit goes on at `at`, behind a pause, with a word of its own."""
    if at >= stop or atoms[at].shape != "word":
        return False
    below = node.get(atoms[at].text)
    if atoms[at].text in _PER | _A and isinstance(below, dict) and at + 1 < stop:
        return isinstance(below.get(atoms[at + 1].text), dict)  # "drops, a minute"
    return len(atoms[at].text) > 2 and isinstance(below, dict)


def _allowed(meaning: SpokenUnit, atoms: Sequence[Atom], at: int, last: int, stop: int) -> bool:
    """Whether the phrase may end here: not inside a glued word, symbols only before a break."""
    if last < len(atoms) and atoms[last].glued and atoms[last].shape == "digits":
        return False
    end = atoms[last - 1]
    inches = end.text == "in" and last - at > 1 and atoms[last - 2].text != "sq"
    if (not meaning.symbol and not inches) or (atoms[at] if meaning.symbol else end).glued:
        return True  # but "12 lb in the pan" is no torque
    if end.text == "in" and last < len(atoms) and atoms[last].text in _IN_THEM:
        return False
    if end.text == "in" and last == stop < len(atoms) and _is_whole(atoms, at - 1):
        return atoms[last].shape != "word" or atoms[last].text in spoken().sides  # "4 in bank A"
    if last >= stop or atoms[last].shape == "sign" or atoms[last].text in _BREAK_WORDS:
        return True
    following = atoms[last].text
    if following == "to":  # "21 s to raise"
        return end.text not in _WORDS_TOO
    written = at > 0 and atoms[at - 1].shape == "digits"
    if end.text == "h" and written and atoms[last].shape == "digits":
        return True  # "1 h 20 min"
    if end.text == "in":
        return (written or inches) and following in _WHERE
    return written and (following in _GOES_ON_WITH or following in spoken().sides)


def _is_whole(atoms: Sequence[Atom], at: int) -> bool:
    """Whether the figures at `at` are a whole number."""
    parted = at > 1 and atoms[at - 1].text in _JOINTS | {"/", "&", "and"}
    return at >= 0 and atoms[at].shape == "digits" and not parted


def mode(atoms: Sequence[Atom], at: int, stop: int) -> tuple[str, int] | None:
    """A mode ("gauge", "peak to peak") behind a unit: (qualifier, index behind)."""
    for length in (3, 2, 1):
        if at + length <= stop:
            found = _mode_tree().get(tuple(atom.text for atom in atoms[at : at + length]))
            if found is not None:
                return found, at + length
    return None
