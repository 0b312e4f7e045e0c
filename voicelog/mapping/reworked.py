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

from voicelog.mapping.fit import compatible
from voicelog.mapping.found_and_left import DEALT
from voicelog.mapping.row import PLAIN, Cue, Spot

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.mapping.placing import Placement
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Card, Field

_FOUND = frozenset({"as found", "as found weak"})
_LEFT = frozenset({"as left", "as left weak"})
_REACH = 5
"""Numbers before one as left among which the one as found is looked for."""
_LINKED = re.compile(r"\s+(?:(?:on|at|for|in)\s+(?:the\s+)?)?", re.IGNORECASE)
_NAMED = 300
"""Characters before a number in which its place is looked for."""
_PIECE = re.compile(r"[,.;:](?:\s+|\Z)|\s+(?:and|so|then|but)\s+", re.IGNORECASE)
_WORK = re.compile(
    r"\s*(?:(?:and|then|so|but|i|we|i['’]ve|we['’]ve|had|to|just|only)\s+)*"
    r"(?!(?:arrived|checked|climbed|compared|dropped|followed|jumped|looked|measured|moved\s+on|needed|passed|reached"
    r"|returned|showed|started|tested|tried|turned\s+out|used|waited|walked)\b)"
    r"(?:re)?(?:[a-z]{2,}ed|took|gave|given|put|wound|let|brought|drew|drove|ran|cut|got|slid|bent|ground|flew|did|blew"
    r"|bled|reset|set|built|swept)\b",
    re.IGNORECASE,
)
_FITTED = re.compile(
    r"(?:\b(?:an?|half\s+an?|another|one|two|three|four|five|six|some|more|\d+)(?:\s+[a-z]+)?"
    r"\s+(?:clicks?|flats?|notch(?:es)?|pumps?|shims?|strokes?|taps?|threads?|turns?|washers?)\b"
    r"|\b(?:new|fresh|another|clean)\s+[a-z]+(?:\s+[a-z]+){0,2}\s+(?:in|on|fitted)\b"
    r"|\b[a-z]+\s+(?:change[ds]?|on|swapped)\s*\Z|\bwent\s+(?:in|on|round)\b)",
    re.IGNORECASE,
)
""" "Two turns on the pushrod end", "nitrogen bottle on": work told without its verb."""
_TURNS = re.compile(
    r"\b(?:next|on\s+to|over\s+to|moved\s+on|went|the\s+other\s+(?:one|side))\b", re.IGNORECASE
)
""" "Moved on to the next, it's ...": told of another thing."""
_AFTER = (
    r"(?:after\s+(?:that|this|it|[a-z]+ing(?:\s+(?:it|that|them))?)|afterwards|later"
    r"|(?:an?|half\s+an|one|two|ten)\s+(?:hour|minute)s?\s+later|now|then)"
)
_SINCE = r"(?:after|once|since|when|with)\s+(?:[a-z'’-]+\s+){1,6}?"
""" "Since the new valve went in she's steady on"."""
_WITH_IT = re.compile(r"\s*(?:(?:and|so|but)[\s,]+)*" + _SINCE, re.IGNORECASE)
_IT_CAME_TO = re.compile(
    r"\s*(?:(?:and|so|but|" + _AFTER + r")[\s,]+|" + _SINCE + r")*"
    r"(?P<it>(?:it|she|he|they)(?:['’](?:s|re)|\s+[a-z]+)|that\s+time|second\s+(?:go|time|try))"
    r"(?:\s+[a-z'’-]+){0,4}\s*\Z",
    re.IGNORECASE,
)
""" "It gave", "she's steady on": told of what was worked on, whatever the verb."""
_IT_IS = re.compile(
    r"\s*(?:(?:and|so|but|" + _AFTER + r")[\s,]+)*"
    r"(?:(?:it|they|(?:that|this)(?:\s+one)?)(?:['’](?:s|re)|\s+)\s*|(?=reads|shows|opens|trips|is\b|takes|now\b))"
    r"(?:(?:again|all|already|at|back|came|comes?|down|dropped|fell|gives?|has|is|are|just|now|on|only|opens|out|reading"
    r"|reads?|rose|showing|shows?|sits|sitting|takes|to|trips|up|was|went|were)\s+)*\Z",
    re.IGNORECASE,
)
""" "And after that it was down to", "now it's at": the same thing is told of again."""
_WAS = re.compile(
    r"\b(?:was|were|had|came|gave|made|measured|only|read|sat|showed|stood|started)\b",
    re.IGNORECASE,
)
_AT_FIRST = re.compile(
    r"[\s,]+(?:(?:as|when|before)\s+(?:i|we)\b|this\s+morning|to\s+(?:start|begin)\s+with|at\s+first)",
    re.IGNORECASE,
)
_IS = re.compile(
    r"['’](?:s|re)\b|\b(?:is|are|reads|shows|opens|trips|takes)\b"
    r"|\b(?:came|dropped|fell|rose|went)\s+(?:(?:back|down|up)\s+)*to\b",
    re.IGNORECASE,
)
_MARK = re.compile(r"\b(?:" + _AFTER + r"|again|back)\b", re.IGNORECASE)
_MARK_BEHIND = re.compile(r"\s+(?:now|again|afterwards|after\s+(?:that|it))\b", re.IGNORECASE)
_AGAIN = re.compile(r"\bagain[\s,]*(?:(?:and|so|then)[\s,]*)*\Z", re.IGNORECASE)
_UP = re.compile(r"\s+(?:up|down|back|again|round|and)\b|\s*,", re.IGNORECASE)
""" "Took three up again": the third, and not three of anything."""

