"""Supposed: checks that something was told of, in words whose verdict nobody can list.

"The wand kicked out at leading and middle, went straight through on trailing": what a thing did is
plain to who holds the card and stands in no list. Where a clause names a check, or a place of one,
and nothing was taken of it, a verdict is supposed from its words and always asked about: better a
value to look at than one that is lost. Common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicelog.mapping import bare_figures, whose
from voicelog.mapping.fit import CONTRARY
from voicelog.mapping.row import ENDED, HALF, PLAIN, Cue, Spans, Spot
from voicelog.mapping.whereabouts import EXCEPTING, SAID_OF_ALL
from voicelog.mapping.work_verbs import work
from voicelog.objects import FieldValue, Mention
from voicelog.reading import verdict_words
from voicelog.reading.labels import NEGATIVE
from voicelog.reading.percard import fields_of
from voicelog.reading.settings import reasons_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.mapping.row import Events
    from voicelog.objects import Card, Field, Reading
    from voicelog.reading.lexicon import Place

_TELLS_TOO = frozenset({"as found", "as left", "except", "hedge", "same"})
"""Acts beside which a clause tells how a thing is."""
_LOOSE = frozenset({"count", "remark"})
"""What is part of the talk where no value came of it: "the rear one", "first go"."""
_PARTS = re.compile(r"[,;]\s|\s(?:and|but|while|whereas)\s", re.IGNORECASE)
_IS_UNDONE = re.compile(
    r"\b(?:I|we|nobody)\s+(?:(?:have|could|did|can|are|am)(?:n['’]?t|\s+not)|will|shall|has)\b"
    r"|\b(?:have|has|could|ca)n['’]?t\s+(?:been|got|get|had|tried|looked|done|see|reach)\b"
    r"|\A\W*(?:don['’]t|has\s+anybody)\b|\byet\b|['’]ll\b",
    re.IGNORECASE,
)
_SAME = re.compile(
    r"\b(?:the\s+)?same(?:\s+(?:again|here|story|there|thing))?\s*(?:\Z|[,.;]|(?:at|for|on|with)\b)"
    r"|\b(?:ditto|likewise|as\s+well|and\s+so\s+(?:did|does|is|was))\b",
    re.IGNORECASE,
)
_EXCEPT = re.compile(
    rf"[\s,]+(?:{EXCEPTING}|but)\s+"
    r"(?:on\s+|at\s+)?(?:the\s+)?\Z",
    re.IGNORECASE,
)
""" "Each one opened again bar door three": before a place it ends what is told of all."""
_NEXT = 3
"""Anchors behind a name among which an exception is looked for."""
_JOINED = re.compile(r"[\s,]*(?:and|or|&|plus)?[\s,]*(?:the\s+)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class _Told:
    """A stretch of the text in which something is told of a check."""

    place: Place
    positions: tuple[str | None, ...]
    start: int
    end: int
    mention: Mention
    at: int
    """Where it is named."""
    led: bool
    """Whether words that nothing explains stand before the name: "tried all the trips"."""
    so: bool = False
    """Whether the name itself says what the label wants of the thing."""
    denied: bool = False
    """Whether it is only told not to do it."""
    same: bool = False
    """Whether it is only told to do as the one before."""


def propose(
    row: Events, reading: Reading, card: Card, values: Sequence[FieldValue]
) -> Sequence[FieldValue]:
    """A doubted verdict for each check that a clause tells of and `values` do not hold."""
    proposed: list[FieldValue] = []
    checks = {place: each for place, each in fields_of(card).items() if each.type == "check"}
    known = {value.key for value in values}
    bare_figures.name(row, checks, values)
    for told in _stretches(row, reading, checks, values):
        free = [name for name in told.positions if (*told.place, name) not in known]
        if len(free) < len(told.positions):
            continue
        words = row.text[told.start : told.end]
        if verdict_words.is_no_finding(words):
            continue
        field = checks[told.place]
        verdict = "pass" if told.so else None
        if told.denied and not _denies(field):
            verdict = "fail"
        verdict = verdict or verdict_words.verdict(_telling(row, told, field), field)
        verdict = verdict or (_last(told, row, [*values, *proposed]) if told.same else None)
        if verdict is None:
            continue
        for name in free:
            known.add((*told.place, name))
            proposed.append(
                FieldValue(
                    *told.place,
                    name,
                    value=verdict,
                    as_spoken=words,
                    confidence=0.5,
                    reasons=reasons_of(("supposed",)),
                    start=told.start,
                    end=told.end,
                    alternatives=(CONTRARY[verdict],),
                    mentions=(told.mention,),
                )
            )
    return proposed


def _last(told: _Told, row: Events, values: Sequence[FieldValue]) -> str | None:
    """What was told last of the same check, one sentence before at most."""
    near = row.breaks.sentences[told.start] - 1
    before = [v for v in values if v.key[:2] == told.place and v.start < told.start]
    last = max(before, key=lambda value: value.start, default=None)
    if last is None or row.breaks.sentences[last.start] < near or last.value not in CONTRARY:
        return None
    return str(last.value)


def _telling(row: Events, told: _Told, field: Field) -> str:
    """The words of a stretch that tell of the thing: neither its name, nor work done on it; a mere
    word of another field's name tells of it, too ("water in the bilge")."""
    parts, at = [], told.start
    for anchor in row.anchors_in(told.start, told.end):
        if not isinstance(anchor, Cue) or anchor.end > told.end:
            continue
        if told.place in anchor.places or max(anchor.places.values(), default=1.0) > HALF:
            parts.append(row.text[at : max(at, anchor.start)])
            if told.place in anchor.places and (anchor.start > told.at or not told.led):
                parts.append(" ".join(verdict_words.said_of_it(anchor.mention.text, field)))
            at = max(at, anchor.end)
    words = " ".join((*parts, row.text[at : told.end]))
    pieces = [piece for piece in _PARTS.split(words) if not work().match(piece)]
    return ", ".join(pieces)


