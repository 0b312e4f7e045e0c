"""Lent units: a unit that stands apart from the numbers which it belongs to.

"Flange height in millimetres, wheel one ..." says it ahead of a list (`unit_headings`),
"..., all millimetres" behind it. It was said, so it is nobody's guess; which numbers take it
is for drafting.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING

from voicelog.mapping import unit_headings
from voicelog.mapping.row import Cue, Spot
from voicelog.mapping.unit_fit import compatible, settled_unit
from voicelog.reading import unit_words
from voicelog.reading.atoms import atomise

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Card, Field

_ALL_OF = re.compile(
    r"\s*(?:(?:and|all|both|each|every|everything|everywhere|throughout|one|the|whole|lot|in|for|are"
    r"|them|of|figures|numbers|readings|values|measured|read|taken"
    r"|(?:that|it|those|these)(?:['’]s|\s+is|\s+was|\s+are|\s+were)?)\b\s*)*",
    re.IGNORECASE,
)
_FROM = r"(?:before|after)\s+(?:top|bottom)\s+(?:dead\s+)?cent(?:re|er)|[ab][tb]dc"
"""From where an angle counts, behind its unit."""
_SO_MANY = r"(?:(?:the|a)\s+)?(?:pair|couple|two|three|four|six)\s+of\s+(?:them|those)"
_BEHIND = re.compile(
    rf"{_ALL_OF.pattern}(?:(?:that\s+(?:is|was)|those\s+are|of\s+course|again|as\s+well|too|{_FROM}"
    rf"|{_SO_MANY})\s*)?",
    re.IGNORECASE,
)
""" "Nought point eight, seconds that is"."""


_AT = frozenset({"at", "in", "on", "the", "for"})


def lend(row: Events, cues: Sequence[Cue], card: Card) -> None:
    """Find every unit of `row` that stands apart from its numbers."""
    row.units.update(unit_headings.ahead(row, cues, card))
    _lend_behind(row, cues)
    unit_headings.name_ahead(row, card)


def _lend_behind(row: Events, cues: Sequence[Cue]) -> None:
    """A clause that is nothing but a unit lends it to the number before it."""
    _lend_on(row)
    ends = sorted({*row.breaks.strong, *row.breaks.commas, len(row.text)})
    starts = [said.start for said in row.said]
    spots = (anchor for anchor in row.anchors if isinstance(anchor, Spot))
    letters = {name for spot in spots for name in spot.names if len(name) == 1}
    begin = 0
    for end in ends:
        first, last = begin, _behind_place(row, begin, end)
        begin = end + 1
        clause = row.text[last:end]
        lead = _ALL_OF.match(clause)
        bare = _of_many(clause[lead.end() :].strip()) if lead else ""
        if not bare or len(bare) > 40 or not unit_words.may_begin(bare):
            continue
        if bare.lower() == "second":
            continue  # "that's the second"
        if first - 1 in row.breaks.strong and end in row.breaks.commas and _heads(row, end):
            continue  # "right twenty seven. Amps, left 5.4"
        start = row.text.rindex(bare, last, end)
        places = (a for a in row.anchors_in(start, end) if isinstance(a, Spot))
        if any(place.start <= start and place.end - start >= len(bare) for place in places):
            continue  # phase "V" has its own number behind it
        if len(bare) == 1 and bare in letters:
            continue  # "C, hang on, C one point two"
        atoms = atomise(bare)
        found = unit_words.find(atoms, 0, len(atoms))
        if found is None or not _is_all(cues, start, bare, atoms[found[1] - 1].end):
            continue
        index = bisect_left(starts, max(first, last)) - 1
        if index >= 0 and row.said[index].is_number and row.said[index].mention.unit is None:
            row.said[index].lent_units = found[0].units
            if row.breaks.between(row.said[index].end, start) == 2:
                row.said[index].tags.add(BY_ITSELF)


def _of_many(bare: str) -> str:
    """`bare` without the "a" that a recogniser makes of "all": "eight rear a millimetres"."""
    article, _, rest = bare.partition(" ")
    many = article.lower() == "a" and rest.lower().endswith("s") and unit_words.may_begin(rest)
    return rest if many else bare


def _is_all(cues: Sequence[Cue], start: int, bare: str, end: int) -> bool:
    """Whether a clause that begins with a unit says no more but, perhaps, what it was that was
    measured: "millimetres wear, that is"."""
    if _BEHIND.fullmatch(bare, end):
        return True
    lead = _OF.match(bare, end)
    named = start + (end if lead is None else lead.end())
    told = _SO_IT_IS.search(bare)
    last = start + (len(bare) if told is None else told.start())
    return any(cue.start == named and cue.end == last for cue in cues)


_SO_IT_IS = re.compile(r"\s+(?:that\s+(?:is|was)|those\s+are)\Z", re.IGNORECASE)
_OF = re.compile(r"\s+(?:of\s+)?(?:the\s+)?", re.IGNORECASE)


def _heads(row: Events, at: int) -> bool:
    """Whether a bare number stands in the sentence behind `at`."""
    index = bisect_left(row.said, at, key=lambda each: each.start)
    said = row.said[index] if index < len(row.said) else None
    bare = said is not None and said.kind == "count"
    return bare and said is not None and row.breaks.between(at, said.start) < _SENTENCE


_SENTENCE = 2
_ALL_IN = re.compile(
    r"\s+(?:and\s+)?(?:all|everything|each|both)(?:\s+(?:of\s+(?:them|those)|in|are|were))*\s+",
    re.IGNORECASE,
)
""" "Bolt five fifty and bolt six fifty two all foot pounds", without the pause."""


def _lend_on(row: Events) -> None:
    """A unit that is said of all of them right behind the last number."""
    for said in row.said:
        lead = _ALL_IN.match(row.text, said.end) if said.kind == "count" else None
        unit = None if lead is None else unit_headings.unit_at(row.text, lead.end())
        if unit is not None:
            said.lent_units = unit.units


def _behind_place(row: Events, begin: int, end: int) -> int:
    """Index behind the place that the number of a clause has behind it: "0.3 left, 0.35 right
    millimetres"; where the clause begins when it has none."""
    index = bisect_left(row.said, end, key=lambda each: each.start) - 1
    said = row.said[index] if index >= 0 else None
    if said is None or said.start < begin:
        return begin
    spot = next((a for a in row.anchors_in(said.end, end) if isinstance(a, Spot)), None)
    if spot is None or spot.end > end:
        return begin
    between = row.text[said.end : spot.start].lower().split()
    return spot.end if set(between) <= _AT else begin


