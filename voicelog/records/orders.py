"""Work orders: what is worked on, what is still open, and what the next shift must know."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import datetime  # noqa: TC003 — read when a work order is loaded
from typing import TYPE_CHECKING, Literal

from voicelog import wire
from voicelog.errors import Conflict, Incomplete, NotFound, RecordError
from voicelog.records.openitems import OpenItem, open_items
from voicelog.records.search import Filter

if TYPE_CHECKING:
    from voicelog.objects import Card, Note, Record
    from voicelog.records.book import Records
    from voicelog.records.cards import CardShelf
    from voicelog.records.clock import Clock
    from voicelog.records.connection import Connections
    from voicelog.records.ledger import Ledger
    from voicelog.records.notes import Notes
    from voicelog.records.people import People

__all__ = ["Handover", "LastDictation", "OpenItem", "OrderStatus", "Orders", "WorkOrder"]


@dataclass(frozen=True, slots=True)
class WorkOrder:
    """A job on one piece of equipment."""

    number: str
    equipment: str = ""
    serial_number: str = ""
    title: str = ""
    cards: tuple[str, ...] = ()
    """Numbers of the task cards planned; those dictated against are added by themselves."""
    opened_by: str = ""
    opened_at: datetime | None = None
    state: Literal["open", "complete"] = "open"


@dataclass(frozen=True, slots=True)
class OrderStatus:
    """Whether a work order is complete, and why not."""

    order: WorkOrder
    items: tuple[OpenItem, ...]

    @property
    def complete(self) -> bool:
        return not any(item.blocks for item in self.items)


@dataclass(frozen=True, slots=True)
class Done:
    """One step that somebody did, and where it is recorded."""

    card: str
    step: str
    performed_by: str
    signed_by: str
    at: datetime
    record: str


@dataclass(frozen=True, slots=True)
class LastDictation:
    """Where the last dictation on a work order stopped."""

    note: str
    by: str
    at: datetime
    card: str
    step: str | None
    text: str
    """What was said in the last take."""


@dataclass(frozen=True, slots=True)
class Handover:
    """What the next shift must know."""

    status: OrderStatus
    done: tuple[Done, ...]
    last: LastDictation | None


class Orders:
    """Work orders by number."""

    def __init__(
        self,
        connections: Connections,
        ledger: Ledger,
        clock: Clock,
        people: People,
        cards: CardShelf,
    ) -> None:
        self._connections = connections
        self._ledger = ledger
        self._clock = clock
        self._people = people
        self._cards = cards
        self._notes: Notes
        self._records: Records

    def read_from(self, notes: Notes, records: Records) -> None:
        """Where the status is read from; set once by the store."""
        self._notes, self._records = notes, records

    def open(self, order: WorkOrder, *, by: str) -> WorkOrder:
        """Open a work order. Raises Conflict when there is one of that number, Denied."""
        if not order.number.strip() or order.number != order.number.strip():
            raise RecordError("a work order needs a number, without spaces around it")
        self._people.require(by)
        for card in order.cards:
            self._cards.get(card)
        order = replace(order, opened_by=by, opened_at=self._clock.now(), state="open")
        with self._connections.writing() as db:
            if db.execute("SELECT 1 FROM orders WHERE number = ?", [order.number]).fetchone():
                raise Conflict(f"there is a work order {order.number} already")
            db.execute(
                "INSERT INTO orders(number, content) VALUES (?, ?)",
                [order.number, wire.canonical(order).decode()],
            )
            self._ledger.append(
                "work order opened", "order", order.number, wire.digest(order), by=by
            )
        return order

    def ensure(self, number: str, *, by: str) -> WorkOrder:
        """The open work order of that number, opened now when there is none.

        Raises Conflict when it was called complete.
        """
        try:
            order = self.get(number)
        except NotFound:
            return self.open(WorkOrder(number), by=by)
        if order.state == "complete":
            raise Conflict(f"work order {number} was called complete; open it again first")
        return order

    def get(self, number: str) -> WorkOrder:
        """Raises NotFound."""
        row = self._connections.db.execute(
            "SELECT content FROM orders WHERE number = ?", [number]
        ).fetchone()
        if row is None:
            raise NotFound(f"no work order {number!r}")
        return wire.from_plain(WorkOrder, json.loads(row[0]))

    def list(
        self, *, state: Literal["open", "complete"] | None = None, limit: int = 1000
    ) -> tuple[WorkOrder, ...]:
        """Work orders, the latest first."""
        condition = "" if state is None else "WHERE state = :state"
        rows = self._connections.db.execute(
            f"SELECT content FROM orders {condition} ORDER BY rowid DESC LIMIT :limit",
            {"state": state, "limit": limit} if state else {"limit": limit},
        ).fetchall()
        return tuple(wire.from_plain(WorkOrder, json.loads(content)) for (content,) in rows)

    def _write(self, order: WorkOrder, act: str, by: str, **detail: str) -> WorkOrder:
        self._connections.db.execute(
            "UPDATE orders SET content = ? WHERE number = ?",
            [wire.canonical(order).decode(), order.number],
        )
        self._ledger.append(act, "order", order.number, wire.digest(order), by=by, detail=detail)
        return order

    def describe(
        self,
        number: str,
        *,
        by: str,
        equipment: str,
        serial_number: str,
        title: str = "",
        cards: tuple[str, ...] = (),
    ) -> WorkOrder:
        """Say what an open work order is about. Records made before keep what they said."""
        self._people.require(by)
        for card in cards:
            self._cards.get(card)
        with self._connections.writing():
            order = replace(
                self.ensure(number, by=by),
                equipment=equipment,
                serial_number=serial_number,
                title=title,
                cards=cards,
            )
            return self._write(order, "work order described", by)

    def complete(self, number: str, *, by: str) -> WorkOrder:
        """Call a work order complete. Raises Incomplete with all that is open, Denied."""
        self._people.require(by, "reviewer")
        with self._connections.writing():
            status = self.status(number)
            if not status.complete:
                reasons = "\n".join(f"  {i.sentence}" for i in status.items if i.blocks)
                raise Incomplete(f"work order {number} is not complete:\n{reasons}")
            return self._write(replace(status.order, state="complete"), "work order complete", by)

    def reopen(self, number: str, *, by: str, why: str) -> WorkOrder:
        """Open a completed work order again. Raises Denied, RecordError."""
        self._people.require(by, "reviewer")
        if not why.strip():
            raise RecordError("say why the work order is opened again")
        with self._connections.writing():
            return self._write(
                replace(self.get(number), state="open"), "work order opened again", by, why=why
            )

    def _cards_of(
        self, order: WorkOrder, notes: tuple[Note, ...], records: tuple[Record, ...]
    ) -> tuple[Card, ...]:
        """The cards of an order: each in the revision last dictated against, else the current."""
        revisions: dict[str, str | None] = dict.fromkeys(order.cards)
        revisions |= {note.draft.card: note.draft.revision for note in notes}
        revisions |= {record.card: record.revision for record in records}
        return tuple(self._cards.get(*pair) for pair in revisions.items())

    def status(self, number: str) -> OrderStatus:
        """What is open on a work order, and whether it is complete. Raises NotFound."""
        with self._connections.reading():
            order = self.get(number)
            notes = tuple(self._notes.list(work_order=number, state="open"))
            records = self._recorded(number)
            items = list(open_items(self._cards_of(order, notes, records), notes, records))
        if not records and not order.cards and not notes:
            items.append(OpenItem("step not done", f"nothing is recorded on work order {number}"))
        return OrderStatus(order, tuple(items))

    def _recorded(self, number: str) -> tuple[Record, ...]:
        wanted = Filter(work_order=number, state="all", newest_first=False)
        return tuple(self._records.search(wanted))

    def handover(self, number: str) -> Handover:
        """What is open, who did what, and where the last dictation stopped. Raises NotFound."""
        with self._connections.reading():
            status = self.status(number)
            records = self._recorded(number)
            replaced = {record.supersedes for record in records}
            done = tuple(
                Done(r.card, step, r.performed_by, r.signature.by, r.performed_at, r.id)
                for r in records
                if r.id not in replaced and r.inspects is None
                for step in dict.fromkeys(d.step for d in r.decisions)
            )
            last = max(
                (_dictation(note) for note in self._notes.list(work_order=number)),
                key=lambda dictation: dictation.at,
                default=None,
            )
        return Handover(status, done, last)


def _dictation(note: Note) -> LastDictation:
    draft = note.draft
    take = draft.takes[-1] if draft.takes else None
    at = (take.recorded_at if take else None) or note.created_at
    said = draft.step or (draft.values[-1].step if draft.values else None)
    text = take.transcript.text if take else ""
    return LastDictation(note.id, note.by, at, draft.card, said, text)
