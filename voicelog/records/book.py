"""The records: signed content, appended, superseded, never changed."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from voicelog import wire
from voicelog.errors import Conflict, Denied, Incomplete, NotFound
from voicelog.objects import FieldValue, Record, Signature
from voicelog.records import blocks, keys, search
from voicelog.records.acts import Block, Confirmation, Correction, Inspection, Shown
from voicelog.records.decisions import STANDING, settle
from voicelog.records.registers import bare

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from datetime import date

    from voicelog.objects import Card, Decision, Note
    from voicelog.records.acts import Act, Resolution
    from voicelog.records.people import Person
    from voicelog.records.search import Filter
    from voicelog.records.settings import Settings
    from voicelog.records.store import Store

PAGE = 200
"""Records read at once while searching."""


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


class Records:
    """Signing acts, and finding what was signed."""

    def __init__(self, store: Store, settings: Settings) -> None:
        self._store = store
        self._settings = settings
        self._connections = store.connections

    # --- signing --------------------------------------------------------------------

    def show(self, act: Act, *, by: str) -> Shown:
        """Exactly what `by` would sign, with verdicts and computed values worked out.

        Raises Denied (not authorised), Conflict (changed meanwhile), NotFound. What can be
        put right by deciding otherwise is among the `problems`.
        """
        with self._connections.reading():
            return self._build(act, self._store.people.require(by, "reviewer"))

    def sign(self, act: Act, *, by: str, secret: str, digest: str) -> Record:
        """Sign what `show` showed; when this returns the record is on the disk.

        `digest` is `Shown.digest`: if the content is another one by now, nothing is signed.
        Raises Denied (secret, lock-out, not authorised), Incomplete (with every problem),
        Conflict (content or version changed, already recorded), NotFound.
        """
        self._store.people.require(by, "reviewer")
        seed = self._store.people.unlock(by, secret)
        with self._connections.writing():
            person = self._store.people.require(by, "reviewer")
            shown = self._build(act, person)
            if shown.problems:
                raise Incomplete("\n".join(("nothing was signed:", *shown.problems)))
            if shown.digest != digest:
                raise Conflict(
                    "what was shown is not what would be signed now; look at it again, "
                    "nothing was lost"
                )
            signature = replace(shown.record.signature, digest=digest)
            if signature.key != keys.public_of(seed):
                raise Conflict(f"the secret of {by} was just changed; sign again")
            signed = signed_bytes(wire.to_plain(signature))
            signature = replace(signature, value=keys.sign(seed, signed))
            return self._append(act, replace(shown.record, signature=signature))

    def _build(self, act: Act, person: Person) -> Shown:
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
            id for one in self.history(record.id) for id in (one.performed_by, one.signature.by)
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
        record = self.get(id)
        successor = self.successor(id)
        if successor is not None:
            raise Conflict(f"record {id} was superseded by {successor}; look at that one")
        if record.inspects is not None:
            raise Conflict(f"record {id} is an inspection; correct or inspect {record.inspects}")
        return record

    def _append(self, act: Act, record: Record) -> Record:
        db = self._connections.db
        seq = db.execute("SELECT coalesce(max(seq), 0) + 1 FROM records").fetchone()[0]
        record = replace(record, id=f"R-{seq:06d}")
        db.execute(
            "INSERT INTO records(seq, id, content) VALUES (?, ?, ?)",
            [seq, record.id, wire.canonical(record).decode()],
        )
        card = self._store.cards.get(record.card, record.revision)
        db.execute(
            "INSERT INTO word_index(rowid, words, identifiers) VALUES (?, ?, ?)",
            [seq, *indexed(record, card)],
        )
        done = record.inspects or record.supersedes
        if done:
            db.execute("DELETE FROM to_inspect WHERE record = ?", [done])
        if record.to_inspect:
            db.execute("INSERT INTO to_inspect(record) VALUES (?)", [record.id])
        self._store.ledger.append(
            record.signature.meaning, "record", record.id, wire.digest(record),
            by=record.signature.by, detail={"note": record.note},
        )  # fmt: skip
        if isinstance(act, Confirmation):
            note: Note = self._store.notes.get(record.note)
            self._store.notes.confirmed(note, by=record.signature.by)
        return record

    # --- finding --------------------------------------------------------------------

    def get(self, id: str) -> Record:
        """Raises NotFound."""
        row = self._connections.db.execute(
            "SELECT content FROM records WHERE id = ?", [id]
        ).fetchone()
        if row is None:
            raise NotFound(f"no record {id!r}")
        return _record(row[0])

    def successor(self, id: str) -> str | None:
        """Id of the record that supersedes `id`."""
        row = self._connections.db.execute(
            "SELECT id FROM records WHERE supersedes = ?", [id]
        ).fetchone()
        return row[0] if row else None

    def history(self, id: str) -> tuple[Record, ...]:
        """A record with all that it supersedes and all that supersede it, oldest first."""
        chain = [self.get(id)]
        while chain[0].supersedes is not None:
            chain.insert(0, self.get(chain[0].supersedes))
        while (later := self.successor(chain[-1].id)) is not None:
            chain.append(self.get(later))
        return tuple(chain)

    def inspections(self, id: str) -> tuple[Record, ...]:
        """Independent inspections of a record, oldest first."""
        rows = self._connections.db.execute(
            "SELECT content FROM records WHERE inspects = ? ORDER BY seq", [id]
        ).fetchall()
        return tuple(_record(content) for (content,) in rows)

    def awaiting_inspection(self, limit: int = 50) -> tuple[Record, ...]:
        """Records that wait for a second person, oldest first."""
        rows = self._connections.db.execute(
            "SELECT r.content FROM to_inspect t JOIN records r ON r.id = t.record"
            " ORDER BY r.seq LIMIT ?",
            [limit],
        ).fetchall()
        return tuple(_record(content) for (content,) in rows)

    def search(self, wanted: Filter | None = None) -> Iterator[Record]:
        """Records that match, one by one: memory stays flat however many there are.

        Records signed after the search began are not part of it.
        """
        for seq, content in self._rows(wanted or search.Filter()):
            del seq
            yield _record(content)

    def _rows(self, wanted: Filter) -> Iterator[tuple[int, str]]:
        db = self._connections.db
        top = db.execute("SELECT coalesce(max(seq), 0) FROM records").fetchone()[0]
        matching, column, values = search.numbers(wanted)
        down, left = wanted.newest_first, wanted.limit
        last = top + 1 if down else 0
        beyond, order = ("<", "DESC") if down else (">", "ASC")
        while left is None or left > 0:
            rows: list[Any] = db.execute(
                "SELECT seq, content FROM records WHERE seq IN"
                f" (SELECT r.seq FROM {matching} AND {column} {beyond} :last"
                f" ORDER BY {column} {order} LIMIT :page) ORDER BY seq {order}",
                values | {"top": top, "last": last, "page": min(PAGE, left or PAGE)},
            ).fetchall()
            if not rows:
                return
            yield from rows
            last = rows[-1][0]
            left = None if left is None else left - len(rows)

    def count(self, wanted: Filter | None = None) -> int:
        """How many records match."""
        matching, _, values = search.numbers(wanted or search.Filter())
        row = self._connections.db.execute(
            f"SELECT count(*) FROM {matching}", values | {"top": 2**62}
        ).fetchone()
        return int(row[0])


def _to_inspect(card: Card, decisions: Iterable[Decision]) -> tuple[str, ...]:
    decided = {d.step for d in decisions if d.kind != "reject"}
    return tuple(
        step.number for step in card.steps if step.independent_inspection and step.number in decided
    )


def indexed(record: Record, card: Card) -> tuple[str, str]:
    """What full-text search finds a record by: its words, and its identifiers bare."""
    words = [record.transcript, record.title, record.work_order, record.card, record.equipment]
    identifiers = [record.serial_number] if record.serial_number else []
    for decision in record.decisions:
        step = card.step(decision.step)
        field = step.field(decision.field) if step else None
        words += [field.label if field else "", decision.why, decision.reference]
        if isinstance(decision.value, str):
            words.append(decision.value)
            if field is not None and field.type == "identifier":
                identifiers.append(decision.value)
    return "\n".join(filter(None, words)), " ".join(filter(None, map(bare, identifiers)))


@lru_cache(maxsize=512)
def _record(content: str) -> Record:
    """The record in `content`; a few are remembered, a work order is read again and again."""
    return wire.from_plain(Record, json.loads(content))
