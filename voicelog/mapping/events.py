"""Events: a reading as a row of things said and of what points to their place.

    Said   a value: a number, an identifier, a date, a remark, an option, a text
    Cue    words that point to fields
    Spot   words that name positions
    Move   the step that the talk turns to

Overlaps are settled here: what lies inside a longer name is part of that name.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import zip_longest
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.reading import unit_words
from voicelog.reading.asides import KINDS as ASIDES
from voicelog.reading.atoms import atomise
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from voicelog.objects import Card, Field, Reading
    from voicelog.reading.lexicon import Lexicon, Place

_WORD = re.compile(r"[^\W\d_]+")
VALUES = frozenset({"quantity", "count", "ratio", "range", "identifier", "date", "time"})
_STRONG = re.compile(r"[.;!?](?=\s|$)")
_COMMA = re.compile(r"[,:](?=\s|$)|\s[-–—]+\s")


@dataclass(slots=True, eq=False)
class Cue:
    """Words that point to fields, and how plainly they do (0..1)."""

    start: int
    end: int
    canonical: str
    places: dict[Place, float]
    mention: Mention
    near: bool = False
    plural: bool = False
    in_spot: bool = False
    """It is the word of a position ("bolt" in "bolt three"), and names a field only so far."""
    dropped: bool = False


@dataclass(slots=True, eq=False)
class Spot:
    """Words that name one or more positions."""

    start: int
    end: int
    names: tuple[str, ...]
    mentions: tuple[Mention, ...]
    words: frozenset[str] = frozenset()
    """Position words of the card that go with it; empty when none was said."""
    doubts: tuple[str, ...] = ()
    unknown: bool = False
    """A position was named that the card lacks."""
    dropped: bool = False


@dataclass(slots=True, eq=False)
class Said:
    """One value as said. `inner` cues lie within its own words ("no leaks")."""

    start: int
    end: int
    mention: Mention
    option: str | None = None
    """Canonical term, when the words are an option of some choice."""
    inner: list[Cue] = field(default_factory=list)
    spot: Spot | None = None
    """The position it was given in a list, when the list was dealt out."""
    step: str | None = None
    doubts: list[str] = field(default_factory=list)
    tags: set[str] = field(default_factory=set)
    """"as found", "as left", "override", "affirmed"."""
    dropped: bool = False
    replaced_by_repair: bool = False
    lent_units: tuple[str, ...] = ()
    """Units that others lend it, likeliest first: the value that it corrects, or the words
    behind a list ("..., all millimetres")."""

    @property
    def kind(self) -> str:
        return self.mention.kind

    @property
    def is_number(self) -> bool:
        return self.mention.kind in {"quantity", "count", "ratio", "range"}


@dataclass(slots=True)
class Breaks:
    """Where sentences and clauses end, for questions about any two places of the text."""

    strong: list[int]
    commas: list[int]

    @classmethod
    def of(cls, text: str) -> Breaks:
        return cls(
            [match.start() for match in _STRONG.finditer(text)],
            [match.start() for match in _COMMA.finditer(text)],
        )

    def between(self, start: int, end: int) -> int:
        """2 when a sentence ends between the two places, 1 when a clause does, else 0."""
        if bisect_left(self.strong, end) > bisect_left(self.strong, start):
            return 2
        return int(bisect_left(self.commas, end) > bisect_left(self.commas, start))

    def sentence_start(self, at: int) -> int:
        index = bisect_left(self.strong, at)
        return self.strong[index - 1] + 1 if index else 0

    def sentence_end(self, at: int, length: int) -> int:
        index = bisect_left(self.strong, at)
        return self.strong[index] if index < len(self.strong) else length

    def clause_end(self, at: int, length: int) -> int:
        index = bisect_left(self.commas, at)
        comma = self.commas[index] if index < len(self.commas) else length
        return min(comma, self.sentence_end(at, length))


@dataclass(slots=True)
class Events:
    """The row of events of one note."""

    text: str
    breaks: Breaks
    said: list[Said]
    anchors: list[Cue | Spot]
    words: list[Mention]
    """Procedure words."""
    moves: list[tuple[int, str]]
    """(character, step number)."""
    aside: list[Said]
    """Values inside talk that is no finding."""
    unknown_steps: list[Mention] = field(default_factory=list)
    units: dict[Place, str] = field(default_factory=dict)
    """Units said with a field's name, ahead of its values ("flange height in millimetres")."""

    def clause_start(self, at: int) -> int:
        """Where the clause that holds `at` begins."""
        places = [0]
        for marks in (self.breaks.strong, self.breaks.commas):
            index = bisect_left(marks, at)
            if index:
                places.append(marks[index - 1] + 1)
        return max(places)

    def unexplained(self, start: int, end: int, since: int | None = None) -> bool:
        """Whether words of the last clause in the stretch, or all of them `since` a name, are
        neither plain nor names themselves."""
        start = max(start, self.clause_start(end) if since is None else since)
        spans = [(a.start, a.end) for a in self.anchors if start <= a.start < end]
        for word in _WORD.finditer(self.text, start, end):
            inside = any(first <= word.start() < last for first, last in spans)
            if not inside and word[0].lower() not in talk().everyday.plain:
                return True
        return False


