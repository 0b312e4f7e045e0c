"""The same sound read by a second model, and mapped as well: where the two drafts differ.

Two models seldom slip in the same place. A value that both hold stands as it is. Where they hold
different ones it is asked about, and the one whose words leave nothing open is proposed. One that
the second holds plainly and the first not at all is proposed, and asked about: better a value to
look at than one that is lost.
"""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.alignment import counterpart
from voicelog.doubt import OF_SOUND_AND_NUMBER
from voicelog.reading.settings import reasons_of, settings

if TYPE_CHECKING:
    from voicelog.objects import Card, Draft, Field, FieldValue, Reason

_FREE = frozenset({"text", "computed"})
"""Kinds of field whose values are compared by their words alone, or that nobody says."""

_WORDED = frozenset({"check", "choice", "text"})
"""Kinds of field whose values hang on plain words, which no figure or unit guards."""

_OF_WORDING = frozenset({"joined_digits", "loosely_named", "misheard_term", "placed_by_unit"})
"""Doubts of how a field was named and where its figures end ("eighty, eight"), which end where the
other reading has it plainly."""


_OF_SPEAKER = frozenset({"about", "hedged"})
"""Doubts that the speaker had: "ten or so", of which the first model may have made "ten also"."""


def agreed(draft: Draft, other: Draft) -> frozenset[tuple[str, str, str | None]]:
    """The fields for which `other` plainly has the value that `draft` has."""
    theirs = {value.key: value for value in other.values if not value.needs_check}
    return frozenset(
        value.key
        for value in draft.values
        if value.key in theirs and _same(value, theirs[value.key])
    )


def counted_alike(
    draft: Draft, text: str, other: Draft, other_text: str
) -> frozenset[tuple[str, str, str | None]]:
    """The fields whose number `other`, read in `other_text`, has in the same words and places
    nowhere else: where it differs by a word that named the field or its place, it has nonsense
    there ("left out bar two and a half")."""
    found = set()
    for value in draft.values:
        if not isinstance(value.value, Decimal):
            continue
        start, end = counterpart(text, value.start, value.end, other_text)
        alike = _words(text[value.start : value.end]) == _words(other_text[start:end])
        rivals = (
            each
            for each in other.values
            if each.key == value.key
            or any(mention.start < end and start < mention.end for mention in each.mentions)
        )
        if alike and all(each.key == value.key and _same(value, each) for each in rivals):
            found.add(value.key)
    return frozenset(found)


def _words(text: str) -> list[str]:
    return re.findall(r"\w+", text.casefold())


def compared(draft: Draft, text: str, other: Draft, other_text: str, card: Card) -> Draft:
    """`draft`, read in `text`, with what `other`, read in `other_text`, has otherwise or more."""
    fields = {(step.number, field.name): field for step in card.steps for field in step.fields}
    theirs = {v.key: v for v in other.values if fields[v.key[:2]].type not in _FREE}
    ours = {value.key for value in draft.values}
    values = [
        _beside(value, theirs.get(value.key), text, other, other_text, fields[value.key[:2]])
        for value in draft.values
    ]
    besides = [value for key, value in theirs.items() if key not in ours and not value.needs_check]
    values += [_besides(value, text, other_text) for value in besides]
    found = {value.key for value in values}
    missing = tuple(key for key in draft.missing if key not in found)
    return replace(draft, values=tuple(values), missing=missing)


def _beside(
    value: FieldValue,
    theirs: FieldValue | None,
    text: str,
    other: Draft,
    other_text: str,
    field: Field,
) -> FieldValue:
    """`value` beside what `other` has for the same field, which may be nothing. The same word that
    `other` came to by other words, and not plainly, is as good as none."""
    if field.type == "computed":
        return value  # nobody says it: what it is made of is compared
    worded = field.type in _WORDED
    if theirs is None or (worded and theirs.needs_check and _same(value, theirs)):
        asked = _unheld(value, text, other, other_text, worded)
        if theirs is None or asked is not value:
            return asked
    return _settled(value, theirs, text, other_text, field.unit)


