"""Lists: values dealt out to positions that were named together.

"Bolts one to four: ninety eight, ninety nine, one hundred, ninety eight" gives each bolt its
own value when there are as many values as positions; a single value goes to all of them.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping import onward
from voicelog.mapping.adjusted import FOUND, LEFT
from voicelog.mapping.list_runs import runs_of
from voicelog.mapping.row import Cue, Said, Spot
from voicelog.objects import Interval

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.mapping.row import Events
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Place


def deal(row: Events, fields: Mapping[Place, Field]) -> None:
    """Give each value of a list its own position, where the counts agree."""
    dealt = onward.deal(row, fields)
    anchors = [anchor for anchor in row.anchors if not anchor.dropped]
    starts = [anchor.start for anchor in anchors]
    for run in runs_of(row, starts):
        if len(run) < 2 or run[0] in dealt:
            continue
        spot = _spot_before(row, anchors, starts, run)
        if spot is None or len(spot.names) < 2:
            after = _spot_after(row, anchors, starts, run)
            if spot is not None and after is not None and _beside(row, spot, run[0]):
                for said in run:  # "theatre twenty two and eighteen in the prep room and scrub bay"
                    said.doubts.append("list_length")
                continue
            spot = after or spot
        if spot is None or (
            len(spot.names) == 1 and row.breaks.between(spot.end, run[0].start) == 2
        ):
            spot = _every_place(row, anchors, starts, run, fields) or spot
        if LEFT & run[0].tags and (spot is None or spot.end < run[0].start):
            spot = _as_found(row, anchors, starts, run) or spot
        if spot is None or len(spot.names) < 2:
            continue
        _give(row, spot, run)
        if run[0].spot and (spot.start > run[0].start or spot.mentions[0].kind == "term"):
            _name_all(row, anchors, starts, run)


def _give(row: Events, spot: Spot, run: Sequence[Said]) -> None:
    """Give each value of a list its own one of the places, or ask about all of them."""
    told = any(_is_talk(row, one, other) for one, other in pairwise(run))
    told = told or _unevenly_parted(row, run)
    if len(spot.names) == len(run) and not told and not _apart(row, spot, run):
        for said, name in zip(run, spot.names, strict=True):
            said.spot = Spot(spot.start, spot.end, (name,), spot.mentions, spot.words, spot.doubts)
    else:
        for said in run:
            said.doubts.append("list_length")


def _is_talk(row: Events, one: Said, other: Said) -> bool:
    """Whether something is told between two values, but for one that was taken back."""
    at = bisect_left(row.said, one.end, key=lambda each: each.start)
    back = row.said[at : bisect_left(row.said, other.start, key=lambda each: each.start)]
    start = max((each.end for each in back if each.dropped), default=one.end)
    if start > one.end:
        words = row.words_in(start, other.start)
        start = max((each.end for each in words if each.value in _REPAIRS), default=start)
    return row.unexplained(start, other.start, start)


_REPAIRS = frozenset({"correction", "slip"})


def _name_all(
    row: Events, anchors: list[Cue | Spot], starts: list[int], run: Sequence[Said]
) -> None:
    """What is named ahead of a list is the name of every value: "heights 210, 212 and 208, that's
    corners A, B and C"."""
    begin = row.breaks.sentence_start(run[0].start)
    named = anchors[bisect_left(starts, begin) : bisect_left(starts, run[0].start)]
    cues = (each for each in reversed(named) if isinstance(each, Cue) and not each.in_spot)
    name = next((cue for cue in cues if cue.plainest >= _PLAINLY), None)
    told = any(not cue.in_spot and cue.plainest >= _PLAINLY for cue in run[0].inner)
    if name is not None and not told:
        for said in run[1:]:
            said.inner.append(name)


_PLAINLY = 0.7


