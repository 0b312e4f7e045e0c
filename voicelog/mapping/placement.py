"""Placement: where a value goes, and the fields that it might go to.

`targets` makes the targets, `placing` the placements; all that looks at them afterwards takes them
from here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from voicelog.mapping.fit import Fit
    from voicelog.mapping.row import Cue, Said, Spot
    from voicelog.reading.lexicon import Place


class Target(NamedTuple):
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
    borne_out: bool = False
    """What was said leads here as well without its name, and to no other field of the step."""

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
