"""Nothing: a thing measured, counted or chosen, of which it was said that there is none ("no slip
at car one", "no patches on the left boot", "no leak path on two")."""

from __future__ import annotations

import re
from copy import copy
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLACE_WORD, Said
from voicelog.mapping.spots import field_at
from voicelog.objects import Mention
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.mapping.row import Breaks, Cue, Spot
    from voicelog.objects import Card, Field

_NO = re.compile(r"(?:\bno|\bnil|\bwithout(?:\s+any)?|n['’]t\s+any)\s+\Z", re.IGNORECASE)
_WORD = re.compile(r"[^\W\d_]+")
_WHERE = frozenset({
    "again", "all", "any", "anywhere", "both", "each", "either", "far", "found", "here", "seen",
    "side", "so", "there", "this", "time", "today",
})  # fmt: skip
_REMAINING = "left"
""" "No turns left on the gauge": none more, which is no place."""


def enter(
    said: list[Said],
    cues: Sequence[Cue],
    spots: Sequence[Spot],
    breaks: Breaks,
    card: Card,
    text: str,
) -> None:
    """ "No slip at the socket of car one, car two half a millimetre": nil of what is measured, for
    the place that is named with it and no other; it is asked about. What is counted is none."""
    said.extend(list(_nil(said, cues, spots, breaks, card, text)))
    said.extend(list(_at_places(said, spots, breaks, text)))
    said.sort(key=lambda each: (each.start, each.end))
    _listed(said, cues, spots, breaks, card, text)


_NIL = frozenset({"nil", "none", "nothing"})
_NOTHING = re.compile(
    r"(?:\A|[,.;:]|\b(?:and|but)\b)\s*(?P<nil>nothing)\s+(?:on|in|at|for|from|out\s+of|under|behind)\s+(?:the\s+)?\Z",
    re.IGNORECASE,
)

_DENIES = frozenset({"free", "nil", "no", "none", "not", "nothing", "without"})


def _at_places(
    said: Sequence[Said], spots: Sequence[Spot], breaks: Breaks, text: str
) -> Iterator[Said]:
    """ "Two in the west, nothing in the east": behind a count at another place it is none. "Sounds
    in the cab, nothing on the bridge": there it does not, most likely."""
    for spot in spots:
        found = _NOTHING.search(text, max(0, spot.start - 24), spot.start)
        end = breaks.clause_end(spot.end, len(text))
        if found is None or not _only_where(text, spot.end, end, (), spots):
            continue
        start = found.start("nil")
        before = next((each for each in reversed(said) if each.start < start), None)
        if before is None or before.end > start:
            continue
        works = before.kind == "remark" and _DENIES.isdisjoint(before.mention.text.lower().split())
        works = works and before.mention.value == "pass" and not before.mention.negated
        if before.kind == "count" or works:
            nil = Mention(
                "remark",
                text[start : found.end("nil")],
                start,
                found.end("nil"),
                "fail" if works else "pass",
                qualifiers=frozenset({"state"} if works else {"condition", "none"}),
                negated=not works,
                doubts=("supposed",) * works,
                stage="mapping",
            )
            yield Said(start, found.end("nil"), nil)


def _listed(
    said: list[Said],
    cues: Sequence[Cue],
    spots: Sequence[Spot],
    breaks: Breaks,
    card: Card,
    text: str,
) -> None:
    """ "Left tank two millilitres, right tank one millilitre, collector nil": a bare "nil" at a
    place of its own, among numbers, is one of the list."""
    bare = [
        index
        for index, each in enumerate(said)
        if each.mention.text.lower() in _NIL
        and "none" in each.mention.qualifiers
        and any(_is_at(each, spot, breaks, text) for spot in spots)
    ]
    for index in (*bare, *reversed(bare)):  # "one nil, two nil, three one"
        each = said[index]
        if each.kind == "count":
            continue
        for other in said[max(0, index - 1) : index] + said[index + 1 : index + 2]:
            first, last = sorted((each, other), key=lambda one: one.start)
            if breaks.between(first.end, last.start) == 2:
                listed = other is first and other.kind == "count"
                listed = listed and _is_sentence(each, spots, breaks, text)
                end = breaks.clause_end(other.end, len(text))
                own = (cue for cue in cues if other.end <= cue.start < end and _counts(cue, card))
                each.inner.extend(map(copy, own) if listed else ())
            else:
                listed = other.kind in {"quantity", "count"}
                listed = listed and _only_where(text, first.end, last.start, (), spots)
            if listed:
                each.mention = replace(
                    each.mention,
                    kind="count",
                    value=Decimal(0),
                    doubts=("nil_measurement",),
                    stage="mapping",
                )
                each.option = None
                break