def _apart(row: Events, spot: Spot, run: Sequence[Said]) -> bool:
    """Whether the first value is complete in itself and goes to all of the positions.

    "One and three ninety bar, two eighty seven bar": each value has its unit, and the first
    follows its positions without a pause; a list has its unit once, or begins with a pause.
    """
    each_has_unit = all(said.kind == "quantity" for said in run)
    follows = spot.end <= run[0].start and not row.breaks.between(spot.end, run[0].start)
    return (each_has_unit and follows) or _EACH.search(row.text, spot.end, run[0].start) is not None


_EACH = re.compile(r"\b(?:both|each)\b", re.IGNORECASE)


def _beside(row: Events, spot: Spot, first: Said) -> bool:
    """Whether a value stands right behind a place that is its own."""
    return len(spot.names) == 1 and not row.text[spot.end : first.start].strip()


_IN_ORDER = re.compile(
    r"[\s,]*(?:(?:all|both)\s+)?(?:in\s+)?(?:(?:the|that)\s+)?(?:same\s+)?(?:order|sequence)\b|[\s,]*respectively\b",
    re.IGNORECASE,
)
"""Behind a list it says that the places are those of the list before, or of the card."""
_FEW = 3
"""Values of a list of which each has its pause, or none."""
_PARTED = re.compile(r"[,;.&-]|\b(?:and|or|then)\b", re.IGNORECASE)


def _unevenly_parted(row: Events, run: Sequence[Said]) -> bool:
    """Whether a pause parts some of the values, and none two others: "nought point five, forty six
    nought point eight", "..., forty six is nought point eight" are no three values of one list.
    Where there are more, a pause was lost."""
    if len(run) > _FEW:
        return False
    gaps = [row.text[one.end : other.start] for one, other in pairwise(run)]
    parted = [_PARTED.search(gap) is not None for gap in gaps]
    return any("," in gap for gap in gaps) and not all(parted)


def _every_place(
    row: Events,
    anchors: list[Cue | Spot],
    starts: list[int],
    run: list[Said],
    fields: Mapping[Place, Field],
) -> Spot | None:
    """ "Batteries: 26.1 and 25.9": as many values as the field has places, in the card's order."""
    order = _AHEAD.search(row.text, max(0, run[0].start - _ORDER), run[0].start)
    index = bisect_left(starts, run[0].start if order is None else order.start()) - 1
    cue = anchors[index] if index >= 0 else None
    if not isinstance(cue, Cue):
        return None
    if row.breaks.between(cue.end, run[0].start) == 2:
        return None
    step = run[0].step
    here = {place: plain for place, plain in cue.places.items() if place[0] == step}
    least = 0.5 if cue.plural and here else 0.7 if cue.plural else 0.9
    named = here if step and least < 0.7 else cue.places
    lists = [fields[p] for p, plain in named.items() if plain >= least and fields[p].positions]
    if len({each.positions for each in lists}) != 1 or len(lists[0].positions) != len(run):
        return None
    places = lists[0].positions
    turned = _beginning_with(row, run, places)
    told = turned or _in_order(row, cue, anchors[index + 1 :][:1], run, places)
    doubts = (*("position_unsaid",) * (not told), *("misheard_term",) * cue.near)
    return Spot(cue.start, cue.end, turned or places, (cue.mention,), doubts=doubts)


_FIRST = re.compile(r"\s+(?:(?:one|side)\s+)?first\b", re.IGNORECASE)


def _beginning_with(row: Events, run: list[Said], places: Sequence[str]) -> tuple[str, ...]:
    """ "Linings six and five millimetres, port first": both places, from the one that is named."""
    end = row.breaks.sentence_end(run[-1].end, len(row.text))
    spot = next((a for a in row.anchors_in(run[-1].end, end) if isinstance(a, Spot)), None)
    if spot is None or len(spot.names) != 1 or not {*spot.names} < {*places} or len(places) > 2:
        return ()
    apart = row.text[run[-1].end : spot.start].strip(" ,").lower() in {"", "with", "the"}
    if not apart or not _FIRST.match(row.text, spot.end):
        return ()
    spot.dropped = True
    return (*spot.names, *(name for name in places if name not in spot.names))


