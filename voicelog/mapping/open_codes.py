"""Open codes: a spelt code that found no field, and one identifier of the step that is open.

"Ranges tango whiskey zero three six": the name before it was misheard or not said at all. Where one
identifier of the step alone has no value and takes such a code, it is proposed there and asked
about: better a code to look at than one that is lost. Common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.mapping import roles
from voicelog.mapping.fit import fit
from voicelog.mapping.row import Spans, Spot
from voicelog.objects import FieldValue
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.percard import fields_of
from voicelog.reading.settings import reasons_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.mapping.fit import Fit
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Card, Field
    from voicelog.reading.lexicon import Place

_FEWEST = 2
"""Letters, and figures, of a code that is taken for none of the values of a step, at least."""
_MISFIT = frozenset({"pattern_misfit"})


def propose(
    row: Events, card: Card, values: Sequence[FieldValue], left_over: Sequence[Said]
) -> tuple[list[FieldValue], list[Said]]:
    """`values` with the codes that were `left_over` and have one identifier open for them, and
    what is still left over."""
    codes = [said for said in left_over if said.kind == "identifier" and _is_whole(said)]
    if not codes:
        return [*values], [*left_over]
    fields = fields_of(card)
    held = {value.key for value in values}
    wanted: dict[tuple[Place, str | None], list[tuple[Said, Fit]]] = {}
    for said in codes:
        found = _open(row, card, said, fields, held)
        if found is None:
            continue
        place, suited = found
        for name in _names(row, said, fields[place], values):
            if (*place, name) not in held:
                wanted.setdefault((place, name), []).append((said, suited))
    alone = {key: each[0] for key, each in wanted.items() if len(each) == 1}
    kept = [_proposed(said, place, name, suited) for (place, name), (said, suited) in alone.items()]
    taken = {id(said) for said, _ in alone.values()}
    return [*values, *kept], [said for said in left_over if id(said) not in taken]


def _is_whole(said: Said) -> bool:
    """Whether letters and figures enough were said: "N698" may be newtons."""
    value = str(said.mention.value)
    few = min(sum(map(str.isalpha, value)), sum(map(str.isdigit, value)))
    return few >= _FEWEST and not said.dropped


def _open(
    row: Events,
    card: Card,
    said: Said,
    fields: Mapping[Place, Field],
    held: set[tuple[str, str, str | None]],
) -> tuple[Place, Fit] | None:
    """The one identifier of the step that the code can stand in and that has a place free; of
    what came off and what went on the one that the words around it tell."""
    lexicon, step, role = lexicon_of(card), row.step_at(said.start), roles.of_said(row, said)
    found: list[tuple[Place, Fit]] = []
    for place, field in fields.items():
        if place[0] != step or field.type != "identifier":
            continue
        if all((*place, name) in held for name in field.positions or (None,)):
            continue
        suited = fit(said, field, place, lexicon)
        own = roles.of_field(field)
        apart = role is not None and own is not None and own != role
        if suited is None or suited.score <= 0 or apart or _MISFIT & {*suited.doubts}:
            continue
        found.append((place, suited))
    return found[0] if len(found) == 1 else None


def _names(
    row: Events, said: Said, field: Field, values: Sequence[FieldValue]
) -> tuple[str | None, ...]:
    """The place of the field that was said last before the code in its sentence, and of no other
    value."""
    if not field.positions:
        return (None,)
    told = Spans(mention for value in values for mention in value.mentions)
    spots = [
        anchor
        for anchor in row.anchors_in(row.breaks.sentence_start(said.start), said.start)
        if isinstance(anchor, Spot) and {*anchor.names} <= {*field.positions}
    ]
    if not spots or len(spots[-1].names) > 1 or told.touch(spots[-1].start, spots[-1].end):
        return ()
    return spots[-1].names


def _proposed(said: Said, place: Place, name: str | None, suited: Fit) -> FieldValue:
    mention = said.mention
    return FieldValue(
        *place,
        name,
        value=suited.value,
        unit=None,
        as_spoken=mention.text,
        confidence=0.5,
        reasons=reasons_of(dict.fromkeys(("placed_by_unit", *suited.doubts, *said.doubts))),
        start=mention.start,
        end=mention.end,
        alternatives=suited.alternatives,
        mentions=(mention,),
    )
