"""The rules of deciding: which decisions together make content that may be signed.

Pure functions. They name everything that is wrong at once, so that a reviewer does not
learn of it piece by piece. Verdicts and computed values are worked out here again: nothing
that the caller claims about them is believed.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog import limits, units
from voicelog.errors import LimitError, UnitError
from voicelog.objects import Decision, FieldValue, Ratio

if TYPE_CHECKING:
    from collections.abc import Iterable

    from voicelog.objects import Card, Field, Value

Key = tuple[str, str, str | None]

STANDING = ("accept", "correct")
"""Kinds of decision after which a value stands."""
_REFERENCED = ("deferred", "engineering asked")
_FOLLOW_UPS = ("rework", "deferred", "rejected part", "engineering asked")


def place(card: Card, key: Key) -> str:
    """How a sentence names a field: "step 30 Bolt torque, bolt 4"."""
    step = card.step(key[0])
    field = step.field(key[1]) if step else None
    name = f"step {key[0]} {field.label if field else key[1]}"
    if key[2] is None:
        return name
    return f"{name}, {(field.position_word if field else None) or 'position'} {key[2]}"


def accept_undoubted(
    values: Iterable[FieldValue], *, by: str, at: datetime
) -> tuple[Decision, ...]:
    """Acceptance of every value that raises no question: the only ones to accept in bulk.

    Left out: values in doubt, outside their limits, failed checks, and fields for which two
    values were proposed.
    """
    values = tuple(values)
    keys = [value.key for value in values]
    return tuple(
        Decision(*value.key, "accept", by, at, value.value, value.unit)
        for value in values
        if not value.needs_check
        and value.limit in (None, "within")
        and value.value != "fail"
        and keys.count(value.key) == 1
    )


def failing(decision: Decision) -> bool:
    """Whether the value that stands is outside its limits or a failed check."""
    return decision.kind in STANDING and (
        decision.limit in ("below", "above") or decision.value == "fail"
    )


def value_fault(field: Field, value: Value, unit: str | None) -> str | None:  # noqa: PLR0911
    """Why `value` can't stand in `field`; None when it can."""
    match field.type:
        case "measurement" | "computed":
            if not isinstance(value, Decimal) or not value.is_finite():
                return "needs one number"
            return _unit_fault(field, unit)
        case "count":
            if not isinstance(value, Decimal) or not value.is_finite() or value < 0 or value % 1:
                return "needs a whole number"
            return "a count has no unit" if unit else None
        case "ratio":
            if not isinstance(value, Ratio) or not value.reference:
                return "needs a reading and its reference"
            return _unit_fault(field, unit)
        case "check":
            return None if value in ("pass", "fail") else "needs pass or fail"
        case "choice":
            return None if value in field.options else f"needs one of {', '.join(field.options)}"
        case "date":
            good = isinstance(value, date) and not isinstance(value, datetime)
            return None if good else "needs a date"
    if not isinstance(value, str) or not value.strip():
        return "needs a text"
    if field.pattern and not re.fullmatch(field.pattern, value):
        return f"{value} has not the form of this {field.kind or 'identifier'}"
    return None


def _unit_fault(field: Field, unit: str | None) -> str | None:
    if field.unit is None:
        return None
    if unit is None:
        return f"needs a unit; the card has {field.unit}"
    try:
        fits = units.compatible(unit, field.unit)
    except UnitError as error:
        return str(error)
    return None if fits else f"{unit} measures something else than {field.unit}"


