"""Fields of a card that come in pairs: one for the value found, one for the value left."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.reading.settings import reasons_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.objects import Card, Field, FieldValue

_FOUND = re.compile(r"\b(?:as[ _-]?)?(?:found|before)\b")
_LEFT = re.compile(r"\b(?:as[ _-]?)?(?:left|after)\b")


def doubt(values: list[FieldValue], card: Card) -> list[FieldValue]:
    """`values`, in doubt where one field took what was found and what was left, though the step
    has a field for each: either may stand in the wrong one."""
    if all(value.as_found is None for value in values):
        return values
    pairs = {
        (step.number, field.name)
        for step in card.steps
        for field in step.fields
        if _has_partner(field, step.fields)
    }
    return [
        replace(value, reasons=(*value.reasons, *reasons_of(("ambiguous_place",))))
        if value.as_found is not None and value.key[:2] in pairs
        else value
        for value in values
    ]


def _has_partner(field: Field, others: Sequence[Field]) -> bool:
    for wanted, partner in ((_FOUND, _LEFT), (_LEFT, _FOUND)):
        rest = _without(wanted, field)
        alike = (each for each in others if each is not field and each.type == field.type)
        if rest and any(rest & _without(partner, each) for each in alike):
            return True
    return False


def _without(word: re.Pattern[str], field: Field) -> set[str]:
    """What is left of the field's label and name without the word, where they have it."""
    texts = (field.label.lower(), field.name.lower().replace("_", " "))
    return {
        " ".join(re.findall(r"\w+", word.sub(" ", text))) for text in texts if word.search(text)
    }
