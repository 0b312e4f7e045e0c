"""Came to: a state told of how a thing was, where what it came to found no field.

"The thruster was empty, seal's gone. New seal, filled it, it's full": whoever put down that it is
empty would not have listened to the end; it is asked about. Where a check failed, was worked on,
and everyday words tell behind it that it is right, it is supposed to pass.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.mapping.came_right import is_mending
from voicelog.mapping.row import PLAIN, START, Cue
from voicelog.mapping.work_verbs import act
from voicelog.reading import verdict_words
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.percard import fields_of
from voicelog.reading.settings import reasons_of
from voicelog.reading.talk import mended_words
from voicelog.reading.words import verb_stem

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Card, Field, FieldValue

_WAS = re.compile(r"\b(?:was|were|had|found|been)\b", re.IGNORECASE)
_NEAR = 40
"""Characters before a state within which its "was" stands."""
_REACH = 160
"""Characters behind a state within which it is told what came of it."""


def doubt(
    values: Sequence[FieldValue], left_over: Sequence[Said], row: Events, card: Card
) -> list[FieldValue]:
    """`values` with a doubt on what "was" so, where another state of it stands unplaced behind."""
    later = [said for said in left_over if said.option is not None or _is_good(said)]
    return [_asked(value, later, row, card) if later else value for value in values]


def _asked(value: FieldValue, later: Iterable[Said], row: Events, card: Card) -> FieldValue:
    state = value.mentions[0].kind in {"remark", "term"} and value.value != "pass"
    start = row.clause_start(value.start)
    if not state or value.reasons or not _WAS.search(row.text, start, value.end):
        return value
    near = (said for said in later if value.end < said.start <= value.end + _REACH)
    if not any(_is_of(said, value, card) for said in near):
        return value
    return replace(value, reasons=reasons_of(("at_first",)))


def _is_good(said: Said) -> bool:
    return said.kind == "remark" and said.mention.value == "pass"


def _is_of(said: Said, value: FieldValue, card: Card) -> bool:
    """Whether it may be told of the field of `value`: another option, or what its label asks."""
    lexicon, place = lexicon_of(card), value.key[:2]
    if said.option is not None:
        return said.option in lexicon.options.get(place, {}) and said.option != value.value
    asked = f"says:{' '.join(lexicon.states.get(place, ()))}"
    return value.value == "fail" and asked in said.mention.qualifiers


_Piece = tuple[int, int]
_PIECE = re.compile(
    r"(?P<stop>[.;!?])(?:\s+|\Z)|,\s+|\s+(?:and|so|then|but|while)\s+", re.IGNORECASE
)
_OF_IT = re.compile(
    r"\s*(?:(?:and|so|then)\s+)*(?:it|they|she|now|again|all|both|works|runs|no)\b", re.IGNORECASE
)
""" "It's dry now": a sentence that goes on about what was worked on."""
_ENDS = frozenset({"cut", "cuts", "dead"})
_DENIED = re.compile(r"(?:n['’]t|\bnot|\bnever)\s+(?P<verb>[a-z]+)", re.IGNORECASE)


def suppose(values: Sequence[FieldValue], row: Events, card: Card) -> list[FieldValue]:
    """`values`, where a check that failed passes if words behind it tell that work mended it, or
    if its fault may be what the thing is there to do ("pulled the lanyard, engine cut at once")."""
    fields = fields_of(card)
    done = (_mended(value, row, fields[value.key[:2]]) for value in values)
    return [_stopped(value, row, fields[value.key[:2]]) for value in done]


def _stopped(value: FieldValue, row: Events, field: Field) -> FieldValue:
    """The check passes where it is asked whether its fault is one, and everyday words tell not."""
    open_ = any(reason.code == "state_meaning" for reason in value.reasons)
    if not open_ or field.type != "check" or value.value != "fail":
        return value
    if value.mentions[0].text.lower() not in _ENDS:
        return value
    end = row.breaks.clause_end(value.end, len(row.text))
    told = verdict_words.verdict(row.text[row.clause_start(value.start) : end], field)
    return replace(value, value="pass", alternatives=("fail",)) if told == "pass" else value


def _mended(value: FieldValue, row: Events, field: Field) -> FieldValue:
    if field.type != "check" or value.value != "fail" or not value.mentions:
        return value
    faults = [each for each in value.mentions if each.kind == "remark" and each.value == "fail"]
    if any("verdict" in each.qualifiers for each in faults):
        return value
    first = min(faults or value.mentions[:1], key=START)
    told = _told_of_work(row, value, field, first.end)
    if not told or not _is_right(told, row, field, row.text[value.start : told[0][0]]):
        return value
    codes = dict.fromkeys((*(r.code for r in value.reasons if r.code == "supposed"), "repaired"))
    return replace(
        value,
        value="pass",
        as_found="fail",
        reasons=reasons_of(tuple(codes)),
        alternatives=("fail",),
    )


def _is_right(told: Sequence[_Piece], row: Events, field: Field, before: str) -> bool:
    """Whether pieces of the talk tell that a thing is right of which a fault was told: in words
    that are good of it, or in those that were denied before ("wasn't closing, closes now")."""
    pieces = [row.text[start:end] for start, end in told]
    words = ", ".join(pieces)
    verdicts = {verdict_words.verdict(each, field) for each in (words, *pieces)}
    if "fail" in verdicts or "pass" in verdicts:
        return "fail" not in verdicts
    states = [each.mention for piece in told for each in row.said_in(*piece)]
    states = [each for each in states if each.kind == "remark"]
    if verdict_words.is_no_finding(words) or any(each.value != "pass" for each in states):
        return False
    denied = {verb_stem(each["verb"].lower()) for each in _DENIED.finditer(before)}
    return bool(states) or not denied.isdisjoint(map(verb_stem, words.lower().split()))


def _told_of_work(row: Events, value: FieldValue, field: Field, start: int) -> list[_Piece]:
    """The pieces of the talk behind a fault that tell how the thing is after the last work."""
    at, told, worked, ended = start, list[_Piece](), False, False
    while at < min(len(row.text), start + _REACH):
        cut = _PIECE.search(row.text, at)
        end = len(row.text) if cut is None else cut.start()
        kinds = {mended_words().kind(each) for each in mended_words().find(row.text, at, end)}
        mends = is_mending(row, (at, end)) or bool(kinds - {"good"})
        goes_on = mends or (worked and bool(_OF_IT.match(row.text, at, end)))
        if (ended and not goes_on) or _turns(row, value, field, (at, end), worked, mends):
            break
        if mends:
            worked, told = True, []
        elif worked and not act().match(row.text, at, end):
            told.append((at, end))
        if cut is None:
            break
        ended, at = cut["stop"] is not None, cut.end()
    return told


def _turns(
    row: Events, value: FieldValue, field: Field, piece: _Piece, worked: bool, mends: bool
) -> bool:
    """Whether another place, or another check than the one worked on, is named there."""
    for anchor in row.anchors_in(*piece):
        if isinstance(anchor, Cue):
            other = value.key[:2] not in anchor.places and anchor.plainest >= PLAIN and not mends
        else:
            of_it = not set(field.positions).isdisjoint(anchor.names)
            other = value.position not in anchor.names and (of_it or (worked and not mends))
        if other:
            return True
    return False
