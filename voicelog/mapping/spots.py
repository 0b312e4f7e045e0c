"""Spots: the words of a note that name positions, and those that only look like it."""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping.joined_names import JOINED
from voicelog.mapping.row import PLAIN, START, Spans, Spot
from voicelog.objects import Mention
from voicelog.reading.labels import OWN
from voicelog.reading.percard import fields_of
from voicelog.reading.spoken import sides_of
from voicelog.reading.talk import talk
from voicelog.reading.words import phrase_key, word_key

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Cue, Said
    from voicelog.objects import Card, Field, Step
    from voicelog.reading.lexicon import Place


def find(mentions: Sequence[Mention], card: Card) -> list[Spot]:
    groups: dict[tuple[int, int], list[Mention]] = {}
    for mention in mentions:
        groups.setdefault((mention.start, mention.end), []).append(mention)
    spots = []
    for (start, end), said in groups.items():
        group = said
        names = tuple(dict.fromkeys(str(m.value) for m in group if m.value is not None))
        if not names and (spelt := _spelt_out(group[0], card)) is not None:
            group = [replace(group[0], value=spelt, doubts=())]
            names = (spelt,)
        words = frozenset(
            name.removeprefix("of:")
            for m in group
            for name in m.qualifiers
            if name.startswith("of:")
        )
        doubts = tuple(dict.fromkeys(code for m in group for code in m.doubts))
        unknown = any(m.value is None for m in group)
        spots.append(Spot(start, end, names, tuple(group), words, doubts, unknown))
    return spots


_PAUSE = re.compile(r"[,.;](?=\s|\Z)")


def in_full(
    spots: Sequence[Spot],
    cues: Sequence[Cue],
    card: Card,
    moves: Sequence[tuple[int, str]],
    text: str,
) -> list[Spot]:
    """`spots` with "right" behind "left switch rail" as the right switch rail of the open step;
    but not where the clause names what has a place that is just called so: "right blade"."""
    starts = [at for at, _ in moves]
    kept: list[Spot] = []
    for spot in sorted(spots, key=START):
        named = spot
        index = bisect_right(starts, spot.start) - 1
        step = card.step(moves[index][1]) if index >= 0 else None
        if step is not None and kept and len(spot.names) == 1 == len(kept[-1].names):
            places = {place for each in step.fields for place in each.positions}
            _, _, tail = kept[-1].names[0].partition(" ")
            full = f"{spot.names[0]} {tail}"
            pause = _PAUSE.search(text, spot.end)
            end = pause.start() if pause is not None else len(text)
            own = (cue for cue in cues if kept[-1].end <= cue.start < end)
            if tail and not sides_of(tail) and {kept[-1].names[0], full} <= places:
                named = (
                    spot
                    if any(_has(c, spot.names, card) for c in own)
                    else replace(spot, names=(full,))
                )
        kept.append(named)
    return kept


def mark(cues: Sequence[Cue], spots: Sequence[Spot], card: Card) -> None:
    """Mark the cues that are only words of a position: "bolt" in "bolt three", but not "cable
    tension" in "cable tension left"."""
    words = {each.position_word for step in card.steps for each in step.fields}
    counters = {tuple(map(word_key, word.split())) for word in words if word}
    counters |= {counter[-1:] for counter in counters}
    ordered = sorted(spots, key=lambda spot: spot.start)
    starts = [spot.start for spot in ordered]
    numbers = {
        (step.number, each.name)
        for step in card.steps
        for each in step.fields
        if each.type in {"count", "measurement", "ratio"}
    }
    for cue in cues:
        cue.numbered = frozenset(place[0] for place in cue.places if place in numbers)
        index = bisect_right(starts, cue.start) - 1
        if index < 0 or ordered[index].end < cue.end:
            continue
        counts = tuple(map(word_key, cue.mention.text.split())) in counters
        cue.in_spot = counts or not _has(cue, ordered[index].names, card)


