"""Settle: one value for each field and position, out of all that was placed there.

Repeats agree; as found gives way to as left; remarks on one thing are weighed together;
what still disagrees is kept as an alternative and asked about, never chosen in silence.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from voicelog import units
from voicelog.mapping.came_right import CAME, DONE
from voicelog.mapping.fit import UNDONE
from voicelog.mapping.remaining import REMAINING
from voicelog.mapping.row import APIECE, PLAIN
from voicelog.objects import Interval, Ratio, Value
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from voicelog.mapping.placement import Target
    from voicelog.mapping.row import Said
    from voicelog.objects import Field


_FOUND = frozenset({"as found", "as found weak"})
_LEFT = frozenset({"as left", "as left weak"})


@dataclass(slots=True)
class Entry:
    """One value that was placed on one key, with the doubts of its reading and placing."""

    said: Said
    target: Target
    position: str | None
    margin: float
    value: Value
    unit: str | None
    doubts: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Settled:
    """What a key holds in the end."""

    entry: Entry
    said: tuple[Said, ...]
    as_found: Value | None = None
    alternatives: tuple[Value, ...] = ()
    doubts: tuple[str, ...] = ()
    left_over: tuple[Said, ...] = ()
    """Values that lost their place to a better one: they stay visible."""


def _same(one: Entry, other: Entry) -> bool:
    if type(one.value) is not type(other.value):
        return False
    if isinstance(one.value, str):
        assert isinstance(other.value, str)  # noqa: S101 - of the same type
        return one.value.casefold() == other.value.casefold()
    if one.unit == other.unit or one.unit is None or other.unit is None:
        return one.value == other.value
    if isinstance(one.value, (Ratio, Interval)) or not units.compatible(one.unit, other.unit):
        return False
    return units.convert(one.value, one.unit, other.unit) == Fraction(other.value)  # type: ignore[arg-type]


def settle(entries: Sequence[Entry], field_: Field) -> Settled | None:
    """The value of one key; None when nothing that was said gives one."""
    if field_.type == "check":
        return _check(entries, two=" and " in field_.label)
    said = [entry for entry in entries if entry.value != UNDONE]
    said = _of_its_own(said) if field_.type == "choice" else said
    settled = _value(said) if said else None
    undone = [entry for entry in entries if entry.value == UNDONE]
    if settled is not None and any(not entry.target.inherited for entry in undone):
        settled.doubts = (*settled.doubts, "contradiction")
    return settled


def _of_its_own(entries: list[Entry]) -> list[Entry]:
    """ "Hoses all good, number two is chafed": what is told of a place by itself, behind what was
    told of all, stands."""
    own = [e for e in entries if e.target.spot is not None and len(e.target.positions) == 1]
    of_all = [e for e in entries if len(e.target.positions) > len(entries)]
    if not of_all or not own or any((_FOUND | _LEFT) & e.said.tags for e in entries):
        return entries
    behind = max(e.said.end for e in of_all) <= min(e.said.start for e in own)
    return own if behind and len(own) + len(of_all) == len(entries) else entries


def _by_name_first(entries: Sequence[Entry]) -> tuple[list[Entry], tuple[Said, ...]]:
    """A value that only its dimension led here gives way to one whose field was named, unless it
    is the one as found beside that as left."""
    left = any(_LEFT & entry.said.tags for entry in entries if not entry.target.by_unit)
    astray = [
        entry
        for entry in entries
        if entry.target.by_unit and not (left and _FOUND & entry.said.tags)
    ]
    if astray and len(astray) < len(entries):
        kept = [entry for entry in entries if entry not in astray]
        return kept, tuple(entry.said for entry in astray)
    return list(entries), ()


def _doubt_later(kept: Sequence[Entry], astray: Sequence[Said]) -> None:
    """ "Steam two bar first time, two point five bar with the valve open": which of them stands?"""
    last = kept[-1]
    unit = last.said.mention.unit
    for said in astray:
        if unit is not None and said.mention.unit == unit and said.start > last.said.start:
            last.doubts.append("two_values")


def _value(entries: Sequence[Entry]) -> Settled:
    kept, left_over = _by_name_first(entries)
    _doubt_later(kept, left_over)
    plain = [entry for entry in kept if "same_as_before" not in entry.doubts]
    kept = plain or kept
    codes = [entry for entry in kept if "number_as_identifier" not in entry.doubts]
    if codes and len(codes) < len(kept):  # a number beside a code is no other code
        left_over += tuple(entry.said for entry in kept if entry not in codes)
        kept = codes
    measured = [entry for entry in kept if "wrong_dimension" not in entry.doubts]
    if measured and len(measured) < len(kept):  # "in fifteen minutes it was three psi"
        left_over += tuple(entry.said for entry in kept if entry not in measured)
        kept = measured
    overriding = [entry for entry in kept if "override" in entry.said.tags]
    if overriding and len(overriding) < len(kept):
        kept = overriding
    # "five contactors in, one of them hung up": a number of those that were counted
    kept.sort(key=lambda entry: "of them" not in entry.said.tags or not entry.target.inherited)
    kept = _without_parts(_without_tries(kept))
    _name_remaining(kept)
    distinct: list[Entry] = []
    for entry in kept:
        twin = next((other for other in distinct if _same(other, entry)), None)
        if twin is None:
            distinct.append(entry)
        elif twin.unit is None and entry.unit is not None:
            distinct[distinct.index(twin)] = entry
    said = tuple(entry.said for entry in kept)
    if len(distinct) == 1:
        at_first = all("at first" in each.tags for each in said)
        return Settled(distinct[0], said, doubts=("at_first",) * at_first, left_over=left_over)
    if len(distinct) == 2:
        first, last = distinct
        found = _FOUND & first.said.tags
        left = _LEFT & last.said.tags | {"renewed"} & last.said.mention.qualifiers
        if found or left:
            doubts = ("instruction",) if "instruction" in last.said.tags else ()
            if not left and "as found" not in found:
                doubts = (*doubts, "two_values")  # "was eight seconds, then seven": which stands?
            return Settled(last, said, first.value, (), doubts, left_over)
        found = _FOUND & last.said.tags
        left = _LEFT & first.said.tags
        if "as found" in found or "as left" in left or (found and left):
            return Settled(first, said, as_found=last.value, left_over=left_over)
        if found:  # "two oh five, was one eighty"
            return Settled(first, said, last.value, (last.value,), ("two_values",), left_over)
    best = _likeliest(distinct)
    others = tuple(entry.value for entry in distinct if entry is not best)
    return Settled(best, said, None, others, ("two_values",), left_over)


def _without_parts(entries: list[Entry]) -> list[Entry]:
    """ "Eight new rings, two per cylinder", "three lamps, two in the saloon, one up front": where a
    count of all, named by itself, was dealt out, and the field has no places for that."""
    first, *parts = entries
    plain = first.position is None and first.said.kind == "count" and not first.target.inherited
    if not plain or not parts or any(each.said.kind != "count" for each in parts):
        return entries
    if all(APIECE in each.said.tags for each in parts):
        return [first]
    inherited = all(each.target.inherited and not each.said.tags for each in parts)
    told = sum(each.value for each in parts if isinstance(each.value, Decimal))
    return [first] if len(parts) > 1 and inherited and told == first.value else entries


def _name_remaining(entries: Sequence[Entry]) -> None:
    """How many of those that were found are still so: the field is that of those found."""
    first, *later = entries
    for entry in later:
        told = REMAINING in entry.said.tags and not (first.doubts or first.target.inherited)
        if told and "loosely_named" in entry.doubts:
            entry.doubts.remove("loosely_named")


def _without_tries(entries: Sequence[Entry]) -> list[Entry]:
    """What work came to stands no more when it was told that more work came to another value."""
    reworked = [entry.said for entry in entries if entry.said.found]
    past = reworked[-1].found if reworked else ()
    return [e for e in entries if not (_LEFT & e.said.tags and e.said in past)]


def _likeliest(entries: Sequence[Entry]) -> Entry:
    """The last of values that disagree, but no bare number that only what was spoken of before
    led here, when there is another: "hoist current 33.5 amps, ..., two up"; nor one that half the
    name gave to the field, beside one with the whole: "oil pressure seventy two psi, fuel pressure
    five"."""
    told = [e for e in entries if not e.target.inherited or e.said.mention.unit is not None]
    told = told or [*entries]
    named = [e for e in told if not e.doubts and not e.target.inherited]
    loose = [e for e in told if "loosely_named" in e.doubts]
    wider = max((len(e.target.positions) for e in named), default=0)
    loose = [e for e in loose if len(e.target.positions) >= wider]  # "all 272, only plate 3 is 275"
    return (named if named and len(named) + len(loose) == len(told) else told)[-1]


