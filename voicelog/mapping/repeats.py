"""Repeats: values that a word says once more, for another place."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLAIN, Said

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Cue, Spot
    from voicelog.objects import Mention

_SO_IS = re.compile(
    r"\s+(?:(?:one|side|end)\s+)?(?P<too>too|as\s+well)(?=\s*(?:[,.;]|$))", re.IGNORECASE
)
_NEXT = re.compile(
    r"(?:^|[,.;]|\b(?:and|but)\b)\s*(?:(?:and|then|so|the|on|at)\s+)*$", re.IGNORECASE
)

_SO = re.compile(
    r"(?:^|[,.;]\s*|\band\s+)(?P<so>so['’]s|so\s+(?:are|did|do|does|had|has|have|is|was|were))"
    r"\s+(?:(?:the|that|those|ones?|of|on|at|in)\s+)*$",
    re.IGNORECASE,
)


_NOT = re.compile(
    r"(?:[,;]|\bbut|\band)\s*(?:but\s+|and\s+)?(?P<not>not)\s+(?:on|at|for|in)\s+(?:the\s+)?\Z",
    re.IGNORECASE,
)
_TURNED = {"pass": "fail", "fail": "pass"}


def enter(
    said: list[Said],
    procedure: Sequence[Mention],
    cues: Sequence[Cue],
    spots: Sequence[Spot],
    text: str,
) -> None:
    """ "Five to seven the same", "the right one too", "so is the latch" say the value before once
    more, "not on the right" the contrary; all are asked about."""
    again = [(word.start, word.end) for word in procedure if word.value == "same"]
    names = [cue for cue in cues if cue.plainest >= PLAIN and not cue.in_spot]
    anchors: list[Spot | Cue] = [*spots, *names]
    for spot in anchors:
        found = _SO_IS.match(text, spot.end)
        if found is not None and _NEXT.search(text[max(0, spot.start - 24) : spot.start]):
            again.append(found.span("too"))
        told = _SO.search(text, max(0, spot.start - 30), spot.start)
        if told is not None:
            again.append(told.span("so"))
    for spot in spots:
        _deny(said, _NOT.search(text, max(0, spot.start - 24), spot.start), text)
    for start, end in again:
        before = [
            each
            for each in said
            if each.end <= start and each.kind in {"quantity", "count", "ratio", "remark", "term"}
        ]
        if before:
            last = _measured(before, text)
            meant = replace(last.mention, text=text[start:end], start=start, end=end, doubts=())
            said.append(Said(start, end, meant, last.option, doubts=["same_as_before"]))
            said.sort(key=lambda each: (each.start, each.end))


def _deny(said: list[Said], denied: re.Match[str] | None, text: str) -> None:
    """ "Clipped on the inlet, not on the outlet"."""
    before = [each for each in said if denied is not None and each.end <= denied.start()]
    if denied is None or not before or before[-1].kind != "remark" or before[-1].option:
        return
    start, end = denied.span("not")
    if any(each.start <= start < each.end for each in said):
        return
    last = before[-1].mention
    value = _TURNED.get(str(last.value))
    if value is not None:
        meant = replace(
            last, text=text[start:end], start=start, end=end, value=value, negated=True, doubts=()
        )
        said.append(Said(start, end, meant, doubts=["negation_scope"]))
        said.sort(key=lambda each: (each.start, each.end))


def _measured(before: Sequence[Said], text: str) -> Said:
    """The number of "twelve millimetres slack", which tells of what it is; else the last value."""
    last, number = before[-1], before[-2] if len(before) > 1 else None
    if number is None or not number.is_number or "bare" not in last.mention.qualifiers:
        return last
    return number if text[number.end : last.start].strip().lower() in {"", "of"} else last