class _Spans:
    """Quick answer whether a span lies inside one of many, none of which overlap."""

    def __init__(self, mentions: Iterable[Mention]) -> None:
        self.spans = sorted((mention.start, mention.end) for mention in mentions)
        self.starts = [start for start, _ in self.spans]
        self.reach: list[int] = []
        reach = 0
        for _, end in self.spans:
            reach = max(reach, end)
            self.reach.append(reach)

    def cover(self, start: int, end: int) -> bool:
        index = bisect_right(self.starts, start) - 1
        return index >= 0 and self.reach[index] >= end

    def exact(self, start: int, end: int) -> bool:
        index = bisect_right(self.starts, start) - 1
        return index >= 0 and (start, end) == self.spans[index]

    def touch(self, start: int, end: int) -> bool:
        index = bisect_left(self.starts, end) - 1
        return index >= 0 and self.reach[index] > start


def _option_terms(lexicon: Lexicon) -> set[str]:
    return {canonical for chosen in lexicon.options.values() for canonical in chosen}


def _spots(mentions: Sequence[Mention], card: Card) -> list[Spot]:
    groups: dict[tuple[int, int], list[Mention]] = {}
    for mention in mentions:
        groups.setdefault((mention.start, mention.end), []).append(mention)
    spots = []
    for (start, end), group in groups.items():
        names = tuple(dict.fromkeys(str(m.value) for m in group if m.value is not None))
        if not names and (spelt := _spelt_out(group[0], card)) is not None:
            group = [replace(group[0], value=spelt, doubts=())]
            names = (spelt,)
        words = frozenset(
            name.removeprefix("of:")
            for m in group
            for name in m.qualifiers
            if name.startswith("of:")
        )
        doubts = tuple(dict.fromkeys(code for m in group for code in m.doubts))
        unknown = any(m.value is None for m in group)
        spots.append(Spot(start, end, names, tuple(group), words, doubts, unknown))
    return spots


def _counts(
    spots: Sequence[Spot], cues: Sequence[Cue], card: Card, text: str
) -> tuple[list[Spot], list[Mention]]:
    """Spots that are counts after all: "loose bolts: three" names a field, then a number."""
    kept: list[Spot] = []
    counts: list[Mention] = []
    for spot in spots:
        name = next(
            (
                cue
                for cue in _near_to(cues, spot.mentions[0])
                if cue.start < spot.start < cue.end < spot.end and not cue.near
            ),
            None,
        )
        fields = (
            [_field(card, place) for place, plain in name.places.items() if plain > 0.9]
            if name
            else []
        )
        counting = bool(fields) and all(
            each and each.type == "count" and not each.positions for each in fields
        )
        if name is None or not counting or len(spot.names) != 1 or not spot.names[0].isdigit():
            kept.append(spot)
            continue
        start = (
            name.end
            + len(text[name.end : spot.end])
            - len(text[name.end : spot.end].lstrip(" ,:;-"))
        )
        counts.append(
            Mention(
                "count",
                text[start : spot.end],
                start,
                spot.end,
                Decimal(spot.names[0]),
                stage="mapping",
                doubts=spot.doubts,
            )
        )
    return kept, counts


