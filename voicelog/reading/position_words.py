"""Positions of a task card: which of them a word counts, and how each may be said."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from itertools import product
from typing import TYPE_CHECKING

from voicelog.phonetics import sound
from voicelog.reading import labels
from voicelog.reading.atoms import key
from voicelog.reading.initials import in_full_of, initials_of
from voicelog.reading.position_pairs import between, figure_ways
from voicelog.reading.spoken import spoken
from voicelog.reading.statements import subject_of, thing_of
from voicelog.reading.talk import talk
from voicelog.reading.words import other_spellings

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from voicelog.objects import Card, Field
    from voicelog.reading.atoms import Key


@dataclass(frozen=True, slots=True, eq=False)
class PositionGroup:
    """The places that one position word of the card counts."""

    word: str
    """As the card spells it; "" when the card names none."""
    positions: tuple[str, ...]
    numbers: dict[int, str]
    """Positions that are numbers."""
    phrases: dict[Key, str]
    """Positions that are words or letters, by each way to say them."""
    low: Decimal | None
    high: Decimal | None
    """Where values of these fields are expected, with room to both sides; None: unknown."""
    ratio: bool
    tokens: frozenset[str]
    """Words by which the card speaks of these fields."""
    steps: frozenset[str]
    """Numbers of the steps that have them."""

    @property
    def order(self) -> tuple[int, ...]:
        """The positions that are numbers, as the card lists them."""
        return tuple(self.numbers)

    def plausible(self, value: Decimal) -> bool | None:
        """Whether `value` may be one of these fields'; None when nothing is known."""
        if self.low is None or self.high is None:
            return None
        return self.low <= value <= self.high


@dataclass(frozen=True, slots=True)
class PositionWord:
    """A word behind which a position may be said."""

    groups: tuple[PositionGroup, ...]
    many: bool = False
    """Said in the plural."""
    weak: bool = False
    """A name of the field, no position word: a value must follow the position."""


def groups_of(card: Card) -> Iterator[PositionGroup]:
    """The places that the fields of `card` have, by the word that counts them."""
    by_word: dict[tuple[str, tuple[str, ...]], list[tuple[str, Field]]] = {}
    for step in card.steps:
        for each in step.fields:
            if each.positions:
                word = each.position_word or ""
                by_word.setdefault((word, each.positions), []).append((step.number, each))
    for (word, positions), entries in by_word.items():
        members = [each for _, each in entries]
        low, high = _expected(members)
        phrases = [word] + [way for each in members for way in labels.names(each)]
        tokens = frozenset(part for phrase in phrases for part in key(phrase))
        yield PositionGroup(
            word,
            positions,
            {int(position): position for position in positions if _is_number(position)},
            dict(_phrases(positions, dict(card.terms), tokens)),
            low,
            high,
            any(member.type == "ratio" for member in members),
            tokens,
            frozenset(number for number, _ in entries),
        )


def _is_number(position: str) -> bool:
    return position.isascii() and position.isdigit() and len(position) <= 4


def _least(member: Field) -> Decimal | None:
    """The least that a member may be; of what is counted there may be none."""
    return Decimal(0) if member.type == "count" and member.min is None else member.min


def _expected(members: list[Field]) -> tuple[Decimal | None, Decimal | None]:
    """A generous hull of what the members' values may be: half the lowest, once and a half
    the highest bound. Only to tell "bolt one, ninety eight" from a bolt's 198."""
    ends = [
        bound
        for member in members
        for bound in (_least(member), member.max, *(member.usual or ()))
        if bound is not None
    ]
    if not ends or any(member.type == "ratio" for member in members):
        return None, None
    low, high = min(ends), max(ends)
    if low == high or low < 0:
        return (Decimal(0) if low >= 0 else low * 2), high * 2
    return low / 2, high * Decimal("1.5")


def hulls_of(fields: Sequence[Field]) -> dict[Key, tuple[Decimal, Decimal]]:
    """Where the values of the fields of each name are expected, where the card tells."""
    owners: dict[Key, list[Field]] = {}
    for each in fields:
        for name in labels.names(each) if each.type == "measurement" else ():
            owners.setdefault(key(name), []).append(each)
    hulls = {name: _expected(members) for name, members in owners.items()}
    return {n: (low, high) for n, (low, high) in hulls.items() if low is not None and high}


