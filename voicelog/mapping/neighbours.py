"""Neighbours: what stands right beside a value and makes it doubtful.

A recogniser cuts numbers in two ("4, 4 kilowatts" for forty four) and drops words before a
number. So a number beside another that nothing tells apart, a value glued to a name, and a
value that only its unit placed among words that nothing explains, are asked about.
"""

from __future__ import annotations

import re
from itertools import pairwise, zip_longest
from typing import TYPE_CHECKING

from voicelog.mapping import (
    beside,
    changes,
    codes,
    denials,
    exceptions,
    fault_words,
    found_and_left,
    loose,
    mended,
    number_pairs,
    only_done,
    orders,
    plainly,
    reservations,
    reworked,
    signs,
    strangers,
    swapped,
    told_since,
    tries,
    turned,
    two_places,
    unsettled,
    verdict_pairs,
)
from voicelog.mapping.came_right import CAME, TOLD_AGAIN
from voicelog.mapping.row import Cue, Spot

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.mapping.placement import Placement, Target
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Lexicon, Place

_GLUE = re.compile(r"[^\W_][.,]$|[0-9][-–]$")


def doubt(
    row: Events,
    placements: Sequence[Placement],
    fields: Mapping[Place, Field],
    lexicon: Lexicon,
) -> None:
    """Add doubts to the values of `placements` for what stands beside them."""
    for one, other in pairwise(placements):
        _of_pair(row, one, other)
    _other_options(row, placements, lexicon)
    amounts = [each for each in placements if tries.is_amount(each.said)]
    number_pairs.doubt_left(row, amounts)
    for one, other in pairwise(amounts):
        guessed = not other.targets or other.targets[0].by_unit
        lost = not other.targets and number_pairs.lost_left(row, one, other)
        if one.targets and tries.again(row, one, other):
            one.said.doubts.append("two_values")
            other.said.doubts.append("ambiguous_place")
        lost = lost or number_pairs.may_be_that(row, one, other)
        if one.targets and guessed and (lost or number_pairs.second_value(row, one, other)):
            one.said.doubts.append("number_beside_number")
        elif (
            not one.targets
            and other.targets
            and guessed
            and number_pairs.of_a_row(row, one.said, other.said)
        ):
            other.said.doubts.append("placed_by_unit")
    _lost_later(row, placements)
    number_pairs.doubt_over_and_over(row, placements)
    found_and_left.doubt_apart(placements, fields)
    reworked.doubt(row, placements)
    turned.doubt(row, placements, fields)
    unsettled.doubt(row, placements)
    two_places.doubt(row, placements, fields)
    _fault_of_something(row, placements)
    exceptions.doubt(row, placements)
    reservations.doubt(row, placements, fields)
    told_of = loose.told_by_option(placements)
    came = [each.targets[0] for each in placements if each.targets and CAME in each.said.tags]
    before, last = 0, None
    for placement, later in zip_longest(placements, placements[1:]):
        if placement.targets:
            field = fields[placement.targets[0].place]
            plainly.trust_list(row, placement, last)
            placement.said.doubts.extend(_of_one(row, placement, fields, before, last))
            placement.said.doubts.extend(codes.doubt(row, placement, fields))
            placement.said.doubts.extend(beside.doubt(row, placement, field, before))
            placement.said.doubts.extend(loose.on_a_lost_place(row, placement, field))
            if field.type in {"check", "choice"}:
                placement.said.doubts.extend(_of_word(row, placement, field, before, lexicon, came))
            alone = loose.on_place_alone(row, placement, fields, told_of)
            if CAME not in placement.said.tags and alone:
                placement.said.doubts.append("ambiguous_place")
            until = len(row.text) if later is None else later.said.start
            if only_done.is_all(row, placement, field, until):
                placement.said.doubts.append("only_done")
            plainly.trust_same(row, placement, last, later)
        before = placement.said.end
        counts = placement.targets or placement.said.kind != "remark"
        last = placement if counts else last  # "... of wear, lower point one five"
    told_since.mark(row, placements)
    swapped.mark(row, placements, fields)


