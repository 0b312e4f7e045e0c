"""What an act amounts to: the record to be, everything in the way of it, and its digest.

Nothing is written here. The same content is built when it is shown and again, inside the
writing transaction, when it is signed.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from voicelog import wire
from voicelog.errors import Conflict, Denied
from voicelog.objects import FieldValue, Record, Signature
from voicelog.records import blocks
from voicelog.records.acts import Block, Confirmation, Correction, Inspection, Shown
from voicelog.records.decisions import STANDING, settle

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    from voicelog.objects import Card, Decision
    from voicelog.records.acts import Act, Resolution
    from voicelog.records.people import Person
    from voicelog.records.settings import Settings
    from voicelog.records.store import Store


def content_digest(plain: dict[str, Any]) -> str:
    """SHA-256 of what a signature covers: all of a record but its number and signature.

    `plain` is the record as `wire.to_plain` gives it, or as read from its stored JSON.
    """
    content = {key: value for key, value in plain.items() if key not in ("id", "signature")}
    return hashlib.sha256(_json(content)).hexdigest()


def signed_bytes(plain: dict[str, Any]) -> bytes:
    """The bytes that a person's key signs: a signature's plain form with an empty value."""
    return _json(plain | {"value": ""})


def _json(plain: dict[str, Any]) -> bytes:
    text = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return text.encode()


class Desk:
    """Where an act is laid out before it is signed."""

    def __init__(self, store: Store, settings: Settings) -> None:
        self._store = store
        self._settings = settings

    def build(self, act: Act, person: Person) -> Shown:
        """The content that `person` would sign, what is in the way of it, and its digest."""
        match act:
            case Confirmation():
                record, card, problems = self._confirmation(act, person)
            case Inspection():
                record, card, problems = self._inspection(act, person)
            case Correction():
                record, card, problems = self._correction(act, person)
        day = record.performed_at.date()
        self._authorise(person, record, act)
        if not record.decisions:
            problems.append("nothing is decided; a record needs at least one decision")
        found = tuple(
            dict.fromkeys(
                (
                    *blocks.of_card(card, self._store.cards.get(card.number), day),
                    *blocks.of_values(
                        card, record.decisions, self._store.tools, self._store.parts, day
                    ),
                )
            )
        )
        resolved, unresolved = self._resolve(found, act.resolutions, person, problems)
        record = replace(record, resolutions=(*record.resolutions, *resolved))
        return Shown(record, content_digest(wire.to_plain(record)), tuple(problems), unresolved)

    def _resolve(
        self,
        found: tuple[Block, ...],
        resolutions: Iterable[Resolution],
        person: Person,
        problems: list[str],
    ) -> tuple[tuple[str, ...], tuple[Block, ...]]:
        reasons = {r.block: r.why.strip() for r in resolutions}
        problems += [
            f"{key}: nothing of the kind stands in the way; leave the resolution out"
            for key in reasons
            if key not in {block.key for block in found}
        ]
        unresolved = tuple(block for block in found if not reasons.get(block.key))
        problems += [
            f"{block.sentence}; resolve it with a reason, or correct the value"
            for block in unresolved
        ]
        resolved = tuple(
            f"{block.sentence}; resolved by {person.name} ({person.id}): {reasons[block.key]}"
            for block in found
            if reasons.get(block.key)
        )
        return resolved, unresolved

    def _authorise(self, person: Person, record: Record, act: Act) -> None:
        today: date = self._store.clock.now().date()
        steps = dict.fromkeys(d.step for d in record.decisions)
        inspect = isinstance(act, Inspection)
        refused = [s for s in steps if not person.may(record.card, s, today, inspect=inspect)]
        if refused:
            what = "inspect" if inspect else "confirm"
            raise Denied(
                f"{person.name} ({person.id}) is not authorised to {what} step "
                f"{', '.join(refused)} of card {record.card} on {today}; ask an administrator"
            )

    def _blank(self, person: Person, meaning: str) -> Signature:
        at = self._store.clock.now()
        return Signature(
            person.id, person.name, person.certified, at, meaning, "", person.keys[-1], ""
        )

    def _confirmation(self, act: Confirmation, person: Person) -> tuple[Record, Card, list[str]]:
        note = self._store.notes.current(act.note, act.version)
        draft = note.draft
        card = self._store.cards.get(draft.card, draft.revision)
        order = self._store.orders.get(note.work_order)
        decisions, problems = settle(card, draft.values, act.decisions, by=person.id)
        last = draft.takes[-1] if draft.takes else None
        performed_at = (last.recorded_at if last else None) or note.created_at
        record = Record(
            id="",
            note=note.id,
            work_order=note.work_order,
            card=card.number,
            title=card.title,
            revision=card.revision,
            source=card.source,
            performed_by=note.by,
            performed_at=performed_at,
            decisions=decisions,
            proposals=draft.values,
            signature=self._blank(person, "confirmed"),
            transcript="\n".join(take.transcript.text for take in draft.takes),
            audio=tuple(take.audio_sha256 for take in draft.takes if take.audio_sha256),
            model=last.transcript.model if last else "",
            model_sha256=last.transcript.model_sha256 if last else "",
            equipment=order.equipment,
            serial_number=order.serial_number,
            step=draft.step,
            unplaced=draft.unplaced,
            warnings=draft.warnings,
            to_inspect=_to_inspect(card, decisions),
            keep_until=self._settings.keep_until(card.number, performed_at.date()),
        )
        return record, card, list(problems)

    def _inspection(self, act: Inspection, person: Person) -> tuple[Record, Card, list[str]]:
        looked_at = self._current(act.record)
        if not looked_at.to_inspect:
            raise Conflict(f"record {looked_at.id} asks for no independent inspection")
        if person.id in self._hands_on(looked_at):
            raise Denied(
                f"{person.name} ({person.id}) did or confirmed this work; an independent "
                "inspection is for somebody else"
            )
        card = self._store.cards.get(looked_at.card, looked_at.revision)
        theirs = [d for d in looked_at.decisions if d.step in looked_at.to_inspect]
        proposals = tuple(
            FieldValue(*d.key, d.value, d.unit, limit=d.limit)
            for d in theirs
            if d.kind in STANDING and d.value is not None
        )
        must = [d.key for d in theirs if d.kind == "not applicable"]
        decisions, problems = settle(card, proposals, act.decisions, by=person.id, must=must)
        asked = list(problems) + [
            f"step {d.step} is not to be inspected; leave it out"
            for d in decisions
            if d.step not in looked_at.to_inspect
        ]
        record = replace(
            looked_at,
            id="",
            decisions=decisions,
            proposals=proposals,
            signature=self._blank(person, "inspected independently"),
            transcript="",
            audio=(),
            model="",
            model_sha256="",
            unplaced=(),
            warnings=(),
            to_inspect=(),
            supersedes=None,
            why="",
            inspects=looked_at.id,
            resolutions=(),
        )
        return record, card, asked

    def _hands_on(self, record: Record) -> set[str]:
        """Everybody who had a hand in what a record says, also in those it supersedes."""
        return {
            id
            for one in self._store.records.history(record.id)
            for id in (one.performed_by, one.signature.by)
        }

    def _correction(self, act: Correction, person: Person) -> tuple[Record, Card, list[str]]:
        old = self._current(act.record)
        card = self._store.cards.get(old.card, old.revision)
        decisions, problems = settle(
            card, old.proposals, act.decisions, by=person.id, carried=old.decisions
        )
        asked = list(problems)
        if not act.decisions:
            asked.append("a correction changes at least one decision")
        if not act.why.strip():
            asked.append("say why the record is corrected")
        record = replace(
            old,
            id="",
            decisions=decisions,
            signature=self._blank(person, "corrected"),
            to_inspect=_to_inspect(card, decisions),
            supersedes=old.id,
            why=act.why,
        )
        return record, card, asked

    def _current(self, id: str) -> Record:
        record = self._store.records.get(id)
        successor = self._store.records.successor(id)
        if successor is not None:
            raise Conflict(f"record {id} was superseded by {successor}; look at that one")
        if record.inspects is not None:
            raise Conflict(f"record {id} is an inspection; correct or inspect {record.inspects}")
        return record


def _to_inspect(card: Card, decisions: Iterable[Decision]) -> tuple[str, ...]:
    decided = {d.step for d in decisions if d.kind != "reject"}
    return tuple(
        step.number for step in card.steps if step.independent_inspection and step.number in decided
    )