def _phrases(
    positions: Sequence[str], terms: Mapping[str, Sequence[str]], named: frozenset[str]
) -> Iterator[tuple[Key, str]]:
    """Ways to say the positions that aren't plain numbers, the card's own `terms` among them.

    `named` are words of the fields' names: "felt tension top" is that of the top felt."""
    sides = {key(name): ways for name, ways in spoken().sides.items()}
    short = {key(way): ways for ways in spoken().sides.values() for way in ways if len(way) <= 4}
    letters = spoken().letters
    initials = {key(position)[:1] for position in positions}
    if len(initials) == 1:  # L1, L2 and L3 are phases; L1 and R1 are sides
        short = {words: ways for words, ways in short.items() if len(words[0]) > 1}
    aboard = {} if {("port",), ("starboard",)} & initials else _ABOARD
    lasts = {key(position)[1:][-1:] for position in positions}
    said_already = len(lasts) == 1 and not named.isdisjoint(next(iter(lasts)))
    # "main, toddler, plunge" for three pools, where no word of the fields' names is among them
    apart = len(initials) == len(positions) > 2 and named.isdisjoint(
        {word for words in initials for word in words}
    )
    said_already = said_already or (len(lasts) == 1 and lasts != {()} and apart)
    in_full = in_full_of(positions)
    yield from initials_of(positions)
    for position in positions:
        if _is_number(position):
            continue
        yield key(position), position
        yield from ((parted, position) for parted in _parted(position))
        yield from ((words, position) for words in between(position))
        yield from ((key(way), position) for way in terms.get(position, ()))
        if said_already and all(map(str.isalpha, key(position))) and len(key(position)[0]) > 1:
            yield key(position)[:-1], position
        options: list[tuple[str, ...]] = []
        full = in_full.get(position, position.replace("_", " "))
        for part in key(full):
            ways = sides.get((part,)) or short.get((part,)) or (part,)
            if len(part) == 1 and part.isalpha() and part.upper() in letters and len(ways) == 1:
                ways = (part, *letters[part.upper()])
            if part.isdigit():
                ways = (part, *figure_ways(part))
            if aboard and " " in full:
                ways += aboard.get(ways[0], ())
            options.append(ways)
        if position in in_full:
            yield (full.replace(" ", ""),), position  # "northeast"
        if len(options) <= 3:
            for chosen in product(*options):
                yield key(" ".join(chosen)), position
                if len(chosen) == 2 and len(chosen[0]) == 1:  # a recogniser's "L, two" for L2
                    yield (chosen[0], ",", *key(chosen[1])), position
        for words in _turned(full, positions, options):
            yield words, position


_BY_A_THING = frozenset({"above", "at", "behind", "below", "by", "near", "over", "under"})


def _turned(
    position: str, positions: Sequence[str], options: Sequence[tuple[str, ...]]
) -> Iterator[Key]:
    """A place of two words as people turn it: "front left" for left front, "near the drum"."""
    if len(options) != 2:
        return
    first, last = key(position.replace("_", " "))
    if first in _BY_A_THING:
        yield first, "the", last
    both = first in spoken().sides and last in spoken().sides
    if both and f"{last} {first}" not in (each.casefold() for each in positions):
        for chosen in product(*reversed(options)):
            yield key(" ".join(chosen))


_ABOARD = {"left": ("port",), "right": ("starboard",)}
"""Sides by a word that is no side by itself ("drain port"): "port inboard"."""
_WHICH_WAY = ("down", "in", "mid", "out", "over", "under", "up")


def _parted(position: str) -> Iterator[Key]:
    """A place of one word as a recogniser may part it: "in feed" for infeed."""
    word = position.casefold()
    for way in _WHICH_WAY:
        rest = word.removeprefix(way)
        if word.isalpha() and rest != word and len(rest) > 3:
            yield way, rest


_JOINTS = frozenset({"and", "or"})


