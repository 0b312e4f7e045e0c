"""Targets: the fields that one value may belong to, each with a score.

What speaks for a field: its name nearby, the dimension of the unit, a position that it has,
what was spoken of before, the step that is open. The scale is arbitrary; a plain name
counts 2, the right dimension 0.8, and every weight was set on the golden set's dev notes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from voicelog.mapping import roles, unit_lists
from voicelog.mapping.adjusted import LEFT
from voicelog.mapping.came_right import CAME
from voicelog.mapping.placement import Target
from voicelog.mapping.row import PLAIN, Cue, Events, Said, Spot
from voicelog.mapping.suited import Suited
from voicelog.mapping.whereabouts import Context, only_of_place
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.mapping.fit import Fit
    from voicelog.objects import Card
    from voicelog.reading.lexicon import Lexicon, Place


_WORKED = re.compile(
    r"\b(?!checked|measured)(?:[a-z]{2,}ed|wound|took|brought|let|put|ran|drew|screwed|cut|got|backed)\s+"
    r"(?:(?:it|them|that|this|both)\s+|(?:the|a|my|its)\s+(?:[a-z]+\s+){1,3})?$",
    re.IGNORECASE,
)
""" "Wound the turnbuckle", before "up"."""
_NOUN = 0.5  # how plainly a word of its label names a field, at least, that may have a list
_BY_UNIT = 0.5  # what a unit alone speaks for the one field that takes it


@dataclass(slots=True)
class _Search:
    """The targets of one value so far, and what stands around it, looked up once for all."""

    said: Said
    cues: tuple[Cue, ...]
    """Names, the nearest first."""
    spots: tuple[Spot, ...]
    context: Context
    strays: tuple[tuple[Cue, float], ...]
    """Names with what each takes from every field that it does not name."""
    topic: Mapping[Place, float]
    """The fields of the last plain name before, and how plainly it names them."""
    topic_step: str | None
    fits: dict[Place, Fit | None]
    """How the value would stand in the fields that were looked at, by this search and others."""
    known: set[Place]
    """Fields that were looked at."""
    found: list[Target]


class Targets(Suited):
    """Scores the fields of one card for the values of one note."""

    def __init__(self, events: Events, card: Card, lexicon: Lexicon) -> None:
        super().__init__(events, card, lexicon)
        self._strange: dict[int, bool] = {}
        """Values (by their identity) before which words stand that nothing explains."""

    def of(
        self,
        said: Said,
        since: int,
        prefix: Sequence[Cue | Spot],
        suffix: Sequence[Cue | Spot],
        context: Context,
    ) -> list[Target]:
        """Targets of `said` with the anchors around it; `since` is where the last value ended."""
        search = self._search(said, prefix, suffix, context)
        role = roles.of_said(self.events, said) if said.kind == "identifier" else None
        for place, (worth, cue) in self._named(said, search.cues).items():
            suited = self._fit(search, place)
            if suited is not None:
                more = 0.0 if role is None else roles.worth(self.fields[place], role)
                if cue.in_spot and said.kind == "count":
                    more += 0.6 * self._listed(said, place, (*prefix, *suffix), context)
                self._enter(search, place, suited, worth + more, cue)
        if context.recent:
            self._enter_inherited(search, since, (*prefix, *suffix), role)
        if role is not None:
            self._enter_other_part(search, role)
        self._enter_by_fit(search, role)
        return search.found

    def _search(
        self,
        said: Said,
        prefix: Sequence[Cue | Spot],
        suffix: Sequence[Cue | Spot],
        context: Context,
    ) -> _Search:
        cues: list[Cue] = []
        spots: list[Spot] = []
        for anchor in (*said.inner, *reversed(prefix), *suffix):
            if isinstance(anchor, Spot):
                spots.append(anchor)
            elif not (only_of_place(anchor, said, context) or self._is_foreign(anchor, said)):
                cues.append(anchor)
        return _Search(
            said,
            tuple(cues),
            tuple(spots),
            context,
            tuple(self._strays(said, cues)),
            self._topic(context),
            self._topic_step(context),
            self._fits.setdefault(id(said), {}),
            set(),
            [],
        )

    def _strays(self, said: Said, cues: Sequence[Cue]) -> Iterator[tuple[Cue, float]]:
        rank = 0
        for cue in cues:
            if cue.in_spot:
                continue
            if not cue.near:
                if cue in said.inner:
                    yield cue, 1.0 if self._binding(cue, said) else 0.2
                else:
                    yield cue, (0.25 if rank else 0.7) * max(cue.plainest, 0.8)
            rank += 1

    def _named(self, said: Said, cues: Sequence[Cue]) -> dict[Place, tuple[float, Cue]]:
        """Fields that the words around a value name, with what that is worth."""
        named: dict[Place, tuple[float, Cue]] = {}
        for cue in cues:
            share = 1.4 if cue.near or cue.in_spot else 2.0
            beside = 0.3 if self._beside(cue, said) else 0.0
            apart = 0.4 * (self.events.breaks.between(cue.end, said.start) == 2)
            for place, plainness in cue.places.items():
                worth = share * plainness + beside - apart
                if place not in named:
                    named[place] = worth, cue
                else:
                    best, known = named[place]
                    named[place] = max(best, worth) + 0.2, cue if worth > best else known
        return named

    def _enter_inherited(
        self,
        search: _Search,
        since: int,
        anchors: Sequence[Cue | Spot],
        role: roles.Role | None,
    ) -> None:
        """Targets in fields that were named before."""
        said, context = search.said, search.context
        alone = not search.cues and not search.spots
        counted = said.is_number or "none" in said.mention.qualifiers
        fresh = alone and context.used and counted and not said.tags and said.spot is None
        told = fresh or (said.kind == "remark" and CAME not in said.tags)
        strange = alone and told and self._is_strange(said, since)
        less = (
            0.5 * fresh
            + 1.0 * strange
            + 0.5 * (bool(search.cues) and said.is_number)
            - 0.4 * bool(alone and LEFT & said.tags)
        )
        beside = next((cue for cue in search.cues if self._is_subject(cue, said)), None)
        for place, (worth, cue, far) in self._inheritable(search).items():
            if beside is not None and place not in beside.places:
                continue
            suited = None if place in search.known else self._fit(search, place)
            if suited is None:
                continue
            total = worth - less - 0.3 * (fresh and far) + roles.worth(self.fields[place], role)
            total += 0.6 * self._listed(said, place, anchors, context)
            total -= self._counts_another(said, place)
            if (
                cue.in_spot
                and said.kind == "quantity"
                and self._is_only(said, place, said.step or search.topic_step)
            ):
                total = max(total, _BY_UNIT)
            self._enter(search, place, suited, total, cue, inherited=True)

    def _is_subject(self, cue: Cue, said: Said) -> bool:
        """ "Strainer clean, gland dripping twenty two a minute": what is told right behind a plain
        name, at the head of its clause, is told of no other thing."""
        row = self.events
        heads = not row.text[row.clause_start(said.start) : cue.start].strip()
        plain = not (cue.near or cue.in_spot) and cue.plainest >= PLAIN
        return said.kind == "remark" and heads and plain and self._beside(cue, said)

    def _counts_another(self, said: Said, place: Place) -> bool:
        """Whether a number at the head of a clause counts what another field is about: "door
        operated three times, one placard missing"."""
        if said.kind != "count" or said.spot is not None:
            return False
        row = self.events
        if row.text[row.clause_start(said.start) : said.start].strip():
            return False
        return any(
            isinstance(anchor, Cue) and not anchor.in_spot and place not in anchor.places
            for anchor in row.anchors_in(said.end, said.end + 2)
        )

    def _is_strange(self, said: Said, since: int) -> bool:
        """Whether words that nothing explains stand before a value, behind the last."""
        if id(said) not in self._strange:
            self._strange[id(said)] = self.events.unexplained(since, said.start)
        return self._strange[id(said)]

    def _enter_other_part(self, search: _Search, role: roles.Role) -> None:
        """ "Brake off ..., new one ...": the counterpart of a field named before or formed so."""
        apart = replace(search, cues=(), strays=())
        named: list[tuple[Place, Cue | None]] = [
            (place, cue)
            for cue in search.context.recent
            for place, plain in cue.places.items()
            if plain > 0.5
        ]
        named += [(place, None) for place in roles.formed(self.fields, search.said)]
        for place, cue in named:
            for other in roles.counterparts(self.fields, place, role):
                suited = None if other in search.known else self._fit(search, other)
                if suited is not None:
                    self._enter(apart, other, suited, 1.3, cue, inherited=True)

    def _listed(
        self, said: Said, place: Place, around: Sequence[Cue | Spot], context: Context
    ) -> bool:
        """Whether the value goes on with the list of a field: "gap forward ..., aft ..."."""
        spots = [each for each in around if isinstance(each, Spot) or not each.in_spot]
        if len(spots) != 1 or not isinstance(spots[0], Spot) or context.spot is None:
            return False
        latest = next((cue for cue in context.recent if not cue.in_spot), None)
        if latest is None or said.kind == "remark":
            return False
        plain = latest.places.get(place, 0.0)
        if plain < PLAIN and (plain < _NOUN or list(latest.places) != [place]):
            return False  # "currents: fan one 54, fan two 55": the only field that it may name
        field_ = self.fields[place]
        return self._suits(context.spot, field_) and self._suits(spots[0], field_)

    def _fit(self, search: _Search, place: Place) -> Fit | None:
        """How the value would stand in a field, which counts as looked at from now on."""
        search.known.add(place)
        known = search.fits
        if place not in known:
            known[place] = self._fit_anew(search.said, place)
        return known[place]

    def _inheritable(self, search: _Search) -> dict[Place, tuple[float, Cue, bool]]:
        """Fields named before that a value without a name of its own may still belong to, each
        with what that is worth, its name, and whether that stands in an earlier sentence."""
        found: dict[Place, tuple[float, Cue, bool]] = {}
        verdict = "verdict" in search.said.mention.qualifiers
        rank = 0
        for cue in search.context.recent:
            far = self.events.breaks.between(cue.end, search.said.start) == 2
            share = (0.9 if far else 1.3) - 0.4 * rank
            # "no corrosion, pulley four is stiff, fail": the verdict is on what was told last
            weak = cue.near or (cue.in_spot and not verdict)
            for place, plainness in cue.places.items():
                worth = share * plainness
                if weak:
                    worth = 0.7 * worth + 0.5 * search.topic.get(place, 0.0)
                if place not in found or worth > found[place][0]:
                    found[place] = worth, cue, far
            rank += (verdict or not cue.in_spot) and self._may_tell_of(search.said, cue)
        return found

    def _enter_by_fit(self, search: _Search, role: roles.Role | None) -> None:
        """Fields that only the dimension, a pattern, an option or a position leads to."""
        said, spots = search.said, search.spots
        for place, suited, alone in self._suited(said, said.step or search.topic_step):
            if place in search.known:
                continue
            if alone is not None:
                worth = alone + roles.worth(self.fields[place], role)
            elif spots and self._suits(spots[0], self.fields[place]):
                named = (*search.context.recent, *search.cues)
                unnamed = not any(cue.takes_number(said.step) for cue in named)
                listed = unnamed and unit_lists.goes_on(self.events, said, self.fields[place])
                worth = 0.6 + 0.6 * (listed or self._asks_for(said, spots[0], place))
            else:
                continue
            other = said.kind == "remark" and alone is None and self._spoken_of(search, place)
            doubts = ("ambiguous_place",) * other
            self._enter(search, place, suited, worth, None, by_unit=True, doubts=doubts)

    def _spoken_of(self, search: _Search, place: Place) -> bool:
        """Whether the talk is of another field that has the place: "play of stanchion, forward
        2.5; aft wobbles", "the extract belt was slack" are no word on other things there."""
        named = {other for other, plain in search.topic.items() if plain >= PLAIN}
        named |= {other for cue in search.cues for other in cue.places if not cue.in_spot}
        suits = (self._suits(search.spots[0], self.fields[each]) for each in named)
        return place not in named and any(suits)

    @staticmethod
    def _binding(cue: Cue, said: Said) -> bool:
        """Whether a name inside a remark's own words has to be the field's.

        Not when it only stands for a property, or names nothing in the step that is open: "no
        leaks" on the damper is no word on the seal of another step.
        """
        here = said.step is None or any(place[0] == said.step for place in cue.places)
        return cue.mention.kind == "term" and here

    def _topic(self, context: Context) -> Mapping[Place, float]:
        """What has been spoken of before tells apart fields that share a word."""
        for cue in context.recent:
            if cue.plainest >= PLAIN and not (cue.near or cue.in_spot):
                return cue.places
        return {}

    def _topic_step(self, context: Context) -> str | None:
        for cue in context.recent:
            if cue.only_step is not None and not cue.near:
                return cue.only_step
        return None

    def _enter(
        self,
        search: _Search,
        place: Place,
        suited: Fit,
        worth: float,
        cue: Cue | None,
        *,
        inherited: bool = False,
        by_unit: bool = False,
        doubts: tuple[str, ...] = (),
    ) -> None:
        """Enter `place` as a target: the value can stand in it as `suited`."""
        search.known.add(place)
        said, spots = search.said, search.spots
        field_ = self.fields[place]
        score = worth + suited.score
        for stray, less in search.strays:
            if place not in stray.places:
                score -= less
        if not inherited:
            bare = field_.unit == "dimensionless" and said.mention.unit is None
            score += (0.9 if bare else 0.5) * search.topic.get(place, 0.0)
        if field_.type == "count":
            if {"as found", "as left"} & said.tags and said.mention.unit is None:
                score -= 0.8  # what was found and then set to something else is measured
            if cue is not None and cue.in_spot and cue.places.get(place, 1.0) <= 0.7:
                score -= 0.3  # only its positions were named
        if said.step is not None:
            score -= 0.9 * (place[0] != said.step)
        else:
            score += 0.25 * (place[0] == search.topic_step)
        where, spot, change = self._where(said, field_, spots, search.context, cue)
        if said.without.intersection(where):
            where = tuple(name for name in where if name not in said.without)
        placed: tuple[str, ...] = spot.doubts if spot is not None else ()
        if where == () and field_.positions:
            where, placed = self._everywhere(said, field_, cue)
        if spot is None and len(where) > 1 and self._row_ahead(field_, cue):
            placed = (*placed, "position_unsaid")
        borne_out = self._borne_out(said, place, said.step or search.topic_step, cue, spot)
        misheard = ("misheard_term",) * (cue is not None and cue.near and not borne_out)
        astray = inherited and CAME not in said.tags and self._says_of_another(said, place)
        doubts = (*doubts, *placed, *misheard, *("ambiguous_place",) * astray)
        search.found.append(
            Target(
                place,
                where or (None,),
                score + change,
                suited,
                cue,
                spot,
                by_unit,
                inherited,
                doubts,
                borne_out,
            )
        )

    def _is_foreign(self, cue: Cue, said: Said) -> bool:
        """A name of another step before a value as left is a verb: "topped up, now ninety one",
        and so is a particle behind a verb: "wound the turnbuckle up and as left it's fifty"."""
        if not LEFT & said.tags or said.inner:
            return self._is_moment(cue, said)
        if said.step is not None and all(place[0] != said.step for place in cue.places):
            return True
        particle = cue.canonical in talk().remarks.particles and cue.end < said.start
        return (
            particle
            and _WORKED.search(self.events.text, self.events.clause_start(cue.start), cue.start)
            is not None
        )
