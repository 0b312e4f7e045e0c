"""Number pairs: two numbers beside each other, which may be one that was cut in two, two values of
one field, or of two places of a list."""

from __future__ import annotations

import re
from collections import Counter
from decimal import Decimal
from itertools import takewhile
from typing import TYPE_CHECKING

from voicelog.mapping import orders, unit_lists
from voicelog.mapping.row import ENDED, Spot
from voicelog.reading.state_words import work_stems
from voicelog.reading.talk import mended_words
from voicelog.reading.words import verb_stem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events, Said

_BETWEEN = re.compile(r"[\s,.;:/-]*(?:(?:and|to|or|by|at|is|was|of)\b[\s,.]*)?", re.IGNORECASE)
_OFTEN = 3
_IS = re.compile(r"\s+(?:is|was|at|has|reads?|came|got)\b", re.IGNORECASE)


def unclear(row: Events, one: Placement, other: Placement) -> bool:
    """Whether two numbers side by side may be one, cut in two."""
    first, second = one.said, other.said
    # "from three thou to five", "52 kilopascals, 27 after the wash"
    told = "as found" in first.tags or first.mention.unit is not None
    changed = told and "as left" in second.tags
    changed = changed or any(each is first for each in second.found)
    if changed or (first.spot is not None and second.spot is not None):
        return False
    nil = _is_nil(first) or _is_nil(second)
    if (
        nil
        or "again" in second.tags
        or "same_as_before" in second.doubts
        or _two_decimals(first, second)
    ):
        return False
    if _BETWEEN.fullmatch(row.text, first.end, second.start) is None:
        return False
    if row.breaks.between(first.end, second.start) == 2 and second.mention.text[:1].isupper():
        return False
    if not one.targets or not other.targets:
        return bool(one.targets or other.targets)
    return one.targets[0].place == other.targets[0].place


def _is_nil(said: Said) -> bool:
    """ "Rope one has two, none on three": a word that is no part of another number."""
    return said.mention.value == 0 and said.mention.stage == "mapping"


def cuts_code(row: Events, one: Placement, other: Placement) -> bool:
    """ "Batch seventy, seven thousand one hundred three": the code may go on in a number that
    tells of nothing else."""
    said, number = one.said, other.said
    if said.kind != "identifier" or number.kind != "count" or not one.targets:
        return False
    alone = not other.targets or other.targets[0].place == one.targets[0].place
    ends = row.breaks.clause_end(number.end, len(row.text)) == number.end
    return alone and ends and not row.text[said.end : number.start].strip(" ,")


def _two_decimals(first: Said, second: Said) -> bool:
    """ "21.8 and 21.4" can't be one number."""
    numbers = (first.mention.value, second.mention.value)
    return all(
        isinstance(number, Decimal) and number >= 1 and number != number.to_integral_value()
        for number in numbers
    )


def second_value(row: Events, one: Placement, other: Placement) -> bool:
    """Whether a number that found no field may be another value of the one before it."""
    first, second = one.said, other.said
    kinds = {first.kind, second.kind}
    lent = first.kind == "count" and one.targets and one.targets[0].fit.unit is not None
    if not (first.kind == "quantity" or lent) or not kinds <= {"quantity", "count"}:
        return False
    alike = first.mention.unit == second.mention.unit
    if second.kind == "count":
        alike = not other.targets and near(first, second)  # "172 psi, inflated 205"
    anchored = row.names_any(first.end, second.start)
    return alike and not anchored and row.breaks.between(first.end, second.start) < 2


def may_be_that(row: Events, one: Placement, other: Placement) -> bool:
    """ "Broken wires two, could be three": whether a number that found no field is what the one
    before it may be as well."""
    first, second = one.said, other.said
    if row.anchors_in(first.end, second.start):
        return False
    open_ = {"about", "hedged"} & {*second.doubts, *second.mention.doubts}
    alike = bool(open_) and first.kind == second.kind and near(first, second)
    return alike or _repeats_place(row, one)


def doubt_left(row: Events, amounts: Sequence[Placement]) -> None:
    """Ask about values behind which another stands that they may have come to, and has no field."""
    for at, one in enumerate(amounts):
        behind = takewhile(lambda each: not each.targets, amounts[at + 1 : at + 3])
        if any(_may_be_left(row, one, each) for each in behind):
            one.said.doubts.append("two_values")


def _may_be_left(row: Events, one: Placement, other: Placement) -> bool:
    """ "C took eleven, greased the ring, eight and a half": whether a number that found no field
    is what the one before it came to when the thing had been worked on."""
    first, second = one.said, other.said
    if not one.targets or other.targets or row.breaks.between(first.end, second.start) >= ENDED:
        return False
    if second.start - first.end > _REACH or not _is_work_between(row, first, second):
        return False
    if _BY.search(row.text, first.end, second.start):
        return True
    units = {first.mention.unit, second.mention.unit} - {None}
    part = _PART.search(row.text, first.end, second.start)
    bare = not row.text[row.clause_start(second.start) : second.start].strip()
    return len(units) < 2 and part is None and (bare or near(first, second))


