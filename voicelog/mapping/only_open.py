"""Only open: a number that found no field, and one place alone that is free for it.

"Brake patterner seven millimetres, outer six and a half": the words that name a place were torn or
misheard, or are none of the card's ("fired in six seconds"). Where the unit of a number is that of
one measurement of its step, and one place of that is free or as many as there are such numbers,
they are proposed there and asked about: better a value to look at than one that is lost. Common
practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from voicelog import limits
from voicelog.mapping.row import Cue, Spans, Spot
from voicelog.mapping.unit_fit import OTHER_SIZE, compatible, far_apart, settled
from voicelog.objects import FieldValue
from voicelog.reading.percard import fields_of
from voicelog.reading.settings import reasons_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Card, Field
    from voicelog.reading.lexicon import Place

_OFF = 4
"""How many times the bound of a field a number may be that is still taken for one of it."""
_CODES = ("placed_by_unit",)


def propose(
    row: Events, card: Card, values: Sequence[FieldValue], left_over: Sequence[Said]
) -> tuple[list[FieldValue], list[Said]]:
    """`values` with what was `left_over` and has one free place, and what is still left over."""
    kept, fields = list(values), fields_of(card)
    taken: set[int] = set()
    runs: dict[tuple[Place, int], list[Said]] = {}
    for said in sorted(left_over, key=lambda each: each.start):
        place = _place_of(row, said, fields) if said.kind == "quantity" else None
        if place is not None:
            runs.setdefault((place, row.breaks.sentences[said.start]), []).append(said)
    for (place, _), run in runs.items():
        field = fields[place]
        held = {value.position for value in kept if value.key[:2] == place}
        free = [name for name in field.positions or (None,) if name not in held]
        told = Spans(m for value in kept if value.key[:2] != place for m in value.mentions)
        for said, name in _dealt(row, run, field, free, told, held=bool(held)):
            found = _proposed(said, place, name, field)
            kept = [*_with_unit(kept, found, row, field), found]
            taken.add(id(said))
    return kept, [said for said in left_over if id(said) not in taken]


def _place_of(row: Events, said: Said, fields: Mapping[Place, Field]) -> Place | None:
    """The one measurement of the step that takes the unit of a number; of several the one that
    was named in its clause."""
    step = row.step_at(said.start)
    fit = [
        place
        for place, field in fields.items()
        if place[0] == step and field.type == "measurement" and _fits(said, field)
    ]
    if len(fit) > 1:
        end = row.breaks.clause_end(said.end, len(row.text))
        cues = row.anchors_in(row.clause_start(said.start), end)
        named = {place for cue in cues if isinstance(cue, Cue) for place in cue.places}
        fit = [place for place in fit if place in named]
    return fit[0] if len(fit) == 1 else None


def _fits(said: Said, field: Field) -> bool:
    unit, _ = settled(said.mention, field)
    value = said.mention.value
    if unit is None or field.unit is None or not isinstance(value, Decimal | Fraction):
        return False
    if not compatible(unit, field.unit) or far_apart(unit, field.unit, OTHER_SIZE):
        return False
    number = limits.in_unit_of(field, value, unit)
    low = None if field.min is None or field.min <= 0 else field.min / _OFF
    high = None if field.max is None or field.max <= 0 else field.max * _OFF
    return limits.side(number, low, high) == "within"


def _dealt(
    row: Events,
    run: Sequence[Said],
    field: Field,
    free: Sequence[str | None],
    told: Spans,
    *,
    held: bool,
) -> Iterator[tuple[Said, str | None]]:
    """Each number of a sentence with the place that is free for it; what is `told` of a place of
    another field, or "the alternator one sitting back two millimetres", is no word on this one."""
    if not free:
        return
    said = run[-1]
    if not field.positions:
        yield said, None
        return
    start = row.clause_start(said.start)
    end = row.breaks.clause_end(said.end, len(row.text))
    spots = [each for each in row.anchors_in(start, end) if isinstance(each, Spot)]
    named = [name for spot in spots for name in spot.names if name in field.positions]
    if spots and (
        any(told.touch(spot.start, spot.end) for spot in spots)
        or row.unexplained(spots[-1].end, said.start, spots[-1].end)
    ):
        return
    if named:
        for name in dict.fromkeys(named):
            if name in free:
                yield said, name
    elif len(free) == 1 and held:
        yield said, free[0]
    elif len(run) == len(free) == len(field.positions):
        yield from zip(run, free, strict=True)


def _proposed(said: Said, place: Place, name: str | None, field: Field) -> FieldValue:
    mention = said.mention
    assert mention.value is not None  # noqa: S101 - what fits has a value
    unit, _ = settled(mention, field)
    verdict = limits.judge(mention.value, unit, field)
    return FieldValue(
        *place,
        name,
        value=mention.value,
        unit=unit,
        as_spoken=mention.text,
        limit=verdict.verdict,
        at_limit=verdict.at_limit,
        confidence=0.5,
        reasons=reasons_of((*_CODES, *said.doubts)),
        start=mention.start,
        end=mention.end,
        alternatives=mention.alternatives,
        mentions=(mention,),
    )


def _with_unit(
    values: Sequence[FieldValue], found: FieldValue, row: Events, field: Field
) -> Iterator[FieldValue]:
    """`values`, of which those behind `found` in its sentence that lack a unit have the same."""
    end = row.breaks.sentence_end(found.end, len(row.text))
    for value in values:
        bare = value.key[:2] == found.key[:2] and value.unit is None
        if not bare or not found.end <= value.start < end or field.unit == "dimensionless":
            yield value
            continue
        verdict = limits.judge(value.value, found.unit, field)
        codes = [reason.code for reason in value.reasons if reason.code != "unit_unsaid"]
        yield replace(
            value,
            unit=found.unit,
            limit=verdict.verdict,
            at_limit=verdict.at_limit,
            reasons=reasons_of((*codes, "lent_unit")),
        )
