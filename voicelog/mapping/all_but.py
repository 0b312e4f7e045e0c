"""All but: a value before "all except number two", and another behind it, which is that one's;
and some of them, where the others are named.

"Rear plugs sixteen thou, all except number two, eighteen thou." Common practice, no source.
"""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping.contrasted import LEAVES_OUT
from voicelog.mapping.row import ENDED, PLAIN, Cue, Spans, Spot
from voicelog.mapping.unit_fit import alike

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Place

_NOTHING = re.compile(r"[\s,:;–—-]*(?:on\s+)?", re.IGNORECASE)
_OF_IT = re.compile(
    r"[\s,.:;–—-]*(?:and\s+)?(?:(?:(?P<it>th(?:at|is|ose)(?:\s+ones?)?|it|they|which)"
    r"|one|(?:there\s+)?(?:i|we))\b|(?:is|at|was|are|were)\b|\Z)(?:[^.;]*\bonly\b)?",
    re.IGNORECASE,
)


def deal(row: Events, fields: Mapping[Place, Field]) -> None:
    """Give both values their places."""
    _deal_remarks(row, fields)
    numbers = [each for each in row.said if each.is_number and not each.dropped]
    for one, other in pairwise(numbers):
        talk = Spans(row.words_in(one.end, other.start))  # the "up" of "came up at" is no place
        named = (a for a in row.anchors_in(one.end, other.start) if isinstance(a, Spot))
        spots = [spot for spot in named if not talk.cover(spot.start, spot.end)]
        spot = spots[0] if len(spots) == 1 else None
        if spot is None or not LEAVES_OUT.match(spot.mentions[0].text) or not alike(one, other):
            continue
        apart = _NOTHING.fullmatch(row.text, one.end, spot.start) is not None
        apart = apart and _is_told_of(row, spot, other)
        ahead = row.anchors_in(row.breaks.sentence_start(one.start), one.start)
        left_out = _left_out(spot, _named(ahead, fields)) or _left_out(spot, fields)
        if apart and left_out and not any(isinstance(each, Spot) for each in ahead):
            others = further(row, other)
            kept = _of(spot, tuple(name for name in spot.names if name not in others))
            one.spot, other.spot = kept, _of(spot, left_out)
            spot.dropped = True


_AND = re.compile(r"\s*(?:,|,?\s+and\b)\s*(?:on\s+)?(?:the\s+)?", re.IGNORECASE)


def further(row: Events, new: Said | None) -> set[str]:
    """ "Except four at 230 and six at 218": the places that are excepted behind the first one, of
    which `new` is told, each with a value like that of the one before."""
    names: set[str] = set()
    if new is None:
        return names
    for said in row.said_in(new.end, row.breaks.sentence_end(new.end, len(row.text))):
        spots = [a for a in row.anchors_in(new.end, said.start) if isinstance(a, Spot)]
        joined = spots and _AND.fullmatch(row.text, new.end, spots[0].start)
        if not joined or not (new.is_number and said.is_number and alike(new, said)):
            break
        names.update(name for spot in spots for name in spot.names)
        new = said
    return names


def _is_told_of(row: Events, spot: Spot, other: Said) -> bool:
    """Whether a number goes on about the place that was left out: ", that one came up at 95",
    "There I got 95", ", it had a nail in it and was at 31"."""
    talk = Spans(row.words_in(spot.end, other.start))  # the "down" of "which is down to"
    between = row.anchors_in(spot.end, other.start)
    between = [each for each in between if not talk.cover(each.start, each.end)]
    if any(isinstance(each, Cue) and not each.in_spot for each in between):
        return False
    told = _OF_IT.match(row.text, spot.end, other.start)
    if told is None:
        return False
    if told["it"] and row.breaks.between(spot.end, other.start) < ENDED:
        return True
    return not row.unexplained(told.end(), other.start, since=told.end())


_OF_THAT = re.compile(
    r"[\s.;!]+(?:and\s+)?(?:th(?:at|is|ose)|it|they|which)(?:\s+(?:one|two|ones))?(?=['’\s])",
    re.IGNORECASE,
)
""" "... all but five. That one is cracked": the next sentence is about the exception."""


def _deal_remarks(row: Events, fields: Mapping[Place, Field]) -> None:
    """ "Turnbuckles fine, all but five, that one is cracked": what is told behind the exception,
    and names no other place or thing, is told of it."""
    remarks = [each for each in row.said if not each.dropped]
    for one, other in pairwise(remarks):
        between = row.anchors_in(one.end, other.start)
        spots = [a for a in between if isinstance(a, Spot)]
        if len(spots) != 1 or not LEAVES_OUT.match(spots[0].mentions[0].text):
            continue
        spot, left_out = spots[0], _left_out(spots[0], _spoken_of(row, one, fields))
        named = any(a.start >= spot.end and isinstance(a, Cue) and not a.in_spot for a in between)
        if not left_out or named or not _differs(one, other):
            continue
        if one.is_number and not _is_of_all(row, one, spot, left_out):
            continue
        apart = row.breaks.between(spot.end, other.start) == ENDED
        own = row.anchors_in(other.end, row.breaks.clause_end(other.end, len(row.text)))
        if (apart and not _OF_THAT.match(row.text, spot.end)) or own:
            continue
        one.spot, other.spot = spot, _of(spot, left_out)
        one.without |= set(left_out)
        spot.dropped = True


_LEAVES = frozenset({"bar", "but", "except", "excepting", "for", "from", "save", "than"})


