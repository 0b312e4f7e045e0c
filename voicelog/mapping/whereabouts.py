"""Whereabouts: to which positions of a field a value goes, and what says so."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping.row import ENDED, PLACE_WORD, PLAIN, Cue, Events, Said, Spot
from voicelog.reading.spoken import sides_of
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from voicelog.objects import Field

JOIN = re.compile(
    r"[\s,]*(?:and|&|plus|or|to)?[\s,]*(?:(?:also\s+)?(?:at|for|from|in|on)\s+)?(?:the|number)?\s*",
    re.IGNORECASE,
)
"""What stands between things that are named together: "from the panel and from the door"."""
_REST = re.compile(r"(?:the\s+)?(?:rest|others?|remaining|all\s+other)\b", re.IGNORECASE)
_ALL = re.compile(
    r"(?<!['’])\b(?:all|both|every|each|neither|none(?=\s+of))\b(?:\s+(?:of\s+)?(?:the\s+)?(\w+))?",
    re.IGNORECASE,
)
_ALL_OF_IT = re.compile(r"[\s,:]*(?:(?:is|are|was|were)\s+)?all\s+(?:at\s+)?", re.IGNORECASE)
_NEAR = 24
"""Characters before a name within which "every single" stands."""
_ON_THE = re.compile(r"\s+(?:on|in|at|of)\s+(?:(?:the|our)\s+)?", re.IGNORECASE)
_ALL_THE = re.compile(r"\ball\s+(?:of\s+)?(?:(?:the|our|these|those)\s+)?\Z", re.IGNORECASE)
_EVERY_ONE = re.compile(r"\b(?:each|every)\s+(?:single\s+|last\s+)?\Z", re.IGNORECASE)
_NO_ONE = re.compile(r"(?:no|not\s+(?:one|a\s+single))\s", re.IGNORECASE)
EXCEPTING = (
    r"apart\s+from|aside\s+from|bar(?:ring)?|except(?:ing)?(?:\s+for)?|excluding|other\s+than"
    r"|save(?:\s+for)?"
)
"""Words behind which stands what is left out of what was told, as a part of an expression."""
SAID_OF_ALL = re.compile(
    r"(?<!['’])\b(?:all|both|every|each|everywhere|anywhere|throughout)\b", re.IGNORECASE
)
"""Words that make a value one of all the places of its field."""
_ENDS = r"(?=\s*(?:[,.;]|(?:and|except|excepting|bar|barring|but|apart|save|other|with)\b|$))"
_TOO = "either"
""" "It doesn't spring back either": that one neither, and nothing of two places."""
_ALL_ROUND = re.compile(
    r"\s*,?\s*(?:(?:again|found|now|seen|showing|so\s+far|still|left|this\s+time|today|visible)\b\s*,?\s*)?"
    r"(?:(?:on|at|in|to)\s+)?"
    r"(?:all\s+(?:the\s+way\s+)?(?:a?round|over|along|across|through|down|up)"
    r"|(?:either|each|both)(?:\s+(?:of\s+(?:them|those)|sides?|ones?|ends?|ways?|directions?))?"
    r"|(?:either|any)\s+[a-z]+"
    + _ENDS
    + r"|(?<=\bon\s)all"
    + _ENDS
    + r"|the\s+(?:whole\s+)?lot(?:\s+of\s+(?:them|those))?"
    + _ENDS
    + r"|(?:any|all|each|none)\s+of\s+(?:them|those)|everywhere|anywhere|throughout"
    r"|(?:any|all|each|none|either|both)\s+of\s+(?:the|our|these|those)\s+(?:(?P<number>[a-z]+|\d+)\s+)?[a-z]+s"
    + _ENDS
    + r")"
    r"(?:" + _ENDS + r"|(?=\s+(?P<next>\w+)\s))",
    re.IGNORECASE,
)

_BOTH = re.compile(r"\W*(?:(?:on|at|in|to)\s+)?both(?:\s+of\s+(?:them|those))?\W*", re.IGNORECASE)
_NOT = re.compile(r"n['’]t\b|\b(?:not|never|cannot|unable)\b", re.IGNORECASE)
NONE = re.compile(r"\b(?:nothing|nil|none|no(?!\.|\s+\d))\b", re.IGNORECASE)
_EACH = re.compile(r"\s*,?\s*(?:on\s+|at\s+|in\s+)?(?:each|both|either)\b", re.IGNORECASE)


@dataclass(slots=True)
class Context:
    """What had been said before a value: the last cue and spot, the last plainly named step."""

    recent: tuple[Cue, ...] = ()
    """The last cues that plainly named a field, latest first."""
    spot: Spot | None = None
    used: bool = False
    """A number was said since the last cue or spot."""
    listed: bool = False
    """The last place was one of several that were named one after the other."""

    def heard(self, anchors: Iterable[Cue | Spot]) -> None:
        """Take in what was said next."""
        for anchor in anchors:
            if isinstance(anchor, Spot):
                before = self.spot
                apart = before is not None and before.names != anchor.names
                self.listed = apart and before is not None and len(before.names) == 1
                self.spot = anchor
                self.used = False
            elif anchor.mention.kind == "term":
                self.used = False
                others = (each for each in self.recent if not _again(anchor, each))
                latest = (anchor, *others)
                head = [each for each in latest if not each.in_spot][:1]
                self.recent = (*latest[:4], *(each for each in head if each in latest[4:]))

    def copy(self) -> Context:
        """The same, to go on from."""
        return Context(self.recent, self.spot, self.used, self.listed)


def _again(cue: Cue, before: Cue) -> bool:
    """Whether a cue is one that was heard before; the "fan" of "fan five" is that of "fan four",
    and a long list does not make its heading forgotten."""
    counts = cue.in_spot and before.in_spot and cue.canonical == before.canonical
    return cue is before or counts


def only_of_place(cue: Cue, said: Said, context: Context) -> bool:
    """ "End buffer cracked at dock end, far end sound": where the field was named before, "end" is
    a word of the place and no name."""
    if said.is_number or not cue.in_spot or cue.plainest >= PLACE_WORD:
        return False
    named = (each for each in context.recent if each.plainest >= PLAIN)
    return any(cue.places.keys() & each.places.keys() for each in named)


_ROW_AHEAD = re.compile(
    r"\b([a-z]+|\d+)\s*(?:,|\band\b|\bto\b|&)\s*([a-z]+|\d+)\s+\Z", re.IGNORECASE
)


class Whereabouts:
    """Finds the positions for the values of one note."""

    def __init__(self, events: Events) -> None:
        self.events = events

    def _everywhere(
        self, said: Said, field_: Field, cue: Cue | None
    ) -> tuple[tuple[str | None, ...], tuple[str, ...]]:
        """ "Hoses all good" speaks of every one; a mere plural ("hoses good") is asked about."""
        if cue is None or cue.near:
            return (), ()
        start, end = min(cue.start, said.start), max(cue.end, said.end)
        places = tuple(place for place in field_.positions if place not in said.without)
        lost = () if said.without <= set(field_.positions) else ("exception",)
        round_ = self._all_round(said, field_) or self._all_round(said, field_, cue)
        if round_:
            return round_, lost
        every = _ALL.search(self.events.text, max(0, start - 10), end + 16)
        single = _EVERY_ONE.search(self.events.text, max(0, cue.start - _NEAR), cue.start)
        excepted = bool(said.without) and not lost  # "pumps five bar except magenta"
        excepted = excepted and cue.plural != (every is not None)
        all_of_it = _ALL_OF_IT.fullmatch(self.events.text, cue.end, said.start) is not None
        measured = all_of_it and said.is_number  # "clearance is all one millimetre"
        if single or excepted or measured or (every is None and self._begins_with_all(cue, said)):
            return places, lost
        if cue.plural and every is not None:
            counted = "" if every.end() > said.start else word_key(every[1] or "")
            counted = "2" if every[0].lower().startswith("both") else counted
            other = counted.isdigit() and counted != str(len(field_.positions))
            return places, (*lost, "partial") if other else lost
        within = said.start < cue.start and cue.end < said.end
        if said.kind != "remark" or (within and _NO_ONE.match(said.mention.text)):
            return (places, lost) if said.kind == "remark" else ((), ())  # "no gland weeping"
        # "latch all good except one" tells of places, "latch all good" perhaps of none
        unsaid = () if all_of_it and said.without else ("position_unsaid",)
        return (places, (*lost, *unsaid)) if cue.plural or all_of_it else ((), ())

    def _row_ahead(self, field_: Field, cue: Cue | None) -> bool:
        """ "Waves three and four outgoing, ... each": what stands ahead may be some of them."""
        if cue is None:
            return False
        row = _ROW_AHEAD.search(self.events.text, max(0, cue.start - _NEAR), cue.start)
        return row is not None and set(map(word_key, row.groups())) <= set(field_.positions)

    def _all_round(
        self, said: Said, field_: Field, cue: Cue | None = None
    ) -> tuple[str | None, ...]:
        """The places of "anywhere", "on either boot" and "on any of the three winches" behind a
        value; of "on either left hand boot" those that are on the left. With `cue`, behind that
        name: "no corrosion on the frame anywhere"."""
        end = said.end
        if cue and _ON_THE.fullmatch(self.events.text, said.end, max(said.end, cue.start)):
            end = cue.end
        for each in self.events.anchors_in(end, end + _NEAR) if cue else ():
            if isinstance(each, Cue) and not self.events.text[end : each.start].strip():
                end = max(end, each.end)  # "no broken teeth at either end"
        told = _ALL_ROUND.match(self.events.text, end)
        if told is None and said.without and said.mention.stage == "remarks":
            return tuple(each for each in field_.positions if each not in said.without)
        if told is None or told[0].strip(" ,").lower() == _TOO:
            return ()
        number = word_key(told["number"] or "")
        if number.isdigit() and number != str(len(field_.positions)):
            return ()
        if _BOTH.fullmatch(told[0]) and len(field_.positions) > 2:
            return ()
        for each in self.events.anchors_in(end, told.end()):
            if isinstance(each, Spot) and each.end > told.end():  # "all round except the sill"
                return tuple(name for name in field_.positions if name in each.names)
        sides = sides_of((told["next"] or "").lower())
        return tuple(
            place
            for place in field_.positions
            if place not in said.without
            and not (sides and sides.isdisjoint(sides_of(place.lower())))
        )

    def _where(
        self,
        said: Said,
        field_: Field,
        spots: Sequence[Spot],
        context: Context,
        cue: Cue | None,
    ) -> tuple[tuple[str | None, ...], Spot | None, float]:
        """Positions for a value in `field_`, the spot that says so, and what that is worth."""
        if not field_.positions:
            strange = bool(spots) and not (cue is not None and _inside(spots[0], cue))
            return (), None, -0.5 if strange or said.spot is not None else 0.0
        if said.spot is not None:
            return (
                (said.spot.names, said.spot, 0.5)
                if self._suits(said.spot, field_)
                else ((), None, -1.5)
            )
        if said.without and spots:
            spots = [spot for spot in spots if not said.without.issuperset(spot.names)]
        spots = [spot for spot in spots if spot.end > said.start or not self._is_past(spot, said)]
        if spots and self._begins_with_all(cue, said):
            between = self.events.breaks.between
            spots = [
                spot
                for spot in spots
                if spot.start > said.start or between(spot.end, said.start) < 2
            ]
        if not spots:
            return self._where_unsaid(said, field_, context, cue)
        fitting = [spot for spot in spots if self._suits(spot, field_)]
        if fitting:
            names = list(fitting[0].names)
            for one, other in pairwise(fitting):
                if not self._joined(one, other) or self._tells_more(said, one, other):
                    break
                if self._has_none(said, one, other):
                    break
                names = (
                    [*other.names, *names] if other.start < one.start else [*names, *other.names]
                )
            worth = 0.5 if fitting[0] is spots[0] else 0.2
            if (
                fitting[0].words
                and field_.position_word
                and field_.position_word in fitting[0].words
            ):
                worth += 0.2
            return tuple(dict.fromkeys(names)), fitting[0], worth
        return (), None, -1.3

    def _where_unsaid(
        self, said: Said, field_: Field, context: Context, cue: Cue | None
    ) -> tuple[tuple[str | None, ...], Spot | None, float]:
        """`_where` for a value without a position of its own."""
        last = context.spot
        old = last is not None and self.events.breaks.between(last.end, said.start) == 2
        all_ = cue is not None and _ALL_OF_IT.fullmatch(self.events.text, cue.end, said.start)
        if all_ or (old and self._begins_with_all(cue, said)):
            return (), None, 0.0
        if last is not None and len(last.names) > 1 and self._each_of(said, last, field_):
            return last.names, last, -0.1
        told = cue is not None or said.is_number  # "swing ninety degrees either way"
        round_ = self._all_round(said, field_) if told else ()
        if cue is not None and not round_ and field_.type == "count":
            round_ = self._all_round(said, field_, cue)
        if round_:
            return round_, None, 0.5 if cue is not None else 0.0
        named = cue is not None and cue in said.inner and cue.mention.kind == "term"
        if named and context.listed and said.kind == "remark":
            return (), None, -0.1  # "red point two, blue point one five, no leaks"
        if last is not None and self._suits(last, field_) and not self._is_past(last, said):
            far = self.events.breaks.between(last.end, said.start) == 2
            far = far and not self._is_heading(last)
            return last.names, last, -0.5 if far else -0.1
        return (), None, -0.8

    def _is_heading(self, spot: Spot) -> bool:
        """ "Door one. Belt's good, shuts in 2.9 seconds": a place that is all that its sentence
        tells."""
        row = self.events
        end = row.breaks.sentence_end(spot.end, len(row.text))
        return not row.said_in(row.breaks.sentence_start(spot.start), end)

    def _is_past(self, spot: Spot, said: Said) -> bool:
        """ "One cylinder scored, number five. Valves even": at the end of a sentence that begins
        with a count, a place tells which was counted, and no more."""
        row = self.events
        if row.breaks.between(spot.end, said.start) < ENDED:
            return False
        start = row.breaks.sentence_start(spot.start)
        end = row.breaks.sentence_end(spot.end, len(row.text))
        counted = next(
            (each for each in row.said_in(start, spot.start) if each.kind == "count"), None
        )
        if counted is None or row.text[spot.end : end].strip():
            return False
        apart = row.breaks.between(counted.end, spot.start)
        return bool(apart) and not row.text[start : counted.start].strip()

    def _begins_with_all(self, cue: Cue | None, said: Said) -> bool:
        """ "Flat on number three. All blocks renewed": of every one, whatever was told before."""
        if cue is None or not cue.plural or said.kind == "count":
            return False
        if cue.end > said.start and cue not in said.inner:
            return False
        start = max(0, cue.start - _NEAR)
        return _ALL_THE.search(self.events.text, start, cue.start) is not None

    def _each_of(self, said: Said, last: Spot, field_: Field) -> bool:
        """Whether "each" and "both" speak of those that were named together before: "burners one
        and two are fine, twenty one millibar each", "burners one and two. Twenty one each"."""
        text, breaks = self.events.text, self.events.breaks
        each = _EACH.match(text, said.end) is not None
        near = breaks.between(last.end, said.start) < 2
        begin, end = breaks.sentence_start(last.start), breaks.sentence_end(last.end, len(text))
        alone = not text[begin : last.start].strip() and not text[last.end : end].strip(" .:;,")
        return each and (near or alone) and self._suits(last, field_)

    def _tells_more(self, said: Said, one: Spot, other: Spot) -> bool:
        """ "Work at both ends, the middle one doesn't": behind a pause, and with words of its own,
        a place is no part of the list before it."""
        paused = self.events.breaks.between(one.end, other.start)
        return other.start >= said.end and bool(paused) and bool(self.events.told_on(other.end))

    def _has_none(self, said: Said, one: Spot, other: Spot) -> bool:
        """ "Nothing on the stick, bucket six": the number is of the last place only."""
        first, second = sorted((one, other), key=lambda spot: spot.start)
        if not said.is_number or second.end > said.start:
            return False
        clause = self.events.clause_start(first.start)
        paused = self.events.breaks.between(first.end, second.start)
        return bool(paused) and NONE.search(self.events.text, clause, first.start) is not None

    def _suits(self, spot: Spot, field_: Field) -> bool:
        if spot.words and field_.position_word and field_.position_word not in spot.words:
            return False
        if len(spot.names) == 1:
            return spot.names[0] in field_.positions
        return bool(spot.names) and set(spot.names).issubset(field_.positions)

    def _joined(self, one: Spot, other: Spot) -> bool:
        first, second = sorted((one, other), key=lambda spot: spot.start)
        if _REST.match(self.events.text, second.start):
            return False  # "number five, the rest ...": the rest are those without it
        if second.start < first.end or set(first.names) > set(second.names):
            return False  # "bolts one to ten, first five ...": of which they are
        apart = self.events.breaks.between(first.end, second.start)
        clause = self.events.clause_start(first.start)
        if apart and _NOT.search(self.events.text, clause, first.start):
            return False  # "I couldn't see the top hose, bottom hose good"
        if apart and self._is_closed(first, second, clause):
            return False
        return JOIN.fullmatch(self.events.text, first.end, second.start) is not None

    def _is_closed(self, first: Spot, second: Spot, clause: int) -> bool:
        """ "Clips in left and right, balance missing": behind a name, "and" ends the list."""
        text = self.events.text
        named = (a for a in self.events.anchors_in(clause, first.start) if isinstance(a, Cue))
        joined = " and " in text[first.start : first.end]
        return joined and text[first.end : second.start].strip() == "," and any(named)

    def _beside(self, cue: Cue, said: Said) -> bool:
        """Whether nothing stands between a name and a value."""
        first, second = (cue.end, said.start) if cue.start < said.start else (said.end, cue.start)
        return first <= second and not self.events.text[first:second].strip()


def _inside(spot: Spot, cue: Cue) -> bool:
    return cue.start <= spot.start and spot.end <= cue.end