class _Settling:
    """One pass over the decisions of one act."""

    def __init__(
        self, card: Card, proposals: Iterable[FieldValue], by: str, must: Iterable[Key]
    ) -> None:
        self.card = card
        self.by = by
        self.must = dict.fromkeys(must)
        self.proposed: dict[Key, list[FieldValue]] = {}
        for value in proposals:
            self.proposed.setdefault(value.key, []).append(value)
        self.settled: dict[Key, Decision] = {}
        self.problems: list[str] = []
        self.faulty: set[Key] = set()

    def problem(self, key: Key, sentence: str) -> None:
        self.problems.append(f"{place(self.card, key)}: {sentence}")
        self.faulty.add(key)

    def field(self, key: Key) -> Field | None:
        step = self.card.step(key[0])
        field = step.field(key[1]) if step else None
        if field is None or key[2] not in field.places:
            self.problem(key, f"card {self.card.number} has no such field")
            return None
        return field

    def take(self, decision: Decision) -> None:
        """Check one decision and keep it with the value and verdict that stand."""
        key = decision.key
        field = self.field(key)
        if field is None:
            return
        if key in self.settled:
            self.problem(key, "decided twice")
            return
        if decision.by != self.by:
            self.problem(key, f"decided by {decision.by}; whoever signs must decide it themselves")
        if decision.kind in _PAST and not decision.why.strip():
            self.problem(key, f"say why it is {_PAST[decision.kind]}")
        if decision.kind not in STANDING:
            self.settled[key] = replace(
                decision, value=None, unit=None, limit=None, follow_up=None, reference=""
            )
            return
        if field.type == "computed":
            self.settled[key] = decision  # its value is worked out when all else is settled
            return
        standing = self._standing(decision)
        if standing is not None:
            self._keep(field, *standing)

    def _standing(self, decision: Decision) -> tuple[Decision, Value, str | None] | None:
        key = decision.key
        if decision.kind == "correct":
            if decision.value is None:
                self.problem(key, "a correction needs a value")
                return None
            return decision, decision.value, decision.unit
        proposed = self.proposed.get(key, [])
        if decision.value is None and len({(p.value, p.unit) for p in proposed}) == 1:
            return decision, proposed[0].value, proposed[0].unit
        for proposal in proposed:
            if (proposal.value, proposal.unit) == (decision.value, decision.unit):
                return decision, proposal.value, proposal.unit
        if not proposed:
            self.problem(key, "nothing was proposed that could be accepted; give a value and why")
        elif decision.value is None:
            self.problem(key, "two values were proposed; say which one stands")
        else:
            self.problem(key, "another value than the proposed one is a correction; say why")
        return None

    def _keep(self, field: Field, decision: Decision, value: Value, unit: str | None) -> None:
        key = decision.key
        fault = value_fault(field, value, unit)
        if fault is not None:
            self.problem(key, f"{fault}; correct or reject it")
            return
        verdict = limits.judge(value, unit, field).verdict
        decision = replace(decision, value=value, unit=unit, limit=verdict)
        self._check_follow_up(decision)
        self.settled[key] = decision

    def _check_follow_up(self, decision: Decision) -> None:
        if failing(decision) and decision.follow_up is None:
            what = f"{decision.limit} the limit" if decision.limit else "a failed check"
            self.problem(
                decision.key, f"{what}; acknowledge it with what follows: {', '.join(_FOLLOW_UPS)}"
            )
        if decision.follow_up in _REFERENCED and not decision.reference.strip():
            self.problem(decision.key, f"{decision.follow_up} needs a reference")

    def compute(self) -> None:
        """Work out the computed fields of every step that was decided on."""
        steps = {key[0] for key in (*self.settled, *self.proposed)}
        for step in self.card.steps:
            for field in step.fields:
                if step.number in steps and field.type == "computed":
                    for position in field.places:
                        self._compute((step.number, field.name, position), field)

    def _inputs(self, key: Key, field: Field) -> dict[str, limits.Amount] | None:
        """Values for the formula; None when one of them is not decided."""
        step = self.card.step(key[0])
        found: dict[str, limits.Amount] = {}
        for argument, source in field.inputs:
            amount = limits.constant(source, step)
            if amount is None:
                decision = self.settled.get((key[0], source, key[2])) or self.settled.get(
                    (key[0], source, None)
                )
                if decision is None or decision.kind not in STANDING or decision.value is None:
                    return None
                amount = limits.Amount(decision.value, decision.unit)
            found[argument] = amount
        return found

    def _compute(self, key: Key, field: Field) -> None:
        given = self.settled.pop(key, None)
        if given is not None and given.kind not in STANDING:
            self.settled[key] = given
            return
        inputs = self._inputs(key, field)
        if inputs is None:
            if given is not None or key in self.proposed:
                self.problem(key, "can't be computed: not all of its inputs are decided")
            return
        try:
            exact = limits.compute(field.formula or "", inputs, field.unit)
        except (LimitError, UnitError) as error:
            self.problem(key, str(error))
            return
        value = limits.shown(exact, field)
        same = any(p.value == value and p.unit == exact.unit for p in self.proposed.get(key, ()))
        if given is None or (
            given.by != self.by and (given.value, given.unit) != (value, exact.unit)
        ):
            # nobody has decided on this value yet: it is the signer's, to be acknowledged anew
            at = max((d.at for d in self.settled.values()), default=given.at if given else None)
            if at is None:
                return
            given = Decision(*key, "accept", self.by, at)
        decision = replace(
            given,
            kind="accept" if same else "correct",
            value=value,
            unit=exact.unit,
            why=given.why if same else f"computed from the decided values ({field.formula})",
            limit=limits.check(exact.number, exact.unit, field).verdict,
        )
        self._check_follow_up(decision)
        self.settled[key] = decision

    def check_all_decided(self) -> None:
        for key in dict.fromkeys((*self.proposed, *self.must)):
            step = self.card.step(key[0])
            field = step.field(key[1]) if step else None
            if field is None:
                self.problem(key, f"card {self.card.number} has no such field")
            elif key not in self.settled and key not in self.faulty:
                self.problem(key, "not decided")


_PAST = {"correct": "corrected", "not applicable": "not applicable"}


def settle(
    card: Card,
    proposals: Iterable[FieldValue],
    decisions: Iterable[Decision],
    *,
    by: str,
    carried: Iterable[Decision] = (),
    must: Iterable[Key] = (),
) -> tuple[tuple[Decision, ...], tuple[str, ...]]:
    """Decisions as they would be signed by `by`, and everything that is wrong with them.

    `carried` are earlier decisions that stay unless `decisions` has one on the same field;
    `must` are fields that need a decision besides all proposed ones. A rejected value leaves
    its field without a value; whether the step is then done is the work order's question.
    """
    work = _Settling(card, proposals, by, must)
    for decision in decisions:
        work.take(decision)
    for decision in carried:
        work.settled.setdefault(decision.key, decision)
    work.compute()
    work.check_all_decided()
    order = {
        (step.number, field.name, position): index
        for index, (step, field, position) in enumerate(
            (step, field, position)
            for step in card.steps
            for field in step.fields
            for position in field.places
        )
    }
    settled = sorted(work.settled.values(), key=lambda decision: order[decision.key])
    return tuple(settled), tuple(work.problems)
