"""Reworked: what it was, what was done about it, and what it is now.

"Drop was nought point seven bar, backwashed it until it ran clean, and after that it was down to
nought point two five": the value behind the work is the one that stands, at the place that was
worked on. Where several places may be meant, all of them are asked about. Common practice, no
source.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.mapping.found_and_left import DEALT
from voicelog.mapping.row import PLAIN, Cue, Spot
from voicelog.mapping.unit_fit import OTHER_SIZE, alike, compatible, far_apart
from voicelog.mapping.work_told import (
    AFTER,
    FITTED,
    FOUND,
    IS,
    came_of,
    is_seen_to,
    lead,
    pieces,
    told,
)
from voicelog.mapping.work_verbs import work as of_work

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Card, Field

_LEFT = frozenset({"as left", "as left weak"})
OF_UNITS = frozenset({"ambiguous_unit", "mil", "misheard_unit"})
"""Doubts that travel with a unit."""
_REACH = 5
"""Numbers before one as left among which the one as found is looked for."""
_LINKED = re.compile(r"\s+(?:(?:on|at|for|in)\s+(?:the\s+)?)?", re.IGNORECASE)
_NAMED = 300
"""Characters before a number in which its place is looked for."""
_UP = re.compile(r"\s+(?:up|down|back|again|round|and)\b|\s*,", re.IGNORECASE)
""" "Took three up again": the third, and not three of anything."""

_JUDGED = re.compile(r"\b(?:it|that|this|which)(?:['’]s|\s+(?:is|was))\b", re.IGNORECASE)
_IS_TOLD = re.compile(
    r"(?:['’]s|(?:\s+one)?\s+(?:is|was|were|had|has|came|read|reads|showed|shows|looked|gave))\b",
    re.IGNORECASE,
)
_TO = re.compile(r"\b(?:to|at)\s+\Z", re.IGNORECASE)
_TOLD_OF_IT = re.compile(
    r"\s*(?:(?:and|so|but|" + AFTER + r")[\s,]+)*(?:it|they|that)\b", re.IGNORECASE
)

_AGAIN = re.compile(
    r"[\s,.;]*(?:(?:and|i|so|then|we)\s+)*(?:(?:did|measured|read|tried)\s+(?:(?:it|that)\s+)?again"
    r"|repeated(?:\s+it)?|once\s+more)[\s,.;]*(?:(?:and|got|it|that)\s+)*",
    re.IGNORECASE,
)
""" "Did it again, six ninety": nothing was done about the value before."""


def mark(row: Events, card: Card) -> None:
    """Mark the numbers that work came to, with the ones that may be those as found."""
    fields = [field for step in card.steps for field in step.fields]
    numbers = [each for each in row.said if each.is_number and not each.dropped]
    for index, left in enumerate(numbers):
        if not index or "as found" in left.tags:
            continue
        before = [
            e
            for e in numbers[max(0, index - _REACH) : index]
            if e not in row.aside[-_REACH:] and "ordinal" not in e.mention.qualifiers
        ]
        unit = next((e.mention.unit for e in (left, *before) if e.mention.unit), None)
        counted = [each for each in before if _is_amount(row, each, unit)]
        akin = [each for each in before if each not in counted and alike(each, left)]
        known = akin and not _is_another(row, akin[-1], left, fields)
        known = known and not _of_another_place(row, akin[-1], left, fields)
        work = told(row, akin[-1], left) if known else []
        if not work:
            continue
        again = not FOUND & akin[-1].tags and all(_AGAIN.fullmatch(row.text, *e) for e in work)
        if again or came_of(row, akin[-1], left):
            left.doubts.append("two_values")  # either may be meant
        for each in (e for e in counted if _is_of_other_size(e, unit)):
            row.said.remove(each)
            row.aside.append(each)
        left.found = _candidates(row, akin, work[0][0])
        spot = _place(row, work, left, counted, fields)
        _forget(row, work, left, spot, fields)
        left.tags -= FOUND
        left.tags.add("as left")
        _share_unit(left)
        if spot is not None:
            left.spot = spot
    for each in row.aside:
        _doubt_before(row, each, numbers)


def _is_another(row: Events, found: Said, left: Said, fields: Sequence[Field]) -> bool:
    """ "It was eighteen degrees. Adjusted, four again pins in": whether a bare number stands with
    the name of a thing that has no value like the one before."""
    unit = found.mention.unit
    if left.mention.unit is not None or unit is None:
        return False
    start = lead(row, found.end, left.start)
    end = row.breaks.clause_end(left.end, len(row.text))
    cues = [each for each in row.anchors_in(start, end) if isinstance(each, Cue)]
    named = {place for cue in cues for place, plain in cue.places.items() if plain >= PLAIN}
    if left.step is not None:
        named = {place for place in named if place[0] == left.step}
    units = [each.unit for each in fields if each.name in {name for _, name in named}]
    return bool(units) and not any(each and compatible(each, unit) for each in units)


def _of_another_place(row: Events, found: Said, left: Said, fields: Sequence[Field]) -> bool:
    """ "Three is 32 ohms. Four was open circuit, fitted a new one and it's 30.5": whether another
    place than that of the value before was told of last, before the work."""
    own = found.spot or _place_of(row, found)
    spots = [a for a in row.anchors_in(found.end, left.start) if isinstance(a, Spot)]
    if own is None or own.start > found.start or not spots:
        return False
    last = spots[-1]
    told = _IS_TOLD.match(row.text, last.end) and row.breaks.between(found.end, last.start)
    apart = set(own.names).isdisjoint(last.names) and _go_together(own, last, fields)
    return bool(told) and apart


def _candidates(row: Events, akin: Sequence[Said], until: int) -> tuple[Said, ...]:
    """Those of the values before that may be the one as found: not what "is" so, nor the rest of
    a list when only the last of it "was" so, or was judged ("that's over")."""
    last = akin[-1]
    if _JUDGED.search(row.text, last.end, until):
        return (last,)
    if FOUND & last.tags and not any(FOUND & each.tags for each in akin[:-1]):
        tried = [each for each in akin if each.found]
        return (*tried, last)
    earlier = [
        each
        for each in akin[:-1]
        if each.tags or not IS.search(row.text, row.clause_start(each.start), each.start)
    ]
    return (*earlier, last)


def _doubt_before(row: Events, aside: Said, numbers: Sequence[Said]) -> None:
    """Ask about a value behind which work, and what it came to, were told of in talk that is no
    finding: "... tightened it, it's supposed to be thirty now"."""
    before = [each for each in numbers if each.end <= aside.start]
    if not aside.is_number or not before or not alike(before[-1], aside):
        return
    begin = lead(row, before[-1].end, aside.start)
    if _TOLD_OF_IT.match(row.text, begin, aside.start) and pieces(row, before[-1].end, aside):
        before[-1].doubts.append("two_values")


def _is_amount(row: Events, said: Said, usual: str | None) -> bool:
    """Whether a bare number, or a measure of another size than what came of it, tells how much was
    done, or a bare one to which of the places: "cut back twenty metres and measured 7.6 mm"."""
    fitted = FITTED.match(row.text, said.start)
    if fitted is not None and fitted.end() >= said.end:
        return True
    larger = _is_of_other_size(said, usual)
    if (said.mention.unit and not larger) or (said.tags and larger):
        return False
    if said.tags and _place_meant(row, said) is None:
        return False
    piece = lead(row, max(0, said.start - _NAMED), said.start), said.start
    return of_work().match(row.text, *piece) is not None or is_seen_to(row.text, *piece)


def _is_of_other_size(said: Said, usual: str | None) -> bool:
    """Whether a measure is of quite another size than those beside it: "twenty metres"."""
    unit = said.mention.unit
    akin = unit is not None and usual is not None and compatible(unit, usual)
    return akin and far_apart(unit or "", usual or "", OTHER_SIZE)


def _place_meant(row: Events, said: Said) -> Spot | None:
    """The place that a bare number stands for: "took three up again", "reset three and ..."."""
    name = str(said.mention.value)
    if _UP.match(row.text, said.end) is None or _TO.search(
        row.text, max(0, said.start - 8), said.start
    ):
        return None
    spots = (
        a for a in reversed(row.anchors_in(said.start - _NAMED, said.start)) if isinstance(a, Spot)
    )
    spot = next((each for each in spots if name in each.names), None)
    return None if spot is None else replace(spot, names=(name,))


def _place(
    row: Events,
    work: Sequence[tuple[int, int]],
    left: Said,
    counted: Sequence[Said],
    fields: Sequence[Field],
) -> Spot | None:
    """The place that was worked on, if it is named again, or the only one it may have been."""
    known = [
        a
        for a in row.anchors_in(left.found[0].start - _NAMED, left.found[-1].end + 1)
        if isinstance(a, Spot)
    ]
    spots = [a for a in _named(row, work) if isinstance(a, Spot) and len(a.names) == 1]
    spots = [a for a in spots if any(_go_together(a, each, fields) for each in known)]
    if spots:
        return spots[-1]
    for each in reversed(counted):
        meant = _place_meant(row, each)
        if meant is not None:
            row.said.remove(each)
            row.aside.append(each)
            if each.mention.text.lower() == "one":  # the first, or one of them
                for asked in (left, *left.found):
                    asked.doubts.append("ambiguous_place")
            return meant
    places = [each.spot or _place_of(row, each) for each in left.found]
    single = [spot for spot in places if spot is not None and len(spot.names) == 1]
    if not single or None in places or len({spot.names for spot in single}) > 1:
        return None
    return single[-1] if len(single) == len(places) or _is_one(row, left) else None


def _is_one(row: Events, left: Said) -> bool:
    """ "It is" tells of the one, not of the others."""
    begin = lead(row, left.found[-1].end, left.start)
    return re.search(r"\b(?:it|that)\b", row.text[begin : left.start], re.IGNORECASE) is not None


def _go_together(one: Spot, other: Spot, fields: Sequence[Field]) -> bool:
    """Whether two places are places of one field."""
    names = {*one.names, *other.names}
    return any(names <= set(field.positions) for field in fields)


def _place_of(row: Events, found: Said) -> Spot | None:
    """The one place named before a number, behind the number before it and not of that: "1.2 on
    port, depth was 19"."""
    index = row.said.index(found)
    start = row.said[index - 1].end if index else 0
    spots = [a for a in row.anchors_in(start, found.start) if isinstance(a, Spot)]
    if len(spots) != 1:
        return None
    closes = index and _LINKED.fullmatch(row.text, start, spots[0].start)
    return None if closes and row.breaks.between(spots[0].end, found.start) else spots[0]