_JUDGED = re.compile(r"\b(?:it|that|this|which)(?:['’]s|\s+(?:is|was))\b", re.IGNORECASE)
_TO = re.compile(r"\b(?:to|at)\s+\Z", re.IGNORECASE)
_UP_TO = re.compile(r"\bto\s+\Z", re.IGNORECASE)
_TOLD_OF_IT = re.compile(
    r"\s*(?:(?:and|so|but|" + _AFTER + r")[\s,]+)*(?:it|they|that)\b", re.IGNORECASE
)


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
        counted = [each for each in before if _is_amount(row, each)]
        alike = [each for each in before if each not in counted and _is_alike(each, left)]
        work = _worked_to(row, alike[-1], left) if alike else []
        if not work and alike and _told_again(row, alike[-1], left):
            work = _work(row, alike[-1].end, left)
        if not work:
            continue
        left.found = _candidates(row, alike, work[0][0])
        spot = _place(row, work, left, counted, fields)
        _forget(row, work, left, spot, fields)
        left.tags -= _FOUND
        left.tags.add("as left")
        if spot is not None:
            left.spot = spot
    for each in row.aside:
        _doubt_before(row, each, numbers)


def _candidates(row: Events, alike: Sequence[Said], until: int) -> tuple[Said, ...]:
    """Those of the values before that may be the one as found: not what "is" so, nor the rest of
    a list when only the last of it "was" so, or was judged ("that's over")."""
    last = alike[-1]
    if _JUDGED.search(row.text, last.end, until):
        return (last,)
    if _FOUND & last.tags and not any(_FOUND & each.tags for each in alike[:-1]):
        tried = [each for each in alike if each.found]
        return (*tried, last)
    earlier = [
        each
        for each in alike[:-1]
        if each.tags or not _IS.search(row.text, row.clause_start(each.start), each.start)
    ]
    return (*earlier, last)


def _doubt_before(row: Events, aside: Said, numbers: Sequence[Said]) -> None:
    """Ask about a value behind which work, and what it came to, were told of in talk that is no
    finding: "... tightened it, it's supposed to be thirty now"."""
    before = [each for each in numbers if each.end <= aside.start]
    if not aside.is_number or not before or not _is_alike(before[-1], aside):
        return
    begin = _lead(row, before[-1].end, aside.start)
    if _TOLD_OF_IT.match(row.text, begin, aside.start) and _work(row, before[-1].end, aside):
        before[-1].doubts.append("two_values")


def _is_alike(one: Said, other: Said) -> bool:
    units = one.mention.unit, other.mention.unit
    return None in units or compatible(units[0] or "", units[1] or "")