_BEHIND = re.compile(
    r"[\s,]*(?:(?:that['’]s|that\s+is|being|for|on|at)\s+)?(?:the\s+)?", re.IGNORECASE
)
_AHEAD = re.compile(
    r"(?<!\bnot\s)\bin\s+(?:(?!no\b)[\w'’-]+\s+){0,2}(?:order|sequence)\b[\s,:]*\Z", re.IGNORECASE
)
""" "In order", "in the card's order", "widths in blade order"."""
_ORDER = 40
"""Characters of it, at most."""


def _in_order(
    row: Events,
    cue: Cue,
    behind: Sequence[Cue | Spot],
    run: list[Said],
    positions: Sequence[str],
) -> bool:
    """Whether it was said that the values are those of all the places, one after the other:
    "bearings from one to five: ...", "pads in order, ...", "..., that's stations one to three in
    that order"."""
    if _IN_ORDER.match(row.text, run[-1].end) or _AHEAD.search(row.text, cue.end, run[0].start):
        return True
    at = bisect_left(row.said, run[0].start, key=lambda each: each.start)
    ahead = row.said[at - 1] if at else None
    if ahead is not None and ahead.start >= cue.end and isinstance(ahead.mention.value, Interval):
        ends = (str(ahead.mention.value.low), str(ahead.mention.value.high))
        named = row.text[ahead.start : ahead.end].lower().startswith("from ")
        return named and ahead.mention.unit is None and ends == (positions[0], positions[-1])
    spot = behind[0] if behind else None
    return (
        isinstance(spot, Spot)
        and tuple(spot.names) == tuple(positions)
        and spot.start >= run[-1].end
        and _BEHIND.fullmatch(row.text, run[-1].end, spot.start) is not None
        and _IN_ORDER.match(row.text, spot.end) is not None
    )


def _as_found(
    row: Events, anchors: list[Cue | Spot], starts: list[int], run: list[Said]
) -> Spot | None:
    """ "As found 51, 53 and 49 on one, two and three; as left 62, 62 and 61": the places of what
    was found, in the same order, for as many values as left that have none of their own."""
    at = bisect_left(row.said, run[0].start, key=lambda each: each.start)
    found: list[Said] = []
    for each in reversed(row.said[:at]):
        if not (each.is_number and FOUND & each.tags) or each.dropped:
            break
        found.insert(0, each)
    if len(found) != len(run):
        return None
    dealt = [each.spot for each in found if each.spot is not None]
    before = row.said[at - len(run) - 1].end if at > len(run) else 0
    named = anchors[bisect_left(starts, before) : bisect_left(starts, run[0].start)]
    spots = dealt if len(dealt) == len(run) else [a for a in named if isinstance(a, Spot)]
    names = [name for spot in spots for name in spot.names]
    if len(names) != len(run) or len(set(names)) != len(run):
        return None
    told = _IN_ORDER.match(row.text, run[-1].end) is not None
    doubts = {doubt: None for spot in spots for doubt in spot.doubts}
    doubts |= {} if told else {"position_unsaid": None}
    mentions = tuple(mention for spot in spots for mention in spot.mentions)
    return Spot(
        spots[0].start, spots[-1].end, tuple(names), mentions, spots[0].words, tuple(doubts)
    )


_THOSE_ARE = re.compile(
    r"[\s,.;]*\b(?:that(?:['’]?s|\s+is)?|(?:those|these)\s+are|being|(?:taken\s+)?(?:on|at|for|in)(?:\s+the)?)\b",
    re.IGNORECASE,
)
"""Behind a list it leads to the places of its values."""
_LINKS = frozenset({"on", "for", "at", "in"})
_OR = re.compile(r"\b(?:or|nor)\b", re.IGNORECASE)
_OF_THESE = re.compile(r"\s*(?:(?:on|of|for|at)\s+)?(?:the\s+)?", re.IGNORECASE)