def _of_word(
    row: Events,
    placement: Placement,
    field: Field,
    before: int,
    lexicon: Lexicon,
    came: Sequence[Target],
) -> Iterator[str]:
    """Doubts of one check or choice; the value before it ended at `before`, and what things came to
    stands in `came`."""
    if field.type == "choice":
        target = placement.targets[0]
        landed = any(
            (each.place, each.positions) == (target.place, target.positions) for each in came
        )
        told_again = TOLD_AGAIN in placement.said.tags and landed
        if not told_again and mended.is_mended(row, placement, lexicon):
            yield "repaired"
        yield from mended.doubts_of_option(row, placement.said)
        return
    if placement.targets[0].fit.value == "fail" and mended.is_seen_to(row, placement.said):
        yield "repaired"
    yield from fault_words.doubts(row, placement, field)
    yield from denials.doubts(row, placement)
    yield from loose.by_a_place(row, placement, before)
    if placement.targets[0].place in lexicon.states:
        yield from loose.of_a_part(row, placement)


def _lost_later(row: Events, placements: Sequence[Placement]) -> None:
    """Ask about a value when one that was told later may be of the same thing."""
    placed: Placement | None = None
    for each in placements:
        lost = placed is not None and not each.targets and tries.is_amount(each.said)
        if placed is not None and number_pairs.lost_later(row, placed, each):
            placed.said.doubts.append("two_values")
        elif placed is not None and lost and number_pairs.second_value(row, placed, each):
            placed.said.doubts.append("number_beside_number")
        if each.targets and each.said.is_number:
            placed = each


def _other_options(row: Events, placements: Sequence[Placement], lexicon: Lexicon) -> None:
    """Ask about an option, where another one of its field found no place behind it, whatever time
    was told between: "hazy at seven, by noon it's clear"."""
    told = (each for each in placements if each.targets or not each.said.is_number)
    for one, other in pairwise(each for each in told if each.said.kind != "time"):
        chosen = lexicon.options.get(one.targets[0].place, {}) if one.targets else {}
        lost = not other.targets and not other.said.mention.negated
        if lost and other.said.option in chosen:
            one.said.doubts.append("two_values")
    for each in placements:
        target = each.targets[0] if each.targets else None
        options = lexicon.options.get(target.place) if target is not None else None
        if target is not None and options and _begins_another(row, each.said, target, options):
            each.said.doubts.append("two_values")


def _begins_another(row: Events, said: Said, target: Target, options: Mapping[str, str]) -> bool:
    """Whether the words between a name and an option are of another one of its own alone: "felt
    tending central" may be "tending side", or central to something."""
    if said.option is None or target.cue is None:
        return False
    words = set(row.text[target.cue.end : said.start].lower().split())
    return bool(words) and any(
        words <= set(other.lower().split()) - set(said.option.lower().split())
        for other in options.values()
        if other != said.option
    )


def _fault_of_something(row: Events, placements: Sequence[Placement]) -> None:
    """Ask about what was found good of all places, or of what was named before, in a sentence
    that tells of a fault of nobody knows what: "upper pin good, four one cracked, no corrosion on
    either of them"."""
    for fault in placements:
        mention = fault.said.mention
        plain = any(not target.inherited for target in fault.targets)
        if plain or fault.said.kind != "remark" or mention.value != "fail":
            continue
        if "bare" in mention.qualifiers or "verdict" in mention.qualifiers or mention.doubts:
            continue
        clause = row.clause_start(fault.said.start)
        around = row.anchors_in(clause, fault.said.start)
        # "the step one does nothing" tells of a place of what was named before
        placed = any(
            spot in around or _tells_of(row, spot, clause) for spot in two_places.taken(fault)
        )
        named = placed or any(isinstance(anchor, Cue) for anchor in around)
        if named or not row.unexplained(clause, fault.said.start):
            continue
        for other in placements:
            said = other.said
            first, last = sorted((said, fault.said), key=lambda each: each.start)
            if not other.targets or said.kind != "remark" or said.mention.value != "pass":
                continue
            if said.option is not None or row.breaks.between(first.end, last.start) == 2:
                continue
            if CAME in said.tags and first is fault.said:
                continue
            if said.without and said is first:
                continue  # "all tight bar number three, two screws missing on that"
            if any(two_places.may_be_of(row, said, t) for t in other.targets):
                said.doubts.append("ambiguous_place")


