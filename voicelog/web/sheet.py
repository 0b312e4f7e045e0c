"""A draft laid out as its card: every field at every place, with what was said and decided.

The dictation page, the review and the record all show the same lines.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from voicelog import limits, units
from voicelog.errors import UnitError
from voicelog.objects import Decision, Draft, Field, FieldValue, Ratio, Step, Value

if TYPE_CHECKING:
    from collections.abc import Iterable

    from voicelog.objects import Card

State = Literal["empty", "within", "at limit", "below", "above", "pass", "fail", "noted"]
"""What arithmetic says about the value that stands: never a judgement."""


@dataclass(frozen=True, slots=True)
class Gauge:
    """Where a number lies beside its limits, on a scale of 0 to 100."""

    low: float
    high: float
    at: float
    off: Literal["", "low", "high"] = ""
    """The number lies beyond the scale on this side."""


@dataclass(frozen=True, slots=True)
class Line:
    """One field at one place."""

    step: Step
    field: Field
    position: str | None
    proposals: tuple[FieldValue, ...] = ()
    decision: Decision | None = None
    needed: bool = False
    """Required, in a step the note speaks of, and not said."""

    @property
    def key(self) -> tuple[str, str, str | None]:
        return self.step.number, self.field.name, self.position

    @property
    def id(self) -> str:
        """Stands for the line in forms and addresses."""
        return "|".join((self.step.number, self.field.name, self.position or ""))

    @property
    def label(self) -> str:
        if self.position is None:
            return self.field.label
        return f"{self.field.label}, {self.field.position_word or ''} {self.position}".replace(
            ",  ", ", "
        )

    @property
    def proposal(self) -> FieldValue | None:
        """The value to look at first: the last one said."""
        return self.proposals[-1] if self.proposals else None

    @property
    def standing(self) -> tuple[Value | None, str | None]:
        """The value that stands now and its unit: decided, else proposed."""
        if self.decision is not None:
            kept = self.decision.kind in ("accept", "correct")
            return (self.decision.value, self.decision.unit) if kept else (None, None)
        return (self.proposal.value, self.proposal.unit) if self.proposal else (None, None)

    @property
    def doubtful(self) -> bool:
        """A person has to look before anything else happens."""
        return any(p.needs_check for p in self.proposals) or len(self.proposals) > 1

    @property
    def state(self) -> State:
        return state(self.field, *self.standing)

    @property
    def out(self) -> bool:
        return self.state in ("below", "above", "fail")

    @property
    def gauge(self) -> Gauge | None:
        return gauge(self.field, *self.standing)

    @property
    def converted(self) -> str:
        """The value in the card's unit, where it was said in another."""
        value, unit = self.standing
        number = number_of(value)
        if self.field.unit is None or unit is None or unit == self.field.unit or number is None:
            return ""
        try:
            exact = units.convert(number, unit, self.field.unit)
        except UnitError:
            return ""
        return f"{float(exact):.6g}"


def number_of(value: Value | None) -> Decimal | None:
    """The number that is compared with limits: of a ratio, the reading."""
    number = value.reading if isinstance(value, Ratio) else value
    return number if isinstance(number, Decimal) else None


def state(field: Field, value: Value | None, unit: str | None) -> State:
    """The word for a value in its field."""
    if value is None:
        return "empty"
    if value in ("pass", "fail"):
        return "pass" if value == "pass" else "fail"
    try:
        verdict = limits.judge(value, unit, field)
    except (UnitError, TypeError):
        return "noted"
    if verdict.verdict is None:
        return "noted"
    return "at limit" if verdict.at_limit else verdict.verdict


def gauge(field: Field, value: Value | None, unit: str | None) -> Gauge | None:
    """Only for a number with two different limits: one limit makes no scale."""
    number = number_of(value)
    if number is None or field.min is None or field.max is None or field.min == field.max:
        return None
    try:
        exact = units.convert(number, unit or field.unit or "", field.unit or unit or "")
    except UnitError:
        return None
    low, high = Fraction(field.min), Fraction(field.max)
    at = 30 + 40 * (exact - low) / (high - low)
    off = "low" if at < 2 else "high" if at > 98 else ""
    return Gauge(30, 70, float(min(max(at, Fraction(2)), Fraction(98))), off)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class Section:
    """One step of the card with its lines."""

    step: Step
    lines: tuple[Line, ...]

    @property
    def groups(self) -> tuple[tuple[Field, tuple[Line, ...]], ...]:
        """Lines by field: one with eight positions is one thing to look at, not eight."""
        return tuple(
            (field, tuple(line for line in self.lines if line.field is field))
            for field in self.step.fields
        )

    @property
    def latest(self) -> Line | None:
        """The line whose value was said last."""
        said = [line for line in self.lines if line.proposals]
        return max(said, key=lambda line: line.proposals[-1].start, default=None)

    @property
    def filled(self) -> int:
        return sum(bool(line.proposals or line.decision) for line in self.lines)

    @property
    def required(self) -> int:
        return sum(line.field.required for line in self.lines)

    @property
    def open(self) -> int:
        """Lines that have to be decided and aren't."""
        return sum(
            line.decision is None and bool(line.proposals or line.needed) for line in self.lines
        )

    @property
    def alarms(self) -> int:
        return sum(line.out or line.doubtful for line in self.lines)

    @property
    def touched(self) -> bool:
        return any(line.proposals or line.decision or line.needed for line in self.lines)


def lay_out(card: Card, draft: Draft, decisions: Iterable[Decision] = ()) -> tuple[Section, ...]:
    """All steps of `card` with what `draft` proposes and what was decided so far."""
    proposed: dict[tuple[str, str, str | None], list[FieldValue]] = {}
    for value in draft.values:
        proposed.setdefault(value.key, []).append(value)
    decided = {decision.key: decision for decision in decisions}
    missing = set(draft.missing)
    return tuple(
        Section(
            step,
            tuple(
                Line(
                    step,
                    field,
                    position,
                    tuple(proposed.get((step.number, field.name, position), ())),
                    decided.get((step.number, field.name, position)),
                    (step.number, field.name, position) in missing,
                )
                for field in step.fields
                for position in field.places
            ),
        )
        for step in card.steps
    )