def _settled(
    value: FieldValue, other: FieldValue, text: str, other_text: str, unit: str | None
) -> FieldValue:
    """What is proposed where both have a value for the same field: ours, unless our words leave it
    open and theirs don't. Where they differ, it is asked about, and the other is beside it; but
    not where ours lacks the `unit` of the card alone ("seventeen down" for "seventeen thou")."""
    clearer = _open(value) and not _open(other)
    lacking = clearer and other.unit and not value.unit
    if _same(value, other) and lacking and other.unit == unit:
        return _placed(other, text, other_text)
    if _same(value, other) and not lacking:
        return _hesitant(_worded(value, other), other)
    first, second = (_placed(other, text, other_text), value) if clearer else (value, other)
    reasons = () if first is not value else value.reasons
    alternatives = dict.fromkeys(first.alternatives)
    if first.unit == second.unit or not (first.unit and second.unit):  # taken with the unit of ours
        alternatives |= dict.fromkeys((second.value, *second.alternatives))
    alternatives.pop(first.value, None)
    return replace(
        first,
        reasons=(*reasons, _told("read_otherwise", other.as_spoken)),
        alternatives=tuple(alternatives),
        confidence=min(first.confidence, _trust("read_otherwise")),
    )


def _unheld(
    value: FieldValue, text: str, other: Draft, other_text: str, worded: bool
) -> FieldValue:
    """`value`, which `other` lacks: asked about where that puts the same words elsewhere ("waves
    three and four" for "ways"), or, where the value is a word, has others ("dry" for "alive").

    Words that are parted ("hand rail") are no others.
    """
    start, end = counterpart(text, value.start, value.end, other_text)
    theirs = other_text[start:end]
    plain = (each for each in other.values if each.key != value.key and not each.needs_check)
    if any(each.start < end and start < each.end for each in plain):
        code = "put_elsewhere"
    elif worded and _joined(text[value.start : value.end]) != _joined(theirs):
        code = "read_otherwise"
    else:
        return value
    return replace(
        value,
        reasons=(*value.reasons, _told(code, theirs)),
        confidence=min(value.confidence, _trust(code)),
    )


def _joined(text: str) -> str:
    return "".join(_words(text))


def _worded(value: FieldValue, other: FieldValue) -> FieldValue:
    """`value` without doubts of its wording alone, where `other` leaves nothing open."""
    named = any(
        mention.kind == "term" and mention.start != other.start for mention in other.mentions
    )
    ended = _OF_WORDING if named else _OF_WORDING - {"placed_by_unit"}
    left = tuple(reason for reason in value.reasons if reason.code not in ended)
    if other.needs_check or left == value.reasons:
        return value
    return replace(value, reasons=left, confidence=value.confidence if left else other.confidence)


def _hesitant(value: FieldValue, other: FieldValue) -> FieldValue:
    """`value` with what the speaker was in doubt about, as far as only `other` heard it."""
    ours = {reason.code for reason in value.reasons}
    heard = [each for each in other.reasons if each.code in _OF_SPEAKER and each.code not in ours]
    if not heard:
        return value
    confidence = min(value.confidence, other.confidence)
    return replace(value, reasons=(*value.reasons, *heard), confidence=confidence)


def _same(value: FieldValue, other: FieldValue) -> bool:
    """Whether both say the same; one may lack the unit, or what was found before."""
    pairs = ((value.unit, other.unit), (value.as_found, other.as_found))
    return value.value == other.value and not any(a and b and a != b for a, b in pairs)


def _open(value: FieldValue) -> bool:
    """Whether the words leave it open; where a number lies by its limits may not decide that."""
    return any(reason.code not in OF_SOUND_AND_NUMBER for reason in value.reasons)


def _besides(value: FieldValue, text: str, other_text: str) -> FieldValue:
    """`value`, which only the other reading holds."""
    return replace(
        _placed(value, text, other_text),
        reasons=(_told("second_only", value.as_spoken),),
        confidence=min(value.confidence, _trust("second_only")),
    )


def _placed(value: FieldValue, text: str, other_text: str) -> FieldValue:
    """`value` of the other reading, where its words would stand in `text`."""
    start, end = counterpart(other_text, value.start, value.end, text)
    return replace(value, start=start, end=end, mentions=())


def _told(code: str, words: str) -> Reason:
    """The reason, with the words that the other reading has."""
    (reason,) = reasons_of((code,))
    return replace(reason, sentence=f'{reason.sentence}: "{words}"')


def _trust(code: str) -> float:
    return float(settings().thresholds[f"trust_{code}"])
