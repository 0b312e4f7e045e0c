"""Placing: which field and position each value belongs to, found over the whole note.

Between two values stand the words that name fields and positions. Some belong to the value
before them ("nineteen thou on plug five"), the rest to the value after ("plug five,
nineteen thou"). Where to cut is decided for the whole note at once by dynamic programming
over the gaps (the Viterbi recursion), so its cost grows in proportion to the length. The same
recursion from both ends gives each value the best total of every other field: the distance
to that runner-up is the margin which doubt asks about.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass, field
from itertools import compress, zip_longest
from operator import attrgetter, not_
from typing import TYPE_CHECKING

from voicelog.mapping import circumstances, verbs
from voicelog.mapping.placement import Placement, Target
from voicelog.mapping.row import ENDED, Cue, Events, Said, Spot
from voicelog.mapping.sharing import Sharing
from voicelog.mapping.targets import Targets
from voicelog.mapping.whereabouts import Context

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.objects import Card
    from voicelog.reading.lexicon import Lexicon, Place

LEAST = 1.0
"""Score that a placement needs; below it the value stays unplaced."""
_LINK = re.compile(
    r"\s*(?:back\s+)?(?:on|onto|off|at|for|in|into|of|around|by|from|to|under|behind|below|above)\b(?:\s+(?:the|a|number|no))*\s*",
    re.I,
)
_THE = re.compile(r"\s*(?:(?:on|at|to)\s+)?(?:the|that|my|our|any|either|both)?\s*", re.I)
_AND = re.compile(r"\s*(?:and|&)\s+(?:the\s+)?", re.I)
_JOINED = re.compile(r"[^,.;]*\band\s+(?:the\s+)?", re.I)
_TELLS = re.compile(
    r"\s+(?:is|was|are|were|has|had|reads?|came|went|got|(?:I|we|it)(?:['’](?:ve|s))?)\b|['’]s\b",
    re.I,
)
"""Behind a name these begin to tell of it: it belongs to no value before it."""
_SOMEBODY = re.compile(r"\s+(?:I|we|they)\b", re.I)
"""These tell of it even without a pause: "185 newton metres the other three I left alone"."""
_TIE = 1e-9
"""Totals nearer than this are the same."""
_SCORE = attrgetter("score")
_TOLD = frozenset({"check", "choice"})
"""Fields of which a verdict is told."""
_WIDE = 5
"""Cuts tried at each end of a gap."""


@dataclass(slots=True)
class _Gap:
    anchors: list[Cue | Spot] = field(default_factory=list)
    cuts: tuple[int, ...] = (0,)
    costs: tuple[float, ...] = (0.0,)


def _is_undone(said: Said) -> bool:
    """ "Haven't done the lock wire": what was not done is named behind the verb."""
    return said.kind == "remark" and said.mention.value == "not done"


_PAUSE = re.compile(r"\s*(?:[,.;:]|\Z)")
_PARTS = re.compile(r"[,.;]\s|\band\b", re.I)
_ENDS = re.compile(r"\s*(?:[,.;]|and\b|\Z)", re.I)


def _is_ordinal(said: Said, text: str) -> bool:
    """ "On the second try it opened at four": it tells of no amount, and comes between no name and
    its value, unless it ends a clause ("forward fall first, ...")."""
    ordinal = "ordinal" in said.mention.qualifiers and said.mention.unit is None
    return ordinal and _PAUSE.match(text, said.end) is None


_FINE_AT = re.compile(r"\s+(?:at|on|with)\s+(?:(?:a|about|around)\s+)?", re.I)


class Placer:
    """Places the values of one note on one card."""

    def __init__(self, events: Events, card: Card, lexicon: Lexicon) -> None:
        self.events = events
        self.lexicon = lexicon
        self.scorer = Targets(events, card, lexicon)
        self.fields = self.scorer.fields
        self.sharing = Sharing(events, self.fields, lexicon)
        standing = [each for each in events.said if not each.dropped]
        ordinal = [
            _is_ordinal(each, events.text) or self._is_on_number(each, later)
            for each, later in zip_longest(standing, standing[1:])
        ]
        self.ordinals = [*compress(standing, ordinal)]
        self.said = [*compress(standing, map(not_, ordinal))]
        self.anchors = [anchor for anchor in events.anchors if not anchor.dropped]
        self.closed: set[int] = set()
        """Gaps that begin with a place which closes the number before them."""
        self.gaps = self._make_gaps()
        self.contexts = self._make_contexts()

    def _is_on_number(self, said: Said, later: Said | None) -> bool:
        """ "Treble's fine at eleven": a verdict on the number behind it comes between no place and
        its value, unless the place may name what is checked."""
        plain = "verdict" in said.mention.qualifiers and said.mention.value == "pass"
        if later is None or not plain or not later.is_number or said.option is not None:
            return False
        row = self.events
        start = row.breaks.sentence_start(said.start), row.clause_start(said.start)
        ahead = [a for a in row.anchors_in(start[0], said.start) if a.end > start[1]]
        named = (place for each in ahead if isinstance(each, Cue) for place in each.places)
        told = {self.fields[place].type for place in named if said.step in {None, place[0]}}
        placed = any(isinstance(each, Spot) for each in ahead) and told.isdisjoint(_TOLD)
        return placed and _FINE_AT.fullmatch(row.text, said.end, later.start) is not None

    # --- gaps -------------------------------------------------------------------

    def _make_gaps(self) -> list[_Gap]:
        gaps = self.gaps = [_Gap() for _ in range(len(self.said) + 1)]
        starts = [each.start for each in self.said]
        for anchor in self.anchors:
            gaps[bisect_left(starts, anchor.start)].anchors.append(anchor)
        for index, gap in enumerate(gaps):
            self._cut(index, gap)
        return gaps

    def _cut(self, index: int, gap: _Gap) -> None:
        count = len(gap.anchors)
        if index == 0:
            return
        if self._closes(index, gap.anchors):
            self.closed.add(index)
        cuts = [cut for cut in range(count + 1) if cut <= _WIDE or cut >= count - _WIDE]
        gap.cuts = tuple(cuts)
        gap.costs = tuple(self._cost(index, gap.anchors, cut) for cut in cuts)

    def _cost(self, index: int, anchors: Sequence[Cue | Spot], cut: int) -> float:
        """What it costs to give the first `cut` anchors to the value before the gap."""
        before = self.said[index - 1]
        breaks, text = self.events.breaks, self.events.text
        cost = 0.0
        linked = bool(anchors) and (
            bool(_LINK.fullmatch(text, before.end, anchors[0].start))
            or (_is_undone(before) and bool(_THE.fullmatch(text, before.end, anchors[0].start)))
        )
        if cut:
            beside = not text[before.end : anchors[0].start].strip()
            cost += 0.0 if linked else 0.15 if beside else 0.35
            last = anchors[cut - 1].start
            turned = before.end < last and " but " in text[before.end : last]
            gap = max(breaks.between(before.end, last), int(turned))
            cost += 0.4 if gap == 1 and self._closing(index, anchors, cut) else (0.0, 1.3, 1.8)[gap]
            cost += 1.0 * self._told_all(before, anchors[0])
            said = (_TELLS if gap else _SOMEBODY).match(text, anchors[cut - 1].end)
            told = said or (gap and self._tells(index, anchors, cut))
            joined = before.is_number and _JOINED.fullmatch(text, before.end, anchors[0].start)
            told = told or joined or (not beside and self._leads(index, anchors, cut))
            cost += 0.7 * bool(not linked and told)
            named = before.kind == "remark" and isinstance(anchors[0], Cue)
            cost += 0.5 * (named and bool(_AND.fullmatch(text, before.end, anchors[0].start)))
        elif linked or index in self.closed:
            cost += 0.7
        if cut < len(anchors) and index < len(self.said):
            after = self.said[index]
            told = breaks.between(before.end, anchors[cut].start) < ENDED
            if breaks.between(anchors[-1].end, after.start) == ENDED:
                cost += 0.4
            elif told and breaks.between(anchors[cut].end, after.start) == ENDED:
                cost += 0.4  # "traps clear all round. Heaters 44 ohms front left"
            if cut and not breaks.between(anchors[cut - 1].end, anchors[cut].start):
                cost += 0.5 if breaks.between(anchors[0].end, anchors[-1].start) == 1 else 0.2
        return cost

    def _told_all(self, before: Said, anchor: Cue | Spot) -> bool:
        """Whether "as found" or "as left" ends what is told of a value, and what is named behind
        "and" is the next: "1.4 degrees as left and elevation 21"."""
        return any(
            word.value in {"as found", "as left"}
            and word.end <= anchor.start
            and _AND.fullmatch(self.events.text, word.end, anchor.start) is not None
            for word in self.events.words_in(before.end, anchor.start)
        )

    def _tells(self, index: int, anchors: Sequence[Cue | Spot], cut: int) -> bool:
        """Whether what is found of the things named stands right behind them: "..., right cable
        tight"."""
        after = self.said[index] if index < len(self.said) and cut == len(anchors) else None
        if after is None or after.kind != "remark":
            return False
        return not self.events.text[anchors[-1].end : after.start].strip()

    def _closes(self, index: int, anchors: Sequence[Cue | Spot]) -> bool:
        """Whether a place stands between the number before the gap and a pause, in a list that
        began so: "0.57 mm left, 0.58 right"."""
        before, spots = self.said[index - 1], self._own_spots(self.gaps[index - 1].anchors)
        if not before.is_number or not anchors or not isinstance(anchors[0], Spot):
            return False
        text, place = self.events.text, anchors[0]
        beside = not text[before.end : place.start].strip()
        begun = len(spots) == (index - 1 in self.closed)
        return beside and begun and _ENDS.match(text, place.end) is not None

    def _own_spots(self, anchors: Sequence[Cue | Spot]) -> list[Spot]:
        """The places in a gap that are not parted from the value behind it by the name of its
        field: "good on both, screw play 0.57 mm ..."."""
        names = [a.start for a in anchors if isinstance(a, Cue) and not a.in_spot]
        last = names[-1] if names else 0
        return [
            a
            for a in anchors
            if isinstance(a, Spot)
            and not (a.end <= last and _PARTS.search(self.events.text, a.end, last))
        ]

    def _leads(self, index: int, anchors: Sequence[Cue | Spot], cut: int) -> bool:
        """Whether the next number stands right behind the things named: "left it at 0.25 and gate
        two 0.40"."""
        after = self.said[index] if index < len(self.said) and cut == len(anchors) else None
        if after is None or not after.is_number or not self.said[index - 1].is_number:
            return False
        end = max(anchor.end for anchor in anchors[-2:])  # "gate" lies within "gate two"
        return not self.events.text[end : after.start].strip()

    def _closing(self, index: int, anchors: Sequence[Cue | Spot], cut: int) -> bool:
        """Whether places alone end the sentence: "no broken wires, left or right."."""
        if cut < len(anchors) or not all(
            isinstance(a, Spot) or a.in_spot or a.plainest <= 0.5 for a in anchors
        ):
            return False
        ends = index == len(self.said)
        return ends or self.events.breaks.between(anchors[-1].end, self.said[index].start) == 2

    def _make_contexts(self) -> list[Context]:
        contexts = []
        now = Context()
        for gap, said in zip(self.gaps, self.said, strict=False):
            contexts.append(now.copy())
            now.heard(gap.anchors)
            now.heard(said.inner)
            if said.spot is not None:
                now.spot = said.spot
            now.used = now.used or said.is_number
        return contexts

    # --- one value --------------------------------------------------------------

    def _around(self, index: int) -> list[list[tuple[Target, ...]]]:
        """The targets of a value, best first, by the cuts of the gaps before and behind it."""
        said, gap, behind = self.said[index], self.gaps[index], self.gaps[index + 1]
        since = self.said[index - 1].end if index else 0
        suffixes = [behind.anchors[:after] for after in behind.cuts]
        ahead = verbs.has_object(said, self.events.text)
        rows = []
        for before in gap.cuts:
            context = Context() if ahead else self.contexts[index]
            if before and not ahead:
                context = context.copy()
                context.heard(gap.anchors[:before])
            prefix = [] if ahead else gap.anchors[before:]
            found = (self.scorer.of(said, since, prefix, each, context) for each in suffixes)
            rows.append([tuple(sorted(each, key=_SCORE, reverse=True)[:8]) for each in found])
        return rows

    # --- the whole note ---------------------------------------------------------

    def place(self) -> list[Placement]:
        """The placement of every value, in the order of the text."""
        unplaced = [Placement(each) for each in self.ordinals]
        placements = [*self._place(), *unplaced]
        circumstances.doubt(self.events, placements)
        return sorted(placements, key=lambda each: each.said.start) if unplaced else placements

    def _place(self) -> list[Placement]:
        count = len(self.said)
        if not count:
            return []
        table = [self._around(index) for index in range(count)]
        best_of = [self._best_scores(found) for found in table]
        forward = self._sweep_forward(best_of)
        backward = self._sweep_backward(best_of)
        placements = []
        for index, said in enumerate(self.said):
            best: dict[tuple[Place, tuple[str | None, ...]], tuple[float, Target, int]] = {}
            nothing = float("-inf")
            for left, cut in enumerate(self.gaps[index].cuts):
                for right in range(len(self.gaps[index + 1].cuts)):
                    around = (
                        forward[index][left]
                        + backward[index + 1][right]
                        - self.gaps[index + 1].costs[right]
                    )
                    nothing = max(nothing, around)
                    for target in table[index][left][right]:
                        total = around + target.score - LEAST
                        known = best.get(target.key)
                        if known is None or total > known[0]:
                            best[target.key] = total, target, cut
            placements.append(self._choose(said, index, best, nothing))
        return placements

    def _choose(
        self,
        said: Said,
        index: int,
        best: dict[tuple[Place, tuple[str | None, ...]], tuple[float, Target, int]],
        nothing: float,
    ) -> Placement:
        ranked = sorted(best.values(), key=lambda entry: (-entry[0], -len(entry[1].positions)))
        if not ranked or ranked[0][0] < nothing - _TIE * (not ranked[0][1].by_unit):
            return Placement(said)
        total, target, cut = ranked[0]
        rival = next((entry for entry in ranked[1:] if entry[1].place != target.place), None)
        others = (entry for entry in ranked[1:] if entry[1].place == target.place)
        other = next((e for e in others if total - e[0] > _TIE or not _fewer(e[1], target)), None)
        margin = (
            min(total - entry[0] for entry in (rival, other) if entry) if rival or other else 9.0
        )
        if target.by_unit and said.kind == "count" and margin < LEAST / 4:
            return Placement(said)  # several fields have such a position, and nothing tells which
        placement = Placement(said, (target,), margin, rival[1] if rival else None)
        if said.kind == "remark":
            ahead, behind = self.gaps[index].anchors[cut:], self.gaps[index + 1].anchors
            self.sharing.add_companions(placement, ahead, behind)
            named = {each.place for each in placement.targets}
            if rival is not None and rival[1].place in named:
                apart = (entry for entry in ranked[1:] if entry[1].place not in named)
                rival = next(apart, None)
                near = [total - entry[0] for entry in (rival, other) if entry]
                placement.margin, placement.rival = min(near, default=9.0), rival and rival[1]
        elif said.is_number:
            self.sharing.add_sibling(placement, self.gaps[index].anchors[cut:])
        return placement

    @staticmethod
    def _best_scores(found: Sequence[Sequence[tuple[Target, ...]]]) -> list[list[float]]:
        """What the best target gains, by the same cuts."""
        return [
            [max(0.0, targets[0].score - LEAST) if targets else 0.0 for targets in row]
            for row in found
        ]

    def _sweep_forward(self, best_of: Sequence[list[list[float]]]) -> list[list[float]]:
        totals = [[-cost for cost in self.gaps[0].costs]]
        for index, best in enumerate(best_of):
            before = totals[index]
            totals.append(
                [
                    max(total + best[left][right] for left, total in enumerate(before)) - cost
                    for right, cost in enumerate(self.gaps[index + 1].costs)
                ]
            )
        return totals

    def _sweep_backward(self, best_of: Sequence[list[list[float]]]) -> list[list[float]]:
        totals = [[0.0] * len(self.gaps[-1].cuts)]
        for index in range(len(best_of) - 1, -1, -1):
            behind = [
                total - cost
                for total, cost in zip(totals[-1], self.gaps[index + 1].costs, strict=True)
            ]
            totals.append([max(map(float.__add__, best, behind)) for best in best_of[index]])
        return totals[::-1]


def _fewer(one: Target, other: Target) -> bool:
    """Whether `one` is some of the places that are joined in `other`: "on one and on two"."""
    return set(one.positions) < set(other.positions)