def _has(cue: Cue, names: Sequence[str], card: Card) -> bool:
    """Whether the words plainly name a field that has these positions."""
    fields = [field_at(card, place) for place, plain in cue.places.items() if plain >= OWN]
    return any(each is not None and set(names) <= set(each.positions) for each in fields)


def without_names(
    spots: Sequence[Spot], cues: Sequence[Cue], card: Card, moves: Sequence[tuple[int, str]]
) -> list[Spot]:
    """`spots` without names of the open step's fields that are places of another step only,
    "rudder" where the rudder cable is measured, which may be called so or "rudder cable"; and
    without words within a longer name: "lagging left on head pulley"."""
    starts = [at for at, _ in moves]
    full = (cue for cue in cues if cue.mention.stage != JOINED)
    longer = Spans(cue.mention for cue in full if cue.plainest >= PLAIN and not cue.near)
    kept = []
    for spot in spots:
        named = all(map(phrase_key, spot.names))  # "union A torque" is called "union torque"
        alike = "misheard_term" in spot.doubts  # "weight" of "balance weight" is not white
        if named and longer.cover(spot.start, spot.end + (not alike)):
            continue
        cue = next(
            (
                cue
                for cue in cues_near(cues, spot.mentions[0])
                if cue.start <= spot.start and spot.end <= cue.end and not cue.near
            ),
            None,
        )
        index = bisect_right(starts, spot.start) - 1
        step = card.step(moves[index][1]) if cue is not None and index >= 0 else None
        if step is not None and cue is not None:
            plain = [p for p, plainness in cue.places.items() if plainness >= 0.9]
            named = any(place[0] == step.number for place in plain)
            strange = not any(set(spot.names) & set(each.positions) for each in step.fields)
            if strange and (named or _is_a_name_here(spot, cue, cues, card, step)):
                continue
            if named and _has_its_place(spot, cue, spots, cues, step):
                continue
        kept.append(spot)
    return kept


def _is_a_name_here(spot: Spot, cue: Cue, cues: Sequence[Cue], card: Card, step: Step) -> bool:
    """Whether a place of another step is a word of names in the open one, and no field that has
    such a place is named: "aileron up 22 degrees", where another step has one such cable."""
    here = any(place[0] == step.number for place in cue.places)
    plain = (at for each in cues for at, told in each.places.items() if told >= PLAIN)
    fields = (field_at(card, at) for at in plain) if here else ()
    elsewhere = any(each and not set(spot.names).isdisjoint(each.positions) for each in fields)
    return here and not elsewhere


def _has_its_place(
    spot: Spot, cue: Cue, spots: Sequence[Spot], cues: Sequence[Cue], step: Step
) -> bool:
    """Whether a place of the field that a name is of stands right beside it, and no field that has
    places of that name was named: "lower rudder", where another counts wires on the rudder."""
    plain = {p[1] for p, plainness in cue.places.items() if plainness >= PLAIN}
    own = {at for each in step.fields if each.name in plain for at in each.positions}
    beside = any(
        set(other.names) <= own
        and (0 <= spot.start - other.end <= 1 or other.start == spot.end + 1)
        for other in spots
        if other.names
    )
    rivals = {
        (step.number, e.name) for e in step.fields if not set(spot.names).isdisjoint(e.positions)
    }
    return beside and not any(
        rivals & each.places.keys() for each in cues if each.start < cue.start
    )


_MOVED_IT = re.compile(
    r"(?:(?<!check)(?<!measur)(?<!test)(?<!tri)ed|took|brought|got|let|put|wound)\s+(?:it|them|that)\s+\Z",
    re.IGNORECASE,
)


_STOOD = re.compile(r"\b(?:was|were|is|are|came|went|sat|been)\s+\Z", re.IGNORECASE)
_AT = re.compile(r"\s+(?:at|to|by|around|about)\s", re.IGNORECASE)


