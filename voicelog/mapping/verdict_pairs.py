"""Verdict pairs: a verdict or a fault, and the value beside it that may be what it is on."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events

_TIMES = re.compile(r"\s+times\b", re.IGNORECASE)
_ALL = re.compile(r"\ball\s+(?:the\s+)?\Z", re.IGNORECASE)
_WHERE = frozenset({"on", "at", "in", "of", "from", "by", "near", "under"})


def of_another(row: Events, one: Placement, other: Placement) -> bool:
    """A verdict without a name of its own, right behind a value of another field: "nine thou,
    within limits" is no word on the check that was named before."""
    if not one.targets or not other.targets or other.said.kind != "remark":
        return False
    nameless = other.targets[0].inherited or other.targets[0].by_unit
    verdict = "verdict" in other.said.mention.qualifiers
    verdict = verdict and (one.said.kind != "remark" or one.said.option is not None)
    apart = one.targets[0].place != other.targets[0].place
    return nameless and verdict and apart and row.breaks.between(one.said.end, other.said.start) < 2


def sums_up(row: Events, one: Placement, other: Placement) -> bool:
    """Whether a verdict on places alone may be on the value that follows for the same ones:
    "burners one and two are fine on the gauge, twenty one millibar each", "burner one fine, gas
    pressure twenty one"."""
    if not one.targets or not other.targets or not other.said.is_number:
        return False
    verdict, value = one.targets[0], other.targets[0]
    placed = verdict.cue is not None and verdict.cue.in_spot
    if not placed or "verdict" not in one.said.mention.qualifiers:
        return False
    alike = verdict.positions == value.positions and verdict.place != value.place
    return alike and row.breaks.between(one.said.end, other.said.start) < 2


def lost_verdict(row: Events, one: Placement, other: Placement) -> Placement | None:
    """The remark beside a verdict that found no field, where that may be on it, and against it:
    "supply valve open, fail", "fail, supply valve open"."""
    lost, kept = (one, other) if other.targets else (other, one)
    if lost.targets or not kept.targets or {one.said.kind, other.said.kind} != {"remark"}:
        return None
    verdict = "verdict" in lost.said.mention.qualifiers
    against = one.said.mention.value != other.said.mention.value
    if lost is one and (
        lost.said.mention.value != "fail" or "state" not in kept.said.mention.qualifiers
    ):
        return None
    near = row.breaks.between(one.said.end, other.said.start) < 2
    return kept if verdict and against and near else None


def of_what_has_no_field(row: Events, one: Placement, other: Placement) -> bool:
    """Whether a verdict is on what was told right before of something without a field: "checked
    for kinks, the hook is bent, fail" is no word on the kinks."""
    if one.targets or not other.targets or {one.said.kind, other.said.kind} != {"remark"}:
        return False
    alike = one.said.mention.value == other.said.mention.value == "fail"
    verdict = "verdict" in other.said.mention.qualifiers and other.targets[0].inherited
    return alike and verdict and row.breaks.between(one.said.end, other.said.start) < 2


def of_its_place(row: Events, one: Placement, other: Placement) -> bool:
    """ "Safety wire missing at the turnbuckle. Fail.": the verdict is on what was found, though
    the place where it was found is a check of its own."""
    if not one.targets or not other.targets or {one.said.kind, other.said.kind} != {"remark"}:
        return False
    cue = other.targets[0].cue
    apart = one.targets[0].place != other.targets[0].place
    if not apart or cue is None or not one.said.end <= cue.start < other.said.start:
        return False
    where = row.text[one.said.end : cue.start].lower().split()
    located = not _WHERE.isdisjoint((*where[:2], *where[-2:]))
    return located and not row.breaks.between(one.said.end, cue.start)


def counted(row: Events, one: Placement, other: Placement) -> bool:
    """ "One placard missing": a number of things, and a check that is about all of them;
    "three chips on the rim, within limits": a number of things that the card doesn't name."""
    if one.targets or one.said.kind != "count" or one.said.mention.stage == "remarks":
        return False
    spot = other.targets[0].spot
    pronoun = one.said.mention.text.lower() == "one" and spot is not None
    if pronoun and spot is not None and row.text[spot.end : one.said.start].isspace():
        return False  # "platform one does nothing": the one there
    if _TIMES.match(row.text, one.said.end):
        return False  # "tried it three times, the bridge one fails"
    if _ALL.search(row.text[max(0, one.said.start - 8) : one.said.start]):
        return False  # "all three fail"
    words = len(row.text[one.said.end : other.said.start].split())
    gap = row.breaks.between(one.said.end, other.said.start)
    nameless = other.targets[0].inherited and "verdict" in other.said.mention.qualifiers
    fault = other.said.mention.value == "fail"
    beside = words <= 3 and (gap == 0 or (gap == 1 and fault))
    return beside or (nameless and words <= 6 and gap < 2)
