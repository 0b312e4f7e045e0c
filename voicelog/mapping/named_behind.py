"""Named behind: the name of a field behind a row of its values, of which each has its place.

"0.15 mm on red and 0.2 on blue, that's the bearing play", "26 pounds left and 25 right on the
rudder cables": the name reaches back to the first of them.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING

from voicelog.mapping.row import START, Cue, Spot

if TYPE_CHECKING:
    from voicelog.mapping.row import Events, Said

_PLACED = re.compile(r"\s*(?:(?:on|at|for|in|of)\s+)?(?:the\s+)?(?:(?:number|no\.?)\s+)?", re.I)
_NEXT = re.compile(r"\s*(?:[,;]\s*)?(?:(?:and|then|with|but)\s+)?(?:it['’]s\s+)?", re.I)
_THAT_IS = re.compile(
    r"[\s,;.–—-]*\b(?:that['’]?s|that\s+(?:is|was)|(?:those|these|they)(?:['’]re|\s+(?:are|were))|all)\s+"
    r"(?:(?:for|on)\s+)?(?:(?:the|my|our)\s+)?\Z",
    re.I,
)
_ON = re.compile(r"\s*,?\s*(?:on|for|of|in)\s+(?:the\s+)?|\s*,\s+(?:the\s+)?", re.I)
_ROW = 2
"""Values of a row, at least."""
_PLAINLY = 0.5
_LINK = 40
"""Characters of what leads to the name, at most."""


def deal(row: Events) -> None:
    """Give the values of such rows the name behind them."""
    for index, cue in enumerate(row.anchors):
        if not isinstance(cue, Cue) or cue.in_spot or cue.plainest < _PLAINLY or cue.dropped:
            continue
        run = (_told(row, cue) or _run(row, index)) if _ends(row, cue) else []
        if len(run) >= _ROW and not _is_named(row, run[0]):
            for said in run:
                said.inner.append(cue)


def _told(row: Events, cue: Cue) -> list[Said]:
    """All the values of a sentence that tells of places and names nothing, where the name is told
    of it: "6.5 mm rear, front and middle both 6.8, that's the pads", "Left 1.6, right 2.4. That's
    the tread"."""
    link = _THAT_IS.search(row.text, max(0, cue.start - _LINK), cue.start)
    if link is None:
        return []
    start, end = row.breaks.sentence_start(link.start()), link.start()
    run = [said for said in row.said_in(start, end) if not said.dropped]
    named = row.anchors_in(start, end)
    placed = sum(isinstance(each, Spot) for each in named)
    free = all(said.is_number and said.spot is None for said in run)
    starts, ends = [start, *(said.end for said in run)], [*(said.start for said in run), end]
    strange = any(row.unexplained(*gap, gap[0]) for gap in zip(starts, ends, strict=True))
    return run if free and placed >= len(run) and not strange else []


def _ends(row: Events, cue: Cue) -> bool:
    """Whether nothing more is told behind a name."""
    end = row.breaks.sentence_end(cue.end, len(row.text))
    return not row.text[cue.end : end].strip(" .,;")


def _run(row: Events, index: int) -> list[Said]:
    """The values, each with its place, that stand one after the other up to a name."""
    run: list[Said] = []
    places: set[str] = set()
    end = row.anchors[index].start
    for anchor in reversed(row.anchors[:index]):
        if isinstance(anchor, Cue) and (anchor.in_spot or anchor.dropped):
            continue
        said = _before(row, anchor.start)
        if not isinstance(anchor, Spot) or said is None or not places.isdisjoint(anchor.names):
            break
        links = (_NEXT,) if run else (_THAT_IS, _ON)
        if not any(each.fullmatch(row.text, anchor.end, end) for each in links):
            break
        if _PLACED.fullmatch(row.text, said.end, anchor.start) is None:
            break
        places.update(anchor.names)
        run.insert(0, said)
        end = said.start
    return run


def _before(row: Events, at: int) -> Said | None:
    """The number that ends last before `at` and has no place of its own yet."""
    index = bisect_left(row.said, at, key=START) - 1
    said = row.said[index] if index >= 0 else None
    free = said is not None and said.is_number and said.spot is None and not said.dropped
    return said if free else None


def _is_named(row: Events, first: Said) -> bool:
    """Whether a name stands ahead of the row, in its sentence."""
    start = row.breaks.sentence_start(first.start)
    ahead = row.anchors_in(start, first.start)
    if first.inner or any(isinstance(each, Cue) and not each.in_spot for each in ahead):
        return True
    return any(not each.dropped for each in row.said_in(start, first.start))
