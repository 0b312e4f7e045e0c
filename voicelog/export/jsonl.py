"""JSON Lines: one record a line, as `record.schema.json` (JSON Schema 2020-12) describes it.

Texts are exactly as they were; a number is a JSON number, and `digits` beside it holds the
same number as it was spoken, so that 0.50 stays 0.50.
"""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicelog import wire
from voicelog.export import ucum
from voicelog.export.rows import Entry, at_limit, plain, proposals
from voicelog.objects import Ratio

if TYPE_CHECKING:
    from voicelog.objects import Decision, Field, FieldValue, Mention, Signature, Value

SCHEMA = Path(__file__).with_name("record.schema.json")
"""The published schema; a copy of it travels with every JSON Lines export."""

FORM = "voicelog-record/1"
"""Name and version of this form; a change that could break a reader raises the version."""


def _measured(value: Value | None, unit: str | None) -> dict[str, Any]:
    found: dict[str, Any] = {
        "value": wire.plain_value(value),
        "unit": unit,
        "ucum": ucum.code(unit),
    }
    match value:
        case Decimal():
            found["digits"] = plain(value)
        case Ratio(reading, reference):
            found["digits"] = f"{plain(reading)}/{plain(reference)}"
    return found


def _limits(field: Field | None) -> dict[str, Any] | None:
    if field is None or (field.min is None and field.max is None):
        return None
    return {
        "min": wire.plain_value(field.min),
        "max": wire.plain_value(field.max),
        "unit": field.unit,
        "ucum": ucum.code(field.unit),
    }


def _proposal(proposal: FieldValue | None) -> dict[str, Any] | None:
    if proposal is None:
        return None
    return _measured(proposal.value, proposal.unit) | {
        "as_spoken": proposal.as_spoken,
        "as_found": wire.plain_value(proposal.as_found),
        "qualifiers": sorted(proposal.qualifiers),
        "confidence": round(proposal.confidence, 4),
        "doubts": [reason.sentence for reason in proposal.reasons],
        "take": proposal.take,
        "start_s": proposal.start_s,
        "end_s": proposal.end_s,
    }


def _value(entry: Entry, decision: Decision, proposal: FieldValue | None) -> dict[str, Any]:
    step = entry.step(decision.step)
    field = step.field(decision.field) if step else None
    return {
        "step": decision.step,
        "step_title": step.title if step else None,
        "field": decision.field,
        "label": field.label if field else None,
        "type": field.type if field else None,
        "position": decision.position,
        "decision": decision.kind,
        **_measured(decision.value, decision.unit),
        "limits": _limits(field),
        "verdict": decision.limit,
        "at_limit": at_limit(decision.value, decision.unit, field),
        "proposal": _proposal(proposal),
        "why": decision.why,
        "follow_up": decision.follow_up,
        "reference": decision.reference,
        "decided_by": decision.by,
        "decided_at": decision.at.isoformat(),
    }


def _signature(signature: Signature) -> dict[str, Any]:
    return {
        "by": signature.by,
        "name": signature.name,
        "certificate": signature.certificate,
        "at": signature.at.isoformat(),
        "meaning": signature.meaning,
        "sha256": signature.digest,
        "key": signature.key,
        "ed25519": signature.value,
    }


def _unplaced(mention: Mention) -> dict[str, Any]:
    return {
        "kind": mention.kind,
        "text": mention.text,
        **_measured(mention.value, mention.unit),
    }


def as_object(entry: Entry) -> dict[str, Any]:
    """One record as the schema describes it."""
    record = entry.record
    proposed = proposals(record)
    return {
        "form": FORM,
        "id": record.id,
        "state": entry.state,
        "supersedes": record.supersedes,
        "superseded_by": entry.superseded_by,
        "why": record.why,
        "inspects": record.inspects,
        "to_inspect": list(record.to_inspect),
        "work_order": record.work_order,
        "equipment": record.equipment,
        "serial_number": record.serial_number,
        "card": {
            "number": record.card,
            "title": record.title,
            "revision": record.revision,
            "source": record.source,
        },
        "performed_by": record.performed_by,
        "performed_at": record.performed_at.isoformat(),
        "values": [
            _value(entry, decision, proposed.get(decision.key)) for decision in record.decisions
        ],
        "warnings": [reason.sentence for reason in record.warnings],
        "unplaced": [_unplaced(mention) for mention in record.unplaced],
        "resolutions": list(record.resolutions),
        "signature": _signature(record.signature),
        "keep_until": record.keep_until.isoformat() if record.keep_until else None,
        "transcript": record.transcript,
        "audio": list(record.audio),
        "model": record.model,
        "model_sha256": record.model_sha256,
    }


_ENCODER = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def line(entry: Entry) -> bytes:
    """One record as a line of UTF-8, its line feed included."""
    return _ENCODER.encode(as_object(entry)).encode() + b"\n"