def without_particles(spots: Sequence[Spot], text: str) -> list[Spot]:
    """`spots` without particles that belong to a verb: "tightened it up" is no upper place, nor is
    "right cable was down at 24 pounds" the lower one: another place was named, and "up" was not."""
    particles = talk().remarks.particles
    words = [text[spot.start : spot.end].lower() for spot in spots]
    alone = len(particles.intersection(words)) < 2
    return [
        spot
        for spot, word in zip(spots, words, strict=True)
        if not (word in particles and _MOVED_IT.search(text, max(0, spot.start - 20), spot.start))
        and not (
            alone
            and spot is not spots[0]
            and (word in particles or "misheard_term" in spot.doubts)
            and _STOOD.search(text, max(0, spot.start - 8), spot.start)
            and _AT.match(text, spot.end)
        )
    ]


def without_counts(
    spots: Sequence[Spot], cues: Sequence[Cue], card: Card, text: str
) -> tuple[list[Spot], list[Mention]]:
    """Spots that are counts after all: "loose bolts: three" names a field, then a number."""
    kept: list[Spot] = []
    counts: list[Mention] = []
    for spot in spots:
        name = next(
            (
                cue
                for cue in cues_near(cues, spot.mentions[0])
                if cue.start < spot.start < cue.end < spot.end and not cue.near
            ),
            None,
        )
        fields = (
            [field_at(card, place) for place, plain in name.places.items() if plain > 0.9]
            if name
            else []
        )
        counting = bool(fields) and all(
            each and each.type == "count" and not each.positions for each in fields
        )
        if name is None or not counting or len(spot.names) != 1 or not spot.names[0].isdigit():
            kept.append(spot)
            continue
        start = (
            name.end
            + len(text[name.end : spot.end])
            - len(text[name.end : spot.end].lstrip(" ,:;-"))
        )
        counts.append(
            Mention(
                "count",
                text[start : spot.end],
                start,
                spot.end,
                Decimal(spot.names[0]),
                stage="mapping",
                doubts=spot.doubts,
            )
        )
    return kept, counts


def _spelt_out(mention: Mention, card: Card) -> str | None:
    """A position that the card names by a word which counts elsewhere ("first floor")."""
    words = mention.text.lower().split()
    for step in card.steps:
        for field_ in step.fields:
            for position in field_.positions:
                if position.lower() in words and f"of:{field_.position_word}" in mention.qualifiers:
                    return position
    return None


def cues_near(cues: Sequence[Cue], mention: Mention) -> list[Cue]:
    """The cues that begin at or shortly before a mention."""
    index = bisect_right(cues, mention.start, key=START)
    return list(cues[max(0, index - 2) : index])


def field_at(card: Card, place: Place) -> Field | None:
    """The field of `card` at `place`."""
    return fields_of(card).get(place)


def without_places(
    said: Sequence[Said], spots: Sequence[Spot], cues: Sequence[Cue], card: Card, text: str
) -> list[Said]:
    """`said` without options of another field that are the place of the number behind them:
    "bearing temperature tending side 71", where the felt runs on the tending side."""
    held = {(spot.start, spot.end): spot for spot in spots}
    places = set()
    for each, behind in pairwise(said):
        spot = held.get((each.start, each.end)) if each.kind == "term" else None
        close = behind.is_number and text[each.end : behind.start].isspace()
        if spot is not None and close and _is_place(spot, cues, card):
            places.add(id(each))
    return [each for each in said if id(each) not in places]


def _is_place(spot: Spot, cues: Sequence[Cue], card: Card) -> bool:
    """Whether a field with such a place was named before it last of all."""
    before = [each for each in cues if each.end <= spot.start and not each.in_spot]
    named = [field_at(card, place) for place in before[-1].places] if before else []
    return any(
        field is not None and field.unit and set(spot.names) <= set(field.positions)
        for field in named
    )
