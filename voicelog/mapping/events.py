"""Events: a reading becomes the row of a note, and overlaps are settled.

What lies inside a longer name is part of that name; what lies inside an aside is no finding.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from dataclasses import replace
from operator import attrgetter
from typing import TYPE_CHECKING

from voicelog.mapping import (
    chosen,
    circumstances,
    joined_names,
    judged,
    lent,
    nothing,
    openers,
    repeats,
    standing,
    titles,
    totals,
    up_and_down,
    verbs,
)
from voicelog.mapping import spots as spots_of
from voicelog.mapping.row import Breaks, Cue, Events, Said, Spans, Spot
from voicelog.mapping.spots import cues_near, field_at
from voicelog.mapping.unit_fit import compatible
from voicelog.reading import lost_colons
from voicelog.reading.asides import KINDS as ASIDES
from voicelog.reading.labels import OWN
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from voicelog.objects import Card, Mention, Reading
    from voicelog.reading.lexicon import Lexicon

_STAGES = frozenset({"as found", "as left"})
"""Words that tell what a value is, in the name of its field, too: "load as left, spring two"."""
VALUES = frozenset({"quantity", "count", "ratio", "range", "identifier", "date", "time"})


def _option_terms(lexicon: Lexicon) -> set[str]:
    return {canonical for chosen in lexicon.options.values() for canonical in chosen}


def _cues(terms: Sequence[Mention], lexicon: Lexicon, within: Spans) -> list[Cue]:
    cues = []
    for term in terms:
        places = lexicon.places.get(str(term.value))
        if places and not within.cover(term.start, term.end):
            near = "near" in term.qualifiers
            words = term.text.lower().split()
            # "pulleys all free" speaks of many, though the card writes it as one statement
            heads = words if str(term.value) in lexicon.statements else words[-1:]
            plural = any(word.endswith("s") and not word.endswith("ss") for word in heads)
            cues.append(Cue(term.start, term.end, str(term.value), places, term, near, plural))
    return cues


def _is_unit(cue: Cue, card: Card, quantities: Iterable[Mention]) -> bool:
    """Whether a word of one of `quantities` names nothing: "twelve minutes" are not those of a
    count of drops a minute, nor is "5.1 bar" the guide bar that returns."""
    held = [each.unit for each in quantities if each.start <= cue.start and cue.end <= each.end]
    named = [each for place in cue.places if (each := field_at(card, place)) is not None]
    measured = any(
        one and each.unit and compatible(one, each.unit) for one in held for each in named
    )
    if measured and cue.plainest <= OWN:  # "95 rpm" where several fields of the step are in rpm
        steps = {place[0] for place in cue.places}
        others = (
            each
            for step in card.steps
            for each in step.fields
            if step.number in steps and (step.number, each.name) not in cue.places and each.unit
        )
        return any(one and compatible(one, each.unit or "") for each in others for one in held)
    told = all(each.type in {"check", "choice"} or each.unit for each in named)
    return bool(held) and (cue.plainest <= OWN or told) and not measured


def _in_full(cue: Cue, text: str) -> Mention:
    """The words of a name, with the full stop where it is written short: "journal dia. on A"."""
    mention, after = cue.mention, text[cue.end : cue.end + 3].rstrip()
    short = cue.canonical.endswith(".") and after[:1] == "." and after[-1].islower()
    return replace(mention, end=cue.end + 1) if short else mention


def _names(
    by_kind: dict[str, list[Mention]], numbers: Spans, card: Card, lexicon: Lexicon, text: str
) -> list[Cue]:
    """All that names fields in a note, in the order of the text."""
    solid = Spans(mention for kind in ("identifier", "date") for mention in by_kind.get(kind, ()))
    measured = by_kind.get("quantity", ())
    quantities = Spans(measured)
    cues = [
        cue
        for cue in _cues(by_kind.get("term", []), lexicon, solid)
        if not (quantities.cover(cue.start, cue.end) and _is_unit(cue, card, measured))
        and not (numbers.cover(cue.start, cue.end) and cue.mention.text.lower() == "point")
        and (cue.canonical not in lexicon.brought or verbs.brought_to(cue, numbers, text))
    ]
    cues = [*joined_names.join(cues, text, card), *circumstances.take(by_kind, text, card)]
    return sorted(cues, key=attrgetter("start"))


def build(reading: Reading, card: Card, lexicon: Lexicon, step: str | None) -> Events:
    """The events of `reading` in the order of the text."""
    text = reading.transcript.text
    by_kind: dict[str, list[Mention]] = {}
    for mention in reading.mentions:
        by_kind.setdefault(mention.kind, []).append(mention)
    procedure = by_kind.get("procedure", [])
    asides = Spans(mention for mention in procedure if mention.value in ASIDES)
    numbers = Spans((*by_kind.get("count", ()), *by_kind.get("quantity", ())))
    cues = _names(by_kind, numbers, card, lexicon, text)
    moves = [(0, step)] if step is not None else []
    unknown = []
    for mention in by_kind.get("step", ()):
        if card.step(str(mention.value)) is not None:
            moves.append((mention.start, str(mention.value)))
        else:
            unknown.append(mention)
    spots = spots_of.in_full(
        spots_of.find(by_kind.get("position", ()), card), cues, card, moves, text
    )
    spots = spots_of.without_particles(spots_of.without_names(spots, cues, card, moves), text)
    spots, counted = spots_of.without_counts(spots, cues, card, text)
    by_kind["count"] = [*by_kind.get("count", ()), *counted]
    in_spots = Spans(mention for spot in spots for mention in spot.mentions)
    spots_of.mark(cues, spots, card)
    terms = by_kind.get("term", [])
    by_kind["term"] = _without_strange_options(terms, in_spots, moves, lexicon)
    names = Spans(_in_full(cue, text) for cue in cues if not cue.near)
    breaks = Breaks.of(lost_colons.mended(text), names)
    said = verbs.without_verbs(_said(by_kind, cues, card, lexicon, text), cues, card, text)
    said = judged.named_only(
        spots_of.without_places(said, spots, cues, card, text), cues, spots, breaks, text
    )
    up_and_down.name(said, cues, in_spots, text, card)
    totals.tag(said, text)
    repeats.enter(said, procedure, cues, spots, text)
    nothing.enter(said, cues, spots, breaks, card, text)
    taken = Spans(each.mention for each in said if each.kind == "remark")
    inner = {id(cue) for each in said for cue in each.inner}
    anchors: list[Cue | Spot] = [
        *(cue for cue in cues if id(cue) not in inner),
        *(s for s in spots if not taken.cover(s.start, s.end) or totals.is_of_all(s.start, text)),
    ]
    # what is quoted, and a value of another time, still tells what the talk is about
    talk_only = Spans(m for m in procedure if m.value in ASIDES - {"limit", "quoted", "past"})
    quoting = {m.start for m in procedure if m.value == "limit" and numbers.touch(m.start, m.end)}
    wished = Spans(m for m in procedure if m.value == "limit" and m.start not in quoting)
    anchors = [
        anchor
        for anchor in anchors
        if not talk_only.cover(anchor.start, anchor.end)
        and (anchor.start not in quoting or isinstance(anchor, Spot))  # "limit one point eight"
        and not _is_said_in_passing(anchor, wished)
    ]
    anchors.sort(key=lambda anchor: (anchor.start, -anchor.end))
    anchors = openers.without(anchors, said, breaks, card, text)
    steps = [at for at, _ in moves]
    for each in said:
        index = bisect_right(steps, each.start) - 1
        each.step = moves[index][1] if index >= 0 else None
        lost = [mention.start for mention in unknown if mention.start <= each.start]
        if lost and (index < 0 or moves[index][0] < lost[-1]):
            each.doubts.append("unknown_step")
    _still_planned(said, procedure, asides, breaks)
    words = _acts(procedure, said, in_spots, text)
    # "once out of three" holds no value
    beside = Spans(m for m in procedure if m.value in ASIDES or (m.value == "hedge" and _counts(m)))
    row = Events(
        text,
        breaks,
        [each for each in said if not beside.cover(each.start, each.end)],
        anchors,
        words,
        moves,
        [each for each in said if beside.cover(each.start, each.end)],
        unknown,
        named=[*cues, *spots],
        titled=titles.words_of(card),
    )
    lent.lend(row, cues, card)
    return row


def _is_said_in_passing(anchor: Cue | Spot, wished: Spans) -> bool:
    """Whether a word of a name stands in talk of what is wanted: "it wants doing at the next
    stop" tells of no next check."""
    weak = isinstance(anchor, Cue) and anchor.plainest <= OWN
    return weak and wished.cover(anchor.start, anchor.end)


