"""Standing: whether a remark says something by itself, or is only part of a name."""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLAIN, START
from voicelog.mapping.spots import field_at
from voicelog.mapping.unit_fit import compatible
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
    text: str,
) -> bool:
    """Whether a remark says something, and is not part of a name ("wheel fitted", "free end")."""
    if places.cover(remark.start, remark.end):
        if not places.exact(remark.start, remark.end):
            return False
        pointed = _POINTED.search(text[max(0, remark.start - 8) : remark.start])
        if pointed or _beside_number(remark, measured, text) or _tied(remark, measured, text):
            return False  # "nine point five amps normal", "fixed, 12.5 mm": where, and no verdict
    if _is_no_finding(remark, text):
        return False
    beside = _beside_number(remark, numbers, text) or _tied(remark, measured, text)
    own = [cue for cue in cues if (cue.start, cue.end) == (remark.start, remark.end)]
    if len(own) == 1 and len(own[0].places) == 1:
        beside = beside or _is_measured(remark, measured, text)
        bare = "bare" in remark.qualifiers
        beside = beside or (bare and _heads_measure(remark, own[0], measured, card, text))
    return not any(_is_part(remark, cue, card, beside=beside) for cue in cues)


_NOT_A = re.compile(r"not\s+an?\s+(?:sound|clean|level|square)", re.IGNORECASE)
""" "Not a sound": a noun, and no state that is denied."""
_DOES = re.compile(r"\b(?:I|they|to|we|you)\s+\Z", re.IGNORECASE)
_TO_IT = re.compile(r"\s+(?:it|them|the|open)\b", re.IGNORECASE)
_CENTRED = re.compile(
    r"\s+(?:(?:is|sat|sits|was)\s+)?(?:[a-z]+\s+)?"
    r"(?:between|cent(?:red|ral)|in\s+the\s+(?:centre|middle))\b",
    re.IGNORECASE,
)


def _is_no_finding(remark: Mention, text: str) -> bool:
    """Whether the words of a remark are another kind of word there: "when you crack the bleed", a
    level's "bubble in the middle"."""
    said = remark.text.lower()
    if _NOT_A.fullmatch(said) or (said == "bubble" and _CENTRED.match(text, remark.end)):
        return True
    verb = "condition" in remark.qualifiers and _DOES.search(
        text, max(0, remark.start - 6), remark.start
    )
    return bool(verb) and _TO_IT.match(text, remark.end) is not None


def _is_part(remark: Mention, cue: Cue, card: Card, *, beside: bool) -> bool:
    """Whether a remark is only part of the name that `cue` is, or that name itself; `beside` tells
    whether a number stands with it."""
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
    return not word or beside


def _is_name_of_choice(remark: Mention, cue: Cue, fields: Sequence[Field | None]) -> bool:
    """ "Neck rings good", "leaking past is none": part of what a choice is called is no finding."""
    choices = all(each is not None and each.type == "choice" for each in fields)
    return choices and cue.plainest >= PLAIN and remark.end - remark.start < cue.end - cue.start


def _describes(remark: Mention, cue: Cue) -> bool:
    """Whether a condition only tells what sort of thing is named: a "leak port" is no leak."""
    rest = cue.mention.text[remark.end - cue.start :].lower().split()
    return cue.plainest >= PLAIN and bool(rest) and rest[0] not in WHERE | {"of", "by"}


_POINTED = re.compile(r"\b(?:on|at)\s+(?:the\s+)?\Z", re.IGNORECASE)
_WITH = re.compile(r"\s+with\b", re.IGNORECASE)
""" "Runs free with one finger": the number is not of what runs free."""


def _beside_number(remark: Mention, numbers: Sequence[Mention], text: str) -> bool:
    if _WITH.match(text, remark.end):
        return False
    index = bisect_left(numbers, remark.start, key=START)
    return any(
        -2 <= remark.start - number.end <= 2 or -2 <= number.start - remark.end <= 6
        for number in numbers[max(0, index - 1) : index + 1]
    )


_LINKED = re.compile(r"\s+(?:on|at|for)\s+(?:the\s+)?", re.IGNORECASE)


def _tied(remark: Mention, numbers: Sequence[Mention], text: str) -> bool:
    """Whether a number before it is of what the words name: "1.2 percent for the elongation"."""
    index = bisect_left(numbers, remark.start, key=START) - 1
    return index >= 0 and bool(
        _LINKED.fullmatch(text, numbers[index].end, max(numbers[index].end, remark.start))
    )


_OF = re.compile(r"\s+(?:of\s+)?", re.IGNORECASE)
_AT = re.compile(r"\s+(?:at|for|in|of|on)\b", re.IGNORECASE)


def _is_measured(remark: Mention, numbers: Sequence[Mention], text: str) -> bool:
    """Whether a number tells how much of it there is, and the words behind it where: "two
    millimetres of wear on the seat"."""
    index = bisect_left(numbers, remark.start, key=START) - 1
    end = numbers[index].end if index >= 0 else remark.start
    of_it = _OF.fullmatch(text, min(end, remark.start), remark.start)
    return of_it is not None and _AT.match(text, remark.end) is not None


_HEAD = re.compile(r"(?:\A|[.,;:!?]\s*|\band\s+)(?:the\s+)?\Z", re.IGNORECASE)
_ENDED = re.compile(r"[.;!?](?:\s|\Z)")
_BEFORE_HEAD = 8


def _heads_measure(
    remark: Mention, cue: Cue, measured: Sequence[Mention], card: Card, text: str
) -> bool:
    """Whether it begins to tell how much of it there is, as its field asks: "all lids seal.
    Moisture 0.7 percent", where nothing is told of the lids."""
    if not _HEAD.search(text[max(0, remark.start - _BEFORE_HEAD) : remark.start]):
        return False
    index = bisect_left(measured, remark.end, key=START)
    unit = measured[index].unit if index < len(measured) else None
    if unit is None or _ENDED.search(text, remark.end, measured[index].start):
        return False
    fields = [field_at(card, place) for place in cue.places]
    return all(each is not None and each.unit and compatible(unit, each.unit) for each in fields)
