"""The same sound read by a second model, and mapped as well: where the two drafts differ.

Two models seldom slip in the same place. A value that both hold stands as it is; one that they hold
differently is asked about, with the other value beside it; one that the second holds plainly and
the first not at all is proposed, and asked about: better a value to look at than one that is lost.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.alignment import counterpart
from voicelog.reading.settings import reasons_of, settings

if TYPE_CHECKING:
    from voicelog.objects import Card, Draft, FieldValue

_FREE = frozenset({"text", "computed"})
"""Kinds of field whose values two models never write alike, or that nobody says."""


def compared(draft: Draft, text: str, other: Draft, other_text: str, card: Card) -> Draft:
    """`draft`, read in `text`, with what `other`, read in `other_text`, has otherwise or more."""
    kinds = {(step.number, field.name): field.type for step in card.steps for field in step.fields}
    theirs = {value.key: value for value in other.values if kinds[value.key[:2]] not in _FREE}
    ours = {value.key for value in draft.values}
    values = [
        _asked(value, theirs[value.key]) if value.key in theirs else value for value in draft.values
    ]
    besides = [value for key, value in theirs.items() if key not in ours and not value.needs_check]
    values += [_besides(value, text, other_text) for value in besides]
    found = {value.key for value in values}
    missing = tuple(key for key in draft.missing if key not in found)
    return replace(draft, values=tuple(values), missing=missing)


def _asked(value: FieldValue, other: FieldValue) -> FieldValue:
    """`value`, asked about where `other` is another one for the same field."""
    pairs = ((value.value, other.value), (value.unit, other.unit), (value.as_found, other.as_found))
    if value.value == other.value and not any(a and b and a != b for a, b in pairs[1:]):
        return value
    reasons = dict.fromkeys((*value.reasons, *reasons_of(("read_otherwise",))))
    alternatives = dict.fromkeys((*value.alternatives, other.value))
    alternatives.pop(value.value, None)
    return replace(
        value,
        reasons=tuple(reasons),
        alternatives=tuple(alternatives),
        confidence=min(value.confidence, _trust("read_otherwise")),
    )


def _besides(value: FieldValue, text: str, other_text: str) -> FieldValue:
    """`value`, which only the other reading holds, where its words would stand in `text`."""
    start, end = counterpart(other_text, value.start, value.end, text)
    return replace(
        value,
        start=start,
        end=end,
        mentions=(),
        reasons=reasons_of(("second_only",)),
        confidence=min(value.confidence, _trust("second_only")),
    )


def _trust(code: str) -> float:
    return float(settings().thresholds[f"trust_{code}"])
