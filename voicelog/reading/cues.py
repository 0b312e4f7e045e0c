"""What a task card contributes to reading: how its positions, terms and identifiers are said."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicelog.reading.atoms import atomise

if TYPE_CHECKING:
    from voicelog.objects import Card, Field, Step


@dataclass(frozen=True, slots=True)
class Cues:
    """A card, and the step that the note begins in, as reading looks them up."""

    card: Card | None = None
    step: str | None = None

    @property
    def steps(self) -> tuple[Step, ...]:
        return self.card.steps if self.card else ()

    @property
    def fields(self) -> tuple[Field, ...]:
        return tuple(field for step in self.steps for field in step.fields)


def key(phrase: str) -> tuple[str, ...]:
    """`phrase` as atoms, the form in which phrases are compared."""
    return tuple(atom.text for atom in atomise(phrase))
