"""Records as rows: one `Row` for each value of a field, the same for CSV and XLSX.

`COLUMNS` is the documented header. A cell is a text, an exact number (`Decimal`), a date,
a time with its offset, or None for "does not apply".
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, NamedTuple

from voicelog import limits
from voicelog.errors import UnitError
from voicelog.export import ucum
from voicelog.objects import Interval, Ratio, Record, Value

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.objects import Card, Decision, Field, FieldValue, Step

Cell = str | Decimal | date | datetime | None


@dataclass(frozen=True, slots=True)
class Entry:
    """A record as it is exported, with the card that it was written on.

    `card` is None when the store lacks that revision; then labels, types and limits are
    blank and the rest stands. `superseded_by` is the record that took this one's place.
    """

    record: Record
    card: Card | None = None
    superseded_by: str | None = None

    @property
    def state(self) -> str:
        return "superseded" if self.superseded_by else "current"

    def step(self, number: str) -> Step | None:
        return self.card.step(number) if self.card else None

    def field(self, step: str, name: str) -> Field | None:
        found = self.step(step)
        return found.field(name) if found else None


def proposals(record: Record) -> dict[tuple[str, str, str | None], FieldValue]:
    """What the software had proposed, by step, field and position."""
    return {proposal.key: proposal for proposal in record.proposals}


def corrected(decision: Decision, proposal: FieldValue | None) -> bool:
    """Whether a person put another value or unit in the place of the proposal."""
    return proposal is not None and (decision.value, decision.unit) != (
        proposal.value,
        proposal.unit,
    )


def at_limit(value: Value | None, unit: str | None, field: Field | None) -> bool:
    """Whether `value` lies exactly on a bound of `field` (it counts as within)."""
    number = number_of(value)
    if number is None or field is None:
        return False
    if unit == field.unit:
        return number in (field.min, field.max)
    try:
        return limits.check(number, unit, field).at_limit
    except UnitError:
        return False


def number_of(value: Value | None) -> Decimal | None:
    """The number that is compared with the limits: a ratio's reading, or the number itself."""
    match value:
        case Decimal():
            return value
        case Ratio(reading, _):
            return reading
    return None


def plain(number: Decimal) -> str:
    """The digits as spoken, never with an exponent."""
    return format(number, "f")


def worded(value: Value | None) -> str:
    """A value in words and digits, for people."""
    match value:
        case Decimal():
            return plain(value)
        case Ratio(reading, reference):
            return f"{plain(reading)} over {plain(reference)}"
        case Interval(low, high):
            ends = ("from", low), ("to", high)
            return " ".join(f"{word} {plain(end)}" for word, end in ends if end is not None)
        case date():
            return value.isoformat()
    return value or ""


def _kind(value: Value | None) -> str | None:
    match value:
        case None:
            return None
        case Decimal():
            return "number"
        case Ratio():
            return "ratio"
        case Interval():
            return "range"
        case date():
            return "date"
    return "text"


class Row(NamedTuple):
    """One value of one field; the names are the header."""

    record: str
    state: str
    work_order: str
    equipment: Cell
    serial_number: Cell
    card: str
    card_title: str
    card_revision: str
    source: str
    step: str
    step_title: Cell
    field: str
    label: Cell
    position: Cell
    field_type: Cell
    decision: str
    value: Cell
    reference: Cell
    value_type: Cell
    unit: Cell
    ucum: Cell
    limit_min: Cell
    limit_max: Cell
    limit_unit: Cell
    limit_ucum: Cell
    verdict: Cell
    at_limit: Cell
    proposed: Cell
    proposed_unit: Cell
    as_spoken: Cell
    as_found: Cell
    doubts: Cell
    why: Cell
    follow_up: Cell
    follow_up_reference: Cell
    decided_by: str
    decided_at: datetime
    performed_by: str
    performed_at: datetime
    signature_says: str
    signed_by: str
    certificate: str
    signed_at: datetime
    inspects: Cell
    supersedes: Cell
    superseded_by: Cell
    audio: Cell
    audio_start_s: Cell
    audio_end_s: Cell
    signed_sha256: str


class Column(NamedTuple):
    """What a column holds. `width` is in characters, for a spreadsheet."""

    kind: str
    width: int
    says: str