_LIST = 12
"""Numbers of a list that are looked through for its unit."""
BY_ITSELF = "unit by itself"
"""Tag of a number that has its unit from a sentence that says nothing else: it goes for all the
numbers before it that have none."""


def named_by(field: Field, unit: str | None) -> bool:
    """Whether the card calls `field` by the unit ("volts")."""
    known = unit_words.names_of_many()
    words = (word for name in (*field.say, field.label) for word in name.lower().split())
    return any(word in known and unit in known[word].units for word in words)


def is_bare(row: Events, said: Said) -> bool:
    """Whether a number has neither a unit nor a noun behind it ("four dampers")."""
    if said.kind != "count" or said.mention.stage == "remarks":
        return False
    nouns = row.anchors_in(said.end, said.end + 3)
    return not any(
        isinstance(noun, Cue) and not row.text[said.end : noun.start].strip() for noun in nouns
    )


def around(row: Events, said: Said, field: Field) -> bool:
    """Whether what was found before, or else the next number of the sentence or the one before, has
    a unit that this bare number may share in `field`."""
    if field.unit is None or not is_bare(row, said):
        return False
    if found := _unit_found(said):
        return compatible(settled_unit(found, field), field.unit)
    if said.lent_units:
        return compatible(settled_unit(said.lent_units, field), field.unit)
    index = bisect_left(row.said, said.start, key=lambda each: each.start)
    for way in (1, -1):
        at = index + way
        while 0 <= at < len(row.said) and abs(at - index) < _LIST:
            other = row.said[at]
            if other.kind == "remark":
                at += way
                continue
            if not other.is_number:
                break
            first, last = sorted((said, other), key=lambda each: each.start)
            if row.breaks.between(first.end, last.start) == 2:
                between = row.anchors_in(first.end, last.start)
                if not between or not all(isinstance(anchor, Spot) for anchor in between):
                    break
            if units := other.units:
                if compatible(settled_unit(units, field), field.unit):
                    return True
                break
            at += way
    return False


def _unit_found(said: Said) -> tuple[str, ...]:
    """The unit in which was said what a bare number came from by work."""
    return said.found[-1].units if said.found and said.mention.unit is None else ()


def is_strange(said: Said, field: Field) -> bool:
    """Whether `field` takes no number of the unit in which the value found was said."""
    found = _unit_found(said)
    if field.type != "measurement" or field.unit is None:
        return bool(found) and field.type != "ratio"
    return bool(found) and not compatible(settled_unit(found, field), field.unit)
