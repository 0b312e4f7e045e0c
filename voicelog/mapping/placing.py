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
from typing import TYPE_CHECKING

from voicelog.mapping.events import Cue, Events, Said, Spot
from voicelog.mapping.fit import Fit, fit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from voicelog.objects import Card, Field
    from voicelog.reading.lexicon import Lexicon, Place

LEAST = 1.0
"""Score that a placement needs; below it the value stays unplaced."""
_LINK = re.compile(
    r"\s*(?:on|at|for|in|of|around|by|from|to)\b(?:\s+(?:the|a|number|no))*\s*", re.I
)
_JOIN = re.compile(r"[\s,]*(?:and|&|plus|or|to)?[\s,]*(?:the|number|on|at)?\s*", re.I)
_ALL = re.compile(r"\b(?:all|both|every|each)\b", re.IGNORECASE)
_ALL_ROUND = re.compile(r"\s*,?\s*all\s+(?:the\s+way\s+)?(?:a?round|over)\b", re.IGNORECASE)
_WIDE = 5
"""Cuts tried at each end of a gap."""


@dataclass(frozen=True, slots=True)
class Target:
    """A field with the positions that a value goes to, and the score of that."""

    place: Place
    positions: tuple[str | None, ...]
    score: float
    fit: Fit
    cue: Cue | None = None
    spot: Spot | None = None
    by_unit: bool = False
    """Nothing named the field; only the dimension led here."""
    inherited: bool = False
    doubts: tuple[str, ...] = ()

    @property
    def key(self) -> tuple[Place, tuple[str | None, ...]]:
        return self.place, self.positions


@dataclass(slots=True)
class Placement:
    """Where a value goes: one target, or several for a remark on things named together."""

    said: Said
    targets: tuple[Target, ...] = ()
    margin: float = 9.0
    rival: Target | None = None


@dataclass(slots=True)
class _Gap:
    anchors: list[Cue | Spot] = field(default_factory=list)
    cuts: tuple[int, ...] = (0,)
    costs: tuple[float, ...] = (0.0,)


@dataclass(slots=True)
class _Context:
    """What had been said before a value: the last cue and spot, the last plainly named step."""

    recent: tuple[Cue, ...] = ()
    """The last cues that plainly named a field, latest first."""
    spot: Spot | None = None
    used: bool = False
    """A number was said since the last cue or spot."""


