"""One value on the printed sheet: its words, what was struck out, what needs a look."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from voicelog import units
from voicelog.errors import UnitError
from voicelog.export.fonts import marked_up
from voicelog.export.rows import Entry, at_limit, corrected, number_of, plain, proposals, worded
from voicelog.export.ucum import printed
from voicelog.objects import Ratio

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import datetime

    from voicelog.objects import Decision, Field, FieldValue, Record
    from voicelog.records import OpenItem

LONG = 160
"""A text longer than this leaves its cell and runs on below it, over pages if need be."""


@dataclass(frozen=True, slots=True)
class Order:
    """All that one sheet shows."""

    number: str
    entries: tuple[Entry, ...]
    open_items: tuple[OpenItem, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)
    """Name of a person by their id."""
    replaced: Mapping[str, Record] = field(default_factory=dict)
    """Superseded records by their id, to show what a correction took the place of."""
    title: str = ""
    complete: bool = False
    """Somebody called the work order complete."""

    def person(self, id: str) -> str:
        name = self.names.get(id)
        return f"{name} ({id})" if name and name != id else id


def moment(at: datetime) -> str:
    """Date, time and offset from UTC: 2026-11-24 14:05 +01:00."""
    text = at.strftime("%Y-%m-%d %H:%M")
    zone = at.strftime("%z")
    return f"{text} {zone[:3]}:{zone[3:5]}" if zone else text


def limits_text(field: Field | None) -> str:
    """The bounds of a field as a person writes them."""
    if field is None:
        return ""
    unit = f" {printed(field.unit)}" if field.unit else ""
    low, high = field.min, field.max
    if low is not None and high is not None:
        return f"{plain(low)} – {plain(high)}{unit}"
    if low is not None:
        return f"≥ {plain(low)}{unit}"
    return f"≤ {plain(high)}{unit}" if high is not None else ""


def converted(value: Decimal, unit: str | None, field: Field | None) -> str | None:
    """The number in the limits' unit, with as many digits as it takes to see the verdict."""
    if field is None or field.unit is None or unit in (None, field.unit):
        return None
    bounds = [bound for bound in (field.min, field.max) if bound is not None]
    if not bounds:
        return None
    try:
        exact = units.convert(value, str(unit), field.unit)
    except UnitError:
        return None
    for places in range(2, 13):
        shown = round(exact, places)
        if all((shown > b) == (exact > b) and (shown < b) == (exact < b)
               for b in map(Fraction, bounds)):  # fmt: skip
            break
    digits = format(Decimal(shown.numerator) / Decimal(shown.denominator), f".{places}f")
    return f"{'' if shown == exact else '≈ '}{digits} {printed(field.unit)}"


def failed(decision: Decision) -> bool:
    """Whether a value asks for attention: outside its limits, or a failed check."""
    return decision.limit in ("below", "above") or decision.value == "fail"


def result(decision: Decision, field: Field | None) -> tuple[str, bool]:
    """Words of the last column, and whether they stand white on black."""
    match decision.limit:
        case "below":
            return "▼ BELOW LIMIT", True
        case "above":
            return "▲ ABOVE LIMIT", True
        case "within":
            exactly = at_limit(decision.value, decision.unit, field)
            return ("within, at the limit" if exactly else "within limits"), False
    if decision.kind == "reject":
        return "rejected, no value", False
    if decision.kind == "not applicable":
        return "not applicable", False
    return ("FAILED", True) if failed(decision) else ("", False)


def struck_out(text: str) -> str:
    return f"<strike>{marked_up(text)}</strike>"


def with_unit(value: str, unit: str | None) -> str:
    return f"{value} {printed(unit)}" if unit and value else value


