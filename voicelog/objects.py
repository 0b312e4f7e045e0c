"""Every object that travels between the rooms. Read this file first.

    audio -> Transcript -> Reading -> Draft -> Note -> (Decision by a person) -> Record

The audio and the transcript, which come before all others, are in `heard.py`.

All are frozen and slotted, hold tuples instead of lists, and name their units
(`start_s`, `rate_hz`). Character spans are half-open offsets into `Transcript.text`;
time spans are seconds from the start of the take's audio.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Literal

from voicelog.heard import Transcript  # noqa: TC001  the store's JSON is read by these annotations

# --- read -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Ratio:
    """A reading beside its reference, never divided out: "seventy four over eighty"."""

    reading: Decimal
    reference: Decimal


@dataclass(frozen=True, slots=True)
class Interval:
    """A range as spoken; a missing end is None ("not below ninety five")."""

    low: Decimal | None
    high: Decimal | None


Value = Decimal | str | date | Ratio | Interval
"""What a mention or a field can hold. Numbers are `Decimal`, exactly as spoken."""

MentionKind = Literal[
    "quantity",  # a number with its unit
    "count",  # a bare number
    "ratio",
    "range",
    "identifier",
    "date",
    "time",  # a time of day, "HH:MM"
    "remark",  # value "pass", "fail" or "not done"
    "position",  # which bolt, cylinder, side; value is the position as the card spells it
    "step",
    "term",  # a part term or the cue word of a field; value is the canonical term
    "procedure",  # a procedure word: correction, disregard, say again, negative, ...
]


@dataclass(frozen=True, slots=True)
class Mention:
    """Something that was said, with the stretch of text and of audio that says it."""

    kind: MentionKind
    text: str
    """Verbatim: `Transcript.text[start:end]`."""
    start: int
    end: int
    value: Value | None = None
    unit: str | None = None
    """Canonical unit in Pint's notation, as spoken; None when no unit was said."""
    negated: bool = False
    stage: str = ""
    """Name of the reading stage that made it."""
    alternatives: tuple[Value, ...] = ()
    """Other values that the same words or sounds could mean, likeliest first."""
    qualifiers: frozenset[str] = frozenset()
    """Words that travel with the value: "gauge", "about", "as found", "limit", ..."""
    doubts: tuple[str, ...] = ()
    """Codes of `models_config/reading.toml` [reasons] that reading itself raised."""


@dataclass(frozen=True, slots=True)
class Reading:
    """All mentions of one transcript in the order of the text."""

    transcript: Transcript
    mentions: tuple[Mention, ...]


# --- the task card ----------------------------------------------------------------

FieldType = Literal[
    "measurement", "count", "ratio", "identifier", "check", "choice", "date", "text", "computed"
]
IdentifierKind = Literal["serial number", "part number", "batch number", "tool number"]


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a step. Bounds are inclusive, absolute, in `unit`."""

    name: str
    label: str
    type: FieldType
    unit: str | None = None
    min: Decimal | None = None
    max: Decimal | None = None
    usual: tuple[Decimal, Decimal] | None = None
    """Range in which readings usually lie; outside it a reading is doubted, not refused."""
    positions: tuple[str, ...] = ()
    position_word: str | None = None
    say: tuple[str, ...] = ()
    kind: IdentifierKind | None = None
    pattern: str | None = None
    """Regular expression that a whole identifier of this field matches."""
    options: tuple[str, ...] = ()
    formula: str | None = None
    inputs: tuple[tuple[str, str], ...] = ()
    """For a computed field: (argument of the formula, name of a field of the card)."""
    required: bool = True

    @property
    def places(self) -> tuple[str | None, ...]:
        """The positions to fill; (None,) for a field that has just one value."""
        return self.positions or (None,)


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a task card."""

    number: str
    title: str
    fields: tuple[Field, ...] = ()
    sequence: tuple[str, ...] = ()
    """Things to be done, and said, in this order."""
    independent_inspection: bool = False
    opens: str | None = None
    """What this step opens, removes or makes inoperative."""
    restores: str | None = None
    """Number of the step whose `opens` this one makes good."""
    leak_check: str | None = None
    """Number of the step that holds the leak check of what this step opened."""

    def field(self, name: str) -> Field | None:
        return next((field for field in self.fields if field.name == name), None)


@dataclass(frozen=True, slots=True)
class Card:
    """A task card as loaded: it belongs to the shop that wrote it."""

    number: str
    title: str
    revision: str
    revision_date: date
    source: str
    """The approved data that the card was made from."""
    steps: tuple[Step, ...]
    expires: date | None = None
    terms: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """(canonical term, how it may be said)."""
    sha256: str = ""
    """Digest of the file as it came."""

    def step(self, number: str) -> Step | None:
        return next((step for step in self.steps if step.number == number), None)


# --- proposed ---------------------------------------------------------------------