def _spelt_out(mention: Mention, card: Card) -> str | None:
    """A position that the card names by a word which counts elsewhere ("first floor")."""
    words = mention.text.lower().split()
    for step in card.steps:
        for field_ in step.fields:
            for position in field_.positions:
                if position.lower() in words and f"of:{field_.position_word}" in mention.qualifiers:
                    return position
    return None


def _cues(terms: Sequence[Mention], lexicon: Lexicon, within: _Spans) -> list[Cue]:
    cues = []
    for term in terms:
        places = lexicon.places.get(str(term.value))
        if places and not within.cover(term.start, term.end):
            near = "near" in term.qualifiers
            plural = term.text.lower().endswith("s") and not term.text.lower().endswith("ss")
            cues.append(Cue(term.start, term.end, str(term.value), places, term, near, plural))
    return cues


def _stands_alone(
    remark: Mention, cues: Sequence[Cue], card: Card, places: _Spans, numbers: Sequence[Mention]
) -> bool:
    """Whether a remark says something, and is not part of a name ("wheel fitted", "free end")."""
    if places.cover(remark.start, remark.end) and not places.exact(remark.start, remark.end):
        return False
    for cue in cues:
        if cue.near or not (cue.start <= remark.start and remark.end <= cue.end):
            continue
        if "predicate" in remark.qualifiers and remark.end < cue.end:
            return False
        fields = [_field(card, place) for place in cue.places]
        if all(each is not None and each.type not in {"check", "choice"} for each in fields):
            # "latch broken" is a finding, though "broken" alone may name a count: "two broken"
            word = (cue.start, cue.end) == (remark.start, remark.end) and " " not in remark.text
            if not word or _beside_number(remark, numbers):
                return False
    return True


def _beside_number(remark: Mention, numbers: Sequence[Mention]) -> bool:
    index = bisect_left([number.start for number in numbers], remark.start)
    return any(
        -2 <= remark.start - number.end <= 2 or -2 <= number.start - remark.end <= 6
        for number in numbers[max(0, index - 1) : index + 1]
    )


def _field(card: Card, place: Place) -> Field | None:
    step = card.step(place[0])
    return step.field(place[1]) if step else None