_REACH = 90
"""Characters between a value and the one that it came to."""
_BY = re.compile(r"\b(?:by|down|in|out|up)\s+\Z", re.IGNORECASE)
_PART = re.compile(r"\b(?:from|of)\s+\Z", re.IGNORECASE)
_WORDS = re.compile(r"[a-z]{3,}", re.IGNORECASE)


def _is_work_between(row: Events, first: Said, second: Said) -> bool:
    if any(mended_words().find(row.text, first.end, second.start)):
        return True
    words = _WORDS.findall(row.text, first.end, second.start)
    return any(word.lower() == "new" or verb_stem(word) in work_stems() for word in words)


def _repeats_place(row: Events, one: Placement) -> bool:
    """ "All but five, five takes three point six": the place is named once more."""
    spot = one.targets[0].spot if one.targets else None
    if spot is None or spot.end > one.said.start:
        return False
    named = row.text[spot.start : spot.end].lower()
    between = row.text[spot.end : one.said.start].strip()
    return between == "," and row.text[one.said.start : one.said.end].lower() == named


def near(one: Said, other: Said) -> bool:
    """Whether two numbers are of a size."""
    first, second = one.mention.value, other.mention.value
    if not isinstance(first, Decimal) or not isinstance(second, Decimal) or first <= 0:
        return False
    return Decimal("0.3") < second / first < 3 and "ordinal" not in other.mention.qualifiers


def lost_later(row: Events, one: Placement, other: Placement) -> bool:
    """ "Titrated at 1.4 percent, in went a can; tested again and got 2.2": whether a number that
    found no field may be told of the same thing later, however much was told between."""
    first, second = one.said, other.said
    alike = first.kind == second.kind and first.mention.unit == second.mention.unit
    alike = alike and (first.kind == "ratio" or first.mention.unit is not None)
    if first.kind == "count" and second.kind == "quantity":  # its unit is that of its list
        alike = any(second.mention.unit in each for each in unit_lists.list_units(row, first))
    if other.targets or not alike:
        return False
    between = row.anchors_in(first.end, second.end)
    return not any(isinstance(each, Spot) for each in between)


def lost_left(row: Events, one: Placement, other: Placement) -> bool:
    """Whether a value as left found no field, and the one before it may be that as found."""
    alike = one.said.mention.unit is not None and one.said.mention.unit == other.said.mention.unit
    told = orders.is_left(other.said) and not orders.is_left(one.said)
    told = told or not {"as found", "as found weak"}.isdisjoint(one.said.tags)
    return alike and told and row.breaks.between(one.said.end, other.said.start) < 2


def of_a_row(row: Events, one: Said, other: Said) -> bool:
    """ "100.500% lift, 1% right": the first of a list, with the name of it, was lost."""
    alike = one.mention.unit is not None and one.mention.unit == other.mention.unit
    return alike and row.breaks.between(one.end, other.start) < 2


_NUMBER = re.compile(r"(?:number|no\.?)\s", re.IGNORECASE)


def runs_on(row: Events, said: Said) -> bool:
    """ "Twenty three and three quarters": what looks like the next position may belong to it, but
    not to "76 over 80", nor where it is called a number."""
    if said.kind == "ratio":
        return False
    for anchor in row.anchors_in(said.end, said.end + 8):
        if isinstance(anchor, Spot):
            continued = any("continued" in mention.qualifiers for mention in anchor.mentions)
            lone = len(anchor.names) == 1 and _IS.match(row.text, anchor.end) is None
            lone = lone and _NUMBER.match(row.text, anchor.start) is None
            return continued and lone and row.text[said.end : anchor.start].strip().lower() == "and"
    return False


def doubt_over_and_over(row: Events, placements: Sequence[Placement]) -> None:
    """Ask about the numbers of a sentence that names one figure as a place three times: "pads one
    to six, six one, six two, six four" tells values digit by digit, and none of the sixth."""
    named = Counter(
        (row.breaks.sentences[anchor.start], anchor.names)
        for anchor in row.anchors
        if isinstance(anchor, Spot) and _is_figure(row, anchor)
    )
    often = {sentence: names[0] for (sentence, names), times in named.items() if times >= _OFTEN}
    for placement in placements if often else ():
        place = often.get(row.breaks.sentences[placement.said.start])
        if place is not None and placement.said.is_number:
            known = {name for target in placement.targets for name in target.positions}
            if known and (place in known or len(known) > 1):
                placement.said.doubts.append("list_length")


def _is_figure(row: Events, spot: Spot) -> bool:
    bare = " " not in row.text[spot.start : spot.end].strip()
    return bare and len(spot.names) == 1 and spot.names[0].isdigit()
