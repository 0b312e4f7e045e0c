"""Verbs: states that are only the verb of a number, and no finding ("torqued to ninety")."""

from __future__ import annotations

import re
from bisect import bisect_left
from itertools import zip_longest
from operator import attrgetter
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLAIN, START
from voicelog.mapping.spots import field_at
from voicelog.reading.labels import names
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Cue, Said, Spans
    from voicelog.objects import Card

_AT = re.compile(
    r"\s*(?:up|down|back|again|off)?\s*(?:to|at|with)\s+(?:about|around|just)?\s*", re.IGNORECASE
)


_TO_DO = re.compile(r"\s+to\s+[a-z]", re.IGNORECASE)


def without_verbs(said: list[Said], cues: Sequence[Cue], card: Card, text: str) -> list[Said]:
    """`said` without remarks that are only the verb of a number: "torqued to ninety", "twenty
    seconds to close"."""
    kept = []
    before = None
    timed = False
    for one, other in zip_longest(said, said[1:]):
        state = one.kind == "remark" and "state" in one.mention.qualifiers
        ahead = (
            other is not None
            and other.is_number
            and one.mention.value == "pass"
            and (
                _AT.fullmatch(text, one.end, other.start) is not None
                or _takes(one, other, text)
                or _names_measured(one, other, cues, card, text)
            )
            and not _is_counted(other, cues, card)
        )
        ahead = ahead or (other is not None and _leads_to(one, other, text))
        ahead = ahead or (other is not None and _tells_wear(one, other, card))
        ahead = ahead or (before is not None and _tells_of_counted(before, one, cues, card, text))
        behind = (
            before is not None
            # "twenty seconds to close, ten to open": the unit was said once
            and (before.kind == "quantity" or (timed and before.kind == "count"))
            and text[before.end : one.start].split() == ["to"]
        )
        timed = timed or (one.kind == "quantity" and _TO_DO.match(text, one.end) is not None)
        if not (state and (ahead or behind)):
            kept.append(one)
        before = one
    return kept


_HAS = re.compile(r"(?:['’](?:s|ve)|\b(?:has|have|had))\s+\Z", re.IGNORECASE)
_SOME = re.compile(r"\s+(?:(?:about|another|exactly|just|only|over)\s+)*", re.IGNORECASE)


def _leads_to(verb: Said, other: Said, text: str) -> bool:
    """ "The engine's done four hundred hours", "switch back in auto": the words tell how much, or
    which, and no more than that."""
    word = verb.mention.text.lower()
    if word == "back in" and other.option is not None and other.kind == "term":
        return text[verb.end : other.start].isspace()
    measured = word == "done" and other.kind == "quantity"
    has = measured and _HAS.search(text, max(0, verb.start - 5), verb.start) is not None
    return has and _SOME.fullmatch(text, verb.end, other.start) is not None


_PAUSE = re.compile(r"[,.;]")
_OBJECT_AT = re.compile(
    r"\s+(?:the|it|them|both|all)\b(?:\s+(?!and\b)[a-z]+){0,3}?\s+(?:to|at)\s+", re.I
)


def _names_measured(verb: Said, number: Said, cues: Sequence[Cue], card: Card, text: str) -> bool:
    """ "Seated the nut at 250 foot pounds", where the card has a field for that."""
    if number.kind != "quantity" or not _OBJECT_AT.fullmatch(text, verb.end, number.start):
        return False
    index = bisect_left(cues, verb.start, key=START)
    cue = cues[index] if index < len(cues) else None
    if cue is None or (cue.start, cue.end) != (verb.start, verb.end) or cue.plainest < PLAIN:
        return False
    fields = [field_at(card, place) for place in cue.places]
    return all(each is not None and each.type == "measurement" for each in fields)


_NEAR = 16
"""Characters between a verb and the number that it came to."""


def brought_to(verb: Cue, numbers: Spans, text: str) -> bool:
    """Whether a verb has the number that it came to behind it: "seated it at 270"."""
    at = numbers.start_behind(verb.end)
    if at is None or at - verb.end > _NEAR:
        return False
    return _PAUSE.search(text, verb.end, at) is None


def _takes(verb: Said, number: Said, text: str) -> bool:
    """ "The brake holds one hundred kilonewtons", "A held 208 volts, B held 210": the verb of a
    measure, and no verdict."""
    word = verb.mention.text.lower()
    told = word in talk().everyday.verbs and (word.endswith("s") or word == "held")
    measured = number.kind == "quantity" or _PAUSED.match(text, number.end) is not None
    return told and measured and number.start - verb.end == 1


_PAUSED = re.compile(r"\s*(?:[,.;]|and\b|\Z)", re.IGNORECASE)


def _tells_of_counted(
    number: Said, state: Said, cues: Sequence[Cue], card: Card, text: str
) -> bool:
    """ "Three leaves are missing", where the card counts the "leaves missing"."""
    word = state.mention.text.lower()
    if number.kind != "count" or number.mention.stage == "remarks":
        return False
    index = bisect_left(cues, number.end, key=START)
    cue = cues[index] if index < len(cues) else None
    if cue is None or text[number.end : cue.start].strip() or cue.end > state.start:
        return False
    fields = [field_at(card, place) for place, plain in cue.places.items() if plain >= PLAIN]
    asked = any(
        each is not None and each.type == "count" and word in each.label.lower().split()
        for each in fields
    )
    return asked and text[cue.end : state.start].strip().lower() in {"", "are", "is", "were", "was"}


def _tells_wear(state: Said, number: Said, card: Card) -> bool:
    """ "The sheave is worn one point four millimetres", where the card has a field for its wear."""
    if "is:wear" not in state.mention.qualifiers or number.kind != "quantity":
        return False
    measured = (field for step in card.steps for field in step.fields if field.unit is not None)
    asked = any("wear" in name.lower().split() for field in measured for name in names(field))
    return asked and number.start - state.end == 1


def _is_counted(number: Said, cues: Sequence[Cue], card: Card) -> bool:
    """Whether a number counts something that has a field: "holds with eleven turns"."""
    index = bisect_left(cues, number.start + 1, key=attrgetter("end"))
    if index == len(cues) or cues[index].start > number.end + 1:
        return False
    fields = [field_at(card, place) for place in cues[index].places]
    return all(each is not None and each.type == "count" for each in fields)


_DOER = re.compile(r"\b(?:I|we|I['’]ve|we['’]ve|then|after\s+that|having)\s+\Z", re.IGNORECASE)
_OBJECT = re.compile(
    r"\s+(?:the|that|my|our|both)\s+(?!(?:first|second|third|last|other|same|whole|full)\b|time\b|way\b)",
    re.IGNORECASE,
)


def has_object(said: Said, text: str) -> bool:
    """Whether a state was told by what somebody did to the thing behind it, and is no word on what
    was named before: "mended the bypass valve, then opened the drain"."""
    known = said.kind == "remark" and "state" in said.mention.qualifiers
    told = known and ("predicate" in said.mention.qualifiers or said.mention.text.endswith("ed"))
    done = told and _OBJECT.match(text, said.end) is not None
    return done and _DOER.search(text, max(0, said.start - 14), said.start) is not None