_OF_THAT = re.compile(
    r"\s*,\s*(?:and\s+)?(?:which|that|those|they|these|it|both|all)\b", re.IGNORECASE
)


def _tells_of(row: Events, spot: Spot, clause: int) -> bool:
    """Whether a clause goes on about the place right before it: "bar the middle one, which is
    weeping"."""
    gap = row.text[spot.end : clause].rstrip(" ,").lower()
    return gap in {"", " one", " ones"} and bool(_OF_THAT.match(row.text, spot.end + len(gap)))


def _of_pair(row: Events, one: Placement, other: Placement) -> None:
    if one.said.is_number and other.said.is_number and number_pairs.unclear(row, one, other):
        for each in (one, other):
            if each.targets:
                each.said.doubts.append("number_beside_number")
    if number_pairs.cuts_code(row, one, other):
        one.said.doubts.append("number_beside_number")
    dated = other.said.kind == "date" and row.text[one.said.end : other.said.start].isspace()
    if one.said.is_number and dated:  # "due six twelfth of January": due is
        one.said.doubts.append("number_beside_number")
    if verdict_pairs.sums_up(row, one, other):
        one.said.doubts.append("ambiguous_place")
    if verdict_pairs.of_another(row, one, other) or verdict_pairs.of_its_place(row, one, other):
        other.said.doubts.append("ambiguous_place")
    against = verdict_pairs.lost_verdict(row, one, other)
    if against is not None:
        against.said.doubts.append("contradiction")
    if verdict_pairs.of_what_has_no_field(row, one, other):
        other.said.doubts.append("loosely_named")
    told = other.said.kind == "remark" or other.said.option is not None
    if other.targets and told and verdict_pairs.counted(row, one, other):
        other.said.doubts.append("partial")


_INSIDE = re.compile(r"[,.]\s*(?:in|on|at)\s+(?:number\s+)?\Z", re.IGNORECASE)


def _may_be_a_place(row: Events, said: Said, fields: Mapping[Place, Field]) -> bool:
    """ "One window's cracked, in twenty two": where it is, and not how many."""
    places = (each.positions for at, each in fields.items() if said.step in {None, at[0]})
    named = any(str(said.mention.value) in each for each in places)
    return named and _INSIDE.search(row.text, max(0, said.start - 14), said.start) is not None


def _of_number(
    row: Events,
    placement: Placement,
    fields: Mapping[Place, Field],
    last: Placement | None,
) -> Iterator[str]:
    """Doubts of a number for the words and signs around it; `last` is the value before it."""
    said, field = placement.said, fields[placement.targets[0].place]
    if _GLUE.search(row.text[max(0, said.start - 2) : said.start]):
        yield "joined_digits"
    if signs.may_be_lost(row, placement, field, last):
        yield "ambiguous_number"
    if said.kind == "count" and field.type == "count" and _may_be_a_place(row, said, fields):
        yield "ambiguous_place"


