"""From the job table to its drafts: put workers on some jobs and report each as it ends."""

from __future__ import annotations

import time
from contextlib import closing
from typing import TYPE_CHECKING, Protocol

from voicelog.work.crew import IDLE_S, Crew, fair_batch
from voicelog.work.worker import Worker, bury

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from voicelog.pipeline import Chain
    from voicelog.records import Job, Store


class Hands(Protocol):
    """Whoever works on the job table: this process, a crew of processes, or a cluster."""

    def look(self) -> bool:
        """Do or supervise some work; whether there was any to do here."""
        ...

    def close(self) -> None: ...


class OwnHands:
    """One worker in this very process."""

    def __init__(
        self,
        store: Store,
        make: Callable[[], Chain],
        *,
        only: Sequence[str] | None = None,
        lanes: int = 1,
    ) -> None:
        self._worker = Worker(store, make, lanes=lanes)
        self._store = store
        self._only = only
        self._looked_s = float("-inf")

    def look(self) -> bool:
        """One batch. Frees, now and then, what dead processes hold."""
        if time.monotonic() - self._looked_s > 5:
            bury(self._store)
            self._looked_s = time.monotonic()
        return bool(self._worker.step(self._only))

    def close(self) -> None:
        """Nothing is held between batches."""


class CrewHands:
    """Several processes."""

    def __init__(
        self,
        store: Store,
        make: Callable[[], Chain],
        workers: int,
        *,
        only: Sequence[str] | None = None,
        backlog: int = 0,
        patience_s: float = 30.0,
    ) -> None:
        bury(store)
        batch = fair_batch(backlog or 8 * workers, workers)
        self._crew = Crew(store, make, workers, only=only, batch=batch, patience_s=patience_s)

    def look(self) -> bool:
        self._crew.look()
        return False  # others work; this process only waits

    def close(self) -> None:
        self._crew.close()


def until_ended(store: Store, ids: Sequence[str], hands: Hands) -> Iterator[Job]:
    """Each of the jobs `ids` when it has ended, done or failed. Closes `hands` at the end."""
    with closing(hands):
        left = dict.fromkeys(ids)
        while True:
            for job in store.jobs.ended(left):
                del left[job.id]
                yield job
            if not left:
                return
            if not hands.look():
                time.sleep(IDLE_S)