_POINTED = re.compile(r"\b(?:on|at|for)\s+(?:the\s+)?\Z", re.IGNORECASE)


def _is_side(mention: Mention, in_spots: Spans, text: str) -> bool:
    """Whether the "left" of "left on" is a side that was pointed at: "on left, on right ..."."""
    pointed = _POINTED.search(text[max(0, mention.start - 8) : mention.start])
    return bool(pointed) and in_spots.cover(mention.start, mention.start + 1)


def _acts(
    procedure: Sequence[Mention], said: Sequence[Said], in_spots: Spans, text: str
) -> list[Mention]:
    """The procedure words that act on what was said, and are no part of a value or a place."""
    hedges = Spans(mention for mention in procedure if mention.value == "hedge")
    values = Spans(
        each.mention
        for each in said
        if each.kind in VALUES and not hedges.cover(each.start, each.end)
    )
    return [
        mention
        for mention in procedure
        if mention.value not in ASIDES
        and not values.touch(mention.start, mention.end)
        and (mention.text.lower() in _STAGES or not in_spots.cover(mention.start, mention.end))
        and not _is_side(mention, in_spots, text)
    ]


def _counts(hedge: Mention) -> bool:
    """Whether a hedge tells how often something was so."""
    return " times " in f" {hedge.text.lower()}" or " out of " in hedge.text.lower()


