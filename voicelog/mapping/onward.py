"""Onward: values that go on from one place, each to the next: "going round from one: 5, 5.5, 6"."""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING

from voicelog.mapping.row import Cue, Spot
from voicelog.objects import Interval

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Place

_FROM = re.compile(
    r"\b(?:from|(?:beginning|began|begun|start(?:ed|ing)?)\s+(?:at|from|in|on|with))\s+"
    r"(?:the\s+)?(?:(?:number|no\.?)\s+)?",
    re.IGNORECASE,
)
_TO = re.compile(
    r"\s+(?:(?:all|the|way|along|around|right|round|up|down|back)\s+)*(?:to|through)\s+(?:number\s+)?",
    re.IGNORECASE,
)
_BEGINS = re.compile(
    r"\s*(?:along|around|on(?:wards?)?|round|up(?:wards?)?)?"
    r"(?:\s*[,:]|(?<=wards)\s)\s*(?:(?:all\s+)?in\s+[\w/ ]+\s*[,:]\s*)?",
    re.IGNORECASE,
)
""" "From one on, in millimetres: ..."."""
_NEXT = re.compile(r"\s*(?:[,;]\s*)?(?:(?:and|then|finally)\s+)*", re.IGNORECASE)
_COUNTED = re.compile(r"[A-Z]{0,2}\d+|[A-Z]")
"""Places of which everybody knows the order."""


def deal(row: Events, fields: Mapping[Place, Field]) -> list[Said]:
    """Give each value of such a row its place, and take the place itself out of the values; the
    values that have one now."""
    dealt: list[Said] = []
    for begin in _FROM.finditer(row.text):
        head = _head(row, begin.start(), begin.end())
        if head is None:
            continue
        first, last, ahead, end = head
        run = _run(row, end, ahead)
        if len(run) < 2:
            continue
        positions = _positions(row, begin.start(), run[0].step, fields, first)
        if first not in positions:
            continue
        if last in positions[: positions.index(first)]:  # "from eight down to five"
            positions = positions[::-1]
        names = positions[positions.index(first) :]
        if last is not None:
            names = names[: names.index(last) + 1] if last in names else ()
        if len(names) < len(run):
            continue
        whole = len(names) == len(run)
        doubts = ("list_length",) * (not whole)
        doubts += ("position_unsaid",) * (not all(map(_COUNTED.fullmatch, names)))
        for said, name in zip(run, names, strict=False):
            said.spot = Spot(begin.start(), end, (name,), (), doubts=doubts)
            dealt.append(said)
        for said in ahead:
            said.dropped = True
    return dealt


def _head(row: Events, start: int, at: int) -> tuple[str, str | None, list[Said], int] | None:
    """The place at `at`, the last one where that is told, what was taken for values in them, and
    where they end."""
    spot = next((a for a in row.anchors_in(start, at + 1) if _is_one(a) and a.end > at), None)
    if isinstance(spot, Spot):
        first, end, index = spot.names[0], spot.end, bisect_left(row.said, spot.end, key=_start)
        ahead = []
    else:
        index = bisect_left(row.said, start, key=_start)
        said = row.said[index] if index < len(row.said) else None
        if said is None or said.start > at or said.dropped:
            return None
        value, ends = said.mention.value, said.mention.alternatives  # the ends as they were said
        if isinstance(value, Interval) and said.mention.unit is None and len(ends) > 1:
            return str(ends[0]), str(ends[1]), [said], said.end
        if said.kind != "count" or said.start != at:
            return None
        first, end, index, ahead = str(value), said.end, index + 1, [said]
    behind = row.said[index] if index < len(row.said) else None
    if behind is not None and behind.kind == "count" and _TO.fullmatch(row.text, end, behind.start):
        return first, str(behind.mention.value), [*ahead, behind], behind.end
    return first, None, ahead, end


def _is_one(anchor: Cue | Spot) -> bool:
    return isinstance(anchor, Spot) and len(anchor.names) == 1


def _start(said: Said) -> int:
    return said.start


def _run(row: Events, end: int, ahead: Sequence[Said]) -> list[Said]:
    """The numbers that stand behind the place, one after the other."""
    run: list[Said] = []
    for said in row.said[bisect_left(row.said, end, key=_start) :]:
        link = _NEXT if run else _BEGINS
        at = run[-1].end if run else end
        bare = said.kind in {"count", "quantity"} and said.mention.stage != "remarks"
        if not bare or said in ahead or link.fullmatch(row.text, at, said.start) is None:
            break
        run.append(said)
    return run


def _positions(
    row: Events, at: int, step: str | None, fields: Mapping[Place, Field], first: str
) -> tuple[str, ...]:
    """The places of the fields that are named before `at` in the sentence, where they are alike;
    without a name those of the step."""
    ahead = row.anchors_in(row.breaks.sentence_start(at), at)
    named = {place for cue in ahead if isinstance(cue, Cue) for place in cue.places}
    for places in (named, fields):
        rows = {
            fields[place].positions
            for place in places
            if step in {None, place[0]} and first in fields[place].positions
        }
        if rows:
            return rows.pop() if len(rows) == 1 else ()
    return ()
