"""The row: a note as the things said in it and the words that point to their places.

Said   a value: a number, an identifier, a date, a remark, an option, a text
Cue    words that point to fields
Spot   words that name positions
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field
from itertools import accumulate
from operator import attrgetter, itemgetter
from typing import TYPE_CHECKING

from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from collections.abc import Set as AbstractSet

    from voicelog.objects import Mention
    from voicelog.reading.lexicon import Place

ENDED = 2
"""What `Breaks.between` says of two places between which a sentence ends."""
PLAIN = 0.9
"""From here on words name a field plainly."""
APIECE = "apiece"
"""Tag of a count that was dealt out: "two per cylinder", "one for each of them"."""
PLACE_WORD = 0.7
"""How plainly the word of its places names a field."""
HALF = 0.5
"""How plainly one word of several names a field."""
_WORD = re.compile(r"[^\W\d_]+")
_GOES_ON = re.compile(r"\s*(?:and|or|&)\b", re.IGNORECASE)
_STRONG = re.compile(r"[;!?](?=\s|$)|(?<!\.[A-Za-z])\.(?=\s|$)|\.(?=\s+[A-Z]|$)")
""" "O.K. on both" is one sentence."""
_COMMA = re.compile(r"[,:](?=\s|$)|\s[-–—]+\s")
START = attrgetter("start")
"""What is kept in the order of the text is searched by."""


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
    numbered: frozenset[str] = frozenset()
    """The steps in which it names a field that takes a number."""
    plainest: float = field(init=False)
    """How plainly it points to the field that it points to most plainly."""
    only_step: str | None = field(init=False)
    """The step, if there is but one, in which it plainly names fields."""

    def __post_init__(self) -> None:
        self.plainest = max(self.places.values())
        steps = {place[0] for place, plain in self.places.items() if plain >= PLAIN}
        self.only_step = steps.pop() if len(steps) == 1 else None

    def takes_number(self, step: str | None) -> bool:
        """Whether a number of the open step may be that of what it names: a breaker that is told
        to be out elsewhere, or the bolt of "bolt three", has none."""
        return not self.in_spot and (bool(self.numbered) if step is None else step in self.numbered)


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
    """"as found", "as left", "override", "affirmed"; "total" of what is counted ("of the six");
    "of them" of some that were counted before;
    "dealt" when it went to the one of a pair of fields, for what was found and what was left."""
    found: tuple[Said, ...] = ()
    """Values before, one of which may be that as found, when this is what work came to."""
    without: frozenset[str] = frozenset()
    """Positions that were excepted from "all" of them."""
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

    @property
    def units(self) -> tuple[str, ...]:
        """The unit, or the candidates where the words leave it open; else what others lend it."""
        names = self.mention.qualifiers
        named = [name.removeprefix("unit:") for name in names if name.startswith("unit:")]
        own = (self.mention.unit,) if self.mention.unit else ()
        return tuple(sorted(named)) or own or self.lent_units


@dataclass(slots=True)
class Breaks:
    """Where sentences and clauses end, for questions about any two places of the text."""

    strong: list[int]
    commas: list[int]
    sentences: list[int]
    """For every place of the text how many sentences have ended before it."""
    clauses: list[int]

    @classmethod
    def of(cls, text: str, names: Spans) -> Breaks:
        """Those of `text`, but for signs within `names`: "exhaust temp. after turbo"."""
        strong, commas = (
            [at for match in sign.finditer(text) if not names.cover(at := match.start(), at + 1)]
            for sign in (_STRONG, _COMMA)
        )
        return cls(strong, commas, _counted(strong, len(text)), _counted(commas, len(text)))

    def between(self, start: int, end: int) -> int:
        """2 when a sentence ends between the two places, 1 when a clause does, else 0."""
        if self.sentences[end] > self.sentences[start]:
            return 2
        return int(self.clauses[end] > self.clauses[start])

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


def _counted(marks: Sequence[int], length: int) -> list[int]:
    """How many of `marks` lie before each place from 0 to `length`."""
    counts: list[int] = []
    for before, mark in enumerate((*marks, length)):
        counts += [before] * (mark + 1 - len(counts))
    return counts


@dataclass(slots=True)
class Events:
    """The row of events of one note."""

    text: str
    breaks: Breaks
    said: list[Said]
    anchors: list[Cue | Spot]
    words: list[Mention]
    """Procedure words, in the order of the text as all that was said and named."""
    moves: list[tuple[int, str]]
    """(character, step number)."""
    aside: list[Said]
    """Values inside talk that is no finding."""
    unknown_steps: list[Mention] = field(default_factory=list)
    units: dict[Place, str] = field(default_factory=dict)
    """Units said with a field's name, ahead of its values ("flange height in millimetres")."""
    named: list[Cue | Spot] = field(default_factory=list)
    """All that was named, in talk that is no finding and within what was said, too."""
    titled: AbstractSet[str] = frozenset()
    """Keys of the words in the title of the card."""

    def anchors_in(self, start: int, end: int) -> Sequence[Cue | Spot]:
        """The anchors that begin in the stretch."""
        first = bisect_left(self.anchors, start, key=START)
        return self.anchors[first : bisect_left(self.anchors, end, first, key=START)]

    def names_any(self, start: int, end: int) -> bool:
        """Whether a place or a field is named there, and not by a mere word of its name."""
        named = self.anchors_in(start, end)
        return any(isinstance(each, Spot) or each.plainest > HALF for each in named)

    def number_before(self, said: Said) -> Said | None:
        """The number that was said last before `said`."""
        index = bisect_left(self.said, said.start, key=START) - 1
        while index >= 0 and not self.said[index].is_number:
            index -= 1
        return self.said[index] if index >= 0 else None

    def said_in(self, start: int, end: int) -> Sequence[Said]:
        """The values that begin in the stretch."""
        first = bisect_left(self.said, start, key=START)
        return self.said[first : bisect_left(self.said, end, first, key=START)]

    def words_in(self, start: int, end: int) -> Sequence[Mention]:
        """The procedure words that begin in the stretch."""
        first = bisect_left(self.words, start, key=START)
        return self.words[first : bisect_left(self.words, end, first, key=START)]

    def step_at(self, at: int) -> str | None:
        """The step that is spoken of at a place of the text."""
        index = bisect_right(self.moves, at, key=itemgetter(0)) - 1
        return self.moves[index][1] if index >= 0 else None

    def clause_start(self, at: int) -> int:
        """Where the clause that holds `at` begins."""
        index = bisect_left(self.breaks.commas, at)
        comma = self.breaks.commas[index - 1] + 1 if index else 0
        return max(comma, self.breaks.sentence_start(at))

    def told_on(self, at: int) -> str:
        """What the clause goes on to tell of a place that ends at `at`: " has a lamp out", but
        nothing when an "and" goes on with the list."""
        rest = self.text[at : self.breaks.clause_end(at, len(self.text))]
        return "" if _GOES_ON.match(rest) else rest.rstrip()

    def unexplained(self, start: int, end: int, since: int | None = None) -> bool:
        """Whether there are `strange_words` in the stretch."""
        return next(self.strange_words(start, end, since), None) is not None

    def strange_words(
        self, start: int, end: int, since: int | None = None
    ) -> Iterator[re.Match[str]]:
        """The words of the last clause in the stretch, or of all of it `since` a name, that are
        neither plain nor names themselves."""
        start = max(start, self.clause_start(end) if since is None else since)
        spans = [(anchor.start, anchor.end) for anchor in self.anchors_in(start, end)]
        spans += [(w.start, w.end) for w in self.words_in(start, end) if w.value in _TOLD]
        for word in _WORD.finditer(self.text, start, end):
            inside = any(first <= word.start() < last for first, last in spans)
            if not inside and word[0].lower() not in talk().everyday.plain:
                yield word