def _is_of_all(row: Events, said: Said, spot: Spot, left_out: Sequence[str]) -> bool:
    """Whether a number right before "all except" is that of all: no place is named before it, and
    what is left out is no number of them ("all but two, they're sheared")."""
    words = row.text[spot.start : spot.end].lower().split()
    counted = left_out[0].isdigit() and words[-2:-1] != [] and words[-2] in _LEAVES
    begin = row.breaks.sentence_start(said.start)
    placed = any(isinstance(each, Spot) for each in row.anchors_in(begin, said.start))
    beside = _NOTHING.fullmatch(row.text, said.end, spot.start) is not None
    return beside and not counted and not placed


def _spoken_of(row: Events, said: Said, fields: Mapping[Place, Field]) -> Mapping[Place, Field]:
    """The fields that are named in the sentence before what is told, or all."""
    start = row.breaks.sentence_start(said.start)
    cues = [*said.inner, *(a for a in row.anchors_in(start, said.start) if isinstance(a, Cue))]
    named = {place for cue in cues if not cue.in_spot for place in cue.places}
    return {place: fields[place] for place in named if place in fields} or fields


_TOLD = frozenset({"remark", "term"})


def _differs(one: Said, other: Said) -> bool:
    """Whether another verdict, or another option, is told, or what hindered a value: "one fifteen,
    all except rear left, that's sheared"."""
    if one.is_number and other.kind == "remark":
        return other.mention.value == "fail"
    if not {one.kind, other.kind} <= _TOLD:
        return False
    return (one.option, one.mention.value) != (other.option, other.mention.value)


_SOME_OF = re.compile(
    r"\s+(?:out\s+)?of\s+(?:the\s+)?(?:(?P<all>[a-z]+|\d+)\b|them\b|those\b)", re.IGNORECASE
)


def deal_rest(row: Events, fields: Mapping[Place, Field]) -> None:
    """ "Three of the flippers stay up, the rear left drops": the three are those that were not
    named, where these make up the number of all places."""
    for said in [each for each in row.said if each.kind == "count" and not each.dropped]:
        some = _SOME_OF.match(row.text, said.end)
        number = str(said.mention.value)
        if some is None or not number.isdigit() or not _begins(row, said):
            continue
        end = row.breaks.sentence_end(said.end, len(row.text))
        spots = [a for a in row.anchors_in(some.end(), end) if isinstance(a, Spot)]
        if not spots or not row.breaks.between(some.end(), spots[0].start):
            continue
        named = {name for spot in spots for name in spot.names}
        places = {
            field.positions
            for at, field in fields.items()
            if said.step in {None, at[0]} and named < set(field.positions)
        }
        places = {each for each in places if len(each) == int(number) + len(named)}
        if len(places) != 1 or len(named) >= int(number) or not _differ(row, said, spots[0]):
            continue
        rest = tuple(name for name in places.pop() if name not in named)
        row.anchors.append(Spot(said.start, said.end, rest, (said.mention,)))
        row.anchors.sort(key=lambda anchor: (anchor.start, -anchor.end))
        for each in row.said_in(said.start, some.end()):
            each.dropped = each.dropped or each.kind == "count"


def _differ(row: Events, some: Said, spot: Spot) -> bool:
    """Whether something else is told of a place than of some of them: "three of the bolts were
    loose, number two by a full turn" tells of one of these."""
    told = row.said_in(some.end, spot.start)
    told = [
        e for e in told if e.kind != "count" or not _FIGURE.fullmatch(row.text, some.end, e.start)
    ]
    end = row.breaks.clause_end(spot.end, len(row.text))
    own = row.said_in(spot.end, end)
    if not told:
        return False
    one, other = told[-1], own[0] if own else None
    if other is None:  # "the rear left drops as soon as you let go of it"
        return one.mention.value == "pass" and not _MOST.search(row.text, spot.end, end)
    if one.is_number or other.is_number:
        return one.is_number and other.is_number and alike(one, other)
    return (one.option, one.mention.value) != (other.option, other.mention.value)


_MOST = re.compile(r"\b(?:best|worst|mostly|especially|included|too|as\s+well)\b", re.IGNORECASE)
_FIGURE = re.compile(r"\s+(?:out\s+)?of\s+(?:the\s+)?", re.IGNORECASE)
""" "Of the four": a number behind it tells how many there are."""


def _begins(row: Events, said: Said) -> bool:
    """Whether nothing is told before a number in its clause."""
    return not row.text[row.clause_start(said.start) : said.start].strip()


def _named(ahead: Sequence[Cue | Spot], fields: Mapping[Place, Field]) -> Mapping[Place, Field]:
    """The fields that are named `ahead` of a value."""
    named = {
        at
        for cue in ahead
        if isinstance(cue, Cue)
        for at, how in cue.places.items()
        if how >= PLAIN
    }
    return {at: fields[at] for at in named if at in fields}


def _left_out(spot: Spot, fields: Mapping[Place, Field]) -> tuple[str, ...]:
    """The places that are not among those of `spot`; nothing where fields differ in them."""
    names = set(spot.names)
    rests = {
        tuple(name for name in field.positions if name not in names)
        for field in fields.values()
        if names < set(field.positions)
    }
    return rests.pop() if len(rests) == 1 else ()


def _of(spot: Spot, names: tuple[str, ...]) -> Spot:
    return Spot(spot.start, spot.end, names, spot.mentions, spot.words, spot.doubts)