def _named(row: Events, work: Sequence[tuple[int, int]]) -> Iterator[Cue | Spot]:
    for first, last in work:
        yield from (each for each in row.anchors_in(first, last) if not each.dropped)


def _tells_value(row: Events, piece: tuple[int, int], left: Said) -> bool:
    """ "Put the stroke up to 62 percent": the piece has a value of its own."""
    inside = (each for each in row.said if piece[0] <= each.start < min(piece[1], left.start))
    return any(each.mention.unit and not alike(each, left) for each in inside)


def _takes(field: Field, left: Said) -> bool:
    unit = left.mention.unit or left.found[-1].mention.unit
    return unit is None or (field.unit is not None and compatible(unit, field.unit))


def _forget(
    row: Events,
    work: Sequence[tuple[int, int]],
    left: Said,
    spot: Spot | None,
    fields: Sequence[Field],
) -> None:
    """What was worked on names no field of the value that came of it, which is asked about if it
    may."""
    for anchor in _named(row, [each for each in work if not _tells_value(row, each, left)]):
        if isinstance(anchor, Spot):
            anchor.dropped = anchor.dropped or anchor is not spot
            continue
        if any(-1 <= anchor.start - each.end <= 1 for each in row.said if each.is_number):
            continue  # "added two shims": a count of its own
        anchor.dropped = True
        named = [
            place[1]
            for place, plain in anchor.places.items()
            if plain >= PLAIN and left.step in {None, place[0]}
        ]
        takers = [each for each in fields if each.name in named and _takes(each, left)]
        if not anchor.in_spot and takers and not _had_it(row, left, takers, fields):
            left.doubts.append("ambiguous_place")