def _check(entries: Sequence[Entry], *, two: bool) -> Settled | None:
    """Weigh the remarks on one thing, or on `two` that are asked for together: a verdict stands,
    unless what was found speaks against it."""
    done = [entry for entry in entries if entry.value in {"pass", "fail"}]
    if any(CAME in entry.said.tags for entry in done):
        done = [entry for entry in done if DONE not in entry.said.tags]
    said = tuple(entry.said for entry in entries)
    undone = [entry for entry in entries if entry.value == UNDONE]
    if not done:
        return None
    real = [entry for entry in done if not _only_named(entry, done) and not _is_name(entry)]
    if not real:
        named = done[-1]
        return Settled(named, said, doubts=("named_only",))
    changed = _found_then_left(real)
    if changed is not None and not undone:
        found, left = changed
        return Settled(left, said, found.value)
    # what was only named, and elsewhere, was not needed: it stays visible in its own sentence
    said = tuple(entry.said for entry in entries if entry in real or not _apart(entry))
    verdicts = [entry for entry in real if "verdict" in entry.said.mention.qualifiers]
    fails = [entry for entry in real if entry.value == "fail"]
    passes = [entry for entry in real if entry.value == "pass"]
    doubts: list[str] = []
    if undone or any(_told_of_place(entry, real) for entry in done):
        doubts.append("contradiction")
    if two and _of_other_things(fails, passes):
        chosen = fails[-1]
    elif fails and passes:
        chosen, clash = _weigh(verdicts, fails, passes)
        doubts.extend(clash)
    else:
        chosen = _plainest(verdicts or real)
        light = any("light" in entry.said.mention.qualifiers for entry in fails)
        if fails and light and not verdicts:
            doubts.append("severity")
    agreeing = [e for e in real if e.value == chosen.value and (e is chosen or not _is_work(e))]
    if not all(entry.doubts for entry in agreeing):
        sure = next(entry for entry in agreeing if not entry.doubts)
        serious = {"hedged", "misheard_polarity", "double_negation", "severity"}
        if _is_tried(sure):  # "checked the castor and it rolled"
            serious.add("ambiguous_place")
        if not any(serious & set(entry.doubts) for entry in agreeing):
            chosen = sure
    return Settled(chosen, said, doubts=tuple(doubts))