_TOLD = frozenset({"except", "as found", "as left"})
"""Words of the talk that explain themselves before a value."""


class Spans:
    """Quick answer whether a span lies inside one of many, none of which overlap."""

    def __init__(self, mentions: Iterable[Mention]) -> None:
        self.spans = sorted([(mention.start, mention.end) for mention in mentions])
        self.starts = [start for start, _ in self.spans]
        self.reach = [*accumulate([end for _, end in self.spans], max)]

    def cover(self, start: int, end: int) -> bool:
        index = bisect_right(self.starts, start) - 1
        return index >= 0 and self.reach[index] >= end

    def parts(self, at: int) -> bool:
        """Whether `at` lies within one of them and does not begin it."""
        index = bisect_left(self.starts, at) - 1
        return index >= 0 and self.reach[index] > at

    def exact(self, start: int, end: int) -> bool:
        index = bisect_right(self.starts, start) - 1
        return index >= 0 and (start, end) == self.spans[index]

    def touch(self, start: int, end: int) -> bool:
        index = bisect_left(self.starts, end) - 1
        return index >= 0 and self.reach[index] > start

    def end_before(self, at: int) -> int:
        """How far those reach that begin before `at`; 0 where none does."""
        index = bisect_left(self.starts, at) - 1
        return self.reach[index] if index >= 0 else 0

    def start_behind(self, at: int) -> int | None:
        """Where the next one begins from `at` on."""
        index = bisect_left(self.starts, at)
        return self.starts[index] if index < len(self.starts) else None


def name_many(anchors: Sequence[Cue | Spot]) -> bool:
    """Whether `anchors` name things in the plural, and none of their places: "bolts 680"."""
    placed = any(isinstance(each, Spot) for each in anchors)
    return not placed and any(isinstance(each, Cue) and each.plural for each in anchors)
