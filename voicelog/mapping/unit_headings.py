"""Unit headings: a unit ahead of the numbers which it belongs to.

"Flange height in millimetres, wheel one ...", "flange height, wheels one to four, millimetres: ..."
and "millimetres, wheel one ..." say it ahead of a list.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.mapping.row import ENDED, Spot
from voicelog.mapping.spots import field_at
from voicelog.mapping.unit_fit import compatible, settled_unit
from voicelog.reading import unit_words
from voicelog.reading.atoms import atomise
from voicelog.reading.spoken import lexemes
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.mapping.row import Cue, Events, Said
    from voicelog.objects import Card, Field
    from voicelog.reading.lexicon import Place
    from voicelog.reading.unit_words import SpokenUnit

_UNIT = 40
"""Characters of a unit, at most."""
_IN = re.compile(r"\s*[,.:]?\s*(?P<in>(?:all\s+)?in\s+)?", re.IGNORECASE)
_PAUSE = re.compile(r"\s*(?:[.,:;]|-\s)")


def ahead(row: Events, cues: Sequence[Cue], card: Card) -> Iterator[tuple[Place, str]]:
    """Fields whose name is followed by their unit, with that unit: "torque in newton metres",
    "torque, newton metres. Bolt one, ...", "torque, bolts one to four, newton metres: ..."."""
    for cue in cues:
        near = cue.near or cue.plainest < _PLAINLY
        for end in () if near else (_behind_plain(row, cue.end), _behind_places(row, cue.end)):
            lead = _IN.match(row.text, end)
            unit = None if lead is None else unit_at(row.text, lead.end(), alone=not lead["in"])
            if unit is None:
                continue
            for place, plainness in cue.places.items():
                field = None if plainness < _PLAINLY else field_at(card, place)
                if field is not None:
                    settled = settled_unit(unit.units, field)
                    if len(unit.units) == 1 or (field.unit and compatible(settled, field.unit)):
                        yield place, settled
            break


def _behind_plain(row: Events, at: int) -> int:
    """Index behind the plain word that ends the clause of a name: "diameters now, millimetres"."""
    word = _CLOSING.match(row.text, at)
    plain = word is not None and word[1].lower() in talk().everyday.plain
    return word.end(1) if word is not None and plain else at


_CLOSING = re.compile(r"\s+([^\W\d_]+)(?=[,.:])")
_PLACES = 200
"""Characters of the places behind a name, at most."""
_TO_PLACES = re.compile(r"[\s,.:-]*(?:(?:and|at|for|from|in|on|the)\s+)*", re.IGNORECASE)


def _behind_places(row: Events, at: int) -> int:
    """Index behind the places that stand right behind the name that ends at `at`."""
    for anchor in row.anchors_in(at, at + _PLACES):
        if anchor.start < at:
            continue
        named = isinstance(anchor, Spot) or anchor.in_spot
        if not named or not _TO_PLACES.fullmatch(row.text, at, anchor.start):
            break
        at = anchor.end if isinstance(anchor, Spot) else at
    return at


_PLAINLY = 0.9


def unit_at(text: str, at: int, *, alone: bool = False) -> SpokenUnit | None:
    """The unit that stands at `at`, before a pause where it stands there `alone`."""
    word = _WORD.match(text, at) if alone else None
    if alone and (word is None or not unit_words.may_begin(word[0])):
        return None
    atoms = atomise(text[at : at + _UNIT])
    found = unit_words.find(atoms, 0, len(atoms)) if atoms else None
    if found is None or (alone and not _PAUSE.match(text, at + atoms[found[1] - 1].end)):
        return None
    return found[0]


_LINKS = frozenset({"all", "are", "at", "for", "in", "is", "on", "read", "reading", "the"})
"""Words that may stand between a unit and the number behind it."""
_WORD = re.compile(r"[^\W\d_]+")
_SAID_IN = re.compile(r"\bin\s+[^\W\d_]+(?:\s+[^\W\d_]+)?[\s,.:]", re.IGNORECASE)
""" "In millimetres" says it plainly."""
AHEAD = "unit ahead"
"""Tag of a number that has its unit from words ahead of it."""


def name_ahead(row: Events, card: Card) -> None:
    """ "Volts red four four one, yellow four forty": a unit in place of a name, or at the end of
    one, is the unit of the number behind it."""
    before: Said | None = None
    title: SpokenUnit | None = None
    for said in sorted((*row.said, *row.aside), key=lambda each: each.start):
        bare = said.kind == "count" and said.mention.stage != "remarks" and not said.tags
        unit = _heading(row, before, said) if bare else None
        on = unit is None and bare and before is not None and title is not None
        if on and before is not None and _goes_on(row, before, said):
            unit = title
        title = unit
        if unit is not None and any(_measures(field, unit) for field in _fields(card, said.step)):
            open_ = {f"unit:{each}" for each in unit.units} if unit.doubt else set()
            qualifiers = said.mention.qualifiers | open_
            doubts = (*said.mention.doubts, *((unit.doubt,) if unit.doubt else ()))
            said.mention = replace(
                said.mention,
                kind="quantity",
                unit=unit.units[0],
                qualifiers=qualifiers,
                doubts=doubts,
            )
            since = 0 if before is None else before.end
            plain = unit.units[0] in row.units.values() or _is_title(
                row.text, _since(row, since, said), said.start
            )
            plain = plain or _is_told_in(row, since, said.start)
            if not plain and not (on and before is not None and AHEAD not in before.tags):
                said.tags.add(AHEAD)
        before = said


def _since(row: Events, since: int, said: Said) -> int:
    """`since`, or 0 where a row of places is told behind it: "gap at zero, keys one to eight,
    microns: ..."."""
    spots = (each for each in row.anchors_in(since, said.start) if isinstance(each, Spot))
    return 0 if any(len(spot.names) > 2 for spot in spots) else since