def _counts(cue: Cue, card: Card) -> bool:
    """Whether words name something that is counted."""
    fields = (field_at(card, place) for place in cue.places)
    return any(each is not None and each.type == "count" for each in fields)


def _is_sentence(said: Said, spots: Sequence[Spot], breaks: Breaks, text: str) -> bool:
    """Whether nothing but a place stands in its sentence with it: "Five threads showing on the
    elevator, that's too many. None on the rudder"."""
    start = breaks.sentence_start(said.start)
    end = breaks.sentence_end(said.end, len(text))
    before = _only_where(text, start, said.start, (), spots)
    return before and _only_where(text, said.end, end, (), spots)


def _is_at(said: Said, spot: Spot, breaks: Breaks, text: str) -> bool:
    first, last = sorted(((spot.start, spot.end), (said.start, said.end)))
    apart = first[1] > last[0] or breaks.between(first[1], last[0])
    return not apart and _only_where(text, first[1], last[0], (), ())


def _nil(
    said: Sequence[Said],
    cues: Sequence[Cue],
    spots: Sequence[Spot],
    breaks: Breaks,
    card: Card,
    text: str,
) -> Iterator[Said]:
    for cue in cues:
        if cue.near or cue.in_spot:
            continue
        no = _NO.search(text, max(0, cue.start - 14), cue.start)
        kind = None if no is None else _kind(cue, card)
        if no is None or kind is None:
            continue
        end = breaks.clause_end(cue.end, len(text))
        told = any(each.start < end and no.start() < each.end for each in said)
        places = {name for each in _fields(cue, card) for name in each.positions}
        own = [spot for spot in spots if places.intersection(spot.names)]
        if not told and _only_where(text, cue.end, end, cues, own):
            start, chosen = no.start(), kind == "choice"
            nil = Mention(
                "remark" if chosen else "count",
                text[start : cue.end],
                start,
                cue.end,
                "pass" if chosen else Decimal(0),
                qualifiers=frozenset({"none"} if chosen else ()),
                negated=True,
                stage="mapping",
                doubts=("nil_measurement",) * (kind == "measurement"),
            )
            yield Said(start, cue.end, nil, inner=[cue])


def _fields(cue: Cue, card: Card) -> list[Field]:
    """The fields that words name plainly."""
    told = (place for place, plainness in cue.places.items() if plainness >= PLACE_WORD)
    return [each for place in told if (each := field_at(card, place)) is not None]


def _kind(cue: Cue, card: Card) -> str | None:
    """ "measurement" or "count" where the words name such fields alone, "choice" where they name
    some that have "none" among their options."""
    fields = _fields(cue, card)
    kinds = {each.type for each in fields}
    if kinds == {"choice"}:
        return "choice" if all("none" in each.options for each in fields) else None
    return kinds.pop() if len(kinds) == 1 and kinds <= {"measurement", "count"} else None


def _only_where(
    text: str, start: int, end: int, cues: Sequence[Cue], spots: Sequence[Spot]
) -> bool:
    """Whether the clause goes on with nothing but the place: "no pressure gauge on two" is about
    something else."""
    spans = [(cue.start, cue.end) for cue in cues]
    spans += [(spot.start, spot.end) for spot in spots]
    known = (talk().everyday.plain | _WHERE) - {_REMAINING}
    return all(
        word[0].lower() in known or any(first <= word.start() < last for first, last in spans)
        for word in _WORD.finditer(text, start, end)
    )
