"""Standing: whether a remark says something by itself, or is only part of a name."""

from __future__ import annotations

from bisect import bisect_left
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLAIN
from voicelog.mapping.spots import field_at
from voicelog.reading.labels import WHERE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Cue, Spans
    from voicelog.objects import Card, Field, Mention


def stands_alone(
    remark: Mention,
    cues: Sequence[Cue],
    card: Card,
    places: Spans,
    numbers: Sequence[Mention],
    measured: Sequence[Mention],
) -> bool:
    """Whether a remark says something, and is not part of a name ("wheel fitted", "free end")."""
    if places.cover(remark.start, remark.end):
        if not places.exact(remark.start, remark.end):
            return False
        if "verdict" in remark.qualifiers and _beside_number(remark, measured):
            return False  # "nine point five amps normal": where, and no verdict
    return not any(_is_part(remark, cue, card, numbers) for cue in cues)


def _is_part(remark: Mention, cue: Cue, card: Card, numbers: Sequence[Mention]) -> bool:
    """Whether a remark is only part of the name that `cue` is, or that name itself."""
    if cue.near or not (cue.start <= remark.start and remark.end <= cue.end):
        return False
    if "predicate" in remark.qualifiers and remark.end < cue.end:
        return True
    if "bare" in remark.qualifiers and _describes(remark, cue):
        return True
    fields = [field_at(card, place) for place in cue.places]
    if _is_name_of_choice(remark, cue, fields):
        return True
    # a "leak path" that is chosen from a list is no leak yet
    told = {"check"} if "bare" in remark.qualifiers else {"check", "choice"}
    if not all(each is not None and each.type not in told for each in fields):
        return False
    # "latch broken" is a finding, though "broken" alone may name a count: "two broken"
    word = (cue.start, cue.end) == (remark.start, remark.end) and " " not in remark.text
    return not word or _beside_number(remark, numbers)


def _is_name_of_choice(remark: Mention, cue: Cue, fields: Sequence[Field | None]) -> bool:
    """ "Neck rings good", "leaking past is none": part of what a choice is called is no finding."""
    choices = all(each is not None and each.type == "choice" for each in fields)
    return choices and cue.plainest >= PLAIN and remark.end - remark.start < cue.end - cue.start


def _describes(remark: Mention, cue: Cue) -> bool:
    """Whether a condition only tells what sort of thing is named: a "leak port" is no leak."""
    rest = cue.mention.text[remark.end - cue.start :].lower().split()
    return cue.plainest >= PLAIN and bool(rest) and rest[0] not in WHERE | {"of", "by"}


def _beside_number(remark: Mention, numbers: Sequence[Mention]) -> bool:
    index = bisect_left([number.start for number in numbers], remark.start)
    return any(
        -2 <= remark.start - number.end <= 2 or -2 <= number.start - remark.end <= 6
        for number in numbers[max(0, index - 1) : index + 1]
    )
