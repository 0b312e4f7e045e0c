"""Runs of values that make one list, with no other name between them.

Common practice, no source.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING

from voicelog.mapping.adjusted import LEFT
from voicelog.mapping.row import ENDED
from voicelog.mapping.unit_fit import compatible
from voicelog.mapping.up_and_down import NAMED

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.mapping.row import Events, Said


def runs_of(row: Events, anchor_starts: list[int]) -> Iterator[list[Said]]:
    """Runs of numbers of one kind with no other name between them."""
    run: list[Said] = []
    for said in row.said:
        if said.dropped:
            continue
        apart = _counts(row, said, anchor_starts) or (run and _tells_of(row, run[-1], said))
        if run and (apart or not _continues(row, run[-1], said, anchor_starts)):
            yield run
            run = []
        listed = said.kind in {"quantity", "count", "ratio", "identifier"}
        again = "same_as_before" in said.doubts and not (run and _is_item(row, run[-1], said))
        listed = listed and not again and "total" not in said.tags
        listed = listed and "ordinal" not in said.mention.qualifiers  # "at thirty two, first go"
        if listed and said.mention.stage != "remarks":  # "no broken wires" has its own name
            run.append(said)
        elif run:
            yield run
            run = []
    if run:
        yield run


_ITEM = re.compile(r"\s*,\s*(?:and\s+)?(?:the\s+)?")
_ENDS_ITEM = re.compile(r"\s*(?:[,.;]|\Z)")


def _is_item(row: Events, last: Said, said: Said) -> bool:
    """ "60, 62, ditto, 61": whether the same is one more of a list."""
    paused = _ITEM.fullmatch(row.text, last.end, said.start)
    return paused is not None and _ENDS_ITEM.match(row.text, said.end) is not None


def _counts(row: Events, said: Said, anchor_starts: list[int]) -> bool:
    """Whether a number has its own noun behind it ("twenty two strokes") and is in no list."""
    index = bisect_left(anchor_starts, said.end)
    beside = index < len(anchor_starts) and anchor_starts[index] - said.end <= 1
    return said.kind == "count" and beside and not row.text[said.end : anchor_starts[index]].strip()


_VERB = re.compile(
    r"['’]s\b|\s+(?:is|was|isn['’]t|wasn['’]t|has|needs|wants|looks|being)\b", re.IGNORECASE
)


def _tells_of(row: Events, last: Said, said: Said) -> bool:
    """Whether a number is of the talk behind a list: what the next clause tells of, "..., six point
    nine amps. Four is over", or one in a sentence of its own, "sixteen bar. C let go at eleven"."""
    ended = row.breaks.between(last.end, said.start) == 2
    complete = last.mention.unit is not None
    if said.kind != "count" or not (complete or ended):
        return False
    if complete and ended and row.unexplained(last.end, said.start, last.end):
        return True
    return _VERB.match(row.text, said.end) is not None


def _continues(row: Events, last: Said, said: Said, anchor_starts: list[int]) -> bool:
    same_sort = last.kind == said.kind or {last.kind, said.kind} == {"quantity", "count"}
    named = bisect_left(anchor_starts, said.start) - bisect_left(anchor_starts, last.end)
    named = named or any(cue.mention.stage == NAMED for cue in said.inner)
    one, other = last.mention.unit, said.mention.unit
    if one is not None and other is not None and not compatible(one, other):
        return False
    turned = LEFT & said.tags and not LEFT & last.tags
    placed = said.spot is not None and row.breaks.between(last.end, said.start) == ENDED
    return same_sort and not named and not turned and not placed
