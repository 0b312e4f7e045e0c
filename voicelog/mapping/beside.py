"""Beside: names that are only a part of what was named, which is another thing then.

"Lining rivets eight millimetres" is no word on the lining, nor "clutch lining" on that of a brake.
"""

from __future__ import annotations

import re
from functools import cache
from itertools import chain
from typing import TYPE_CHECKING

from voicelog.mapping.plainly import VERB
from voicelog.mapping.row import PLAIN, Cue
from voicelog.mapping.unit_fit import compatible
from voicelog.phonetics import alike, likeness
from voicelog.reading import unit_words
from voicelog.reading.labels import RELATING, keys_of
from voicelog.reading.spoken import lexemes
from voicelog.reading.state_words import trade, work_stems
from voicelog.reading.statements import subject_of
from voicelog.reading.talk import talk
from voicelog.reading.trade import faults
from voicelog.reading.words import is_plural, verb_stem, word_key

if TYPE_CHECKING:
    from collections.abc import Iterator
    from collections.abc import Set as AbstractSet

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events, Said, Spot
    from voicelog.objects import Field, Mention
    from voicelog.reading.lexicon import Place

_BEHIND = re.compile(r" +([a-z]{3,})(?<!ly)(?<!where)\b(?!')", re.IGNORECASE)
_BEFORE = re.compile(r"(?:\A|[\s,.])([a-z]{3,})(?<!ly) +\Z", re.IGNORECASE)
_WORD = re.compile(r"([a-z]{3,})", re.IGNORECASE)
_IN_ANOTHER = re.compile(
    r"\s+(?:in|of|on)\s+(?:the|our|that)\s+(?P<thing>[a-z]{3,}(?:\s+[a-z]{3,})?)(?=\s*(?:[,.;:]|\Z|\d|"
    r"(?:up|down|at|by|near|is|was|are|were|reads?|has|had)\b))",
    re.IGNORECASE,
)
_ENDS = re.compile(r"\s*(?:[,.;!?]|\Z)")
_SHORT = re.compile(r"\b[a-z]{2,}\.")
"""Words of a label that are written short: "Hydr." for hydraulic."""
_TIMES = {"time", "turn"}
"""Keys of what is no thing that is counted: "operated five times"."""
_TOLD = frozenset({"identifier", "date"})
_ALIKE, _BY_EAR = 0.65, 0.5
"""Likeness, as written and by ear, from which on a word may be a misheard one of the name."""
_LIKE_A_UNIT = 0.6
_IN_TIME = re.compile(r"\b(?:after|before|last|next|since|until)\s+\Z", re.IGNORECASE)
""" "At the last overhaul oil pressure was ...": a moment, and no thing that has a pressure."""
_TIME = 16
"""Characters of these words, at most."""


def doubt(row: Events, placement: Placement, field: Field, before: int) -> Iterator[str]:
    """The doubt of a value that may be of another thing."""
    if (
        _is_part(row, placement, field, before)
        or _counts_other(row, placement, field)
        or _in_another(row, placement, field)
        or _is_of_another_sort(row, placement, field, before)
        or _tells_other_state(row, placement, field)
    ):
        yield "loosely_named"


def _tells_other_state(row: Events, placement: Placement, field: Field) -> bool:
    """ "Four cleats on the left replaced, two on the right tightened": a count of what was done to
    others, or is wrong with others, than those that the field counts."""
    said = placement.said
    if field.type != "count" or said.kind != "count" or not placement.targets[0].inherited:
        return False
    own = {verb_stem(word) for word in " ".join((field.label, *field.say)).lower().split()}
    if own.isdisjoint(_told_stems()):
        return False
    end = row.breaks.clause_end(said.end, len(row.text))
    number = next((each.start for each in row.said_in(said.end, end) if each.is_number), end)
    stems = {verb_stem(word) for word in _WORD.findall(row.text, said.end, number)}
    return bool(stems & _told_stems()) and own.isdisjoint(stems & _told_stems())


@cache
def _told_stems() -> frozenset[str]:
    """Stems of the words for what is done to things, and for what is wrong with them."""
    return (
        work_stems()
        | frozenset(map(verb_stem, faults()))
        | frozenset(map(verb_stem, trade("FAULT")))
    )