def build(reading: Reading, card: Card, lexicon: Lexicon, step: str | None) -> Events:
    """The events of `reading` in the order of the text."""
    text = reading.transcript.text
    by_kind: dict[str, list[Mention]] = {}
    for mention in reading.mentions:
        by_kind.setdefault(mention.kind, []).append(mention)
    procedure = by_kind.get("procedure", [])
    asides = _Spans(mention for mention in procedure if mention.value in ASIDES)
    terms = by_kind.get("term", [])
    solid = _Spans(mention for kind in ("identifier", "date") for mention in by_kind.get(kind, ()))
    cues = _cues(terms, lexicon, solid)
    spots = _spots(by_kind.get("position", ()), card)
    spots, counted = _counts(spots, cues, card, text)
    by_kind["count"] = [*by_kind.get("count", ()), *counted]
    in_spots = _Spans(mention for spot in spots for mention in spot.mentions)
    for cue in cues:
        cue.in_spot = in_spots.cover(cue.start, cue.end)
    said = _without_verbs(_said(by_kind, cues, card, lexicon), text)
    _repeat(said, procedure)
    moves = [(0, step)] if step is not None else []
    unknown = []
    for mention in by_kind.get("step", ()):
        if card.step(str(mention.value)) is not None:
            moves.append((mention.start, str(mention.value)))
        else:
            unknown.append(mention)
    taken = _Spans(each.mention for each in said if each.kind == "remark")
    inner = {id(cue) for each in said for cue in each.inner}
    anchors: list[Cue | Spot] = [cue for cue in cues if id(cue) not in inner]
    anchors += [spot for spot in spots if not taken.cover(spot.start, spot.end)]
    # what a quoted limit is about is still what the talk is about
    talk_only = _Spans(m for m in procedure if m.value in ASIDES and m.value != "limit")
    anchors = [anchor for anchor in anchors if not talk_only.cover(anchor.start, anchor.end)]
    anchors.sort(key=lambda anchor: (anchor.start, -anchor.end))
    steps = [at for at, _ in moves]
    for each in said:
        index = bisect_right(steps, each.start) - 1
        each.step = moves[index][1] if index >= 0 else None
    values = _Spans(each.mention for each in said if each.kind in VALUES)
    words = [
        mention
        for mention in procedure
        if mention.value not in ASIDES and not values.touch(mention.start, mention.end)
    ]
    row = Events(
        text,
        Breaks.of(text),
        [each for each in said if not asides.cover(each.start, each.end)],
        anchors,
        words,
        moves,
        [each for each in said if asides.cover(each.start, each.end)],
        unknown,
    )
    row.units.update(_units_ahead(text, cues))
    _lend_units_behind(row)
    return row


_ALL_OF = re.compile(
    r"\s*(?:(?:and|all|both|each|everything|in|are|them|of)\b\s*)*", re.IGNORECASE
)


def _lend_units_behind(row: Events) -> None:
    """A clause that is nothing but a unit lends it to the number before it."""
    ends = sorted({*row.breaks.strong, *row.breaks.commas, len(row.text)})
    starts = [said.start for said in row.said]
    begin = 0
    for end in ends:
        clause = row.text[begin:end]
        first = begin
        begin = end + 1
        lead = _ALL_OF.match(clause)
        bare = clause[lead.end() :].strip() if lead else ""
        if not bare or len(bare) > 40 or any(char.isdigit() for char in bare):
            continue
        atoms = atomise(bare)
        found = unit_words.find(atoms, 0, len(atoms))
        if found is None or _ALL_OF.fullmatch(bare, atoms[found[1] - 1].end) is None:
            continue
        index = bisect_left(starts, first) - 1
        if index >= 0 and row.said[index].is_number and row.said[index].mention.unit is None:
            row.said[index].lent_units = found[0].units


_IN = re.compile(r"\s*[,:]?\s*(?:all\s+)?in\s+", re.IGNORECASE)


def _units_ahead(text: str, cues: Sequence[Cue]) -> Iterator[tuple[Place, str]]:
    for cue in cues:
        lead = None if cue.near else _IN.match(text, cue.end)
        if lead is None:
            continue
        atoms = atomise(text[lead.end() : lead.end() + 40])
        found = unit_words.find(atoms, 0, len(atoms)) if atoms else None
        if found is not None and len(found[0].units) == 1:
            for place, plainness in cue.places.items():
                if plainness >= 0.9:
                    yield place, found[0].units[0]