def _still_planned(
    said: Sequence[Said], procedure: Sequence[Mention], asides: Spans, breaks: Breaks
) -> None:
    """Ask about what follows a plan without a pause: it may be planned, too."""
    ends = sorted(mention.end for mention in procedure if mention.value == "plan")
    for each in said:
        index = bisect_right(ends, each.start) - 1
        told = index >= 0 and not asides.cover(each.start, each.end)
        if told and not breaks.between(ends[index] - 1, each.start):
            each.doubts.append("instruction")


def _said(
    by_kind: dict[str, list[Mention]],
    cues: Sequence[Cue],
    card: Card,
    lexicon: Lexicon,
    text: str,
) -> list[Said]:
    places = Spans(by_kind.get("position", ()))
    nothing = [m for m in by_kind.get("remark", ()) if "none" in m.qualifiers]
    struck = Spans(
        m
        for m in by_kind.get("procedure", ())
        if m.value == "strike" and _STRUCK.match(text, m.end)
    )  # "no, scratch that, ...": it tells of no scratch
    numbers = sorted((*by_kind.get("count", ()), *nothing), key=lambda number: number.start)
    quantities = by_kind.get("quantity", ())
    codes = by_kind.get("identifier", ())
    measured = sorted((*numbers, *quantities, *codes), key=lambda number: number.start)
    figures = Spans((*quantities, *by_kind.get("count", ())))
    units = Spans(quantities)  # "four drips a minute" tells of no other drips
    remarks = [
        remark
        for remark in by_kind.get("remark", ())
        if not units.cover(remark.start, remark.end)
        and not figures.parts(remark.start)  # "I get one zero millimetres for the play"
        and not struck.touch(remark.start, remark.end)
        and standing.stands_alone(
            remark, cues_near(cues, remark), card, places, numbers, measured, text
        )
    ]
    zeros = [m for m in by_kind.get("count", ()) if m.stage == "remarks"]
    covered = Spans([*remarks, *zeros])
    options = _option_terms(lexicon)
    stages = Spans(m for m in by_kind.get("procedure", ()) if m.value in _STAGES)  # "at first"
    values = [
        mention
        for kind in VALUES
        for mention in by_kind.get(kind, ())
        if (mention.stage == "remarks" or not covered.cover(mention.start, mention.end))
        and not titles.named(mention, text, card)
        and not ("ordinal" in mention.qualifiers and stages.cover(mention.start, mention.end))
    ]
    halves = _fractions_chosen(values, by_kind.get("term", ()), options)
    values = [mention for mention in values if (mention.start, mention.end) not in halves]
    solid = Spans(values)
    said = [Said(m.start, m.end, m) for m in (*values, *remarks)]
    said.sort(key=lambda each: (each.start, each.end))
    chosen.enter(said, by_kind.get("term", ()), options, solid, text)
    said.sort(key=lambda each: (each.start, each.end))
    _nest(said, cues)
    for each in said:
        if each.kind == "remark" and not each.inner:
            each.inner.extend(_meant(each.mention, lexicon))
    return said


