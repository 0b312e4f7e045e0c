"""The job table: recordings that are still to be heard, and what became of each.

It is the single truth about unfinished work. A worker leases a job for a while and keeps the
lease alive with a heartbeat; every lease has a higher fencing token than the one before, so
a worker that was slow or cut off can't finish a job that somebody else has taken over. The
draft and the end of the job are written in one transaction: a job that is done has exactly
one draft, and a job that is not has none.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Literal

from voicelog import cards, wire
from voicelog.errors import Conflict, NotFound, RecordError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from voicelog.objects import Draft, Note
    from voicelog.records.audio import AudioShelf
    from voicelog.records.cards import CardShelf
    from voicelog.records.clock import Clock
    from voicelog.records.connection import Connections
    from voicelog.records.notes import Notes
    from voicelog.records.people import People

JobState = Literal["queued", "leased", "done", "failed"]

LEASE_S = 60.0
"""How long a worker may be silent before somebody else takes its job over."""
MAX_TRIES = 3
"""A job whose workers stopped this often is given up: the recording may be what stops them."""
_COLUMNS = "seq, content, state, tries, fence, worker, lease_until, reason, note"


@dataclass(frozen=True, slots=True)
class Request:
    """A recording on the shelf, and what is known about it."""

    audio: str
    """SHA-256 of the recording."""
    name: str
    """What the recording was called where it came from."""
    by: str
    """Who dictated it."""
    work_order: str = ""
    """Empty when the recording itself says it (`announced`)."""
    card: str = ""
    revision: str = ""
    """Revision of the card; empty: the current one when the recording is heard."""
    step: str | None = None
    announced: bool = False
    """It may begin by saying work order, card and step: listened for, used where they are not
    known, and compared where they are."""
    recorded_at: datetime | None = None

    @property
    def token(self) -> str:
        """The same recording for the same work order, card and step is the same job."""
        place = (self.work_order or "?", self.card or "?", self.step or "")
        return " ".join((*place, self.audio))


@dataclass(frozen=True, slots=True)
class Job:
    """A request, and how far it is."""

    id: str
    request: Request
    state: JobState
    tries: int = 0
    """How often a worker began it."""
    fence: int = 0
    """Fencing token: number of the lease that may finish it."""
    worker: str = ""
    """Who holds or held it."""
    lease_until: datetime | None = None
    reason: str = ""
    """Why it failed, or why it has to be tried again."""
    note: str | None = None
    """Id of the draft it became."""


class Jobs:
    """The table, and the only ways to change it."""

    def __init__(
        self,
        connections: Connections,
        clock: Clock,
        people: People,
        cards: CardShelf,
        notes: Notes,
        audio: AudioShelf,
    ) -> None:
        self._connections = connections
        self._clock = clock
        self._people = people
        self._cards = cards
        self._notes = notes
        self._audio = audio

    # --- put in ------------------------------------------------------------------

    def queue(self, request: Request) -> Job:
        """Put a recording in line; the same request again is the same job, wherever it is.

        The recording must be on the shelf. Raises NotFound (person, card), Denied, CardError
        (step), RecordError.
        """
        self._people.require(request.by, "mechanic", "reviewer")
        if request.card:
            card = self._cards.get(request.card, request.revision or None)
            cards.find_step(card, request.step)
        if not request.announced and not (request.card and request.work_order.strip()):
            raise RecordError(f"{request.name}: work order and card are needed")
        if not self._audio.has(request.audio):
            raise RecordError(f"recording {request.audio} is not on the shelf; keep it first")
        with self._connections.writing() as db:
            found = self._find("token = ?", [request.token])
            if found:
                return found[0]
            seq = db.execute("SELECT coalesce(max(seq), 0) + 1 FROM jobs").fetchone()[0]
            db.execute(
                "INSERT INTO jobs(seq, token, content) VALUES (?, ?, ?)",
                [seq, request.token, wire.canonical(request).decode()],
            )
        return self.get(_id(seq))

    def retry(self, *ids: str) -> tuple[Job, ...]:
        """Put failed jobs in line again: those named, or all. Raises NotFound, Conflict."""
        with self._connections.writing() as db:
            jobs = [self.get(id) for id in ids] if ids else self._find("state = 'failed'", [])
            for job in jobs:
                if job.state != "failed":
                    raise Conflict(f"job {job.id} is {job.state}; only a failed one is tried again")
                db.execute(
                    "UPDATE jobs SET state = 'queued', tries = 0, reason = '' WHERE seq = ?",
                    [_seq(job.id)],
                )
            return tuple(self.get(job.id) for job in jobs)

    # --- worked on ---------------------------------------------------------------

    def lease(
        self,
        worker: str,
        count: int = 1,
        *,
        only: Iterable[str] | None = None,
        lease_s: float = LEASE_S,
    ) -> tuple[Job, ...]:
        """Up to `count` jobs for `worker`, oldest first, of those in `only` when given.

        Jobs whose worker fell silent are taken over, or given up after `MAX_TRIES` tries. A
        job that was tried before comes alone: it shall not take others down with it.
        """
        now = self._now()
        chosen = "" if only is None else " AND seq IN (SELECT value FROM json_each(:only))"
        values = {
            "now": now,
            "worker": worker,
            "until": now + lease_s,
            "count": count,
            "tries": MAX_TRIES,
            "only": json.dumps([_seq(id) for id in only or ()]),
        }
        if self._idle(values):
            return ()  # without asking for the write lock: workers look often
        with self._connections.writing() as db:
            db.execute(
                "UPDATE jobs SET state = 'failed', lease_until = NULL,"
                " reason = 'the worker stopped ' || tries || ' times while it listened to this"
                " recording; try it on a machine with more"
                " memory' WHERE state = 'leased' AND lease_until <= :now AND tries >= :tries",
                {key: values[key] for key in ("now", "tries")},
            )
            rows = db.execute(
                "WITH open AS (SELECT seq, tries FROM jobs WHERE"
                f" (state = 'queued' OR state = 'leased' AND lease_until <= :now){chosen}),"
                " first AS (SELECT seq, tries FROM open ORDER BY seq LIMIT 1)"
                " UPDATE jobs SET state = 'leased', worker = :worker, lease_until = :until,"
                " fence = fence + 1, tries = tries + 1 WHERE seq IN (SELECT open.seq FROM open,"
                " first WHERE open.seq = first.seq OR open.tries = 0 AND first.tries = 0"
                f" ORDER BY open.seq LIMIT :count) RETURNING {_COLUMNS}",
                values,
            ).fetchall()
        return tuple(sorted(map(_job, rows), key=lambda job: job.id))

    def _idle(self, values: dict[str, object]) -> bool:
        return not self._connections.db.execute(
            "SELECT EXISTS (SELECT 1 FROM jobs WHERE state = 'queued'"
            " OR state = 'leased' AND lease_until <= ?)",
            [values["now"]],
        ).fetchone()[0]

    def beat(self, jobs: Sequence[Job], *, lease_s: float = LEASE_S) -> tuple[Job, ...]:
        """Keep leases alive; those of `jobs` that are still held."""
        with self._connections.writing() as db:
            kept = [
                job
                for job in jobs
                if db.execute(
                    "UPDATE jobs SET lease_until = ?"
                    " WHERE seq = ? AND fence = ? AND state = 'leased' RETURNING seq",
                    [self._now() + lease_s, _seq(job.id), job.fence],
                ).fetchall()
            ]
        return tuple(kept)

    def finish(self, job: Job, draft: Draft, work_order: str = "") -> Note:
        """Keep the draft and end the job, both or neither.

        `work_order` is what the recording said where the request left it open. Raises Conflict
        when the lease was lost, and whatever `Notes.add` raises.
        """
        place = work_order or job.request.work_order
        said = replace(job.request, work_order=place, card=draft.card, step=draft.step)
        with self._connections.writing() as db:
            self._hold(job)
            note = self._notes.add(draft, place, job.request.by, token=said.token)
            db.execute(
                "UPDATE jobs SET state = 'done', note = ?, reason = '', lease_until = NULL"
                " WHERE seq = ?",
                [note.id, _seq(job.id)],
            )
        return note

    def fail(self, job: Job, reason: str) -> Job:
        """End the job without a draft: trying again would not help. Raises Conflict."""
        return self._put_down(job, "failed", reason, tries=job.tries)

    def hand_back(self, job: Job, reason: str = "") -> Job:
        """Give a job back for somebody else to try.

        With a `reason` the try counts, and the last one fails the job; without one (the
        worker was asked to stop) it does not. Raises Conflict.
        """
        if not reason:
            return self._put_down(job, "queued", "", tries=job.tries - 1)
        state: JobState = "failed" if job.tries >= MAX_TRIES else "queued"
        return self._put_down(job, state, reason, tries=job.tries)

    def abandon(self, worker: str) -> int:
        """End the leases of a worker that is known to be no more; how many there were.

        Its jobs can be leased at once. The tries count: it may have died of them.
        """
        with self._connections.writing() as db:
            rows = db.execute(
                "UPDATE jobs SET lease_until = 0 WHERE state = 'leased' AND worker = ?"
                " RETURNING seq",
                [worker],
            ).fetchall()
        return len(rows)

    def _put_down(self, job: Job, state: JobState, reason: str, tries: int) -> Job:
        with self._connections.writing() as db:
            self._hold(job)
            db.execute(
                "UPDATE jobs SET state = ?, reason = ?, tries = ?, lease_until = NULL"
                " WHERE seq = ?",
                [state, reason, tries, _seq(job.id)],
            )
            return self.get(job.id)

    def _hold(self, job: Job) -> None:
        now = self.get(job.id)
        if (now.state, now.fence) != ("leased", job.fence):
            raise Conflict(
                f"job {job.id} was taken over by another worker ({now.worker}, {now.state}); "
                "nothing was changed"
            )

    # --- looked at ---------------------------------------------------------------

    def get(self, id: str) -> Job:
        """Raises NotFound."""
        found = self._find("seq = ?", [_seq(id)])
        if not found:
            raise NotFound(f"no job {id!r}; jobs are listed by: voicelog jobs")
        return found[0]

    def list(
        self, state: JobState | None = None, limit: int = 100, offset: int = 0
    ) -> tuple[Job, ...]:
        """Jobs in the order in which they came."""
        return self._find(
            "? IS NULL OR state = ?", [state, state], f"LIMIT {int(limit)} OFFSET {int(offset)}"
        )

    def of(self, by: str, limit: int = 20) -> tuple[Job, ...]:
        """The latest jobs of one person, the newest first."""
        return self._find("by = ?", [by], f"DESC LIMIT {int(limit)}")

    def before(self, id: str) -> int:
        """How many jobs were put in line before that one and have not ended."""
        row = self._connections.db.execute(
            "SELECT count(*) FROM jobs WHERE state IN ('queued', 'leased') AND seq < ?", [_seq(id)]
        ).fetchone()
        return int(row[0])

    def pending(self) -> int:
        """How many jobs have not ended."""
        row = self._connections.db.execute(
            "SELECT count(*) FROM jobs WHERE state IN ('queued', 'leased')"
        ).fetchone()
        return int(row[0])

    def ended(self, ids: Iterable[str]) -> tuple[Job, ...]:
        """Those of the jobs `ids` that are done or have failed."""
        return self._find(
            "seq IN (SELECT value FROM json_each(?)) AND state IN ('done', 'failed')",
            [json.dumps([_seq(id) for id in ids])],
        )

    def of_audio(self, sha256: str) -> tuple[Job, ...]:
        """Every job over the recording with that digest."""
        return self._find("audio = ?", [sha256])

    def counts(self) -> dict[JobState, int]:
        """How many jobs there are in each state."""
        rows = self._connections.db.execute(
            "SELECT state, count(*) FROM jobs GROUP BY state"
        ).fetchall()
        found = dict(rows)
        return {state: found.get(state, 0) for state in ("queued", "leased", "done", "failed")}

    def _find(self, condition: str, values: Sequence[object], tail: str = "") -> tuple[Job, ...]:
        rows = self._connections.db.execute(
            f"SELECT {_COLUMNS} FROM jobs WHERE {condition} ORDER BY seq {tail}", list(values)
        ).fetchall()
        return tuple(map(_job, rows))

    def _now(self) -> float:
        return self._clock.now().timestamp()


def _id(seq: int) -> str:
    return f"J-{seq:06d}"


def _seq(id: str) -> int:
    head, _, figures = id.partition("-")
    return int(figures) if head == "J" and figures.isdecimal() else 0


def _job(row: tuple[object, ...]) -> Job:
    seq, content, state, tries, fence, worker, until, reason, note = row
    return wire.from_plain(
        Job,
        {
            "id": _id(int(str(seq))),
            "request": json.loads(str(content)),
            "state": state,
            "tries": tries,
            "fence": fence,
            "worker": worker,
            "reason": reason,
            "note": note,
            "lease_until": None
            if until is None
            else datetime.fromtimestamp(float(str(until)), UTC).isoformat(),
        },
    )