def _stretches(
    row: Events,
    reading: Reading,
    checks: Mapping[Place, Field],
    values: Sequence[FieldValue],
) -> Iterator[_Told]:
    used = _used(row, reading, values)
    topic: Cue | None = None
    check: Cue | None = None
    anchors = row.anchors
    index = 0
    while index < len(anchors):
        anchor = anchors[index]
        last = index
        if isinstance(anchor, Cue):
            topic = anchor if not anchor.in_spot or topic is None else topic
            place = _named(anchor, checks)
            check = check if place is None else anchor
            names = whose.places_of(row, index, checks[place]) if place else ()
        elif _is_of_name(row, index, anchor, checks):
            index += 1
            continue
        else:
            while last + 1 < len(anchors) and _goes_on(row, anchors[last], anchors[last + 1]):
                last += 1
            spots = [each for each in anchors[index : last + 1] if isinstance(each, Spot)]
            names = tuple(dict.fromkeys(name for spot in spots for name in spot.names))
            place = _field_of(row, anchor, names, checks, topic)
            place = place or _named_before(row, anchor, names, checks, check)
        index = last + 1
        if place is None or not names:
            continue
        behind = (each for each in row.anchors[index : index + _NEXT] if isinstance(each, Spot))
        excepted = [each for each in behind if _exception(row, anchors[last].end, each) is not None]
        left_out = {name for each in excepted for name in each.names}
        names = tuple(name for name in names if name not in left_out)
        at = anchor.start, anchors[last].end
        start, end = _stretch(row, used, *at, place, index, frozenset(checks[place].positions))
        denied = verdict_words.is_denied(row.text[anchors[last].end : end])
        counted = isinstance(anchor, Cue) and whose.are_counted(row, anchor, checks[place])
        since = anchor.start if counted else start
        told = row.unexplained(since, end, since) or _tells_of_more(row, start, end, place)
        told = told or bool(
            verdict_words.said_of_it(row.text[anchors[last].end : end], checks[place])
        )
        begin = row.clause_start(anchor.start)
        led = row.unexplained(begin, anchor.start, begin) and not counted
        same = _SAME.search(row.text, start, end) is not None
        strange = denied or told or same
        so = start < end and not (strange or led) and _says(row, anchor, checks[place])
        if (strange or so) and not _IS_UNDONE.search(row.text, start, end):
            mention = anchor.mention if isinstance(anchor, Cue) else anchor.mentions[0]
            yield _Told(place, names, start, end, mention, anchor.start, led, so, denied, same)


def _tells_of_more(row: Events, start: int, end: int, place: Place) -> bool:
    """Whether a mere word of another field's name tells of the thing: "water in the bilge"."""
    cues = (each for each in row.anchors_in(start, end) if isinstance(each, Cue))
    return any(
        not cue.in_spot
        and place not in cue.places
        and max(cue.places.values(), default=1.0) <= HALF
        for cue in cues
    )


def _used(row: Events, reading: Reading, values: Sequence[FieldValue]) -> Spans:
    """What tells of something else: of a value, of what is to be done, of a number."""
    taken = [mention for value in values for mention in value.mentions]
    taken += [Mention("remark", "", value.start, value.end) for value in values]
    taken += [
        each
        for each in reading.mentions
        if each.kind == "step" or (each.kind == "procedure" and each.value not in _TELLS_TOO)
    ]
    for each in (*row.said, *row.aside):
        if each.mention.value == "not done":
            begin = row.clause_start(each.start)
            end = row.breaks.clause_end(each.end, len(row.text))
            taken.append(Mention("remark", "", begin, end))
        elif each.kind not in _LOOSE and "misheard_term" not in each.doubts:
            taken.append(each.mention)
    return Spans(taken)


def _named(cue: Cue, checks: Mapping[Place, Field]) -> Place | None:
    """The one check that a name is of; or whose label denies something of that thing: "No noise
    from bearing"."""
    found = [p for p, plain in cue.places.items() if plain > HALF]
    found = found or [p for p in cue.places if p in checks and _denies(checks[p])]
    return found[0] if len(found) == 1 and found[0] in checks and not cue.in_spot else None


