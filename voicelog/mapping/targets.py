"""Targets: the fields that one value may belong to, each with a score.

What speaks for a field: its name nearby, the dimension of the unit, a position that it has,
what was spoken of before, the step that is open. The scale is arbitrary; a plain name
counts 2, the right dimension 0.8, and every weight was set on the golden set's dev notes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicelog.mapping import lent, roles
from voicelog.mapping.fit import Fit, fit
from voicelog.mapping.row import Cue, Events, Said, Spot
from voicelog.mapping.whereabouts import Context, Whereabouts

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.objects import Card, Field
    from voicelog.reading.lexicon import Lexicon, Place

_LEFT = frozenset({"as left", "as left weak"})


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


class Targets(Whereabouts):
    """Scores the fields of one card for the values of one note."""

    def __init__(self, events: Events, card: Card, lexicon: Lexicon) -> None:
        super().__init__(events)
        self.lexicon = lexicon
        self.fields: dict[Place, Field] = {
            (step.number, each.name): each for step in card.steps for each in step.fields
        }
        self._fits: dict[tuple[int, Place], Fit | None] = {}
        """What `fit` found for a value (by its identity) in a field."""
        self.by_step: dict[str, list[Place]] = {}
        for place in self.fields:
            self.by_step.setdefault(place[0], []).append(place)

    def of(
        self,
        said: Said,
        since: int,
        prefix: Sequence[Cue | Spot],
        suffix: Sequence[Cue | Spot],
        context: Context,
    ) -> Iterator[Target]:
        """Targets of `said` with the anchors around it; `since` is where the last value ended."""
        near_first = [*said.inner, *reversed(prefix), *suffix]
        cues = [
            anchor
            for anchor in near_first
            if isinstance(anchor, Cue) and not self._is_foreign(anchor, said)
        ]
        spots = [anchor for anchor in near_first if isinstance(anchor, Spot)]
        named: dict[Place, tuple[float, Cue]] = {}
        for cue in cues:
            for place, plainness in cue.places.items():
                worth = 2.0 * plainness * (0.7 if cue.near or cue.in_spot else 1.0)
                worth += 0.3 if self._beside(cue, said) else 0.0
                worth -= 0.4 * (self.events.breaks.between(cue.end, said.start) == 2)
                if place not in named:
                    named[place] = worth, cue
                else:
                    best, known = named[place]
                    named[place] = max(best, worth) + 0.2, cue if worth > best else known
        role = roles.of_said(self.events, said, since) if said.kind == "identifier" else None
        for place, (worth, cue) in named.items():
            total = worth + roles.worth(self.fields[place], role)
            yield from self._target(said, place, total, cue, cues, spots, context)
        inherited: set[Place] = set()
        counted = said.is_number or "none" in said.mention.qualifiers
        again = context.used and not cues and not spots and counted
        fresh = again and not said.tags and said.spot is None
        strange = (
            not cues
            and not spots
            and (fresh or said.kind == "remark")
            and self.events.unexplained(since, said.start)
        )
        for place, (worth, cue) in self._inheritable(said, context).items():
            if place not in named:
                inherited.add(place)
                far = self.events.breaks.between(cue.end, said.start) == 2
                listed = self._listed(said, place, [*prefix, *suffix], context)
                less = (
                    0.5 * fresh
                    + 0.3 * (fresh and far)
                    + 1.0 * strange
                    + 0.5 * (bool(cues) and said.is_number)
                    - 0.4 * bool(_LEFT & said.tags and not cues and not spots)
                    - 0.6 * listed
                )
                total = worth - less + roles.worth(self.fields[place], role)
                yield from self._target(
                    said, place, total, cue, cues, spots, context, inherited=True
                )
        if role is not None:
            yield from self._other_part(said, role, inherited | set(named), spots, context)
        yield from self._by_fit(said, cues, spots, context, inherited | set(named))

    def _other_part(
        self,
        said: Said,
        role: roles.Role,
        known: set[Place],
        spots: Sequence[Spot],
        context: Context,
    ) -> Iterator[Target]:
        """ "Brake off ..., new one ...": the counterpart of a field that was named before."""
        for cue in context.recent:
            for place in [place for place, plain in cue.places.items() if plain > 0.5]:
                for other in roles.counterparts(self.fields, place, role):
                    if other not in known:
                        known.add(other)
                        yield from self._target(
                            said, other, 1.3, cue, (), spots, context, inherited=True
                        )

    def _listed(
        self, said: Said, place: Place, around: Sequence[Cue | Spot], context: Context
    ) -> bool:
        """Whether the value goes on with the list of a field: "gap forward ..., aft ..."."""
        latest = next((cue for cue in context.recent if not cue.in_spot), None)
        if latest is None or latest.places.get(place, 0.0) < 0.9 or said.kind == "remark":
            return False
        if len(around) != 1 or not isinstance(around[0], Spot) or context.spot is None:
            return False
        field_ = self.fields[place]
        return self._suits(context.spot, field_) and self._suits(around[0], field_)

    def _fit(self, said: Said, place: Place) -> Fit | None:
        known = id(said), place
        if known not in self._fits:
            self._fits[known] = fit(said, self.fields[place], place, self.lexicon)
        return self._fits[known]

    def _inheritable(self, said: Said, context: Context) -> dict[Place, tuple[float, Cue]]:
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
        context: Context,
        known: set[Place],
    ) -> Iterator[Target]:
        """Fields that only the dimension, a pattern, an option or a position leads to."""
        step = said.step or self._topic_step(context)
        places = self.by_step.get(step, []) if step else list(self.fields)
        found: list[Target] = []
        for place in places:
            if place in known:
                continue
            suited = self._fit(said, place)
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

    def _topic_worth(self, place: Place, context: Context) -> float:
        """What has been spoken of before tells apart fields that share a word."""
        for cue in context.recent:
            if not (cue.near or cue.in_spot) and max(cue.places.values()) >= 0.9:
                return 0.5 * cue.places.get(place, 0.0)
        return 0.0

    def _topic_step(self, context: Context) -> str | None:
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
        context: Context,
        *,
        inherited: bool = False,
        by_unit: bool = False,
    ) -> Iterator[Target]:
        field_ = self.fields[place]
        suited = self._fit(said, place)
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
        if field_.type == "count" and {"as found", "as left"} & said.tags:
            score -= 0.8  # what was found and then set to something else is measured
        if field_.type == "count" and cue is not None and cue.in_spot:
            score -= 0.3 * (cue.places.get(place, 1.0) <= 0.7)  # only its positions were named
        if field_.type == "measurement" and lent.around(self.events, said, field_):
            score += 0.4  # "left forty four, right forty five pounds"
        score += self._step_worth(said, place, context)
        where, spot, change = self._where(said, field_, spots, context, cue)
        score += change
        doubts: tuple[str, ...] = ()
        if spot is not None:
            doubts = spot.doubts
        if where == () and field_.positions:
            where, doubts = self._everywhere(said, field_, cue)
        if cue is not None and cue.near:
            doubts = (*doubts, "misheard_term")
        yield Target(place, where or (None,), score, suited, cue, spot, by_unit, inherited, doubts)

    def _step_worth(self, said: Said, place: Place, context: Context) -> float:
        if said.step is not None:
            return 0.0 if place[0] == said.step else -0.9
        return 0.25 if place[0] == self._topic_step(context) else 0.0

    @staticmethod
    def _is_foreign(cue: Cue, said: Said) -> bool:
        """A name of another step before a value as left is a verb: "topped up, now ninety one"."""
        left = bool(_LEFT & said.tags) and said.step is not None and not said.inner
        return left and all(place[0] != said.step for place in cue.places)
