"""Nothing: a thing measured, counted or chosen, of which it was said that there is none ("no slip
at car one", "no patches on the left boot", "no leak path on two")."""

from __future__ import annotations

import re
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
    said.sort(key=lambda each: (each.start, each.end))
    _listed(said, spots, breaks, text)


_NIL = frozenset({"nil", "none", "nothing"})


def _listed(said: list[Said], spots: Sequence[Spot], breaks: Breaks, text: str) -> None:
    """ "Left tank two millilitres, right tank one millilitre, collector nil": a bare "nil" at a
    place of its own, among numbers, is one of the list."""
    for index, each in enumerate(said):
        if each.mention.text.lower() not in _NIL or "none" not in each.mention.qualifiers:
            continue
        if not any(_is_at(each, spot, breaks, text) for spot in spots):
            continue
        for other in said[max(0, index - 1) : index] + said[index + 1 : index + 2]:
            first, last = sorted((each, other), key=lambda one: one.start)
            apart = breaks.between(first.end, last.start) == 2
            listed = other.kind in {"quantity", "count"} and not apart
            if listed and _only_where(text, first.end, last.start, (), spots):
                each.mention = replace(
                    each.mention,
                    kind="count",
                    value=Decimal(0),
                    doubts=("nil_measurement",),
                    stage="mapping",
                )
                each.option = None
                break


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