def _goes_on(row: Events, before: Said, said: Said) -> bool:
    """Whether a number is told for another place of the same list as the one before it."""
    between = row.anchors_in(before.end, said.start)
    places = bool(between) and all(isinstance(anchor, Spot) for anchor in between)
    return places and row.breaks.between(before.end, said.start) < 2


def _is_title(text: str, since: int, until: int) -> bool:
    """Whether the unit stands by itself at the head of a sentence, "Right twenty seven. Amps, left
    5.4", or before its row in a sentence that has no number before it."""
    begin = max(text.rfind(sign, since, until) for sign in ".;!?") + 1
    headed = begin > 0 or since == 0
    if not headed:
        return False
    tail = text[begin or since : until].rstrip(" ,:;-")
    for start in (begin or since, (begin or since) + max(map(tail.rfind, ",:-")) + 1):
        lead = _WORD.search(text, start, until)
        if lead is not None and unit_at(text, lead.start(), alone=True) is not None:
            return True
    return False


def _fields(card: Card, step: str | None) -> Iterator[Field]:
    for each in card.steps:
        if step in (None, each.number):
            yield from each.fields


def _measures(field: Field, unit: SpokenUnit) -> bool:
    return field.unit is not None and any(compatible(each, field.unit) for each in unit.units)


def _heading(row: Events, before: Said | None, said: Said) -> SpokenUnit | None:
    """The unit that stands between two numbers and belongs to the second."""
    since = 0 if before is None else before.end
    spots = [a for a in row.anchors_in(since, said.start) if isinstance(a, Spot)]
    words = list(_WORD.finditer(row.text, since, said.start))
    for index in reversed(range(len(words))):
        word = words[index]
        unit = _many(words[max(0, index - 1) : index + 1])
        if unit is not None:
            apart = row.breaks.between(word.end(), said.start) == ENDED
            if apart:
                return unit if _is_said_in(row, before, word) else None
            lone = not row.text[since : word.start()].strip(" ,;-")
            bare = before is not None and before.is_number and before.mention.unit is None
            told = _is_counted(row, spots, since, word.start())
            return None if told or (lone and bare) else unit
        placed = any(spot.start <= word.start() < spot.end for spot in spots)
        if not placed and word[0].lower() not in _LINKS:
            return None
    return None


def _is_told_in(row: Events, since: int, until: int) -> bool:
    """Whether "in millimetres" is said before `until`; in a sentence before, by itself: "the limit
    is in millimetres. One ..." may not be said of what follows."""
    told = _SAID_IN.search(row.text, since, until)
    if told is None or row.breaks.sentence_start(until) <= told.start():
        return told is not None
    return _OF_THESE.fullmatch(row.text, row.clause_start(told.start()), told.start()) is not None


_OF_THESE = re.compile(
    r"[\s,]*(?:(?:and|now|all|everything|this\s+is|they['’]re|th(?:ese|ey)\s+are|values|readings)\s+)*",
    re.IGNORECASE,
)


def _is_said_in(row: Events, before: Said | None, unit: re.Match[str]) -> bool:
    """Whether a sentence without a number ends in its unit: "All in ohms. Valve one 34, ..."."""
    start = row.breaks.sentence_start(unit.start())
    told = before is not None and before.end > start
    return not told and _IN_LAST.search(row.text, start, unit.start()) is not None


_IN_LAST = re.compile(r"\b(?:in|an)\s+(?:[^\W\d_]+\s+)?\Z", re.IGNORECASE)


def _is_counted(row: Events, spots: Sequence[Spot], since: int, at: int) -> bool:
    """Whether a number that is no place stands before the unit at `at`: "drift in ten minutes"."""
    ahead = row.text[since:at].rstrip()
    told = ahead.split()[-1:]
    if not told or any(spot.end >= since + len(ahead) for spot in spots if spot.start < at):
        return False
    return told[0].isdigit() or (told[0].lower(),) in lexemes()


def _many(words: Sequence[re.Match[str]]) -> SpokenUnit | None:
    """The unit that the last of `words` names, or the last two."""
    known = unit_words.names_of_many()
    texts = [word[0].lower() for word in words]
    return known.get(" ".join(texts)) or known.get(texts[-1])