def _found_then_left(real: Sequence[Entry]) -> tuple[Entry, Entry] | None:
    """ "As found the latch failed, as left pass", "was a fail, sorted it, pass now": the one found
    and the one that stands, where nothing else was told but what was done in between."""
    left = [e for e in real if _LEFT & e.said.tags and not _FOUND & e.said.tags]
    came = left and CAME in left[-1].said.tags
    before = [e for e in real if not _LEFT & e.said.tags]
    found = [e for e in before if _FOUND & e.said.tags or (came and e.value != left[-1].value)]
    if not found or not left or found[0].value == left[-1].value:
        return None
    values = {e.value for e in found}, {e.value for e in left}
    begin, end = found[0].said.start, left[-1].said.start
    others = [e for e in real if e not in found and e not in left]
    between = all(begin < e.said.start < end and e.value == left[-1].value for e in others)
    apart = max(e.said.start for e in found) < min(e.said.start for e in left)
    plain = between and apart and all(len(each) == 1 for each in values)
    return (found[0], left[-1]) if plain else None


def _plainest(entries: Sequence[Entry]) -> Entry:
    return max(entries, key=lambda entry: (len(entry.doubts), entry.said.start))


def _only_named(entry: Entry, among: Sequence[Entry]) -> bool:
    """A condition that is only named is the name of the check when another remark decides."""
    return "bare" in entry.said.mention.qualifiers and (
        len(among) > 1 and any(other is not entry for other in among)
    )


