"""Fault words: conditions that may be the name of something, and say nothing of the field."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping.plainly import VERB
from voicelog.mapping.row import Cue, Spot
from voicelog.reading.labels import NEGATIVE, WHERE, names
from voicelog.reading.spoken import lexemes
from voicelog.reading.talk import everyday_words, talk
from voicelog.reading.trade import conditions
from voicelog.reading.words import tokenise, word_key

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events
    from voicelog.objects import Field


def doubts(row: Events, placement: Placement, field: Field) -> Iterator[str]:
    """Why a fault that was placed in `field` may be none of it."""
    yield from _before_a_thing(row, placement)
    yield from _begins_its_name(row, placement, field)
    yield from _by_its_fault(row, placement, field)
    yield from _down_to(row, placement, field)
    yield from _only_a_reason(row, placement)
    if _is_what_it_does(row, placement, field):
        yield "state_meaning"
    if _is_near_its_good(placement, field):
        yield "misheard_polarity"


_STOPS = frozenset({
    "cuts", "drops", "holds", "interrupts", "isolates", "kills", "shuts", "stop", "stops", "trips",
})  # fmt: skip
_OFF = re.compile(r"(?<=\blocked)(?:\s+(?:it|them|that|her|him))?\s+(?:off|out)\b", re.IGNORECASE)
""" "Locked it off at the wall": kept from running, and no word on a lock."""
_CUT = re.compile(r"cuts?", re.IGNORECASE)
_DEAD = re.compile(r"\b(?:cut|dropped|goes|stopped|stops|went)\s+(?:stone\s+)?\Z", re.IGNORECASE)


def _is_what_it_does(row: Events, placement: Placement, field: Field) -> bool:
    """ "Pulled the lanyard, engine cut straight away", where the label wants that it stops: no
    fault of a thing that is cut; "locked it off" is nothing good of what holds no lock."""
    said, words = placement.said, frozenset(field.label.lower().replace(",", " ").split())
    if placement.targets[0].fit.value == "pass" and _OFF.match(row.text, said.end):
        return not any(word.startswith(("lock", "isolat")) for word in words)
    if _STOPS.isdisjoint(words):
        return False
    if said.mention.value != "fail":
        return False
    near = row.text[max(0, said.start - 14) : said.start]
    return _CUT.fullmatch(said.mention.text) is not None or (
        said.mention.text.lower() == "dead" and _DEAD.search(near) is not None
    )


_LEAST = 5
"""Letters of words of which one at the beginning tells nothing by ear."""


def _is_near_its_good(placement: Placement, field: Field) -> bool:
    """Whether a fault differs in its first letter alone from a word of the label: "split pin
    pitted" where it must be fitted."""
    mention = placement.said.mention
    fault, words = mention.text.lower(), field.label.lower().split()
    return (
        mention.value == "fail"
        and len(fault) >= _LEAST
        and fault not in words
        and any(word[1:] == fault[1:] for word in words)
    )


_TO = re.compile(r"\s+(?:(?:right|well|away|back)\s+)?(?:down\s+)?to\s+(?:about\s+)?", re.I)


def _down_to(row: Events, placement: Placement, field: Field) -> Iterator[str]:
    """The doubt of a fault that tells how a measure came about: "worn right down to 49
    millimetres" is no word on how tight it is."""
    said = placement.said
    told = _TO.match(row.text, said.end)
    measured = told and any(each.is_number and each.start == told.end() for each in row.said)
    words = {word_key(word) for word in field.label.split()}
    if measured and field.type == "check" and word_key(said.mention.text) not in words:
        yield "loosely_named"


_BECAUSE = re.compile(r"\b(?:as|because|since|['’]?cause)\b", re.I)
_LEFT_UNDONE = re.compile(r"(?:\b(?:not|never|cannot|unable)|n['’]t)\b", re.I)