def _is_part(row: Events, placement: Placement, field: Field, before: int) -> bool:
    """Whether the name that led to `field` has a noun beside it that belongs to no name of it."""
    said, target = placement.said, placement.targets[0]
    cue = target.cue
    if cue is None or target.inherited or cue in said.inner:
        return False
    if not (said.is_number or said.kind in _TOLD or said.option is not None):
        return False
    own = own_words(field)
    ends = [cue.end]
    if target.spot is not None and cue.start <= target.spot.end < said.start:
        ends.append(target.spot.end)  # "axlebox B motor forty degrees"
    for end in ends:
        behind = _BEHIND.match(row.text, end)
        if behind is None or said.start < behind.end(1) <= said.end:
            continue
        if end == cue.end and is_its_verb(row, cue, behind[1]):
            continue
        goes_on = end > said.start and _ENDS.match(row.text, behind.end()) is None
        if not goes_on and _is_noun(row, behind, target.place, own):
            return True
    first = cue.mention.text.split()[0].lower()
    if first.endswith("ed") or first in talk().everyday.verbs:
        return False  # "the valve diverted at seventy": its doer
    start = max(before, row.clause_start(cue.start))
    ahead = _BEFORE.search(row.text, start, cue.start)
    if ahead is None or is_plural(ahead[1].lower()):
        return False  # "free in both directions friction two pounds"
    return _is_noun(row, ahead, target.place, own)


def _is_of_another_sort(row: Events, placement: Placement, field: Field, before: int) -> bool:
    """Whether half a name, of which something is told, stands behind the noun of another thing:
    "load bar tight" is no word on the earth bar."""
    said, target = placement.said, placement.targets[0]
    cue = target.cue
    if said.kind != "remark" or said.option is not None or target.inherited:
        return False
    if cue is None or cue in said.inner or cue.near or cue.in_spot:
        return False
    if cue.places.get(target.place, PLAIN) >= PLAIN:
        return False
    *_, noun = ("", *subject_of(field).split())
    if word_key(cue.mention.text.split()[-1]) != word_key(noun):
        return False  # "paper dust" where a dust duct has to be clear
    start = max(before, row.clause_start(cue.start))
    ahead = _BEFORE.search(row.text, start, cue.start)
    if ahead is None or is_plural(ahead[1].lower()):
        return False
    return _is_noun(row, ahead, target.place, own_words(field))


def _is_noun(row: Events, word: re.Match[str], place: Place | None, own: AbstractSet[str]) -> bool:
    """Whether a word may be the noun of a thing, as far as words can tell: nothing explains it, nor
    was it one of the field's `own`, misheard."""
    text, key, at = word[1].lower(), word_key(word[1]), word.start(1)
    everyday = talk().everyday
    begins = not row.text[row.clause_start(at) : at].strip()
    over = _over(row, at)
    ordered = begins and not over and text in everyday.orders
    if text in _no_things() or VERB.search(text) or ordered:
        return False
    short = any(text.startswith(each[:-1]) for each in own if each.endswith("."))
    timed = _IN_TIME.search(row.text, max(0, at - _TIME), at) is not None
    if short or timed or key in own or key in row.titled:
        return False
    if any(alike(key, other) >= _ALIKE or likeness(text, other) >= _BY_EAR for other in own):
        return False
    if over:
        return all(isinstance(a, Cue) and not a.in_spot and place not in a.places for a in over)
    told: Iterator[Said | Mention] = chain(row.aside, row.said, row.words)
    return not any(each.start <= at < each.end for each in told)


def _in_another(row: Events, placement: Placement, field: Field) -> bool:
    """Whether the name that led to `field` is said to be in or on a thing of which nobody spoke:
    "play in the cab hinge", "two broken wires in the loom". Where on a thing it is (an end, the
    third lay) says nothing of the kind."""
    target = placement.targets[0]
    cue = target.cue
    if cue is None or target.spot is not None or not placement.said.is_number:
        return False  # "the batch number on the box"
    found = _IN_ANOTHER.match(row.text, cue.end)
    if found is None or found.end() in (placement.said.start, placement.said.end):
        return False
    words = list(_WORD.finditer(row.text, *found.span("thing")))
    return _is_noun(row, words[-1], target.place, own_words(field))


def is_its_verb(row: Events, cue: Cue, word: str) -> bool:
    """Whether the word behind the name of several things tells what they do, as the noun of another
    thing would follow the name of one: "tracks hang", but "track rollers", "track hanger"."""
    last = row.text[cue.start : cue.end].split()[-1].lower()
    return is_plural(last) and "'" not in last and not is_plural(word.lower())