def _told_of_place(entry: Entry, real: Sequence[Entry]) -> bool:
    """Whether a condition is told of a place of its own, where what decides was said of others,
    too: "dampers all dry, the rear left one weeps"."""
    spot = entry.target.spot
    if entry in real or spot is None or entry.value != "fail":
        return False
    return all(other.value == "pass" and other.said.end <= spot.start for other in real)


def _is_work(entry: Entry) -> bool:
    """ "Mill kept turning, so I locked it off": what was done about it clears no doubt of it."""
    return DONE in entry.said.tags


def _is_tried(entry: Entry) -> bool:
    """Whether "checked" and its like are all that is told: it clears no doubt of what is more."""
    return entry.said.mention.text.lower() in talk().remarks.undone


def _apart(entry: Entry) -> bool:
    """Whether a condition that is only named came to its check from what was said before."""
    return "bare" in entry.said.mention.qualifiers and entry.target.inherited


def _is_name(entry: Entry) -> bool:
    """ "External leaks, haven't looked yet": the condition is the check's own name."""
    plain = entry.target.cue in entry.said.inner and not entry.target.inherited
    named = plain and entry.target.cue is not None
    return (
        named
        and "bare" in entry.said.mention.qualifiers
        and entry.target.cue is not None
        and entry.target.cue.mention.kind == "term"
        and entry.target.cue.places.get(entry.target.place, 0.0) > 0.9
    )


def _of_other_things(fails: Sequence[Entry], passes: Sequence[Entry]) -> bool:
    """ "Horn and wipers work": "wipers fine but the horn is dead" is no contradiction, as each of
    the two things that are asked for was named, and what is told of it."""
    told = (*fails, *passes)
    cues = [e.target.cue for e in told if e.target.cue is not None and not e.target.inherited]
    ahead = all(cue.end <= e.said.start for cue, e in zip(cues, told, strict=False))
    if not fails or not passes or len(cues) < len(told) or not ahead:
        return False
    plain = all(cue.places.get(told[0].target.place, 0) >= PLAIN for cue in cues)  # two names of it
    bad, good = (
        {word for cue in each for word in cue.canonical.split()}
        for each in (cues[: len(fails)], cues[len(fails) :])
    )
    return not plain and bad.isdisjoint(good)


def _weigh(
    verdicts: Iterable[Entry], fails: Sequence[Entry], passes: Sequence[Entry]
) -> tuple[Entry, list[str]]:
    verdicts = list(verdicts)
    values = {entry.value for entry in verdicts}
    if values == {"fail"}:
        faults = [entry for entry in fails if entry not in verdicts]
        clash = [] if faults else ["contradiction"]  # "leaks, none. Fail."
        return _plainest([entry for entry in verdicts if entry.value == "fail"]), clash
    if values == {"pass"}:
        light = all("light" in entry.said.mention.qualifiers for entry in fails)
        within = any("limits" in entry.said.mention.qualifiers for entry in verdicts)
        return verdicts[-1], [] if within and light else ["contradiction"]
    if len(values) == 2:
        return verdicts[-1], ["contradiction"]
    faults = [e for e in fails if {"condition", "state"} & e.said.mention.qualifiers]
    named = [e for e in passes if e.target.cue in e.said.inner]
    if named and faults and not any(e.target.cue in e.said.inner for e in faults):
        return named[-1], ["contradiction"]  # a fault of something that the card doesn't name
    if faults and all("condition" in e.said.mention.qualifiers for e in passes):
        # "no cracks, light corrosion": one fault is enough, the denials are of other faults
        light = any("light" in entry.said.mention.qualifiers for entry in faults)
        return faults[-1], ["severity"] if light else []
    return fails[-1], ["contradiction"]