def _of_one(
    row: Events,
    placement: Placement,
    fields: Mapping[Place, Field],
    before: int,
    last: Placement | None,
) -> Iterator[str]:
    """Doubts of one placed value; `last` is the one before it, which ended at `before`."""
    said, target = placement.said, placement.targets[0]
    field = fields[target.place]
    if said.is_number:
        yield from _of_number(row, placement, fields, last)
    yield from changes.doubts(row, said, field)
    first = said.is_number and before <= row.clause_start(said.start)
    if first and _joined_to_its_name(row, said, target):
        yield "ambiguous_number"
    if said.mention.value == 1 and target.spot is not None and _for_a_thing(row, said, target.spot):
        yield "ambiguous_number"
    if said.kind == "remark" and _YET.match(row.text, said.end):
        yield "misheard_polarity"
    if orders.may_be(row, said):
        yield "instruction"
    if said.step is not None and target.place[0] != said.step:
        yield "other_step"
    if target.spot is not None and _ends_in_another_clause(row, said, target.spot):
        yield "ambiguous_place"
    yield from beside.counted(row, placement, field)
    yield from beside.of_a_fault(row, placement, field)
    if said.is_number and number_pairs.runs_on(row, said):
        yield "number_beside_number"
    since = _named_from(row, placement, before)
    if target.by_unit and said.kind == "remark":
        unexplained = row.unexplained(before, said.start, since)
    else:
        unexplained = strangers.stand(row, said, field, (before, said.start), since)
    cue = target.cue
    came = CAME in said.tags and (cue is None or cue.end <= said.start or cue in said.inner)
    told = loose.doubt(row, placement, field, before, unexplained=unexplained)
    code = None if came else told
    if code == "loosely_named" and last is not None and plainly.goes_on(row, placement, last):
        return
    if code:
        yield code


def _named_from(row: Events, placement: Placement, before: int) -> int | None:
    """From where on the words before a value tell what it is of; None for the last clause."""
    said, target = placement.said, placement.targets[0]
    cue, spot = target.cue, target.spot
    since = min(cue.end, said.start) if cue is not None else None
    if cue is not None and said.kind == "remark" and loose.half_named(target):
        told = before if target.inherited else row.breaks.sentence_start(min(cue.start, said.start))
        since = max(before, told)
    if target.inherited and spot is not None and spot.start < said.start:
        near = not row.breaks.between(spot.end, said.start)  # "A, B and C are clean"
        clause = row.clause_start(spot.start if near else said.start)
        if clause <= spot.start:
            since = max(clause, since or 0)  # "... from the rim to the centre, the other three"
    return since


_THE = re.compile(r"\bthe\s+\Z", re.IGNORECASE)


def _for_a_thing(row: Events, said: Said, spot: Spot) -> bool:
    """ "None on the starboard one": one may stand for the thing itself."""
    apart = row.text[spot.end : said.start] if spot.end <= said.start else ","
    return apart.isspace() and _THE.search(row.text, max(0, spot.start - 8), spot.start) is not None


_YET = re.compile(r"\s+and\s+yet\s*(?:[,.;]|\Z)", re.IGNORECASE)
"""Behind a verdict, with nothing more to come, this is "not yet" by ear."""
_JOINED = re.compile(r"\s+and\s+", re.IGNORECASE)


def _joined_to_its_name(row: Events, said: Said, target: Target) -> bool:
    """ "Losses and point one bar": what the "and" was, nobody can tell (than, nought)."""
    return any(
        anchor is not None and _JOINED.fullmatch(row.text, anchor.end, said.start)
        for anchor in (target.cue, target.spot)
    )


_CLAUSE = 2
"""Words behind a place that make it the beginning of a clause."""
_ARE = re.compile(
    r"\s+(?:(?:all|both)\s+)?(?:none|nil|(?:are|do|did|had|have|is|has|was|were)(?:n['’]t)?)\b",
    re.IGNORECASE,
)
_LAST_NAMED = re.compile(r",(?!.*\b(?:and|or)\b)[^,]+$", re.IGNORECASE)


_SEVERAL = 2


def _ends_in_another_clause(row: Events, said: Said, spot: Spot) -> bool:
    """ "Good at drive and return, mid has a lamp out": the last place of the list begins a clause
    of its own, in words that nothing explains; "one at the end, middle and top haven't any"."""
    if spot.start < said.end:
        return False
    if row.breaks.between(said.end, spot.start) and said.kind == "remark":
        told = row.told_on(spot.end)
        return row.unexplained(spot.end, spot.end + len(told), spot.end)
    if len(spot.names) < _SEVERAL:
        return False
    if "," in row.text[spot.start : spot.end] and _ARE.match(row.text, spot.end):
        return True
    if _LAST_NAMED.search(row.text, spot.start, spot.end) is None:
        return False
    told = row.told_on(spot.end)
    end = spot.end + len(told)
    return len(told.split()) >= _CLAUSE or row.unexplained(spot.end, end, spot.end)
