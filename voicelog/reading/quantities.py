"""Stage: numbers with their units, bare numbers, ratios and ranges."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.objects import Interval, Mention, Ratio
from voicelog.reading import compounds, either, figures, tallies, unit_words
from voicelog.reading.bounds import names_comparing
from voicelog.reading.chain import stage
from voicelog.reading.changes import is_change
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.measures import Measures, alternatives_of
from voicelog.reading.numerals import OPENERS, Number
from voicelog.reading.phrases import after_phrase, before_phrase, by_first, by_last
from voicelog.reading.spoken import by_ear, letters, separators
from voicelog.reading.thousandths import Measure

if TYPE_CHECKING:
    from collections.abc import Iterator

    from spacy.tokens import Doc

    from voicelog.reading.passage import Passage
    from voicelog.reading.unit_words import SpokenUnit

NAME = "quantities"

_OVER = by_first((("over",), ("/",), ("slash",), (",", "slash"), ("out", "of")))
_TO = by_first((
    ("to",), ("through",), ("thru",), ("-", "to", "-"), ("-",), ("–",), ("—",), ("up", "to"),
    ("til",), ("till",),
))  # fmt: skip
_FROM = by_last((("between",), ("from",), ("in", "between")))
_AT_LEAST = by_last((
    ("at", "least"), ("not", "less", "than"), ("no", "less", "than"), ("more", "than"),
    ("greater", "than"), ("above",), ("over",), ("exceeds",), ("exceeding",),
    ("in", "excess", "of"),
    ("higher", "than"), (">",), ("≥",), ("not", "below"), ("minimum", "of"), ("upwards", "of"),
))  # fmt: skip
_AT_MOST = by_last((
    ("within",), ("at", "most"), ("not", "more", "than"), ("no", "more", "than"), ("less", "than"),
    ("fewer", "than"), ("below",), ("under",), ("lower", "than"), ("<",), ("≤",),
    ("not", "above"), ("not", "over"), ("maximum", "of"), ("not", "exceeding"),
))  # fmt: skip


@stage(NAME)
def quantities(doc: Doc) -> None:
    """Read every number that no earlier stage has claimed."""
    written = doc._
    passage: Passage = written.passage
    found: list[Mention] = []
    lists = [mention.end for mention in written.positions or () if "group" in mention.qualifiers]
    terms = [term for term in written.terms or () if not term.doubts]
    names = {term.end for term in terms if " " in term.text or names_comparing(passage, term)}
    counts = lexicon_of(passage.cues.card).counted if terms else ()
    counted = {term.start: term.end for term in terms if term.value in counts}
    told = lexicon_of(passage.cues.card).tallied if terms else ()
    tallied = frozenset(term.start for term in terms if term.value in told)
    for first, last in list(passage.stretches()):
        found.extend(_read(passage, first, last, lists, names, counted, tallied))
    written.quantities = found


STAGE = quantities


def _read(
    passage: Passage,
    start: int,
    stop: int,
    lists: list[int],
    names: set[int],
    counted: dict[int, int],
    tallied: frozenset[int],
) -> Iterator[Mention]:
    reader = Measures(passage, start, stop)
    items = compounds.joined(passage, _items(passage, reader, start, stop, counted, tallied))
    items = _beside(either.joined(passage, figures.joined(passage, items, lists, counted)))
    shared = _shared_references(passage, items)
    index = 0
    while index < len(items):
        item = items[index]
        following = items[index + 1] if index + 1 < len(items) else None
        row = _hyphened(passage, items, index)
        pair = None if following is None or row else _pair(passage, start, stop, item, following)
        last = item.last if pair is None or following is None else following.last
        passage.claim(item.first, last, NAME)
        index += 1 if pair is None else 2
        if pair is not None:
            yield pair
        elif index - 1 in shared:
            yield _of_list(passage, item, shared[index - 1])
        elif item.first not in {reference.first for reference in shared.values()}:
            before = item.first - 1
            before -= before > start and passage.texts[before] == ","
            named = before >= start and passage.atoms[before].end in names
            compared = None if named else _comparison(passage, start, item)
            yield compared or _single(passage, item)  # "hard over" names a field


def _shared_references(passage: Passage, items: list[Measure]) -> dict[int, Measure]:
    """ "seventy five, seventy four, all over eighty": index of a reading -> its reference."""
    found: dict[int, Measure] = {}
    for index, reference in enumerate(items):
        before = [
            passage.atoms[at].text for at in range(max(0, reference.first - 2), reference.first)
        ]
        if before not in (["all", "over"], ["each", "over"], ["both", "over"]):
            continue
        at = index - 1
        while at >= 0 and items[at].unit is None and not items[at].value.is_nan():
            gap = set(_between(passage, items[at], items[at + 1])) - {",", "and", ";", "all"}
            if gap - {"over", "each", "both"} or items[at].value > reference.value:
                break
            found[at] = reference
            at -= 1
    return found


def _of_list(passage: Passage, item: Measure, reference: Measure) -> Mention:
    return passage.mention(
        "ratio",
        item.first,
        item.last,
        NAME,
        value=Ratio(item.value, reference.value),
        qualifiers=item.qualifiers - {"digits"},
        doubts=item.doubts,
    )


def _items(
    passage: Passage,
    reader: Measures,
    start: int,
    stop: int,
    counted: dict[int, int],
    tallied: frozenset[int],
) -> Iterator[Measure]:
    at = start
    while at < stop:
        if not _may_begin(passage, at):
            at += 1
            continue
        reference = reader.numerals.is_reference(at)
        if reference is not None:
            at = reference
            continue
        nil = _nil(passage, at, stop)
        if nil is not None:
            yield nil
            at = nil.last
            continue
        measure = tallies.alone(passage, reader.read(at))
        measure = measure or tallies.read(passage, at, stop, tallied)
        measure = measure or figures.behind_place(passage, at, stop, counted)
        if measure is None:
            at = _next(reader, at)
            continue
        yield _suspected(passage, figures.cut_short(passage, measure, stop))
        at = max(measure.last, at + 1)


@cache
def _openers() -> frozenset[str]:
    """What may begin a measure, besides numerals and number words."""
    signs = tallies.HEADS | {"plus", "minus", "negative", "+", "-", "−", "–", "±"}
    return frozenset(by_ear()) | signs | OPENERS | {"nil", "nill"}


def _may_begin(passage: Passage, at: int) -> bool:
    """A quick look whether any measure can begin at atom `at`."""
    atom = passage.atoms[at]
    number = passage.words[at] is not None or atom.shape == "fraction"
    return number or atom.text in _openers()


def _suspected(passage: Passage, measure: Measure) -> Measure:
    """`measure` with the doubt that an earlier stage has about its figures.

    Where the figures of a code go straight on into a value, either may own the figure between.
    """
    first = measure.number.first
    known = passage.doubted.get(passage.atoms[first].start)
    if known is None:
        if first and passage.claims[first - 1] == "identifiers" and passage.words[first - 1]:
            return replace(measure, doubts=(*measure.doubts, "joined_digits"))
        if measure.unit is None and _spelt_before(passage, first):
            return replace(measure, doubts=(*measure.doubts, "torn_code"))
        return measure
    code, others = known
    number = replace(measure.number, alternatives=(*measure.number.alternatives, *others))
    return replace(measure, number=number, doubts=(*measure.doubts, *filter(None, (code,))))


def _spelt_before(passage: Passage, at: int) -> bool:
    """Whether a number stands behind a letter of the spelling alphabet that no code took: "papa
    dash four one" may be one nevertheless."""
    before = at - 1
    while before > 0 and (passage.atoms[before].text,) in separators():
        before -= 1
    word = passage.atoms[before].text if before >= 0 else ""
    return len(word) > 1 and (word,) in letters() and not passage.claims[before]


