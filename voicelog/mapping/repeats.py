"""Repeats: values that a word says once more, for another place."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.mapping.fit import CONTRARY
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


_SAME_AS = re.compile(
    r"\b(?:(?:just|exactly)\s+)?(?:(?:the\s+)?same(?:\s+(?:figure|number|reading|value))?\s+as"
    r"|identical\s+to)\s+(?:(?:on|at|for|the|that|of|number|no\.?)\s+)*",
    re.IGNORECASE,
)
_AND = re.compile(r"\s*,?\s*(?:and\s+)?", re.IGNORECASE)
""" "Cracked, and so is four": of a state it is plain."""
_TAKEN_OVER = frozenset({"quantity", "count", "ratio", "remark", "term"})
_NOT = re.compile(
    r"(?:[,;]|\bbut|\band)\s*(?:but\s+|and\s+)?(?P<not>not)\s+(?:on|at|for|in)\s+(?:the\s+)?\Z",
    re.IGNORECASE,
)
_DOES_NOT = re.compile(
    r"(?:are|ca|could|did|do|does|had|has|have|is|was|were|wo|would)n['’]?t", re.IGNORECASE
)


def enter(
    said: list[Said],
    procedure: Sequence[Mention],
    cues: Sequence[Cue],
    spots: list[Spot],
    text: str,
) -> None:
    """ "Five to seven the same", "the right one too", "so is the latch" say the value before once
    more, "not on the right" the contrary; all are asked about but those that `plainly` trusts."""
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
    for match in _SAME_AS.finditer(text):
        _take_over(said, spots, text, match)
    _turn_round(said, text)
    for spot in spots:
        _deny(said, _NOT.search(text, max(0, spot.start - 24), spot.start), text)
    for start, end in again:
        before = [each for each in said if each.end <= start and each.kind in _TAKEN_OVER]
        if before:
            last = _measured(before, text)
            plain = last.kind in {"remark", "term"} and _AND.fullmatch(text, last.end, start)
            meant = replace(last.mention, text=text[start:end], start=start, end=end, doubts=())
            doubts = list(last.mention.doubts) if plain else ["same_as_before"]
            said.append(Said(start, end, meant, last.option, doubts=doubts))
            said.sort(key=lambda each: (each.start, each.end))


def _take_over(said: list[Said], spots: list[Spot], text: str, match: re.Match[str]) -> None:
    """ "Three the same as two": the value of a place that was named before, for another one."""
    start, at = match.span()
    figure = next((each for each in said if each.start == at and each.kind == "count"), None)
    before = [spot for spot in spots if spot.end <= start]
    own = next((spot for spot in spots if spot.start == at), None)
    meant = [spot for spot in before if _is_named_at(spot, own, figure, text, at)]
    if not meant:
        if figure is not None:
            figure.doubts.append("same_as_before")
        return
    if own is not None:
        spots.remove(own)
    if figure is not None:
        said.remove(figure)
    named = meant[-1]
    upto = min((spot.start for spot in spots if spot.start >= named.end), default=start)
    values = [each for each in said if each.kind in _TAKEN_OVER and each.end <= start]
    behind = [each for each in values if named.end <= each.start and each.end <= upto]
    ahead = [each for each in values if each.end <= named.start]
    value = behind[0] if behind else ahead[-1] if ahead else None
    if value is None:
        return
    end = figure.end if figure is not None else max(at, own.end if own is not None else at)
    again = replace(value.mention, text=text[start:end], start=start, end=end, doubts=())
    doubts = [] if behind else ["same_as_before"]
    said.append(Said(start, end, again, value.option, doubts=doubts))
    said.sort(key=lambda each: (each.start, each.end))


def _is_named_at(spot: Spot, own: Spot | None, figure: Said | None, text: str, at: int) -> bool:
    """Whether `spot` is the place that is named at `at`, as a place of its `own`, as a figure or by
    its bare name."""
    if own is not None:
        return len(own.names) == 1 and own.names[0] in spot.names
    if figure is not None:
        return str(figure.mention.value) in spot.names
    return any(re.match(rf"{re.escape(name)}\b", text[at:], re.IGNORECASE) for name in spot.names)


def _turn_round(said: Sequence[Said], text: str) -> None:
    """ "Four and six drip, the others don't": the contrary of what was told before."""
    before: Said | None = None
    for each in said:
        if each.kind != "remark" or each.option:
            continue
        verdict = CONTRARY.get(str(before.mention.value)) if before is not None else None
        if verdict is not None and _DOES_NOT.fullmatch(each.mention.text):
            each.mention = replace(each.mention, value=verdict)
        contrast = before is not None and _is_contrast(before.mention, each.mention)
        if before is not None and contrast and _is_next(text[before.end : each.start]):
            each.doubts = [code for code in each.doubts if code not in each.mention.doubts]
            judged = (
                "predicate" in before.mention.qualifiers
            )  # by the card, as what was told before
            own = not judged and _DOES_NOT.fullmatch(each.mention.text)
            told = each.mention.qualifiers if own else before.mention.qualifiers
            each.mention = replace(each.mention, doubts=(), qualifiers=told)
        before = each


def _is_contrast(before: Mention, echo: Mention) -> bool:
    """Whether "don't" or "do" says just the contrary of what was told before."""
    denied = _DOES_NOT.fullmatch(echo.text) and before.value == CONTRARY.get(str(echo.value))
    return bool(denied) or (bool(_DOES.fullmatch(echo.text)) and before.negated)


def _is_next(between: str) -> bool:
    """Whether it is said in the clause behind, past a pause."""
    paused = "," in between or ";" in between
    return paused and len(between) < _NEAR and not _SENTENCE.search(between)


_NEAR = 60
_DOES = re.compile(r"do|does|did", re.IGNORECASE)
_SENTENCE = re.compile(r"[.!?](?:\s|$)")


def _deny(said: list[Said], denied: re.Match[str] | None, text: str) -> None:
    """ "Clipped on the inlet, not on the outlet"."""
    before = [each for each in said if denied is not None and each.end <= denied.start()]
    if denied is None or not before or before[-1].kind != "remark" or before[-1].option:
        return
    start, end = denied.span("not")
    if any(each.start <= start < each.end for each in said):
        return
    last = before[-1].mention
    value = CONTRARY.get(str(last.value))
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