def _only_a_reason(row: Events, placement: Placement) -> Iterator[str]:
    """The doubt of a fault for which something was not done: "haven't opened the glass yet as the
    cock's seized" tells of the cock."""
    said, cue = placement.said, placement.targets[0].cue
    if cue is None or cue.end > said.start or row.breaks.between(cue.end, said.start) == 2:
        return
    because = _BECAUSE.search(row.text, cue.end, said.start)
    start = row.breaks.sentence_start(cue.start)
    if because and _LEFT_UNDONE.search(row.text, start, cue.start):
        yield "left_to_do"


_NEXT_WORD = re.compile(r"\s+([a-z]+)(?<!ly)\b", re.I)


def _begins_its_name(row: Events, placement: Placement, field: Field) -> Iterator[str]:
    """The doubt of a condition that may be the first word of the field's name, the rest of which
    was misheard: "weep old rye as a bone" was no weep, but a weep hole."""
    mention = placement.said.mention
    word = _NEXT_WORD.match(row.text, mention.end) if "bare" in mention.qualifiers else None
    said = talk().remarks
    if word is None or word[1].lower() in talk().everyday.plain | said.where | said.seen:
        return
    named = row.anchors_in(mention.end, word.end())
    pairs = {pair for name in names(field) for pair in pairwise(t.key for t in tokenise(name))}
    heads = {first for first, other in pairs if other not in everyday_words()}
    if not named and word_key(mention.text) in heads:
        yield "named_only"


_LOOKED_FOR = frozenset({"check", "detection", "inspection", "test"})
_BEHIND = re.compile(
    r"(?:\s+(?:test|check|detection|inspection))?\s+([a-z]{3,})(?<!ed)(?<!ing)(?<!ly)(?<!where)\b",
    re.I,
)


def _by_its_fault(row: Events, placement: Placement, field: Field) -> Iterator[str]:
    """The doubt of what is told of a thing that only has its name from the fault of a field:
    "birdcaging tool is bent", "leak test kit missing" are no word on birdcaging or leaks."""
    said, cue = placement.said, placement.targets[0].cue
    if cue is None or cue.in_spot or cue.end >= said.start or not _is_fault(cue, field):
        return
    words, place = talk(), placement.targets[0].place
    behind = _BEHIND.match(row.text, cue.end, said.start)
    if behind is None or row.breaks.between(cue.end, said.start) == 2:
        return
    word, at = behind[1].lower(), behind.start(1)
    if any(isinstance(a, Spot) or place in a.places for a in row.anchors_in(at, at + 1)):
        return
    talked = words.remarks
    told = words.everyday.plain | talked.seen | talked.where | talked.light | talked.heavy
    told |= talked.vague
    if word not in told and (word,) not in lexemes() and not VERB.search(word):
        yield "loosely_named"


def _is_fault(cue: Cue, field: Field) -> bool:
    """Whether a name of the field is that of a fault."""
    words = [word_key(word) for word in cue.mention.text.split()]
    last = words[-2] if len(words) > 1 and words[-1] in _LOOKED_FOR else words[-1]
    first, *rest = field.label.lower().split()
    where = next((at for at, word in enumerate(rest) if word in WHERE), len(rest))
    denied = first in NEGATIVE and last in {word_key(word) for word in rest[:where]}
    return denied or last in conditions()


_AMONG = re.compile(r"\b(?:on|off|out|in|up|down|over|by)\s+\Z", re.I)
_THING = re.compile(r"\s+[a-z]{3,}(?<!ly)\s*(?:[,.;]|\Z)", re.I)


def _before_a_thing(row: Events, placement: Placement) -> Iterator[str]:
    """The doubt of a fault word between "on" and the name of a thing: "pit light on broken plates"
    may be a light that is on, and another thing that is broken."""
    mention, cue = placement.said.mention, placement.targets[0].cue
    told = mention.value == "fail" and "state" in mention.qualifiers
    if not told or cue is None or cue.end > mention.start:
        return
    among = _AMONG.search(row.text, cue.end, mention.start)
    if among is not None and _THING.match(row.text, mention.end) is not None:
        yield "loosely_named"
