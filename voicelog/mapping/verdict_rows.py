"""Verdict rows: as many verdicts or options in a row as places, one for each.

"Tucks one to four: tight, tight, loose, tight", or the places behind them: "tight, tight, loose,
tight, that's tucks one to four". Where the counts differ, all of them are asked about.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.row import Cue, Spot

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.mapping.row import Events, Said

_NEXT = re.compile(r"\s*,\s*(?:and\s+|then\s+)?|\s+and\s+", re.IGNORECASE)
_LEADS = re.compile(
    r"\s*[:,-]?\s*(?:(?:are|in\s+(?:that\s+)?order|were|as\s+follows)[\s:,]*)*", re.IGNORECASE
)
_FOLLOWS = re.compile(
    r"\s*[:,.-]?\s*(?:(?:that['’]?s|that\s+is|those\s+are|these\s+are|for|from|on|at)\s+)?(?:the\s+)?",
    re.IGNORECASE,
)
_PAIR, _WORDS = 2, 2
"""A row of so few may be two findings on one thing; and words of a verdict, at most."""


def deal(row: Events) -> None:
    """Give each verdict of a row its own place, or ask about all of them."""
    for run in _runs(row):
        spot = _places_of(row, run)
        if spot is None or len({_told(said) for said in run}) < 2:
            continue
        if len(spot.names) != len(run):
            for said in run if len(run) > _PAIR else ():
                said.doubts.append("list_length")
            continue
        for said, name in zip(run, spot.names, strict=True):
            said.spot = Spot(spot.start, spot.end, (name,), spot.mentions, spot.words, spot.doubts)


def _runs(row: Events) -> Iterator[list[Said]]:
    """Verdicts and options with nothing but a comma or an "and" between them."""
    run: list[Said] = []
    for said in row.said:
        listed = not said.dropped and _is_bare(said)
        if run and not (listed and _NEXT.fullmatch(row.text, run[-1].end, said.start)):
            yield from [run] if len(run) > 1 else []
            run = []
        if listed:
            run.append(said)
    yield from [run] if len(run) > 1 else []


def _is_bare(said: Said) -> bool:
    """Whether it is a verdict or an option alone, with no name in it, and denies nothing."""
    bare = said.option is not None or said.kind == "remark"
    named = any((cue.start, cue.end) != (said.start, said.end) for cue in said.inner)
    denied = "none" in said.mention.qualifiers or said.mention.negated
    return bare and not (named or denied) and len(said.mention.text.split()) <= _WORDS


def _places_of(row: Events, run: list[Said]) -> Spot | None:
    """The places right before the row, or right behind it."""
    around = row.anchors_in(row.breaks.sentence_start(run[0].start), run[0].start)
    before = [each for each in around if isinstance(each, Spot)]
    if before and _LEADS.fullmatch(row.text, before[-1].end, run[0].start):
        return before[-1] if len(before[-1].names) > 1 else None
    end = row.breaks.sentence_end(run[-1].end + 1, len(row.text))
    behind = [*row.anchors_in(run[-1].end, end)[:2]]
    name = behind.pop(0) if len(behind) > 1 and isinstance(behind[0], Cue) else None
    spot = behind[0] if behind else None
    if not isinstance(spot, Spot) or len(spot.names) < _PAIR:
        return None
    first = spot if name is None else name
    led = _FOLLOWS.fullmatch(row.text, run[-1].end, first.start)
    if not led or (name is not None and not _FOLLOWS.fullmatch(row.text, name.end, spot.start)):
        return None
    if isinstance(name, Cue):  # what is named behind a row is the name of every one
        for said in run:
            said.inner.append(name)
    return spot


def _told(said: Said) -> str:
    return said.option or str(said.mention.value)