def _next(reader: Measures, at: int) -> int:
    """Where to look next: behind a number that counts as none, so that no part of it is read."""
    number = reader.numerals.number(at)
    return at + 1 if number is None else max(number.last, at + 1)


def _nil(passage: Passage, at: int, stop: int) -> Measure | None:
    """ "nil millimetres" is a finding, not a measured 0."""
    if passage.atoms[at].text not in ("nil", "nill"):
        return None
    unit = unit_words.find(passage.atoms, at + 1, stop)
    if unit is None or unit[0].symbol:
        return None
    number = Number(at, at + 1, Decimal("NaN"))
    return Measure(at, unit[1], number, unit[0], doubts=("nil_measurement",))


def _between(passage: Passage, left: Measure, right: Measure) -> tuple[str, ...]:
    return tuple(atom.text for atom in passage.atoms[left.last : right.first])


def _beside(items: list[Measure]) -> list[Measure]:
    """Two numbers without anything between them may have been one."""
    marked = list(items)
    for index, (left, right) in enumerate(pairwise(items)):
        if left.unit is not None or left.last != right.first or _in_row(items, index):
            continue
        if {"ordinal", "tolerance"} & (left.qualifiers | right.qualifiers):
            continue
        if right.qualifiers & {"plus", "about"} or right.value.is_nan() or right.value < 0:
            continue
        if not (left.number.digits and right.number.digits):
            continue
        joined = Decimal(left.number.digits + right.number.digits)
        for place in (index, index + 1):
            item = marked[place]
            number = replace(item.number, alternatives=(*item.number.alternatives, joined))
            doubts = tuple(dict.fromkeys((*item.doubts, "number_beside_number")))
            marked[place] = replace(item, number=number, doubts=doubts)
    return marked