def _denies(field: Field) -> bool:
    return field.label.split()[0].lower() in NEGATIVE


def _is_of_name(row: Events, index: int, spot: Spot, checks: Mapping[Place, Field]) -> bool:
    """Whether a place belongs to the name of a check right behind it, which has such places."""
    at = index + 1
    while at < len(row.anchors) and isinstance(each := row.anchors[at], Cue) and each.in_spot:
        at += 1
    cue = row.anchors[at] if at < len(row.anchors) else None
    if not isinstance(cue, Cue) or whose.before_name(row, at) is not spot:
        return False
    place = _named(cue, checks)
    return place is not None and set(spot.names) <= set(checks[place].positions)


def _says(row: Events, anchor: Cue | Spot, field: Field) -> bool:
    """Whether the words that name a check say already what its label wants of the thing ("mags
    off" of "Both magnetos off"), or count as many as there are."""
    if not isinstance(anchor, Cue):
        return False
    start = row.breaks.clause_end(anchor.end, len(row.text))
    if row.text[start : start + 1] == ":":
        return False  # only a heading
    said = verdict_words.said_of_it(anchor.mention.text, field)
    return bool(said) or whose.are_counted(row, anchor, field)


def _goes_on(row: Events, one: Cue | Spot, other: Cue | Spot) -> bool:
    """Whether two places are named together."""
    joined = _JOINED.fullmatch(row.text, one.end, other.start)
    return isinstance(other, Spot) and joined is not None


def _stretch(
    row: Events,
    used: Spans,
    first: int,
    last: int,
    place: Place,
    index: int,
    positions: frozenset[str],
) -> tuple[int, int]:
    """Where the talk of a thing named from `first` to `last` begins and ends: at a clause or at
    what tells of something else; nothing where that is told of it."""
    if used.touch(first, last):
        return first, first
    start = max(row.clause_start(first), used.end_before(first))
    excepted = _EXCEPT.search(row.text, start, first)
    start = excepted.end() if excepted is not None else start
    end = row.breaks.sentence_end(last, len(row.text))
    while index < len(row.anchors) and (anchor := row.anchors[index]).start < end:
        inside = anchor.start < last  # the "water" of "low water"
        if isinstance(anchor, Spot):
            apart = anchor.unknown or not positions.isdisjoint(anchor.names)
        else:
            apart = not (place in anchor.places or _is_elsewhere(anchor, place))
        if not inside and apart:
            cut = _exception(row, last, anchor) if isinstance(anchor, Spot) else None
            cut = row.clause_start(anchor.start) - 1 if cut is None else cut
            end = max(last, min(end, cut))
        index += 1
    behind = used.start_behind(last)
    if behind is not None and behind < end:
        parts = [match.start() for match in _PARTS.finditer(row.text, last, behind)]
        end = parts[-1] if parts else first
    while start < end and row.text[start] in " ,.;:":
        start += 1
    return start, max(start, end)


def _is_elsewhere(cue: Cue, place: Place) -> bool:
    """Whether a mere word of names is of other steps only: the "open" of "came open"."""
    return cue.plainest <= HALF and all(step != place[0] for step, _ in cue.places)


def _exception(row: Events, start: int, spot: Spot) -> int | None:
    """Where the words begin that except `spot` from all that was named before them."""
    found = _EXCEPT.search(row.text, start, spot.start)
    begin = row.clause_start(start)
    of_all = found and SAID_OF_ALL.search(row.text, begin, found.start())
    return found.start() if found is not None and of_all else None


def _named_before(
    row: Events,
    spot: Spot,
    names: Sequence[str | None],
    checks: Mapping[Place, Field],
    check: Cue | None,
) -> Place | None:
    """The check named last of all, one sentence before at most, if it has such places: "overspeed
    catch, yanked both ropes. Left one bit"."""
    place = None if check is None or spot.unknown else _named(check, checks)
    if place is None or check is None or not set(names) <= set(checks[place].positions):
        return None
    apart = row.breaks.sentences[spot.start] - row.breaks.sentences[check.start]
    return place if apart <= 1 and place[0] == row.step_at(spot.start) else None


def _field_of(
    row: Events,
    spot: Spot,
    names: Sequence[str | None],
    checks: Mapping[Place, Field],
    topic: Cue | None,
) -> Place | None:
    """The check that has such places: the one named last, or the only one of its step."""
    fit = [p for p, field in checks.items() if set(names) <= set(field.positions)]
    if spot.unknown or not fit:
        return None
    here = [p for p in fit if p[0] == row.step_at(spot.start)]
    if topic is not None:
        named = [p for p, plain in topic.places.items() if plain > HALF]
        named = [p for p in named if topic.places[p] >= PLAIN] or named
        near = row.breaks.between(topic.end, spot.start) < ENDED
        if named and (near or topic.plural):
            return named[0] if len(named) == 1 and named[0] in fit else None
        if near:
            here = [p for p in here if p in topic.places]
    return here[0] if len(here) == 1 else None