class Placer:
    """Places the values of one note on one card."""

    def __init__(self, events: Events, card: Card, lexicon: Lexicon) -> None:
        self.events = events
        self.lexicon = lexicon
        self.fields: dict[Place, Field] = {
            (step.number, each.name): each for step in card.steps for each in step.fields
        }
        self.by_step: dict[str, list[Place]] = {}
        for place in self.fields:
            self.by_step.setdefault(place[0], []).append(place)
        self.said = [each for each in events.said if not each.dropped]
        self.anchors = [anchor for anchor in events.anchors if not anchor.dropped]
        self.gaps = self._make_gaps()
        self.contexts = self._make_contexts()
        self._cache: dict[tuple[int, int, int], tuple[Target, ...]] = {}

    # --- gaps -------------------------------------------------------------------

    def _make_gaps(self) -> list[_Gap]:
        gaps = [_Gap() for _ in range(len(self.said) + 1)]
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
        cuts = [cut for cut in range(count + 1) if cut <= _WIDE or cut >= count - _WIDE]
        gap.cuts = tuple(cuts)
        gap.costs = tuple(self._cost(index, gap.anchors, cut) for cut in cuts)

    def _cost(self, index: int, anchors: Sequence[Cue | Spot], cut: int) -> float:
        """What it costs to give the first `cut` anchors to the value before the gap."""
        before = self.said[index - 1]
        breaks, text = self.events.breaks, self.events.text
        cost = 0.0
        linked = bool(anchors) and bool(_LINK.fullmatch(text, before.end, anchors[0].start))
        if cut:
            beside = not text[before.end : anchors[0].start].strip()
            cost += 0.0 if linked else 0.15 if beside else 0.35
            cost += (0.0, 1.3, 1.8)[breaks.between(before.end, anchors[cut - 1].start)]
        elif linked:
            cost += 0.5
        if cut < len(anchors) and index < len(self.said):
            after = self.said[index]
            if breaks.between(anchors[-1].end, after.start) == 2:
                cost += 0.4
            if cut and not breaks.between(anchors[cut - 1].end, anchors[cut].start):
                cost += 0.2
        return cost

    def _make_contexts(self) -> list[_Context]:
        contexts = []
        now = _Context()
        for gap, said in zip(self.gaps, self.said, strict=False):
            contexts.append(_Context(now.recent, now.spot, now.used))
            self._pass(now, gap.anchors)
            self._pass(now, said.inner)
            if said.spot is not None:
                now.spot = said.spot
            now.used = now.used or said.is_number
        return contexts

    @staticmethod
    def _pass(now: _Context, anchors: Iterable[Cue | Spot]) -> None:
        for anchor in anchors:
            if isinstance(anchor, Spot):
                now.spot = anchor
                now.used = False
            elif anchor.mention.kind == "term":
                now.used = False
                now.recent = (anchor, *(each for each in now.recent if each is not anchor))[:4]

    # --- one value --------------------------------------------------------------

    def targets(self, index: int, before: int, after: int) -> tuple[Target, ...]:
        """Targets of value `index`, best first, when the gaps around it are cut so."""
        key = index, before, after
        found = self._cache.get(key)
        if found is None:
            prefix = self.gaps[index].anchors[before:]
            suffix = self.gaps[index + 1].anchors[:after]
            context = self._context(index, before)
            targets = self._targets(index, prefix, suffix, context)
            found = tuple(sorted(targets, key=lambda target: -target.score)[:8])
            self._cache[key] = found
        return found

    def _context(self, index: int, before: int) -> _Context:
        context = self.contexts[index]
        if before:
            context = _Context(context.recent, context.spot, context.used)
            self._pass(context, self.gaps[index].anchors[:before])
        return context

    def _targets(
        self,
        index: int,
        prefix: Sequence[Cue | Spot],
        suffix: Sequence[Cue | Spot],
        context: _Context,
    ) -> Iterator[Target]:
        said = self.said[index]
        near_first = [*said.inner, *reversed(prefix), *suffix]
        cues = [anchor for anchor in near_first if isinstance(anchor, Cue)]
        spots = [anchor for anchor in near_first if isinstance(anchor, Spot)]
        named: dict[Place, tuple[float, Cue]] = {}
        for cue in cues:
            for place, plainness in cue.places.items():
                worth = 2.0 * plainness * (0.7 if cue.near or cue.in_spot else 1.0)
                worth += 0.3 if self._beside(cue, said) else 0.0
                if place not in named:
                    named[place] = worth, cue
                else:
                    best, known = named[place]
                    named[place] = max(best, worth) + 0.2, cue if worth > best else known
        for place, (worth, cue) in named.items():
            yield from self._target(said, place, worth, cue, cues, spots, context)
        inherited: set[Place] = set()
        counted = said.is_number or "none" in said.mention.qualifiers
        again = context.used and not cues and not spots and counted
        fresh = again and not said.tags and said.spot is None
        strange = (
            index > 0
            and not cues
            and not spots
            and (fresh or said.kind == "remark")
            and self.events.unexplained(self.said[index - 1].end, said.start)
        )
        for place, (worth, cue) in self._inheritable(said, context).items():
            if place not in named:
                inherited.add(place)
                far = self.events.breaks.between(cue.end, said.start) == 2
                worth -= 0.5 * fresh + 0.3 * (fresh and far) + 1.0 * strange + 0.5 * (bool(cues) and said.is_number)
                yield from self._target(
                    said, place, worth, cue, cues, spots, context, inherited=True
                )
        yield from self._by_fit(said, cues, spots, context, inherited | set(named))

    def _inheritable(self, said: Said, context: _Context) -> dict[Place, tuple[float, Cue]]:
        """Fields named before that a value without a name of its own may still belong to."""
        found: dict[Place, tuple[float, Cue]] = {}
        rank = 0
        for cue in context.recent:
            far = self.events.breaks.between(cue.end, said.start) == 2
            for place, plainness in cue.places.items():
                worth = ((0.9 if far else 1.3) - 0.4 * rank) * plainness
                if cue.near or cue.in_spot:
                    worth = 0.7 * worth + self._topic_worth(place, context)
                if place not in found or worth > found[place][0]:
                    found[place] = worth, cue
            rank += not cue.in_spot
        return found

    def _beside(self, cue: Cue, said: Said) -> bool:
        """Whether nothing stands between a name and a value."""
        first, second = (cue.end, said.start) if cue.start < said.start else (said.end, cue.start)
        return first <= second and not self.events.text[first:second].strip()

    def _by_fit(
        self,
        said: Said,
        cues: Sequence[Cue],
        spots: Sequence[Spot],
        context: _Context,
        known: set[Place],
    ) -> Iterator[Target]:
        """Fields that only the dimension, a pattern, an option or a position leads to."""
        step = said.step or self._topic_step(context)
        places = self.by_step.get(step, []) if step else list(self.fields)
        found: list[Target] = []
        for place in places:
            if place in known:
                continue
            suited = fit(said, self.fields[place], place, self.lexicon)
            if suited is None:
                continue
            if self._speaks_for_itself(said, self.fields[place], suited):
                worth = 0.5
            elif (
                said.spot is not None
                and said.spot.words
                and self._suits(said.spot, self.fields[place])
            ):
                worth = 0.9
            elif spots and self._suits(spots[0], self.fields[place]):
                worth = 0.6
            else:
                continue
            found.extend(self._target(said, place, worth, None, cues, spots, context, by_unit=True))
        yield from found

    def _speaks_for_itself(self, said: Said, target: Field, suited: Fit) -> bool:
        if target.type == "measurement":
            return suited.unit is not None and suited.score > 0.5
        if target.type == "identifier":
            return f"field:{target.name}" in said.mention.qualifiers
        if target.type == "choice":
            return said.option is not None
        if target.type == "ratio":
            return True
        return target.type == "date"

    @staticmethod
    def _binding(cue: Cue, said: Said) -> bool:
        """Whether a name inside a remark's own words has to be the field's.

        Not when it only stands for a property, or names nothing in the step that is open: "no
        leaks" on the damper is no word on the seal of another step.
        """
        here = said.step is None or any(place[0] == said.step for place in cue.places)
        return cue.mention.kind == "term" and here

    def _topic_worth(self, place: Place, context: _Context) -> float:
        """What has been spoken of before tells apart fields that share a word."""
        for cue in context.recent:
            if not (cue.near or cue.in_spot) and max(cue.places.values()) >= 0.9:
                return 0.5 * cue.places.get(place, 0.0)
        return 0.0

    def _topic_step(self, context: _Context) -> str | None:
        for cue in context.recent:
            steps = {place[0] for place, plain in cue.places.items() if plain >= 0.9}
            if len(steps) == 1 and not cue.near:
                return steps.pop()
        return None

    def _target(
        self,
        said: Said,
        place: Place,
        worth: float,
        cue: Cue | None,
        cues: Sequence[Cue],
        spots: Sequence[Spot],
        context: _Context,
        *,
        inherited: bool = False,
        by_unit: bool = False,
    ) -> Iterator[Target]:
        field_ = self.fields[place]
        suited = fit(said, field_, place, self.lexicon)
        if suited is None:
            return
        score = worth + suited.score
        naming = [other for other in cues if not other.in_spot]
        for rank, other in enumerate(naming):
            if place not in other.places and not other.near:
                plain = max(other.places.values())
                if other in said.inner:
                    score -= 1.0 if self._binding(other, said) else 0.2
                else:
                    score -= (0.7 if rank == 0 else 0.25) * max(plain, 0.8)
        if not inherited:
            score += self._topic_worth(place, context)
        score += self._step_worth(said, place, context)
        where, spot, change = self._where(said, field_, spots, context, inherited, cue)
        score += change
        doubts: tuple[str, ...] = ()
        if spot is not None:
            doubts = spot.doubts
        if where == () and field_.positions:
            where, doubts = self._everywhere(said, field_, cue)
        if cue is not None and cue.near:
            doubts = (*doubts, "misheard_term")
        yield Target(place, where or (None,), score, suited, cue, spot, by_unit, inherited, doubts)

    def _step_worth(self, said: Said, place: Place, context: _Context) -> float:
        if said.step is not None:
            return 0.0 if place[0] == said.step else -0.9
        return 0.25 if place[0] == self._topic_step(context) else 0.0

    def _everywhere(
        self, said: Said, field_: Field, cue: Cue | None
    ) -> tuple[tuple[str | None, ...], tuple[str, ...]]:
        """ "Hoses all good" speaks of every one; a mere plural ("hoses good") is asked about."""
        if cue is None or cue.near:
            return (), ()
        start, end = min(cue.start, said.start), max(cue.end, said.end)
        if _ALL_ROUND.match(self.events.text, said.end):
            return field_.positions, ()
        if cue.plural and _ALL.search(self.events.text, max(0, start - 10), end + 16):
            return field_.positions, ()
        if said.kind == "remark" and cue.plural:
            return field_.positions, ("position_unsaid",)
        return (), ()

    def _where(
        self,
        said: Said,
        field_: Field,
        spots: Sequence[Spot],
        context: _Context,
        inherited: bool,
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
        fitting = [spot for spot in spots if self._suits(spot, field_)]
        if fitting:
            names = list(fitting[0].names)
            for one, other in zip(fitting, fitting[1:], strict=False):
                if not self._joined(one, other):
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
        if spots:
            return (), None, -1.3
        if context.spot is not None and self._suits(context.spot, field_):
            far = self.events.breaks.between(context.spot.end, said.start) == 2
            return context.spot.names, context.spot, -0.5 if far else -0.1
        return (), None, -0.8

    def _suits(self, spot: Spot, field_: Field) -> bool:
        if spot.words and field_.position_word and field_.position_word not in spot.words:
            return False
        return bool(spot.names) and all(name in field_.positions for name in spot.names)

    def _joined(self, one: Spot, other: Spot) -> bool:
        first, second = sorted((one, other), key=lambda spot: spot.start)
        if second.start < first.end:
            return False
        return _JOIN.fullmatch(self.events.text, first.end, second.start) is not None

    # --- the whole note ---------------------------------------------------------

    def place(self) -> list[Placement]:
        """The placement of every value, in the order of the text."""
        count = len(self.said)
        if not count:
            return []
        forward = self._sweep_forward()
        backward = self._sweep_backward()
        placements = []
        for index, said in enumerate(self.said):
            best: dict[tuple[Place, tuple[str | None, ...]], tuple[float, Target, int]] = {}
            nothing = float("-inf")
            for left, cut in enumerate(self.gaps[index].cuts):
                for right, end in enumerate(self.gaps[index + 1].cuts):
                    around = (
                        forward[index][left]
                        + backward[index + 1][right]
                        - self.gaps[index + 1].costs[right]
                    )
                    nothing = max(nothing, around)
                    for target in self.targets(index, cut, end):
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
        ranked = sorted(best.values(), key=lambda entry: -entry[0])
        if not ranked or ranked[0][0] < nothing:
            return Placement(said)
        total, target, cut = ranked[0]
        rival = next((entry for entry in ranked[1:] if entry[1].place != target.place), None)
        other = next((entry for entry in ranked[1:] if entry[1].place == target.place), None)
        margin = (
            min(total - entry[0] for entry in (rival, other) if entry) if rival or other else 9.0
        )
        if target.by_unit and said.kind == "count" and margin < LEAST / 4:
            return Placement(said)  # several fields have such a position, and nothing tells which
        placement = Placement(said, (target,), margin, rival[1] if rival else None)
        if said.kind == "remark":
            self._add_companions(placement, index, cut)
        return placement

    def _add_companions(self, placement: Placement, index: int, cut: int) -> None:
        """Things named together share a remark: "cotter pin and lock wire fitted"."""
        target = placement.targets[0]
        said = placement.said
        run = [*self.gaps[index].anchors[cut:]]
        cues = [anchor for anchor in run if isinstance(anchor, Cue)]
        if target.cue not in cues or len(cues) < 2 or target.inherited:
            return
        others = []
        at = cues.index(target.cue)
        later = target.cue
        for cue in reversed(cues[:at]):
            if _JOIN.fullmatch(self.events.text, cue.end, later.start) is None or cue.near:
                break
            later = cue
            places = [
                place
                for place, plain in cue.places.items()
                if plain >= 0.9
                and self.fields[place].type == "check"
                and place != target.place
                and (said.step is None or place[0] == said.step)
            ]
            if len(places) != 1:
                break
            suited = fit(said, self.fields[places[0]], places[0], self.lexicon)
            if suited is None or self.fields[places[0]].positions:
                break
            others.append(Target(places[0], (None,), target.score, suited, cue))
        if others:
            placement.targets = (*reversed(others), target)

    def _best(self, index: int, before: int, after: int) -> float:
        found = self.targets(index, before, after)
        return max(0.0, found[0].score - LEAST) if found else 0.0

    def _sweep_forward(self) -> list[list[float]]:
        totals = [[-cost for cost in self.gaps[0].costs]]
        for index in range(len(self.said)):
            row = []
            for cut, cost in zip(
                self.gaps[index + 1].cuts, self.gaps[index + 1].costs, strict=True
            ):
                row.append(
                    max(
                        totals[index][left] + self._best(index, before, cut)
                        for left, before in enumerate(self.gaps[index].cuts)
                    )
                    - cost
                )
            totals.append(row)
        return totals

    def _sweep_backward(self) -> list[list[float]]:
        count = len(self.said)
        totals: list[list[float]] = [[] for _ in range(count + 1)]
        totals[count] = [0.0] * len(self.gaps[count].cuts)
        for index in range(count - 1, -1, -1):
            ends = self.gaps[index + 1]
            totals[index] = [
                max(
                    self._best(index, before, cut) - ends.costs[right] + totals[index + 1][right]
                    for right, cut in enumerate(ends.cuts)
                )
                for before in self.gaps[index].cuts
            ]
        return totals


def _inside(spot: Spot, cue: Cue) -> bool:
    return cue.start <= spot.start and spot.end <= cue.end
