"""Reservations: what is told right behind a good state and takes a part of it back.

"Alarm sounds with the test weight, not with the switch", "held, then it crept", "at the mark but
black as tar": the state was said, and is not all that was found. Common practice, no source.
"""

from __future__ import annotations

import re
from decimal import Decimal
from itertools import zip_longest
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLAIN, Spot
from voicelog.mapping.whereabouts import EXCEPTING
from voicelog.reading.talk import reserved_next, reserved_numbers, reserved_words
from voicelog.reading.words import lowered

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Place
    from voicelog.reading.talk import Phrases

_REACH = 80
"""Characters behind a state that are looked at."""
_LINK = re.compile(r"(?:['’]s)?\s*,?\s*(?:(?:and|it['’]s|is)\s+)?", re.IGNORECASE)
_CIRCUMSTANCE = 32
"""Characters that tell how or where it is so, at most: "by hand"."""
_OF = re.compile(r"\s+(?:out\s+)?of\b", re.IGNORECASE)
_WITH = re.compile(r"not\s+(?:after|before|if|under|when|with|without)\b")
_SEVERAL = 2
_NEAR = 8
"""Characters between a state and its place behind it, at most."""


def doubt(row: Events, placements: Sequence[Placement], fields: Mapping[Place, Field]) -> None:
    """Ask about the values of `placements` that what follows them takes back in part."""
    for index, (placement, later) in enumerate(zip_longest(placements, placements[1:])):
        if not placement.targets:
            continue
        field = fields[placement.targets[0].place]
        words = _words_for(placement, field)
        if words is None:
            continue
        if not placement.said.is_number and _excepts_part(row, placement, field):
            placement.said.doubts.append("exception")
        elif field.type == "check" and _goes_on_badly(row, placement, placements[index + 1 :]):
            placement.said.doubts.append("reserved")
        told = _told_behind(row, placement, words)
        if told is not None:
            past = words.kind(told) == "past"
            for each in placements[: index + 1] if past else (placement,):
                if each is placement or not row.breaks.between(each.said.end, placement.said.end):
                    each.said.doubts.append("reserved")
        elif (
            later is not None and field.type == "choice" and _is_fault_of_it(row, placement, later)
        ):
            placement.said.doubts.append("contradiction")
        elif later is not None and _is_of_some(row, placement, later, field):
            placement.said.doubts.append("partial")


def _words_for(placement: Placement, field: Field) -> Phrases | None:
    """What may take a number back, a check that passes or a good option; None of anything else."""
    if placement.said.is_number:
        return reserved_numbers() if field.type in {"count", "measurement"} else None
    return reserved_words() if _is_good(placement, field) else None


_EXCEPT = re.compile(
    r"\s*,?\s*(?:too\b|anywhere\b|at\s+all\b)?\s*,?\s*(?:on\s+)?"
    rf"(?:all\s+(?:but|{EXCEPTING})|but\s+for|{EXCEPTING})\b(?!\s+none\b)",
    re.IGNORECASE,
)


def _excepts_part(row: Events, placement: Placement, field: Field) -> bool:
    """ "No leaks bar the stick gland", "covers on bar row five": something is left out of what was
    told that is no place of the field."""
    of_some = set(placement.targets[0].positions) != set(field.positions or (None,))
    if of_some or placement.said.without & set(field.positions):
        return False  # it was left out already
    for at in (placement.said.end, _spot_end(placement)):
        found = _EXCEPT.match(row.text, at)
        if found is not None:
            end = row.breaks.clause_end(found.end(), len(row.text))
            named = [a for a in row.anchors_in(found.end(), end) if isinstance(a, Spot)]
            return not named or not set(named[0].names) <= set(field.positions)
    return False


def _spot_end(placement: Placement) -> int:
    spot = placement.targets[0].spot
    return placement.said.end if spot is None else max(placement.said.end, spot.end)


_PAUSE = re.compile(r"\s*,\s*(?!and\b|remarks?\b)", re.IGNORECASE)


