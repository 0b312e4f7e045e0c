"""Chosen: options of choices that were named. A remark in the same words takes the option on, or
gives way where the words tell only of that: "not a mark on it" of what is sound."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.mapping import denials
from voicelog.mapping.row import Said
from voicelog.reading.told_options import GUESS, TOLD

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from collections.abc import Set as AbstractSet

    from voicelog.mapping.row import Spans
    from voicelog.objects import Mention


def enter(
    said: list[Said], terms: Iterable[Mention], options: AbstractSet[str], solid: Spans, text: str
) -> None:
    """Enter the options among `terms` into `said`; none that lies on a value, which is `solid`."""
    found: list[Said] = []
    by_span = {(each.start, each.end): each for each in said if each.kind == "remark"}
    for term in terms:
        if str(term.value) not in options or solid.touch(term.start, term.end):
            continue
        remark = by_span.get((term.start, term.end)) or _containing(said, term)
        if remark is not None and _outweighs(term, remark):
            said.remove(remark)
            remark = None
        denied = denials.of_option(text, term.start)
        doubts = [*term.doubts, *("negation_scope",) * (denied is None)]
        if remark is None:
            meant = replace(term, doubts=(), negated=bool(denied))
            option = Said(term.start, term.end, meant, str(term.value), doubts=doubts)
            option.tags |= {GUESS} & term.qualifiers
            found.append(option)
        elif denied and {"none", "state"} & remark.mention.qualifiers == {"none"}:
            said.remove(remark)  # "not none but light"
        elif (term.start, term.end) == (remark.start, remark.end) and denied is not True:
            _take_on(remark, term, doubts)
        elif not remark.mention.negated and not denied:
            _take_on(remark, term, term.doubts)
    said.extend(found)


def _take_on(remark: Said, term: Mention, doubts: Iterable[str]) -> None:
    remark.option = str(term.value)
    remark.tags |= {GUESS} & term.qualifiers
    remark.doubts += [code for code in doubts if code != "misheard_term"]


def _outweighs(term: Mention, remark: Said) -> bool:
    """Whether an option tells more than a remark in part of its words."""
    longer = term.start < remark.start or remark.end < term.end
    if longer and not remark.mention.negated:
        return True
    told = TOLD in term.qualifiers and " " in term.text
    return told and term.start <= remark.start and remark.end <= term.end


def _containing(said: Sequence[Said], term: Mention) -> Said | None:
    """The remark of `said`, which is in order, that overlaps `term`."""
    index = bisect_left(said, term.end, key=lambda each: each.start)
    for each in reversed(said[max(0, index - 3) : index]):
        if each.kind == "remark" and each.start < term.end and term.start < each.end:
            return each
    return None
