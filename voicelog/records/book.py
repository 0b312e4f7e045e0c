"""The records: signed content, appended, superseded, never changed."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from voicelog import wire
from voicelog.errors import Conflict, Incomplete, NotFound
from voicelog.objects import Record
from voicelog.records import keys, search
from voicelog.records.acts import Confirmation, Shown
from voicelog.records.registers import bare
from voicelog.records.signing import Desk, signed_bytes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.objects import Card, Note
    from voicelog.records.acts import Act
    from voicelog.records.search import Filter
    from voicelog.records.settings import Settings
    from voicelog.records.store import Store

PAGE = 200
"""Records read at once while searching."""


class Records:
    """Signing acts, and finding what was signed."""

    def __init__(self, store: Store, settings: Settings) -> None:
        self._store = store
        self._desk = Desk(store, settings)
        self._connections = store.connections

    # --- signing --------------------------------------------------------------------

    def show(self, act: Act, *, by: str) -> Shown:
        """Exactly what `by` would sign, with verdicts and computed values worked out.

        Raises Denied (not authorised), Conflict (changed meanwhile), NotFound. What can be
        put right by deciding otherwise is among the `problems`.
        """
        with self._connections.reading():
            return self._desk.build(act, self._store.people.require(by, "reviewer"))

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
            shown = self._desk.build(act, person)
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
