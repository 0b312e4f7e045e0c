"""Doers: the things of a check of which it may be told what such things do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading import labels
from voicelog.reading.kinds import ANY, does, kind_of
from voicelog.reading.statements import ASPECTS, is_fault, is_wanted, split, tells_how
from voicelog.reading.talk import talk
from voicelog.reading.words import tokenise

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.objects import Card, Field

_RELATED = labels.WHERE | {"and", "for", "of", "to", "with"}


def _is_thing(key: str) -> bool:
    """Whether the word of a label names what it is about, and is no fault or aspect of it."""
    plain = key in ASPECTS | _RELATED or key in talk().everyday.ordinary or tells_how(key)
    return len(key) > _LEAST_THING and not plain and not is_fault(key)


_LEAST_THING = 2


def doers(field: Field, subject: str, predicate: tuple[str, ...]) -> Iterator[tuple[str, str, str]]:
    """The things that a check is about: the word before each, its own key, and its kind. A name of
    another kind than the label has that which does what it wants: "castor", "Castor brake"."""
    named = [*_named(field, subject, predicate)]
    able = {kind for _, _, kind in named if predicate and does(kind, predicate[0])}
    for before, thing, kind in named:
        yield before, thing, next(iter(able)) if len(able) == 1 else kind


def _named(
    field: Field, subject: str, predicate: tuple[str, ...]
) -> Iterator[tuple[str, str, str]]:
    """The things that a check is about: the word before each, its own key, and its kind; not where
    or what of they are ("interlock" of "Guard interlock"). None if it wants of them what is not
    good of their kind: "Alarm silent"."""
    placed = len(predicate) > 1 and predicate[0] in labels.WHERE
    for name in labels.names(field):
        keys = [token.key for token in tokenise(name) if token.key]
        if predicate and not placed and name not in field.say:
            own = [token.key for token in tokenise(subject)]
            told = len(own) if own and keys[: len(own)] == own else len(keys) - len(predicate)
            keys = keys[: max(1, told)]
        found = False
        for at, key in enumerate(keys):
            joined = "".join(keys[max(0, at - 1) : at + 1])
            if found and keys[at - 1] in _RELATED - {"and"}:
                break
            compound = kind_of(joined, whole=True) if at else None
            kind, thing = (compound, joined) if compound else (kind_of(key), key)
            after = keys[at + 1] if at + 1 < len(keys) else ""
            last = after in ASPECTS | _RELATED | {""} or is_fault(after)
            if kind is None and last and _is_thing(key):
                kind = ANY
            if kind is None or not (last or kind_of(after) == kind):
                continue
            found = True
            if not predicate or placed or is_wanted(kind, predicate[0]):
                yield keys[at - 1] if at else "", thing, kind


def doers_at(card: Card) -> dict[str, str]:
    """Places that only checks of things of one kind have -> that kind: "slew left" of the limit
    switches. A number tells no thing; what has a kind of its own ("rear door") is one itself."""
    kinds: dict[str, set[str]] = {}
    for step in card.steps:
        for field in step.fields:
            check = field.type == "check" and field.label.lower().split()[0] not in labels.NEGATIVE
            told = {kind for _, _, kind in doers(field, *split(field))} if check else set()
            for name in field.positions:
                if not name.isdigit() and kind_of(tokenise(name)[-1].key) is None:
                    kinds.setdefault(name, set()).update(told or {ANY})
    return {name: told.pop() for name, told in kinds.items() if len(told) == 1 and ANY not in told}
