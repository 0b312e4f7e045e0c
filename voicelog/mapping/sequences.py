"""Sequences: what was said of a step against the fixed order in which it wants things done."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLAIN, Cue, Spans, Spot
from voicelog.objects import Reason
from voicelog.reading import sequence
from voicelog.reading.settings import reasons_of
from voicelog.reading.state_words import left_undone
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.mapping.row import Events
    from voicelog.objects import Card, Field, FieldValue, Reading, Step, Value

_WORD = re.compile(r"[a-z'’]+")


def check(
    values: Sequence[FieldValue], row: Events, reading: Reading, card: Card
) -> tuple[list[FieldValue], tuple[Reason, ...]]:
    """Doubt what was said out of the order that its step asks for; name what is missing."""
    values = list(values)
    warnings: list[Reason] = []
    for step in card.steps:
        if not step.sequence:
            continue
        own = [index for index, value in enumerate(values) if value.step == step.number]
        said = []
        for index in own:
            field = step.field(values[index].field)
            if field is not None:
                said.append((values[index].start, field, values[index].position))
        known = {values[index].key: values[index].value for index in own}
        undone = _undone(row, reading, step, known) if said else ()
        found = sequence.order(step, said, undone)
        for item in found.missing:
            warnings += named("sequence_missing", item)
        for item in found.out_of_order:
            warnings += named("sequence_order", item)
        indices = {index for item, index in found.said if item in found.out_of_order}
        in_order = sorted(own, key=lambda index: values[index].start)
        for place in indices:
            value = values[in_order[place]]
            reasons = (*value.reasons, *reasons_of(("sequence_order",)))
            values[in_order[place]] = replace(value, reasons=reasons)
    return values, tuple(warnings)


def _undone(
    row: Events,
    reading: Reading,
    step: Step,
    known: Mapping[tuple[str, str, str | None], Value],
) -> Iterator[tuple[Field, str | None]]:
    """What was named in `step` as something not done, or still to do. A fault found in its turn
    ("stop valve two turns short of open") is no such thing, but "still shut" is."""
    planned = Spans(
        each for each in reading.mentions if each.kind == "procedure" and each.value == "plan"
    )
    words = talk().remarks
    for anchor in row.named:
        here = [*_items(anchor, step)] if not anchor.dropped else []
        if not here:
            continue
        said = _clause_words(row, anchor)
        late = planned.touch(anchor.start, anchor.end) or not said.isdisjoint(words.put_off)
        denied = late or not said.isdisjoint((*words.not_, *words.no, *left_undone()))
        for field, place in here:
            value = known.get((step.number, field.name, place))
            if denied and (value is None or (late and value == "fail")):
                yield field, place


def _items(anchor: Cue | Spot, step: Step) -> Iterator[tuple[Field, str | None]]:
    """The fields of `step` that `anchor` plainly names, each with the position."""
    for field in step.fields:
        if isinstance(anchor, Spot):
            if field.position_word in anchor.words:
                for name in set(anchor.names).intersection(field.positions):
                    yield field, name
        elif not (field.positions or anchor.near):
            plain = anchor.places.get((step.number, field.name), 0.0)
            yield from [(field, None)] * (plain >= PLAIN)


def _clause_words(row: Events, anchor: Cue | Spot) -> set[str]:
    begin = row.clause_start(anchor.start)
    end = row.breaks.clause_end(anchor.end, len(row.text))
    return {re.sub("['’]", "", word) for word in _WORD.findall(row.text[begin:end].lower())}


def named(code: str, what: str) -> tuple[Reason, ...]:
    """The reason of `code`, with what it is about."""
    return tuple(Reason(r.code, f"{r.sentence}: {what}") for r in reasons_of((code,)))