def _fractions_chosen(
    values: Sequence[Mention], terms: Sequence[Mention], options: set[str]
) -> set[tuple[int, int]]:
    """ "Lubricator level, half": where the card has it as an option, it is no number."""
    chosen = {term.start: term.end for term in terms if str(term.value) in options}
    bare = (m for m in values if m.unit is None and "fraction" in m.qualifiers)
    return {(m.start, m.end) for m in bare if m.end <= chosen.get(m.start, 0)}


def _without_strange_options(
    terms: Sequence[Mention],
    in_spots: Spans,
    moves: Sequence[tuple[int, str]],
    lexicon: Lexicon,
) -> list[Mention]:
    """`terms` without positions ("blue phase") that another step has as an option."""
    starts = [at for at, _ in moves]
    kept = []
    for term in terms:
        index = bisect_right(starts, term.start) - 1
        steps = {place[0] for place, chosen in lexicon.options.items() if str(term.value) in chosen}
        strange = index >= 0 and steps and moves[index][1] not in steps
        if not (strange and in_spots.cover(term.start, term.end)):
            kept.append(term)
    return kept


def _meant(remark: Mention, lexicon: Lexicon) -> Iterator[Cue]:
    """The cue that a property stands for: "leaking" speaks of leaks."""
    for name in remark.qualifiers:
        if name.startswith("is:"):
            condition = name.removeprefix("is:")
            canonical = lexicon.canonical(condition)
            places = lexicon.places.get(canonical)
            if not places and condition in talk().remarks.kin:
                canonical = lexicon.canonical(talk().remarks.kin[condition])
                places = lexicon.places.get(canonical)
            if places:
                implied = {place: 0.6 * plainness for place, plainness in places.items()}
                yield Cue(remark.start, remark.end, canonical, implied, remark)


_STRUCK = re.compile(r"\s*(?:[,.;:!]|\Z)")


def _nest(said: Sequence[Said], cues: Sequence[Cue]) -> None:
    """Give each remark the cues that overlap its own words."""
    starts = [cue.start for cue in cues]
    for each in said:
        if each.kind not in {"remark", "count", "term"}:
            continue
        first = max(0, bisect_left(starts, each.start) - 2)
        for cue in cues[first : bisect_left(starts, each.end)]:
            overlap = cue.start < each.end and each.start < cue.end
            if overlap and (each.kind != "term" or str(each.mention.value) == cue.canonical):
                each.inner.append(cue)