def own_words(field: Field) -> AbstractSet[str]:
    """Keys of the words by which the field is named, and those that its label writes short."""
    own = keys_of(field)
    return own.union(_SHORT.findall(field.label.lower())) if "." in field.label else own


def _counts_other(row: Events, placement: Placement, field: Field) -> bool:
    """Whether right behind the number stands what was counted, which is none of `field`: "west
    cell, three eliminators cracked", "replaced three washers" (what was done names the field, and
    not what it was done to)."""
    said, target = placement.said, placement.targets[0]
    cue = target.cue
    counted = _BEHIND.match(row.text, said.end) if said.kind == "count" else None
    if cue is None or counted is None:
        return False
    at = counted.start(1)
    if cue.places.get(target.place, 0.0) < PLAIN and any(
        isinstance(each, Cue) and each.plainest >= PLAIN and target.place not in each.places
        for each in row.anchors_in(at, at + 1)
    ):
        return True
    of_deed = field.type == "count" and cue.end <= said.start and VERB.search(cue.mention.text)
    if not of_deed:
        return False
    others = _over(row, at)
    named = others and all(isinstance(a, Cue) and target.place not in a.places for a in others)
    return bool(named) or _is_noun(row, counted, target.place, own_words(field) | _TIMES)


def counted(row: Events, placement: Placement, field: Field) -> Iterator[str]:
    """The doubt of a number of other things where a place alone names the field, or what was said
    before: "pump one has three bolts", "five broken wires to port. Starboard has four clips"."""
    target = placement.targets[0]
    placed = target.by_unit or (target.cue is not None and target.cue.in_spot)
    placed = placed or target.inherited
    if placed and counts_things(row, placement.said, field):
        yield "placed_by_unit"


_SIZE = re.compile(r"\s+(?:across|deep|high|long|wide)\b", re.IGNORECASE)


def of_a_fault(row: Events, placement: Placement, field: Field) -> Iterator[str]:
    """The doubt of the size of a fault, which is none of the thing itself: "a dent in the rim, two
    millimetres deep" is no tread depth."""
    said, target = placement.said, placement.targets[0]
    if not said.is_number or _SIZE.match(row.text, said.end) is None or target.inherited:
        return
    start = row.breaks.sentence_start(said.start)
    for other in row.said_in(start, said.start):
        faults = {name for name in other.mention.qualifiers if name.startswith("is:")}
        own = keys_of(field)
        if faults and "condition" in other.mention.qualifiers:
            if own.isdisjoint(word_key(word) for word in other.mention.text.split()):
                yield "placed_by_unit"
            return


def counts_things(row: Events, said: Said, field: Field) -> bool:
    """Whether a bare number counts what stands right behind it, and measures nothing: "motor two
    drew 97 amps against a stiff current, 18 cars on board"."""
    if said.kind != "count" or said.mention.stage == "remarks":
        return False
    counted = _BEHIND.match(row.text, said.end)
    text = "" if counted is None else counted[1].lower()
    share = _SHARE.search(said.mention.text) is not None
    if counted is None or share or not is_plural(text):
        return counted is not None and share and _is_noun(row, counted, None, set())
    whole = str(said.mention.value).isdigit() and str(said.mention.value) != "1"
    if not whole or word_key(text) in own_words(field) or _over(row, counted.start(1)):
        return False
    if any(likeness(text, unit) >= _LIKE_A_UNIT for unit in _units_of(field.unit or "")):
        return False  # "eighty five parcels", for pascals
    return _is_noun(row, counted, None, set())


_SHARE = re.compile(r"\b(?:half|thirds?|quarters?)\Z", re.IGNORECASE)
""" "On two thirds load": a share of something, and no reading."""


@cache
def _units_of(unit: str) -> frozenset[str]:
    """Names of the units that measure what `unit` does."""
    known = unit_words.names_of_many().items()
    named = {name for name, each in known if any(compatible(one, unit) for one in each.units)}
    return frozenset(named | {f"{unit}s"})


def _over(row: Events, at: int) -> list[Cue | Spot]:
    """The names and places that the word at `at` is of."""
    return [a for a in row.anchors_in(max(0, at - 40), at + 1) if a.start <= at < a.end]


@cache
def _no_things() -> frozenset[str]:
    """Words that name no thing."""
    said = talk().everyday
    numbers = {word for phrase in lexemes() for word in phrase if len(phrase) == 1}
    known = said.plain | said.ordinary | said.common | said.beside | said.verbs | said.states
    return known | RELATING | numbers | {"any", "each", "every"}