def _goes_on_badly(row: Events, placement: Placement, later: Sequence[Placement]) -> bool:
    """ "Guard secure, two bolts short", "gearbox dry, a smear round the plug": the clause right
    behind what passes tells what is not so, names no other field, and found none itself."""
    end = row.breaks.clause_end(_spot_end(placement), len(row.text))
    pause = _PAUSE.match(row.text, end)
    if pause is None or len(placement.targets[0].positions) > 1:
        return False
    start = pause.end()
    stop = row.breaks.clause_end(start, len(row.text))
    told = [each for each in later if start <= each.said.start < stop]
    if any(each.targets for each in told) or _names_another(row, placement, start, stop):
        return False
    return any(reserved_next().find(row.text, start, stop))


def _told_behind(row: Events, placement: Placement, words: Phrases) -> re.Match[str] | None:
    found = (_follows(row, placement, words, at) for at in _ends(row, placement))
    return next((told for told in found if told is not None), None)


def _is_of_some(row: Events, placement: Placement, later: Placement, field: Field) -> bool:
    """ "Restraints lock on all eight, six needed a bang": something is told of some of the places,
    or of one, in words that are no value."""
    said, count, names = placement.said, later.said, placement.targets[0].positions
    if said.is_number or said.without or len(names) < _SEVERAL or later.targets:
        return False
    end = row.breaks.clause_end(said.end, len(row.text))
    begins = _LINK.fullmatch(row.text, end, count.start) and not _OF.match(row.text, count.end)
    value = count.mention.value
    few = count.kind == "count" and isinstance(value, Decimal) and 0 < value <= len(field.positions)
    few = few and (str(value) in names or str(value) not in field.positions)
    stop = row.breaks.clause_end(count.end, len(row.text))
    return bool(begins) and few and row.unexplained(count.end, stop, count.end)


def _ends(row: Events, placement: Placement) -> Iterator[int]:
    """Where what was said ends, its place behind it ("uplocks engage, right's a bit late") and
    its clause ("releases by hand, on the button it doesn't")."""
    said, spot = placement.said, placement.targets[0].spot
    yield said.end
    if spot is not None and 0 <= spot.start - said.end <= _NEAR:
        yield spot.end
    end = row.breaks.clause_end(said.end, len(row.text))
    if said.end < end <= said.end + _CIRCUMSTANCE:
        yield end


def _follows(row: Events, placement: Placement, words: Phrases, at: int) -> re.Match[str] | None:
    link = _LINK.match(row.text, at)
    start = link.end() if link is not None else at
    end = min(row.breaks.sentence_end(start, len(row.text)), start + _REACH)
    told = words.pattern.match(lowered(row.text[start:end]))
    if told is None:
        return None
    if _WITH.match(told[0]):
        return told  # "turns freely, not with the brake on": what is named tells when
    clause = row.breaks.clause_end(start + told.end(), len(row.text))
    return None if _names_another(row, placement, at, min(clause, start + _REACH)) else told


_ELSEWHERE = re.compile(r"\s+(?:at|by|in|near|of|on)\s+the\b", re.IGNORECASE)
_FAULT = re.compile(
    r"\s*,?\s*(?:(?:a|and|badly|bit|but|has|it['’]s|just|only|slightly|though|with)\s+)*",
    re.IGNORECASE,
)


def _is_fault_of_it(row: Events, placement: Placement, later: Placement) -> bool:
    """Whether a fault that found no field stands right behind it: "good, bit cracked"."""
    said, fault = placement.said, later.said
    lost = not later.targets and fault.kind == "remark" and fault.mention.value == "fail"
    beside = _FAULT.fullmatch(row.text, said.end, fault.start) is not None
    return lost and beside and _ELSEWHERE.match(row.text, fault.end) is None


def _is_good(placement: Placement, field: Field) -> bool:
    """Whether a check passes; whether an option is good by its word, or the first that the card has
    and no word for bad."""
    if field.type != "choice":
        return placement.targets[0].fit.value == "pass"
    said = placement.said
    good = said.option == field.options[0] and said.mention.value != "fail"
    return good or said.mention.value == "pass"


def _names_another(row: Events, placement: Placement, start: int, end: int) -> bool:
    """Whether another thing, or a place, is named there: "good but port is low"."""
    place = placement.targets[0].place
    named = row.anchors_in(start, end)
    return any(
        isinstance(each, Spot) or (each.plainest >= PLAIN and place not in each.places)
        for each in named
    )