def _had_it(row: Events, left: Said, named: Sequence[Field], fields: Sequence[Field]) -> bool:
    """Whether the thing worked on is the one that the value before was of, as its place tells:
    "bottom right was down to three millimetres, new liner fitted, eight"."""
    found = left.found[-1]
    ahead = row.anchors_in(row.breaks.sentence_start(found.start), found.start)
    last = [each for each in ahead if isinstance(each, Cue) and each.plainest >= PLAIN][-1:]
    if last and {each.name for each in named} <= {place[1] for place in last[0].places}:
        return True  # "chain length was 1017, put a new length of chain in"
    spot = _place_of(row, found)
    if spot is None:
        return False
    placed = [each for each in fields if spot.names and set(spot.names) <= set(each.positions)]
    return [each for each in placed if _takes(each, left)] == list(named)


def _share_unit(left: Said) -> None:
    """ "Had sunk to 655 mm, tipped in forty bags and it's 730 now": in the unit that it had."""
    found = left.found[-1].mention
    if left.kind != "count" or found.kind != "quantity" or found.unit is None:
        return
    open_ = {each for each in found.qualifiers if each.startswith("unit:")}
    doubts = (each for each in found.doubts if each in OF_UNITS)
    left.mention = replace(
        left.mention,
        kind="quantity",
        unit=found.unit,
        qualifiers=left.mention.qualifiers | open_,
        doubts=(*left.mention.doubts, *doubts),
    )


def doubt(row: Events, placements: Sequence[Placement]) -> None:
    """Ask about the values as found when the one that work came to took the place of none of
    them, or, with no place named again, may have taken that of another."""
    by_said = {id(each.said): each for each in placements}
    for left in placements:
        found = [by_said[id(each)] for each in left.said.found if id(each) in by_said]
        keys = [_keys(each) for each in found]
        own = _keys(left)
        told = left.said.spot is not None or len({frozenset(each) for each in keys if each}) < 2
        dealt = DEALT in left.said.tags and all(DEALT in each.said.tags for each in found)
        settled = dealt or _goes_on_from_the_last(row, left, found)
        if found and keys[-1] & own:  # as sure of its place as what it came of
            left.margin = max(left.margin, found[-1].margin)
        if found and not settled and not (told and any(each & own for each in keys)):
            for each in (left, *found):
                if each.targets:
                    each.said.doubts.append("ambiguous_place")


def _goes_on_from_the_last(row: Events, left: Placement, found: Sequence[Placement]) -> bool:
    """Whether work came to it from the value of the same place right before, in one sentence:
    "bolt five was nine hundred, pulled up to twelve hundred"."""
    before = [each for each in found if each.said.end <= left.said.start]
    last = max(before, key=lambda each: each.said.start, default=None)
    return (
        last is not None
        and row.breaks.between(last.said.end, left.said.start) < 2
        and bool(_keys(last) & _keys(left))
    )


def _keys(placement: Placement) -> set[tuple[object, str | None]]:
    return {(target.place, at) for target in placement.targets for at in target.positions}
