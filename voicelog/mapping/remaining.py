"""Remaining: how many were found so, what was done about them, and how many are still so.

"Seven cracked slats, changed five of them, so there's two still running": the last is the count
that stands, if the three agree where all of them were told. Common practice, no source.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.row import Spot
from voicelog.mapping.work_verbs import work
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Card

REMAINING = "remaining"
"""Tag of a count of those that are still so."""
_REACH = 3
"""Counts before it among which those that were found are looked for."""
_LEADS = re.compile(
    r"(?:\bso|\bstill|\bleaves|\bleaving|\bleft\s+with|\bdown\s+to|\bthere['’]?(?:s|\s+(?:is|are)))"
    r"(?:\s+(?:that|there|that['’]s|there['’]s|i['’]ve|we['’]ve|are|got|have|is|it['’]s|just|leaves|only|still|now))*\s+\Z",
    re.IGNORECASE,
)
_MEASURED = re.compile(r"\b(?:at|to)\s+\Z", re.IGNORECASE)
_FOLLOWS = re.compile(
    r"[^,.;]*?\b(?P<word>(?<!\bI\s)(?<!\bwe\s)left|remain(?:s|ing)?|still|outstanding|now|to\s+go|can['’]?t|cannot|couldn['’]t|won['’]t|wouldn['’]t)\b",
    re.IGNORECASE,
)
_WORD = re.compile(r"[a-z]{3,}", re.IGNORECASE)
_THING = re.compile(r"\bthe\s+(?:[a-z]+\s+)??([a-z]{3,})(?=\s*(?:[,.;]|and\b))", re.IGNORECASE)
_PIECE = re.compile(r"\A|[,.;:]\s+|\b(?:and|so|then|but)\s+", re.IGNORECASE)


def mark(row: Events, card: Card) -> None:
    """Tag the counts of those that were found and that remain, and set those aside that were seen
    to."""
    counts = [each for each in row.said if not each.dropped and _is_count(row, each)]
    for index, left in enumerate(counts):
        found, worked = _before(row, counts[max(0, index - _REACH) : index])
        if found is None or not _remains(row, left, card):
            continue
        done = sum(int(str(each.mention.value)) for each in worked)
        rest = _number(found) - done
        agrees = bool(worked) and rest == _number(left)
        fewer = _number(left) < _number(found) and not worked and not _of_others(row, found, left)
        if agrees or (fewer and _is_worked(row, found.end, left.start)):
            found.tags.add("as found")
            left.tags |= {"as left", REMAINING}
            left.found = (found,)
            for spot in _sides(row, left):
                spot.dropped = True
            for each in worked:
                row.said.remove(each)
                row.aside.append(each)


def _is_worked(row: Events, start: int, end: int) -> bool:
    """Whether a piece of the stretch tells of work."""
    pieces = _PIECE.finditer(row.text, start, end)
    return any(work().match(row.text, piece.end(), end) for piece in pieces)


def _of_others(row: Events, found: Said, left: Said) -> bool:
    """Whether another thing was named in between, of which there may be so many now: "three
    scrapers broken, changed the chain, none broken now"."""
    counted = {word_key(word) for word in _WORD.findall(row.text[found.end : left.start])[:2]}
    things = _THING.finditer(row.text, found.end, left.start)
    return any(word_key(thing[1]) not in counted for thing in things)


def _is_count(row: Events, said: Said) -> bool:
    mention = said.mention
    measured = _MEASURED.search(row.text, max(0, said.start - 4), said.start)
    whole = mention.kind == "count" and str(mention.value).isdigit() and not measured
    return whole or (said.kind == "remark" and mention.negated and mention.value == "pass")


def _number(said: Said) -> int:
    return int(str(said.mention.value)) if said.kind == "count" else 0


def _before(row: Events, counts: Sequence[Said]) -> tuple[Said | None, list[Said]]:
    """The count of those that were found, and the counts behind it of those that were seen to."""
    worked: list[Said] = []
    for each in reversed(counts):
        if each.kind != "count" or each.mention.stage == "remarks":
            return None, []
        if "of them" in each.tags or is_work(row, each):
            worked.insert(0, each)
        else:
            return each, worked
    return None, []


def is_work(row: Events, said: Said) -> bool:
    """Whether a count tells how many were seen to: "tightened three of them"."""
    return _is_worked(row, max(0, row.clause_start(said.start) - 2), said.start)


def _remains(row: Events, left: Said, card: Card) -> bool:
    """Whether the words around a count tell that it is of those that are still so."""
    if _LEADS.search(row.text, row.clause_start(left.start), left.start):
        return True
    end = row.breaks.clause_end(left.end, len(row.text))
    behind = _FOLLOWS.match(row.text, left.end, end)
    if behind is None:
        return False
    sides = _sides(row, left) if behind["word"].lower() == "left" else []
    return not any(_is_place(left, spot, card) for spot in sides)


def _sides(row: Events, left: Said) -> list[Spot]:
    """The "left" of a clause, taken for a place."""
    end = row.breaks.clause_end(left.end, len(row.text))
    spots = (a for a in row.anchors_in(left.end, end) if isinstance(a, Spot))
    return [a for a in spots if row.text[a.start : a.end].lower() == "left"]


def _is_place(left: Said, spot: Spot, card: Card) -> bool:
    """Whether a field of the step has such a place."""
    steps = (step for step in card.steps if left.step in {None, step.number})
    return any(
        not set(spot.names).isdisjoint(each.positions) for step in steps for each in step.fields
    )