def _named(each: Field, terms: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """Ways to name a field, and without a word for its places what its label is of ("Torque of
    wedge bolts"); the thing that a check or a choice is of, by each of the card's words for it."""
    yield from labels.names(each)
    if each.type == "measurement" and " " in labels.head(each):  # "Gas pressure at burner"
        yield labels.head(each)
    of = (labels.before_comma(each) or each.label).partition(" of ")[2]
    if not each.position_word:
        yield each.name.replace("_", " ")
        yield of
    elif key(each.position_word)[0] in key(of)[:-1]:  # "cup springs one to five", at the cups
        yield of
        yield " ".join(key(of)[1:])
    elif " " in of and key(each.position_word)[-1:] == key(of)[-1:]:  # "kickers" for the plates
        yield " ".join(key(of)[:-1])
    subject = subject_of(each)
    if each.type in ("check", "choice"):
        thing = _thing(each)
        yield thing
        yield from labels.nouns(thing)
    if subject:
        yield subject
        for canonical, ways in terms.items():
            if subject in (canonical, *ways):
                yield from (canonical, *ways)


def _short(fields: Sequence[Field]) -> Iterator[tuple[str, Field]]:
    """Single words of names of measured fields that no other field has: "tread" for "Tread depth"
    is enough before a place ("tread five, seven millimetres")."""
    owners: dict[str, list[Field]] = {}
    for each in fields:
        for word in {part for name in labels.names(each) for part in key(name)}:
            owners.setdefault(word, []).append(each)
    for word, (owner, *others) in owners.items():
        plain = word.isalpha() and len(word) > _GLUED and not word.endswith(("ing", "ed"))
        plain = plain and word not in talk().everyday.common
        counted = owner.type == "measurement" and all(
            _is_number(each) or len(each) == 1 for each in owner.positions
        )
        if plain and not others and counted:
            yield word, owner


def _thing(each: Field) -> str:
    """What a check or a choice is about."""
    return subject_of(each) or thing_of(each)[0] or each.label


def _numbered(each: Field) -> tuple[Key, ...]:
    """What the numbers of a field count where the card has no word for its places: "detector" for
    "Detectors respond", "wedge bolt" and "bolt" for "Torque of wedge bolts"."""
    if each.type == "check":
        return (key(_thing(each))[-1:],)
    return tuple(key(thing) for thing in labels.numbered(each))


def _plural(word: str) -> tuple[str, ...]:
    """English plurals of `word`."""
    ways = [word + "s", word + "es"]
    if word.endswith("y"):
        ways.append(word[:-1] + "ies")
    if word.endswith(("f", "fe")):
        ways.append(word.removesuffix("e")[:-1] + "ves")
    return tuple(ways)


def words_of(
    groups: tuple[PositionGroup, ...], fields: Sequence[Field], terms: Mapping[str, Sequence[str]]
) -> dict[Key, PositionWord]:
    """Each position word, singular and plural, its last word alone ("tie bolt": "bolt"), and
    the names of the fields that have positions."""
    found: dict[Key, PositionWord] = {}
    short = tuple(_short(fields))

    def enter(words: Key, group: PositionGroup, *, many: bool = False, weak: bool = False) -> None:
        put(words, group, many=many, weak=weak)
        if len(words) == 1:
            for other in other_spellings(words[0]):
                put((other,), group, many=many, weak=weak)
            for other in other_spellings(words[0].removesuffix("s")) if many else ():
                put((f"{other}s",), group, many=many, weak=weak)

    def put(words: Key, group: PositionGroup, *, many: bool, weak: bool) -> None:
        known = found.get(words)
        if known is None:
            found[words] = PositionWord((group,), many, weak)
        elif group not in known.groups and not (weak and not known.weak):
            found[words] = PositionWord((*known.groups, group), known.many, known.weak)

    for group, way in ((each, way) for each in groups for way in _ways(each.word, terms)):
        whole = key(way)
        for words in {whole, whole[-1:]}:
            enter(words, group)
            for last in _plural(words[-1]):
                enter((*words[:-1], last), group, many=True)
    for each in fields:
        for group in groups:
            if (each.position_word or "", each.positions) != (group.word, group.positions):
                continue
            if not group.word and all(map(_is_number, each.positions)):
                for thing in _numbered(each):
                    enter(thing, group)
                    for last in _plural(thing[-1]):
                        enter((*thing[:-1], last), group, many=True)
            counted = _plural(key(group.word)[-1]) if group.word else ()
            for phrase in (*_named(each, terms), *(w for w, owner in short if owner is each)):
                words = key(phrase)
                if len(words) == 1 and words[0] in _JOINTS:
                    continue  # the last word of "clean and" names nothing
                enter(words, group, weak=True, many=words[-1:] in {(last,) for last in counted})
                for last in _plural(words[-1]) if words else ():
                    enter((*words[:-1], last), group, weak=True, many=last in counted)
    return found


def _ways(word: str, terms: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """A position word, and what else the card calls the thing: "comp two" for compressor two."""
    if word:
        yield word
    for canonical, ways in terms.items():
        if word and word in (canonical, *ways):
            yield from (each for each in (canonical, *ways) if each != word)


_GLUED = 3
"""Letters of a word that is looked for within a longer one, at least."""


def glued_of(groups: tuple[PositionGroup, ...]) -> Iterator[tuple[str, int]]:
    """A place and a word of its field written as one, and the letters of the first."""
    for group in groups:
        places = {words[0] for words in group.phrases if len(words) == 1}
        known = places | group.tokens
        for place in places:
            for word in group.tokens - places - talk().everyday.plain:
                for one, other in ((place, word), (word, place)):
                    long = len(place) > _GLUED and len(word) >= _GLUED
                    if long and one.isalpha() and other.isalpha() and one + other not in known:
                        yield one + other, len(one)


def sounds_of(words: Iterable[tuple[Key, PositionWord]]) -> dict[str, tuple[Key, ...]]:
    """How each position word sounds that is long enough to be known by it."""
    found: dict[str, tuple[Key, ...]] = {}
    for word, meant in words:
        if len(word) == 1 and len(word[0]) >= 4 and not meant.weak:
            heard = sound(word[0])
            found[heard] = (*found.get(heard, ()), word)
    return found
