"""Notes: dictated drafts that wait for a person."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from voicelog import wire
from voicelog.errors import Conflict, NotFound, RecordError
from voicelog.objects import Note

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.objects import Decision, Draft, NoteState
    from voicelog.records.audio import AudioShelf
    from voicelog.records.cards import CardShelf
    from voicelog.records.clock import Clock
    from voicelog.records.connection import Connections
    from voicelog.records.ledger import Ledger
    from voicelog.records.orders import Orders
    from voicelog.records.people import People


@dataclass(frozen=True, slots=True)
class QueueEntry:
    """One note that waits, as a list shows it."""

    id: str
    work_order: str
    card: str
    step: str | None
    by: str
    created_at: datetime
    doubt: int
    """How many values, omissions and warnings need a look."""
    affirmed: int
    """How many of these values the mechanic affirmed by voice."""
    version: int


def doubt_of(draft: Draft) -> tuple[int, int]:
    """How many things about a draft need a person's look; how many of them were affirmed by voice.

    An affirmed value still has to be looked at, but counts half in the order of the queue.
    """
    doubtful = [v for v in draft.values if v.needs_check or v.limit in ("below", "above")]
    others = len(draft.missing) + len(draft.warnings) + len(draft.unplaced)
    return len(doubtful) + others, sum(value.affirmed for value in doubtful)


class Notes:
    """Drafts by number. A note only grows: no take of it is ever dropped."""

    def __init__(
        self,
        connections: Connections,
        ledger: Ledger,
        clock: Clock,
        people: People,
        cards: CardShelf,
        orders: Orders,
        audio: AudioShelf,
    ) -> None:
        self._connections = connections
        self._ledger = ledger
        self._clock = clock
        self._people = people
        self._cards = cards
        self._orders = orders
        self._audio = audio

    def add(self, draft: Draft, work_order: str, by: str, *, token: str | None = None) -> Note:
        """Keep a draft dictated by the mechanic `by`; it is on the disk when this returns.

        The work order is opened when it isn't known yet. The same `token` again gives the
        note of the first time (a caller that was interrupted may simply try again).
        Raises NotFound (person, card), Denied, RecordError (recording not on the shelf).
        """
        self._people.require(by, "mechanic", "reviewer")
        self._cards.get(draft.card, draft.revision)
        with self._connections.writing() as db:
            if token is not None:
                row = db.execute("SELECT content FROM notes WHERE token = ?", [token]).fetchone()
                if row:
                    return _note(row[0])
            self._orders.ensure(work_order, by=by)
            seq = db.execute("SELECT coalesce(max(seq), 0) + 1 FROM notes").fetchone()[0]
            note = Note(f"N-{seq:06d}", work_order, by, self._clock.now(), draft)
            db.execute(
                "INSERT INTO notes(seq, id, content, doubt, affirmed, token)"
                " VALUES (?, ?, ?, ?, ?, ?)",
                [seq, note.id, wire.canonical(note).decode(), *doubt_of(draft), token],
            )
            self._book_audio(note)
            self._ledger.append(
                "note added", "note", note.id, wire.digest(note), by=by,
                detail={"work_order": work_order, "card": draft.card},
            )  # fmt: skip
        return note

    def _book_audio(self, note: Note) -> None:
        digests = {take.audio_sha256 for take in note.draft.takes if take.audio_sha256}
        for sha256 in sorted(digests):
            if not self._audio.has(sha256):
                raise RecordError(f"recording {sha256} is not on the shelf; keep it first")
            self._connections.db.execute(
                "INSERT OR IGNORE INTO note_audio(note, sha256) VALUES (?, ?)", [note.id, sha256]
            )

    def get(self, id: str) -> Note:
        """Raises NotFound."""
        row = self._connections.db.execute(
            "SELECT content FROM notes WHERE id = ?", [id]
        ).fetchone()
        if row is None:
            raise NotFound(f"no note {id!r}; open notes are listed by: voicelog review")
        return _note(row[0])

    def current(self, id: str, version: int) -> Note:
        """The open note, if it is still at that version. Raises Conflict, NotFound."""
        note = self.get(id)
        if note.state != "open":
            raise Conflict(f"note {id} is {note.state} already; nothing was changed")
        if note.version != version:
            raise Conflict(
                f"note {id} was changed by somebody else (it is at version {note.version}, "
                f"yours is {version}); look at it again, nothing was lost"
            )
        return note

    def _put(self, note: Note, act: str, by: str, **detail: str) -> Note:
        self._connections.db.execute(
            "UPDATE notes SET content = ?, doubt = ?, affirmed = ? WHERE id = ?",
            [wire.canonical(note).decode(), *doubt_of(note.draft), note.id],
        )
        self._book_audio(note)
        self._ledger.append(act, "note", note.id, wire.digest(note), by=by, detail=detail)
        return note

    def update(self, id: str, version: int, draft: Draft, *, by: str) -> Note:
        """Put a draft in the place of version `version`: takes were added, or read anew.

        Its takes must begin with those that are kept. Decisions on values that changed are
        dropped. Raises Conflict when somebody was quicker, NotFound, Denied, RecordError.
        """
        self._people.require(by, "mechanic", "reviewer")
        with self._connections.writing():
            note = self.current(id, version)
            if draft.takes[: len(note.draft.takes)] != note.draft.takes:
                raise RecordError(f"note {id}: a take that was kept can't be dropped or changed")
            if (draft.card, draft.revision) != (note.draft.card, note.draft.revision):
                self._cards.get(draft.card, draft.revision)
            before = {value.key: value for value in note.draft.values}
            after = {value.key: value for value in draft.values}
            decisions = tuple(d for d in note.decisions if before.get(d.key) == after.get(d.key))
            note = replace(note, draft=draft, version=version + 1, decisions=decisions)
            return self._put(note, "note changed", by)

    def decide(self, id: str, version: int, decisions: tuple[Decision, ...], *, by: str) -> Note:
        """Keep a review that was begun; it binds nobody until it is signed.

        Raises Conflict, NotFound, Denied.
        """
        self._people.require(by, "reviewer")
        with self._connections.writing():
            note = replace(self.current(id, version), decisions=decisions, version=version + 1)
            return self._put(note, "decisions kept", by)

    def withdraw(self, id: str, version: int, *, by: str, why: str) -> Note:
        """Take a note out of the queue for good; it and its recordings stay on file.

        Only who dictated it or a reviewer may. Raises Conflict, NotFound, Denied.
        """
        if not why.strip():
            raise RecordError("say why the note is withdrawn")
        with self._connections.writing():
            note = self.current(id, version)
            if by == note.by:
                self._people.require(by)
            else:
                self._people.require(by, "reviewer")
            note = replace(note, state="withdrawn", version=version + 1)
            return self._put(note, "note withdrawn", by, why=why)

    def confirmed(self, note: Note, *, by: str) -> Note:
        """Mark a note as confirmed; called by the records room when a record was signed."""
        note = replace(note, state="confirmed", version=note.version + 1, decisions=())
        return self._put(note, "note confirmed", by)

    def queue(self, limit: int = 50, offset: int = 0) -> tuple[QueueEntry, ...]:
        """Open notes: the most doubtful first, among equals the oldest first."""
        rows = self._connections.db.execute(
            "SELECT id, work_order, card, content ->> '$.draft.step', by,"
            " content ->> '$.created_at', doubt, affirmed, coalesce(content ->> '$.version', 1)"
            " FROM notes WHERE state = 'open'"
            " ORDER BY 2 * doubt - affirmed DESC, seq LIMIT ? OFFSET ?",
            [limit, offset],
        ).fetchall()
        return tuple(
            QueueEntry(
                id=row[0],
                work_order=row[1],
                card=row[2],
                step=row[3],
                by=row[4],
                created_at=datetime.fromisoformat(row[5]),
                doubt=row[6],
                affirmed=row[7],
                version=row[8],
            )
            for row in rows
        )

    def waiting(self) -> int:
        """How many notes are open."""
        row = self._connections.db.execute(
            "SELECT count(*) FROM notes WHERE state = 'open'"
        ).fetchone()
        return int(row[0])

    def list(
        self, *, work_order: str | None = None, state: NoteState | None = None
    ) -> Iterator[Note]:
        """Notes in the order in which they came; read in pages."""
        # Only the conditions that were given: "x IS NULL OR ..." would keep off the index.
        given = {"work_order": work_order, "state": state}
        conditions = [
            f" AND {name} = :{name}" for name, value in given.items() if value is not None
        ]
        query = (
            f"SELECT seq, content FROM notes WHERE seq > :after{''.join(conditions)}"
            " ORDER BY seq LIMIT 200"
        )
        after = 0
        while True:
            rows = self._connections.db.execute(query, given | {"after": after}).fetchall()
            if not rows:
                return
            for after, content in rows:  # noqa: B007 — the last one is where the next page begins
                yield _note(content)


def _note(content: str) -> Note:
    return wire.from_plain(Note, json.loads(content))
