"""Reservations: what is told right behind a good state and takes a part of it back.

"Alarm sounds with the test weight, not with the switch", "held, then it crept", "at the mark but
black as tar": the state was said, and is not all that was found. Common practice, no source.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.row import Cue
from voicelog.reading.talk import reserved_words
from voicelog.reading.words import lowered

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field

_REACH = 80
"""Characters behind a state that are looked at."""
_LINK = re.compile(r"\s*,?\s*(?:and\s+)?", re.IGNORECASE)


def doubts(
    row: Events, placement: Placement, field: Field, later: Placement | None
) -> Iterator[str]:
    """The doubt about a check that is told to be good, or a good option, for what follows; `later`
    is what was said next."""
    said, target = placement.said, placement.targets[0]
    good = target.fit.value == "pass" if field.type == "check" else _is_good(said, field)
    link = _LINK.match(row.text, said.end)
    if not good or link is None:
        return
    start = link.end()
    end = min(row.breaks.sentence_end(start, len(row.text)), start + _REACH)
    words = reserved_words().pattern.match(lowered(row.text[start:end]))
    if words is not None and not _names_another(row, placement, said.end, start + words.end() + 1):
        yield "reserved"
    elif field.type == "choice" and later is not None and _is_fault_of_it(row, said, later):
        yield "contradiction"


_FAULT = re.compile(
    r"\s*,?\s*(?:(?:a|and|badly|bit|but|has|it['’]s|just|only|slightly|though|with)\s+)*",
    re.IGNORECASE,
)


def _is_fault_of_it(row: Events, said: Said, later: Placement) -> bool:
    """Whether a fault that found no field stands right behind it: "good, bit cracked"."""
    fault = later.said
    lost = not later.targets and fault.kind == "remark" and fault.mention.value == "fail"
    return lost and _FAULT.fullmatch(row.text, said.end, fault.start) is not None


def _is_good(said: Said, field: Field) -> bool:
    """Whether an option is good by its word, or the first that the card has and no word for bad."""
    value = said.mention.value
    return value == "pass" or (said.option == field.options[0] and value != "fail")


def _names_another(row: Events, placement: Placement, start: int, end: int) -> bool:
    """Whether another thing, or a place, is named there: "good but port is low"."""
    place = placement.targets[0].place
    named = row.anchors_in(start, end)
    return any(not (isinstance(each, Cue) and place in each.places) for each in named)