LimitVerdict = Literal["within", "below", "above"]


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a person has to look: a code of reading.toml and its plain sentence."""

    code: str
    sentence: str


@dataclass(frozen=True, slots=True)
class FieldValue:
    """A proposed value for one field at one position."""

    step: str
    field: str
    position: str | None
    value: Value
    unit: str | None = None
    """As spoken, never converted; None where no unit applies."""
    as_spoken: str = ""
    limit: LimitVerdict | None = None
    at_limit: bool = False
    """The reading lies exactly on a bound (it counts as within)."""
    confidence: float = 1.0
    reasons: tuple[Reason, ...] = ()
    start: int = 0
    end: int = 0
    take: int = 0
    """Which of the note's takes it was said in."""
    start_s: float | None = None
    end_s: float | None = None
    as_found: Value | None = None
    """The earlier of two values ("was one eighty, topped up to two oh five")."""
    alternatives: tuple[Value, ...] = ()
    qualifiers: frozenset[str] = frozenset()
    affirmed: bool = False
    """The mechanic affirmed it by voice after a read-back; that confirms nothing."""
    mentions: tuple[Mention, ...] = ()

    @property
    def needs_check(self) -> bool:
        """The *reading* is in doubt; lying outside its limits is not a doubt."""
        return bool(self.reasons)

    @property
    def key(self) -> tuple[str, str, str | None]:
        return self.step, self.field, self.position


@dataclass(frozen=True, slots=True)
class Take:
    """One recording and its transcript; a dictation at the job is several of them."""

    transcript: Transcript
    audio_sha256: str = ""
    recorded_at: datetime | None = None
    step: str | None = None
    """The step that was selected on the page while it was spoken."""


@dataclass(frozen=True, slots=True)
class Draft:
    """Proposed values for the fields of a card, and all that found no field."""

    card: str
    revision: str
    step: str | None
    takes: tuple[Take, ...]
    values: tuple[FieldValue, ...]
    unplaced: tuple[Mention, ...] = ()
    missing: tuple[tuple[str, str, str | None], ...] = ()
    """(step, field, position) that is required in a step the note speaks of, and unsaid."""
    warnings: tuple[Reason, ...] = ()
    """Doubts about the note as a whole (noise, a sequence out of order)."""


# --- kept -------------------------------------------------------------------------

NoteState = Literal["open", "confirmed", "withdrawn"]


@dataclass(frozen=True, slots=True)
class Note:
    """A dictated note as the store keeps it, waiting for a person."""

    id: str
    work_order: str
    by: str
    created_at: datetime
    draft: Draft
    version: int = 1
    """Goes up at every change; an act on an older version is a conflict."""
    state: NoteState = "open"
    decisions: tuple[Decision, ...] = ()
    """A review that was begun: kept so that it survives a restart, binding nobody."""


DecisionKind = Literal["accept", "correct", "reject", "not applicable"]
FollowUp = Literal["rework", "deferred", "rejected part", "engineering asked"]


@dataclass(frozen=True, slots=True)
class Decision:
    """What a named person decided about one field at one position."""

    step: str
    field: str
    position: str | None
    kind: DecisionKind
    by: str
    at: datetime
    value: Value | None = None
    """The value that stands: the proposal, or what the person put in its place."""
    unit: str | None = None
    why: str = ""
    limit: LimitVerdict | None = None
    follow_up: FollowUp | None = None
    """What follows when the value lies outside its limits or a check failed."""
    reference: str = ""
    """Deferral or engineering reference."""

    @property
    def key(self) -> tuple[str, str, str | None]:
        return self.step, self.field, self.position


@dataclass(frozen=True, slots=True)
class Signature:
    """A deliberate act of one person over exactly one content."""

    by: str
    name: str
    certificate: str
    """Certificate number and kind, as registered."""
    at: datetime
    meaning: str
    """What the signature says: "confirmed", "inspected independently"."""
    digest: str
    """SHA-256 of the canonical JSON that was shown and signed."""
    key: str
    """Public half of the person's Ed25519 key, hex."""
    value: str
    """Ed25519 signature, hex, over everything else in this object."""


@dataclass(frozen=True, slots=True)
class Record:
    """Confirmed values beside their proposals; appended, superseded, never changed."""

    id: str
    note: str
    work_order: str
    card: str
    title: str
    revision: str
    source: str
    performed_by: str
    performed_at: datetime
    decisions: tuple[Decision, ...]
    proposals: tuple[FieldValue, ...]
    signature: Signature
    transcript: str
    audio: tuple[str, ...]
    model: str
    model_sha256: str
    equipment: str = ""
    serial_number: str = ""
    step: str | None = None
    """Step that the note was dictated for, when it was said or chosen."""
    unplaced: tuple[Mention, ...] = ()
    warnings: tuple[Reason, ...] = ()
    supersedes: str | None = None
    why: str = ""
    """Why it supersedes the other record."""
    inspects: str | None = None
    """Id of the record that this one inspects independently."""
    to_inspect: tuple[str, ...] = ()
    """Numbers of the steps that a second person has to inspect."""
    keep_until: date | None = None
    resolutions: tuple[str, ...] = field(default=())
    """Blocks that a named person resolved (expired card, tool out of calibration), and why."""
