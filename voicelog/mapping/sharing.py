"""Sharing: one value for several fields or checks that are named together."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.mapping.fit import fit
from voicelog.mapping.placement import Target
from voicelog.mapping.row import Cue, Spot
from voicelog.mapping.whereabouts import JOIN, SAID_OF_ALL

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events
    from voicelog.objects import Field
    from voicelog.reading.lexicon import Lexicon, Place

_AND = re.compile(r"\s*(?:and|&)\s+(?:the\s+)?", re.I)
_PAUSE = re.compile(r"\s*(?:[,.;:]|\Z)")


class Sharing:
    """Gives the value of a placement to what was named with its target."""

    def __init__(self, events: Events, fields: Mapping[Place, Field], lexicon: Lexicon) -> None:
        self.events = events
        self.fields = fields
        self.lexicon = lexicon

    def add_sibling(self, placement: Placement, ahead: Sequence[Cue | Spot]) -> None:
        """ "Inner and outer ring, every bolt at ninety": a field of the same places and unit that
        was named together with the target's has the value, too, and is asked about."""
        target = placement.targets[0]
        cues = [a for a in ahead if isinstance(a, Cue) and not a.near]
        pairs = [pair for pair in pairwise(cues) if target.cue in pair]
        pairs = [(a, b) for a, b in pairs if _AND.fullmatch(self.events.text, a.end, b.start)]
        if not pairs or target.inherited:
            return
        one = pairs[0][0] if pairs[0][1] is target.cue else pairs[0][1]
        said, later = placement.said, pairs[0][1]
        own = self.fields[target.place]
        for place, plain in one.places.items():
            field_ = self.fields[place]
            alike = (field_.unit, field_.positions) == (own.unit, own.positions)
            if place[0] == target.place[0] and place != target.place and alike and plain >= 0.5:
                every = SAID_OF_ALL.search(self.events.text, later.end, said.start) is not None
                doubts = target.doubts if every else (*target.doubts, "ambiguous_place")
                sibling = target._replace(place=place, cue=one, doubts=doubts)
                placement.targets = (sibling, target)

    def add_companions(
        self, placement: Placement, ahead: Sequence[Cue | Spot], behind: Sequence[Cue | Spot]
    ) -> None:
        """Things named together share a remark: "cotter pin and lock wire fitted", "fail on the
        cotter pin and the lock wire"."""
        cue = placement.targets[0].cue
        if cue is None or placement.targets[0].inherited:
            return
        if cue.start >= placement.said.end:
            self._add_named_behind(placement, behind)
            return
        spot = placement.targets[0].spot
        cues = [a for a in ahead if isinstance(a, Cue)]
        if spot is not None:  # the "trim" of "trim full and free" is where, and no other check
            cues = [a for a in cues if a is cue or a.end <= spot.start or spot.end <= a.start]
        if cue in placement.said.inner and cue.start <= placement.said.start:
            at = len(cues)  # "rod seal fitted" is a name of its own
        elif cue in cues:
            at = cues.index(cue)
        else:
            return
        others: list[Target] = []
        for other in reversed(cues[:at]):
            joined = JOIN.fullmatch(self.events.text, other.end, cue.start)
            companion = self._companion(placement, other) if joined else None
            if companion is None:
                break
            others.append(companion)
            cue = other
        placement.targets = (*reversed(others), *placement.targets)

    def _add_named_behind(self, placement: Placement, behind: Sequence[Cue | Spot]) -> None:
        """The same for names behind a verdict, where nothing else is told of the last of them."""
        text = self.events.text
        if "verdict" not in placement.said.mention.qualifiers:
            return
        others: list[Target] = []
        join, end = None, placement.targets[0].cue.end if placement.targets[0].cue else 0
        for cue in (each for each in behind if each.start >= end):
            joined = JOIN.fullmatch(text, end, cue.start)
            companion = self._companion(placement, cue) if joined is not None else None
            if companion is None:
                break
            others.append(companion)
            join, end = joined, cue.end
        if join is not None and "and" in join[0].lower().split() and _PAUSE.match(text, end):
            placement.targets += tuple(others)

    def _companion(self, placement: Placement, cue: Cue | Spot) -> Target | None:
        """The one check that a name beside that of a remark's target plainly names."""
        if isinstance(cue, Spot):
            return None
        said, target = placement.said, placement.targets[0]
        places = [
            place
            for place, plain in cue.places.items()
            if plain >= 0.9
            and self.fields[place].type == "check"
            and place != target.place
            and (said.step is None or place[0] == said.step)
        ]
        if len(places) != 1 or cue.near or self.fields[places[0]].positions:
            return None
        suited = fit(said, self.fields[places[0]], places[0], self.lexicon)
        return None if suited is None else Target(places[0], (None,), target.score, suited, cue)