@dataclass(frozen=True, slots=True)
class Line:
    """One decided field, with all that the sheet says of it."""

    entry: Entry
    order: Order
    decision: Decision
    proposal: FieldValue | None
    before: Decision | None
    """What the superseded record said of the same field."""

    @property
    def of_card(self) -> Field | None:
        return self.entry.field(self.decision.step, self.decision.field)

    @property
    def label(self) -> str:
        found, decision = self.of_card, self.decision
        label = found.label if found else decision.field
        if decision.position is None:
            return label
        word = found.position_word if found and found.position_word else "position"
        return f"{label}, {word} {decision.position}"

    @property
    def value(self) -> str:
        if self.decision.kind in ("reject", "not applicable"):
            return ""
        return worded(self.decision.value)

    @property
    def is_number(self) -> bool:
        """Whether the value is set to the right, against its unit."""
        return isinstance(self.decision.value, (Decimal, Ratio))

    @property
    def long(self) -> bool:
        return len(self.value) > LONG or self.value.count("\n") > 3

    @property
    def replaces(self) -> bool:
        """Whether the superseded record said something else."""
        before, decision = self.before, self.decision
        return before is not None and (before.value, before.unit) != (
            decision.value,
            decision.unit,
        )

    def struck(self) -> list[str]:
        """Mark-up of what was said first and does not stand; it is shown above the value."""
        earlier: list[Decision | FieldValue] = []
        if self.before is not None and self.replaces:
            earlier.append(self.before)
        if self.proposal is not None and corrected(self.decision, self.proposal):
            earlier.append(self.proposal)
        same = self.decision.unit
        words = (
            with_unit(worded(one.value), None if one.unit == same else one.unit) for one in earlier
        )
        return [struck_out(text) for text in dict.fromkeys(words) if text and len(text) <= LONG]

    def notes(self) -> Iterator[str]:
        """Mark-up of the sentences that stand below the value."""
        decision, proposal = self.decision, self.proposal
        number = number_of(decision.value)
        if number is not None:
            same = converted(number, decision.unit, self.of_card)
            if same:
                yield f"In the unit of the limits: {marked_up(same)}"
        if decision.follow_up:
            reference = f", reference {decision.reference}" if decision.reference else ""
            yield f"<b>What follows: {marked_up(decision.follow_up + reference)}</b>"
        elif decision.reference:
            yield f"Reference {marked_up(decision.reference)}"
        if self.before is not None and self.replaces:
            said = with_unit(worded(self.before.value), self.before.unit) or "no value"
            yield f"Record {marked_up(self.entry.record.supersedes or '')} said {struck_out(said)}"
        if proposal is not None:
            yield from self._on_proposal(proposal)
        if decision.why:
            computed = self.of_card is not None and self.of_card.type == "computed"
            yield f"{'Value' if computed else 'Reason given:'} {marked_up(decision.why)}"
        if decision.by != self.entry.record.signature.by:
            yield f"Decided by {marked_up(self.order.person(decision.by))}, {moment(decision.at)}"

    def _on_proposal(self, proposal: FieldValue) -> Iterator[str]:
        if corrected(self.decision, proposal):
            said = with_unit(worded(proposal.value), proposal.unit)
            # What an inspector is shown first is the value of the record that is inspected.
            source = "The inspected record says" if self.entry.record.inspects else "Proposed was"
            heard = proposal.as_spoken
            words = f", heard as “{marked_up(heard)}”" if heard and heard != said else ""
            yield f"{source} {struck_out(said)}{words}"
        if proposal.as_found is not None:
            yield f"As found: {marked_up(with_unit(worded(proposal.as_found), proposal.unit))}"
        if proposal.reasons:
            doubts = "; ".join(reason.sentence for reason in proposal.reasons)
            yield f"In doubt before the decision: {marked_up(doubts)}"


def lines(entry: Entry, order: Order) -> list[Line]:
    """The decided fields of a record, in order."""
    record = entry.record
    proposed = proposals(record)
    replaced = order.replaced.get(record.supersedes or "")
    before = {decision.key: decision for decision in replaced.decisions} if replaced else {}
    return [
        Line(entry, order, decision, proposed.get(decision.key), before.get(decision.key))
        for decision in record.decisions
    ]