def _said(
    by_kind: dict[str, list[Mention]], cues: Sequence[Cue], card: Card, lexicon: Lexicon
) -> list[Said]:
    places = _Spans(by_kind.get("position", ()))
    numbers = sorted(by_kind.get("count", ()), key=lambda number: number.start)
    remarks = [
        remark
        for remark in by_kind.get("remark", ())
        if _stands_alone(remark, _near_to(cues, remark), card, places, numbers)
    ]
    zeros = [m for m in by_kind.get("count", ()) if m.stage == "remarks"]
    covered = _Spans([*remarks, *zeros])
    values = [
        mention
        for kind in VALUES
        for mention in by_kind.get(kind, ())
        if mention.stage == "remarks" or not covered.cover(mention.start, mention.end)
    ]
    solid = _Spans(values)
    said = [Said(m.start, m.end, m) for m in (*values, *remarks)]
    by_start = {(each.start, each.end): each for each in said if each.kind == "remark"}
    options = _option_terms(lexicon)
    for term in by_kind.get("term", ()):
        if str(term.value) not in options or solid.touch(term.start, term.end):
            continue
        remark = by_start.get((term.start, term.end)) or _containing(said, term)
        if (
            remark is not None
            and (term.start < remark.start or remark.end < term.end)
            and not remark.mention.negated
        ):
            said.remove(remark)
            remark = None
        if remark is not None:
            if not remark.mention.negated:
                remark.option = str(term.value)
        else:
            doubts = list(term.doubts)
            option = Said(
                term.start, term.end, replace(term, doubts=()), str(term.value), doubts=doubts
            )
            said.append(option)
    said.sort(key=lambda each: (each.start, each.end))
    _nest(said, cues)
    for each in said:
        if each.kind == "remark" and not each.inner:
            each.inner.extend(_meant(each.mention, lexicon))
    return said


def _meant(remark: Mention, lexicon: Lexicon) -> Iterator[Cue]:
    """The cue that a property stands for: "leaking" speaks of leaks."""
    for name in remark.qualifiers:
        if name.startswith("is:"):
            canonical = lexicon.canonical(name.removeprefix("is:"))
            places = lexicon.places.get(canonical)
            if places:
                implied = {place: 0.6 * plainness for place, plainness in places.items()}
                yield Cue(remark.start, remark.end, canonical, implied, remark)


_AT = re.compile(
    r"\s*(?:up|down|back|again|off)?\s*(?:to|at|with)\s+(?:about|around|just)?\s*", re.IGNORECASE
)


def _without_verbs(said: list[Said], text: str) -> list[Said]:
    """ "Checked at", "torqued to" before a number are the verb of that number, no remark."""
    kept = []
    for one, other in zip_longest(said, said[1:]):
        verb = (
            other is not None
            and one.kind == "remark"
            and other.is_number
            and "state" in one.mention.qualifiers
            and one.mention.value == "pass"
            and _AT.fullmatch(text, one.end, other.start) is not None
        )
        if not verb:
            kept.append(one)
    return kept


def _repeat(said: list[Said], procedure: Sequence[Mention]) -> None:
    """ "Five to seven the same" says the value before once more, and is asked about."""
    for word in procedure:
        if word.value != "same":
            continue
        before = [
            each
            for each in said
            if each.end <= word.start and each.kind in {"quantity", "count", "ratio", "remark"}
        ]
        if before:
            meant = replace(
                before[-1].mention, text=word.text, start=word.start, end=word.end, doubts=()
            )
            said.append(Said(word.start, word.end, meant, doubts=["same_as_before"]))
            said.sort(key=lambda each: (each.start, each.end))


def _near_to(cues: Sequence[Cue], mention: Mention) -> list[Cue]:
    starts = [cue.start for cue in cues]
    index = bisect_right(starts, mention.start)
    return list(cues[max(0, index - 2) : index])


def _containing(said: Sequence[Said], term: Mention) -> Said | None:
    return next(
        (
            each
            for each in said
            if each.kind == "remark" and each.start < term.end and term.start < each.end
        ),
        None,
    )


def _nest(said: Sequence[Said], cues: Sequence[Cue]) -> None:
    """Give each remark the cues that overlap its own words."""
    starts = [cue.start for cue in cues]
    for each in said:
        if each.kind not in {"remark", "count", "term"}:
            continue
        first = max(0, bisect_left(starts, each.start) - 2)
        for cue in cues[first : bisect_left(starts, each.end)]:
            if cue.start < each.end and each.start < cue.end:
                if (each.kind == "term" and str(each.mention.value) == cue.canonical) or each.kind != "term":
                    each.inner.append(cue)