def _is_amount(row: Events, said: Said) -> bool:
    """Whether a bare number tells how much was done, or to which of the places."""
    fitted = _FITTED.match(row.text, said.start)
    if fitted is not None and fitted.end() >= said.end:
        return True
    if said.mention.unit is not None or (said.tags and _place_meant(row, said) is None):
        return False
    return (
        _WORK.match(row.text, _lead(row, max(0, said.start - _NAMED), said.start), said.start)
        is not None
    )


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


def _lead(row: Events, since: int, at: int) -> int:
    """Where the last piece of the talk between two places begins."""
    cuts = [cut.end() for cut in _PIECE.finditer(row.text, since, at)]
    return cuts[-1] if cuts else since


def _worked_to(row: Events, found: Said, left: Said) -> list[tuple[int, int]]:
    """The work that is told with the number which it came to: "was six hundred inch pounds when I
    broke it. Torqued back up to six ninety"."""
    begin = _lead(row, found.end, left.start)
    alike = left.mention.unit is None and found.mention.unit is not None
    was = bool(_FOUND & found.tags) and _UP_TO.search(row.text, begin, left.start) is not None
    behind = row.anchors_in(left.end, row.breaks.sentence_end(left.end, len(row.text)))
    was = was and not any(isinstance(each, Spot) for each in behind)
    if (
        not (was or ("as left" in left.tags and alike))
        or row.anchors_in(begin, left.start)
        or _TURNS.search(row.text, found.end, begin)
    ):
        return []
    work = begin, left.start
    return [work] if _WORK.match(row.text, *work) else []


def _told_again(row: Events, found: Said, left: Said) -> bool:
    """Whether a number is told of the same thing as one before, after something was done."""
    begin = _lead(row, found.end, left.start)
    lead = row.text[begin : left.start]
    behind = _MARK_BEHIND.match(row.text, left.end) is not None
    marked = behind or _MARK.search(lead) is not None
    again = _AGAIN.search(row.text, found.end, begin) is not None
    if not lead.strip():
        return behind or again
    came_to = _IT_CAME_TO.match(lead)
    if row.anchors_in(begin + (came_to.start("it") if came_to else 0), left.start):
        return False
    past = (
        bool(_FOUND & found.tags)
        or _WAS.search(row.text, row.clause_start(found.start), found.start) is not None
        or _AT_FIRST.match(row.text, found.end) is not None
    )
    if _IT_IS.match(lead) is None:
        return past and came_to is not None
    return marked or again or (past and _IS.search(lead) is not None)


def _work(row: Events, since: int, left: Said) -> list[tuple[int, int]]:
    """The pieces of the talk that tell what was done, none when it turned to another thing."""
    end = _lead(row, since, left.start)
    if _TURNS.search(row.text, since, end):
        return []
    pieces, start = [], since
    for cut in _PIECE.finditer(row.text, since, end):
        pieces.append((start, cut.start()))
        start = cut.end()
    pieces.append((start, left.start))
    return [
        (first, last)
        for first, last in pieces
        if any(
            each(row.text, first, last) for each in (_WORK.match, _FITTED.search, _WITH_IT.match)
        )
    ]


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
    begin = _lead(row, left.found[-1].end, left.start)
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
    for anchor in _named(row, work):
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
        if not anchor.in_spot and any(_takes(each, left) for each in fields if each.name in named):
            left.doubts.append("ambiguous_place")


def doubt(placements: Sequence[Placement]) -> None:
    """Ask about the values as found when the one that work came to took the place of none of
    them, or, with no place named again, may have taken that of another."""
    by_said = {id(each.said): each for each in placements}
    for left in placements:
        found = [by_said[id(each)] for each in left.said.found if id(each) in by_said]
        keys = [_keys(each) for each in found]
        own = _keys(left)
        told = left.said.spot is not None or len({frozenset(each) for each in keys if each}) < 2
        dealt = DEALT in left.said.tags and all(DEALT in each.said.tags for each in found)
        if found and not dealt and not (told and any(each & own for each in keys)):
            for each in (left, *found):
                if each.targets:
                    each.said.doubts.append("ambiguous_place")


def _keys(placement: Placement) -> set[tuple[object, str | None]]:
    return {(target.place, at) for target in placement.targets for at in target.positions}
