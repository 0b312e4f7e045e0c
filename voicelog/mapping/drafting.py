"""Drafting: placements become the values of a draft, beside all that found no field."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog import limits
from voicelog.errors import LimitError, UnitError
from voicelog.mapping import (
    all_but,
    astray_stops,
    came_to,
    contrasted,
    findings,
    found_and_left,
    leftover,
    lent,
    lent_references,
    lists,
    lost_fails,
    named_behind,
    neighbours,
    only_open,
    open_codes,
    roles,
    sequences,
    shared_units,
    supposed,
    taken_back,
    texts,
    told_again,
    unit_headings,
    verdict_rows,
)
from voicelog.mapping import events as event_row
from voicelog.mapping.placing import Placer
from voicelog.mapping.repair import repair
from voicelog.mapping.settle import Entry, Settled, settle
from voicelog.mapping.unit_fit import OTHER_SIZE, compatible, far_apart
from voicelog.objects import Draft, FieldValue, Reason
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.percard import fields_of
from voicelog.reading.settings import reasons_of, settings

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Card, Field, Mention, Reading, Step

Key = tuple[str, str, str | None]
"""Step, field, position."""


def draft(reading: Reading, card: Card, step: str | None = None) -> Draft:
    """Propose values for the fields of `card`; `step` is where the talk begins.

    `takes` is left empty. Raises nothing on any text.
    """
    lexicon = lexicon_of(card)
    row = event_row.build(reading, card, lexicon, step)
    written = texts.take(row, card)
    repair(row, card)
    fields = fields_of(card)
    lent_references.lend(row, fields)
    all_but.deal(row, fields)
    all_but.deal_rest(row, fields)
    roles.mark_codes(row, fields)
    lists.deal(row, fields)
    named_behind.deal(row)
    verdict_rows.deal(row)
    astray_stops.deal(row)
    placer = Placer(row, card, lexicon)
    placements = placer.place()
    if _names_after_all(row, placements):
        placer = Placer(row, card, lexicon)
        placements = placer.place()
    found_and_left.deal(placements, card)
    neighbours.doubt(row, placements, fields, lexicon)
    values, left_over = _values(placements, placer.fields, row, card)
    values = came_to.doubt(values, left_over, row, card)
    values = lost_fails.doubt(values, left_over, row, fields)
    values, left_over = only_open.propose(row, card, values, left_over)
    values, left_over = open_codes.propose(row, card, values, left_over)
    unsaid = [said.mention for said in left_over if said.kind == "remark"]
    values = [*values, *written, *contrasted.propose(row, card, values, unsaid)]
    values += supposed.propose(row, reading, card, values)
    values = came_to.suppose(values, row, card)
    found = findings.find(row, reading, values, left_over, card)
    values += found.proposed
    values += _computed(values, card)
    values.sort(key=lambda value: value.start)
    values = told_again.doubt(_rows_in_doubt(values, row), row)
    values = taken_back.doubt(found_and_left.doubt(values, card), row)
    values, warnings = sequences.check(values, row, reading, card)
    spoken = _steps(row, values, step)
    return Draft(
        card.number,
        card.revision,
        step,
        (),
        tuple(values),
        leftover.unplaced(row, placements, left_over, found),
        _missing(card, spoken, values),
        (*warnings, *_unknown_steps(row)),
    )


def _names_after_all(row: Events, placements: Sequence[Placement]) -> bool:
    """Words that are an option of one field and the name of another: no choice, so a name."""
    names = [
        placement.said
        for placement in placements
        if placement.said.kind == "term" and placement.said.inner and not placement.targets
    ]
    for said in names:
        row.said.remove(said)
        row.anchors.extend(said.inner)
    row.anchors.sort(key=lambda anchor: (anchor.start, -anchor.end))
    return bool(names)


def _entries(
    placement: Placement, fields: Mapping[tuple[str, str], Field]
) -> Iterable[tuple[Key, Entry]]:
    said = placement.said
    for target in placement.targets:
        field = fields[target.place]
        doubts = [*target.fit.doubts, *target.doubts, *said.doubts]
        if unit_headings.AHEAD in said.tags and not lent.named_by(field, target.fit.unit):
            doubts.append("lent_unit")
        clear = float(settings().thresholds["clear_margin"])
        if placement.margin < clear:
            doubts.append("ambiguous_place")
        if field.positions and target.positions == (None,):
            continue
        for position in target.positions:
            yield (
                (*target.place, position),
                Entry(
                    said,
                    target,
                    position,
                    placement.margin,
                    target.fit.value,
                    target.fit.unit,
                    list(doubts),
                ),
            )


def _values(
    placements: Sequence[Placement],
    fields: Mapping[tuple[str, str], Field],
    row: Events,
    card: Card,
) -> tuple[list[FieldValue], list[Said]]:
    by_key: dict[Key, list[Entry]] = {}
    left_over: list[Said] = []
    for placement in placements:
        found = [*_entries(placement, fields)]
        for key, entry in found:
            by_key.setdefault(key, []).append(entry)
        if not found:
            left_over.append(placement.said)
    shared_units.hand_round(by_key, row.units, fields, found_and_left.pairs_of(card))
    shared_units.lend(by_key, row, fields)
    shared_units.lend_lost(by_key, left_over, row, fields)
    values = []
    for key, entries in by_key.items():
        field = fields[key[0], key[1]]
        settled = settle(entries, field)
        if settled is None:
            left_over.extend(entry.said for entry in entries if entry.said not in left_over)
            continue
        left_over.extend(settled.left_over)
        values.append(_value(key, field, settled))
    return values, left_over


def _is_unnamed(entry: Entry) -> bool:
    """Whether a place or a unit alone led to the field."""
    return entry.target.by_unit or entry.target.cue is None


def _is_far_off(unit: str | None, own: str | None) -> bool:
    """Whether things of quite another size are measured so: "cut nine metres off the hook end" is
    no diameter in millimetres."""
    if unit is None or own is None or not compatible(unit, own):
        return False
    return far_apart(unit, own, OTHER_SIZE)


def _value(key: Key, field: Field, settled: Settled) -> FieldValue:
    entry = settled.entry
    mention = entry.said.mention
    codes = list(dict.fromkeys((*entry.doubts, *settled.doubts)))
    verdict = limits.Verdict(None)
    bare = field.type == "measurement" and entry.unit is None and field.unit != "dimensionless"
    if not bare:
        with suppress(UnitError):  # of the wrong dimension: nothing to compare, and in doubt
            verdict = limits.judge(entry.value, entry.unit, field)
    outside = entry.target.by_unit and verdict.verdict in {"below", "above"}
    if outside or (_is_unnamed(entry) and _is_far_off(entry.unit, field.unit)):
        codes.append("placed_by_unit")
    anchors: list[Mention] = [mention]
    if entry.target.cue is not None:
        anchors.append(entry.target.cue.mention)
    if entry.target.spot is not None:
        anchors.extend(entry.target.spot.mentions[:1])
    for other in settled.said:
        if other.mention not in anchors:
            anchors.append(other.mention)
    return FieldValue(
        *key,
        value=entry.value,
        unit=entry.unit,
        as_spoken=mention.text,
        limit=verdict.verdict,
        at_limit=verdict.at_limit,
        confidence=_margin_confidence(entry.margin),
        reasons=reasons_of(codes),
        start=mention.start,
        end=mention.end,
        as_found=settled.as_found,
        alternatives=(*settled.alternatives, *entry.target.fit.alternatives),
        qualifiers=_shown(mention.qualifiers),
        mentions=tuple(anchors),
    )


_CUT = {"number_beside_number", "two_values"}
"""Together they tell that figures of a row found no place of their own."""
_NUMBERS = frozenset({"count", "quantity"})


def _rows_in_doubt(values: Sequence[FieldValue], row: Events) -> list[FieldValue]:
    """`values` with a doubt on every one of a row in which some figures are not explained:
    "gap point eight, one one and two, point nine on three". A number that has its unit says nothing
    of others that have theirs."""
    cut: dict[tuple[str, str], list[FieldValue]] = {}
    for value in values:
        number = value.mentions[0].kind in _NUMBERS and value.position is not None
        if number and {reason.code for reason in value.reasons} >= _CUT:
            cut.setdefault(value.key[:2], []).append(value)
    kept = []
    for value in values:
        bare = value.mentions[0].kind == "count"
        ends = [
            sorted((other.start, value.start))
            for other in cut.get(value.key[:2], ())
            if bare or other.mentions[0].kind == "count"
        ]
        alike = any(row.breaks.between(first, last) < 2 for first, last in ends)
        if alike and not value.reasons:
            value = replace(value, reasons=reasons_of(("list_length",)))  # noqa: PLW2901
        kept.append(value)
    return kept


_SHOWN = frozenset(
    {"gauge", "absolute", "differential", "peak", "rms", "difference", "about", "light", "heavy"}
)
"""Qualifiers that belong to the value; the others only steer the mapping."""


def _shown(qualifiers: frozenset[str]) -> frozenset[str]:
    return qualifiers & _SHOWN


def _margin_confidence(margin: float) -> float:
    """Trust in the place alone: even odds for a tie, near certain from a margin of two on."""
    return 1.0 - 0.5 * math.exp2(-4.0 * max(0.0, min(margin, 4.0)))


def _computed(values: Sequence[FieldValue], card: Card) -> list[FieldValue]:
    """Computed fields whose inputs were all said without a doubt, or share their doubt."""
    known = {value.key: value for value in values}
    results = []
    for step in card.steps:
        for field in step.fields:
            if field.type != "computed" or field.formula is None:
                continue
            for position in field.places:
                result = _compute(step, field, position, known)
                if result is not None:
                    results.append(result)
    return results


def _compute(
    step: Step, field: Field, position: str | None, known: Mapping[Key, FieldValue]
) -> FieldValue | None:
    inputs: dict[str, limits.Amount] = {}
    sources: list[FieldValue] = []
    try:
        for argument, source in field.inputs:
            fixed = limits.constant(source, step)
            if fixed is not None:
                inputs[argument] = fixed
                continue
            value = known.get((step.number, source, position)) or known.get(
                (step.number, source, None)
            )
            if value is None:
                return None
            sources.append(value)
            inputs[argument] = limits.Amount(value.value, value.unit)
        computed = limits.compute(field.formula or "", inputs, field.unit)
        verdict = limits.check(computed.number, computed.unit, field)
    except (LimitError, UnitError):
        return None
    if not sources:
        return None
    doubts = tuple({reason.code: reason for value in sources for reason in value.reasons}.values())
    return FieldValue(
        step.number,
        field.name,
        position,
        value=limits.shown(computed),
        unit=computed.unit,
        as_spoken=" / ".join(value.as_spoken for value in sources),
        limit=verdict.verdict,
        at_limit=verdict.at_limit,
        confidence=min(value.confidence for value in sources),
        reasons=doubts,
        start=min(value.start for value in sources),
        end=max(value.end for value in sources),
        mentions=tuple(mention for value in sources for mention in value.mentions),
    )


def _unknown_steps(row: Events) -> tuple[Reason, ...]:
    return tuple(
        reason
        for mention in row.unknown_steps
        for reason in sequences.named("unknown_step", mention.text)
    )


def _steps(row: Events, values: Iterable[FieldValue], step: str | None) -> set[str]:
    spoken = {value.step for value in values} | {number for at, number in row.moves if at}
    return spoken | ({step} if step is not None else set())


def _missing(card: Card, spoken: set[str], values: Iterable[FieldValue]) -> tuple[Key, ...]:
    known = {value.key for value in values}
    return tuple(
        (step.number, field.name, position)
        for step in card.steps
        if step.number in spoken
        for field in step.fields
        if field.required
        for position in field.places
        if (step.number, field.name, position) not in known
    )