def _in_row(items: list[Measure], index: int) -> bool:
    """Whether the numerals at `index` and behind it stand in a row of three: a list."""
    around = items[max(0, index - 1) : index + 3]
    numerals = [
        len(each.number.digits) > 1 and each.number.last == each.number.first + 1 for each in around
    ]
    row = all(left.last == right.first for left, right in pairwise(around))
    return row and len(around) >= 3 and all(numerals)


# --- two numbers --------------------------------------------------------------------


def _hyphened(passage: Passage, items: list[Measure], index: int) -> bool:
    """Whether a number is one of three and more with hyphens for pauses: "90-91-89 bar"."""
    near = items[max(0, index - 1) : index + 3]
    hyphens = [_between(passage, left, right) == ("-",) for left, right in pairwise(near)]
    return sum(hyphens) > 1


def _pair(passage: Passage, start: int, stop: int, left: Measure, right: Measure) -> Mention | None:
    """A ratio or a range of two measures that stand side by side."""
    if {"ordinal", "tolerance"} & (left.qualifiers | right.qualifiers):
        return None
    if left.value.is_nan() or right.value.is_nan():
        return None
    atoms = passage.atoms
    ends = [
        after
        for phrases in (_OVER, _TO)
        if (after := after_phrase(atoms, left.last, stop, phrases)) is not None
    ]
    unit = right.unit or left.unit
    if left.unit is not None and right.unit is not None and left.unit.units != right.unit.units:
        return None
    if right.first in ends and after_phrase(atoms, left.last, stop, _OVER) == right.first:
        return _two(passage, left, right, unit, Ratio(left.value, right.value))
    opened = before_phrase(atoms, left.first, start, _FROM)
    if opened and atoms[opened].text == "from" and is_change(atoms, opened):
        return None  # "went from one eighty to two oh five"
    between = tuple(text for text in _between(passage, left, right) if text != ",")
    and_range = opened is not None and between == ("and",)
    if right.first in ends or and_range:
        low, high = sorted((left.value, right.value))
        first = left if opened is None else replace(left, first=opened)
        return _two(passage, first, right, unit, Interval(low, high), "range")
    return None


def _two(
    passage: Passage,
    left: Measure,
    right: Measure,
    unit: SpokenUnit | None,
    value: Ratio | Interval,
    doubt: str | None = None,
) -> Mention:
    doubts = list(dict.fromkeys((*left.doubts, *right.doubts, *((doubt,) if doubt else ()))))
    alternatives: list[Ratio | Interval | Decimal] = []
    if isinstance(value, Ratio):
        alternatives += [
            Ratio(other, value.reference)
            for other in left.number.alternatives
            if isinstance(other, Decimal)
        ]
        alternatives += [
            Ratio(value.reading, other)
            for other in right.number.alternatives
            if isinstance(other, Decimal)
        ]
    else:
        alternatives += [left.value, right.value]
    return passage.mention(
        "ratio" if isinstance(value, Ratio) else "range",
        left.first,
        right.last,
        NAME,
        value=value,
        unit=None if unit is None else unit.units[0],
        alternatives=tuple(alternatives),
        qualifiers=(left.qualifiers | right.qualifiers | _candidates(unit)) - {"digits"},
        doubts=tuple(doubts),
    )


def _candidates(unit: SpokenUnit | None) -> frozenset[str]:
    if unit is None or unit.doubt is None:
        return frozenset()
    return frozenset(f"unit:{each}" for each in unit.units)


# --- one number ---------------------------------------------------------------------


def _comparison(passage: Passage, start: int, item: Measure) -> Mention | None:
    """ "over eighty", "not more than five": one end of a range."""
    if item.value.is_nan() or "ordinal" in item.qualifiers:
        return None
    atoms = passage.atoms
    low = before_phrase(atoms, item.first, start, _AT_LEAST)
    high = before_phrase(atoms, item.first, start, _AT_MOST)
    if high is not None and (low is None or high < low):
        first, value = high, Interval(None, item.value)
    elif low is not None:
        first, value = low, Interval(item.value, None)
    else:
        return None
    return passage.mention(
        "range",
        first,
        item.last,
        NAME,
        value=value,
        unit=None if item.unit is None else item.unit.units[0],
        alternatives=(item.value, *alternatives_of(item)),
        qualifiers=item.qualifiers | _candidates(item.unit) | {"comparison"},
        doubts=(*item.doubts, "range"),
    )


def _single(passage: Passage, item: Measure) -> Mention:
    unit = item.unit
    return passage.mention(
        "count" if unit is None else "quantity",
        item.first,
        item.last,
        NAME,
        value=None if item.value.is_nan() else item.value,
        unit=None if unit is None else unit.units[0],
        alternatives=alternatives_of(item),
        qualifiers=item.qualifiers | _candidates(unit),
        doubts=tuple(dict.fromkeys(item.doubts)),
    )