COLUMNS: dict[str, Column] = {
    "record": Column("text", 20, "Id of the confirmed record"),
    "state": Column("text", 11, "current, or superseded by a later correction"),
    "work_order": Column("text", 16, "Work order"),
    "equipment": Column("text", 18, "Equipment that was worked on"),
    "serial_number": Column("text", 16, "Its serial number"),
    "card": Column("text", 12, "Number of the task card"),
    "card_title": Column("text", 30, "Title of the task card"),
    "card_revision": Column("text", 9, "Revision of the task card that was used"),
    "source": Column("text", 34, "Approved source that the card names"),
    "step": Column("text", 6, "Number of the step"),
    "step_title": Column("text", 30, "Title of the step"),
    "field": Column("text", 18, "Name of the field"),
    "label": Column("text", 22, "Label of the field"),
    "position": Column("text", 9, "Which of several like places, such as the number of a bolt"),
    "field_type": Column(
        "text",
        13,
        "measurement, count, ratio, identifier, check, choice, date, text or computed",
    ),
    "decision": Column(
        "text",
        14,
        "accept, correct, reject or not applicable; a rejected value is not part of the record",
    ),
    "value": Column(
        "value",
        18,
        "The value that stands, exactly as confirmed and never converted; of a ratio, the reading",
    ),
    "reference": Column("number", 10, "Of a ratio, the reference beside the reading"),
    "value_type": Column("text", 10, "number, ratio, range, date or text; blank without a value"),
    "unit": Column("text", 10, "Unit as spoken, as a Pint expression"),
    "ucum": Column("text", 14, "The same unit as a UCUM code"),
    "limit_min": Column("number", 10, "Lowest permitted value, inclusive, in limit_unit"),
    "limit_max": Column("number", 10, "Highest permitted value, inclusive, in limit_unit"),
    "limit_unit": Column("text", 10, "Unit of the limits, as a Pint expression"),
    "limit_ucum": Column("text", 14, "The same unit as a UCUM code"),
    "verdict": Column("text", 9, "within, below or above the limits: arithmetic, no judgement"),
    "at_limit": Column("text", 9, "yes when the value lies exactly on a limit (counts as within)"),
    "proposed": Column("text", 18, "The value that the software had proposed, for comparison"),
    "proposed_unit": Column("text", 10, "Unit of the proposal"),
    "as_spoken": Column("text", 30, "The words it was read from"),
    "as_found": Column("text", 12, "The earlier of two values, where both were said"),
    "doubts": Column("text", 30, "Why the reading of the proposal was in doubt"),
    "why": Column("text", 30, "Reason that the person gave for the decision"),
    "follow_up": Column("text", 16, "What follows: rework, deferred, rejected part, ..."),
    "follow_up_reference": Column("text", 16, "Reference of the deferral or of engineering"),
    "decided_by": Column("text", 14, "Who decided about this value"),
    "decided_at": Column("time", 20, "When, with the offset from UTC"),
    "performed_by": Column("text", 14, "Who did the work and dictated it"),
    "performed_at": Column("time", 20, "When it was dictated"),
    "signature_says": Column("text", 22, "What the signature says"),
    "signed_by": Column("text", 22, "Name of the person who signed the record"),
    "certificate": Column("text", 20, "Certificate number and kind of that person"),
    "signed_at": Column("time", 20, "When it was signed"),
    "inspects": Column("text", 20, "Id of the record that this one inspects independently"),
    "supersedes": Column("text", 20, "Id of the record whose place this one took"),
    "superseded_by": Column("text", 20, "Id of the record that took this one's place"),
    "audio": Column("text", 20, "SHA-256 of the recording the value was heard in"),
    "audio_start_s": Column("number", 9, "Where in the recording the value begins, seconds"),
    "audio_end_s": Column("number", 9, "Where it ends, seconds"),
    "signed_sha256": Column("text", 20, "SHA-256 of the content that was signed"),
}


def _seconds(at: float | None) -> Decimal | None:
    return None if at is None else Decimal(f"{at:.2f}")


def rows(entry: Entry) -> Iterator[Row]:
    """The rows of one record, a row a decision, in the order in which they were decided."""
    record, signature = entry.record, entry.record.signature
    proposed = proposals(record)
    for decision in record.decisions:
        step = entry.step(decision.step)
        field = step.field(decision.field) if step else None
        proposal = proposed.get(decision.key)
        value = decision.value
        number = number_of(value)
        bounded = field is not None and (field.min is not None or field.max is not None)
        take = proposal.take if proposal else 0
        yield Row(
            record=record.id,
            state=entry.state,
            work_order=record.work_order,
            equipment=record.equipment or None,
            serial_number=record.serial_number or None,
            card=record.card,
            card_title=record.title,
            card_revision=record.revision,
            source=record.source,
            step=decision.step,
            step_title=step.title if step else None,
            field=decision.field,
            label=field.label if field else None,
            position=decision.position,
            field_type=field.type if field else None,
            decision=decision.kind,
            value=number if number is not None else value if isinstance(value, date)
            else worded(value) or None,
            reference=value.reference if isinstance(value, Ratio) else None,
            value_type=_kind(value),
            unit=decision.unit,
            ucum=ucum.code(decision.unit),
            limit_min=field.min if field else None,
            limit_max=field.max if field else None,
            limit_unit=field.unit if field and bounded else None,
            limit_ucum=ucum.code(field.unit) if field and bounded else None,
            verdict=decision.limit,
            at_limit="yes" if at_limit(value, decision.unit, field) else None,
            proposed=worded(proposal.value) if proposal else None,
            proposed_unit=proposal.unit if proposal else None,
            as_spoken=(proposal.as_spoken or None) if proposal else None,
            as_found=worded(proposal.as_found) or None if proposal else None,
            doubts="; ".join(reason.sentence for reason in proposal.reasons) or None
            if proposal
            else None,
            why=decision.why or None,
            follow_up=decision.follow_up,
            follow_up_reference=decision.reference or None,
            decided_by=decision.by,
            decided_at=decision.at,
            performed_by=record.performed_by,
            performed_at=record.performed_at,
            signature_says=signature.meaning,
            signed_by=signature.name,
            certificate=signature.certificate,
            signed_at=signature.at,
            inspects=record.inspects,
            supersedes=record.supersedes,
            superseded_by=entry.superseded_by,
            audio=record.audio[take] if proposal and take < len(record.audio) else None,
            audio_start_s=_seconds(proposal.start_s) if proposal else None,
            audio_end_s=_seconds(proposal.end_s) if proposal else None,
            signed_sha256=signature.digest,
        )  # fmt: skip