def _spot_after(
    row: Events, anchors: list[Cue | Spot], starts: list[int], run: list[Said]
) -> Spot | None:
    """ "Ninety eight, ninety nine and one hundred on bolts one to three", "252, 251 and 248, that's
    spring height front left, front right and rear": the places behind, as many as values. What is
    named with them is the name of every value."""
    index = bisect_left(starts, run[-1].end)
    spots: list[Spot] = []
    for anchor in anchors[index : index + len(run) + 2]:
        joined = row.text[spots[-1].end : anchor.start].strip(" ,").lower() if spots else ""
        if spots and (joined not in {"", "and", "then"} or not isinstance(anchor, Spot)):
            break
        if isinstance(anchor, Spot):
            spots.append(anchor)
    names = [name for spot in spots for name in spot.names]
    if len(names) != len(run) or len(set(names)) != len(run):
        return None
    if _OR.search(row.text, spots[0].start, spots[-1].end):
        return None  # "..., rope three has four, none on two or four": both have the last value
    cues = anchors[index : anchors.index(spots[0])]
    between = row.text[run[-1].end : spots[0].start]
    for cue in cues:
        between = between.replace(row.text[cue.start : cue.end], " ")
    words = re.findall(r"\w+", between.lower())
    linked = len(words) <= 4 and not _LINKS.isdisjoint(words)
    linked = linked or _THOSE_ARE.match(row.text, run[-1].end) is not None
    if not linked and (words or not _is_all(row, run, spots[-1])):
        return None
    end = spots[-1].end
    behind = row.anchors_in(end, row.breaks.clause_end(end, len(row.text)))
    cues += [each for each in behind if _OF_THESE.fullmatch(row.text, end, each.start)]
    for said in run:
        said.inner.extend(cue for cue in cues if isinstance(cue, Cue))
    doubts = {doubt: None for spot in spots for doubt in spot.doubts}
    mentions = tuple(mention for spot in spots for mention in spot.mentions)
    return Spot(
        spots[0].start, spots[-1].end, tuple(names), mentions, spots[0].words, tuple(doubts)
    )


def _is_all(row: Events, run: list[Said], last: Spot) -> bool:
    """Whether a sentence holds the values of one list, no place but those behind it up to `last`,
    and no other number but with a name of its own."""
    start = row.breaks.sentence_start(run[0].start)
    end = row.breaks.sentence_end(last.end, len(row.text))
    clause = row.breaks.clause_end(last.end, len(row.text))
    others = (each.start for each in row.anchors_in(clause, end) if isinstance(each, Cue))
    end = min(others, default=end)
    numbers = [each for each in row.said if start <= each.start < end and not each.dropped]
    ahead = row.anchors_in(start, run[0].start)
    return len(numbers) == len(run) and not any(isinstance(each, Spot) for each in ahead)


def _spot_before(
    row: Events, anchors: list[Cue | Spot], starts: list[int], run: list[Said]
) -> Spot | None:
    """The positions named last before `run`, joined when named one after the other, unless those
    named last are as many as its values: "linings left, callipers one to six: ..."."""
    first = run[0]
    index = bisect_left(starts, first.start) - 1
    while index >= 0 and isinstance(anchors[index], Cue):
        index -= 1
        if bisect_left(starts, first.start) - index > 4:
            return None
    if index < 0:
        return None
    spot = anchors[index]
    if not isinstance(spot, Spot):
        return None
    at = bisect_left(row.said, first.start, key=lambda each: each.start)
    earlier = row.said[max(0, at - 4) : at]
    if any(not each.dropped and each.start >= spot.end for each in earlier):
        return None
    names = list(spot.names)
    while index > 0 and len(names) != len(run):
        before = anchors[index - 1]
        if isinstance(before, Cue) and before.in_spot:
            index -= 1
            continue
        if not isinstance(before, Spot):
            break
        between = row.text[before.end : spot.start].lower().strip(" ,")
        if between not in {"", "and"}:
            break
        names = [*before.names, *names]
        index -= 1
        spot = before
    return Spot(
        spot.start, spot.end, tuple(dict.fromkeys(names)), spot.mentions, spot.words, spot.doubts
    )
