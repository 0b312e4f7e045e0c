"""One worker: lease some jobs, hear them, keep their drafts; its heart beats meanwhile."""

from __future__ import annotations

import logging
import os
import socket
import threading
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from voicelog.errors import AudioError, CardError, Conflict, HomeError, RecordError, VoicelogError
from voicelog.records.jobs import LEASE_S
from voicelog.work import intake
from voicelog.work.task import Result, perform

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from pathlib import Path

    from voicelog.pipeline import Chain
    from voicelog.records import Job, Store
    from voicelog.work.task import Task

log = logging.getLogger("voicelog.work")

BATCH = 32
"""Most jobs leased at once: only recordings of about the same length are decoded together, and
among so many there are some."""


def whisper(model: str | None = None, profile: str = "standard", threads: int = 0) -> Chain:
    """The chain with the real recogniser on `threads` cores. Raises ModelError."""
    from voicelog.pipeline import Chain
    from voicelog.speech.recognise import WhisperRecogniser

    return Chain(WhisperRecogniser(model, profile=profile, cpu_threads=threads))


def my_name(pid: int | None = None) -> str:
    """This process, or that one of this machine, as it stands in the job table."""
    return f"{socket.gethostname()}:{pid or os.getpid()}"


def bury(store: Store) -> int:
    """Free what processes of this machine held that are no more; how many jobs.

    Others have to wait until the lease has run out: nobody here can know how they are.
    """
    held = {job.worker for job in store.jobs.list("leased", limit=100_000)}
    return sum(store.jobs.abandon(worker) for worker in held if _dead(worker))


def _dead(worker: str) -> bool:
    host, _, pid = worker.rpartition(":")
    return host == socket.gethostname() and pid.isdecimal() and not _alive(int(pid))


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


class Worker:
    """Works on the job table in this thread; makes its chain at the first job."""

    def __init__(
        self,
        store: Store,
        make: Callable[[], Chain],
        name: str = "",
        *,
        batch: int = BATCH,
        lanes: int = 1,
        lease_s: float = LEASE_S,
    ) -> None:
        """`lanes`: so many recordings are heard side by side, by a chain that allows it."""
        self._lanes = lanes
        self._store = store
        self._make = make
        self._chain: Chain | None = None
        self._name = name or my_name()
        self._batch = batch
        self._lease_s = lease_s

    def step(self, only: Iterable[str] | None = None) -> tuple[Job, ...]:
        """Lease and work on one batch (of the jobs in `only`); the jobs that it ended.

        Empty when there was nothing to lease. Raises what is wrong with this machine rather
        than with a recording (ModelError, HomeError); the jobs are handed back then.
        """
        jobs = self._store.jobs.lease(self._name, self._batch, only=only, lease_s=self._lease_s)
        if not jobs:
            return ()
        with beating(self._store, jobs, self._lease_s):
            try:
                self._work(jobs)
            except BaseException:
                hand_back(self._store, jobs)
                raise
        return tuple(self._store.jobs.get(job.id) for job in jobs)

    def _work(self, jobs: tuple[Job, ...]) -> None:
        chain = self._chain = self._chain or self._make()
        work = [
            (job, intake.task(self._store, job.request), path)
            for job, path in prepared(self._store, jobs)
        ]
        try:
            results = perform(chain, [(task, path) for _, task, path in work], self._lanes)
        except VoicelogError:
            raise
        except Exception:
            log.exception("a batch failed; its recordings are tried one by one")
            for job, task, path in work:
                self._alone(chain, job, task, path)
            return
        for (job, *_), result in zip(work, results, strict=True):
            close(self._store, job, result)

    def _alone(self, chain: Chain, job: Job, task: Task, path: Path) -> None:
        """One recording; what it breaks counts as a try, and the last one gives it up."""
        try:
            (result,) = perform(chain, [(task, path)])
        except VoicelogError:
            raise
        except Exception as error:
            log.exception("job %s failed", job.id)
            hand_back(self._store, (job,), f"unexpected: {error!r}")
        else:
            close(self._store, job, result)


def prepared(store: Store, jobs: Iterable[Job]) -> list[tuple[Job, Path]]:
    """Each job with its recording; one whose recording or card is gone fails here."""
    ready = []
    for job in jobs:
        try:
            intake.task(store, job.request)
            ready.append((job, store.audio.path(job.request.audio)))
        except HomeError:
            raise
        except RecordError as error:
            close(store, job, Result(error=str(error)))
    return ready


def close(store: Store, job: Job, result: Result) -> None:
    """Write down what became of a job. A job that somebody else took over is left to them."""
    with suppress(Conflict):
        if result.draft is None:
            store.jobs.fail(job, result.error)
            return
        try:
            store.jobs.finish(job, result.draft, result.work_order)
        except HomeError:
            raise
        except (AudioError, CardError, RecordError) as error:
            # also a work order called complete meanwhile, or a person who has left: the
            # lease decides, inside `fail`, whether this worker may say so
            store.jobs.fail(job, str(error))


def hand_back(store: Store, jobs: Iterable[Job], reason: str = "") -> None:
    """Give back those of `jobs` that are still held."""
    for job in jobs:
        with suppress(VoicelogError):
            store.jobs.hand_back(job, reason)


@contextmanager
def beating(store: Store, jobs: Sequence[Job], lease_s: float) -> Iterator[None]:
    """Keep the leases of `jobs` alive from a thread of its own."""
    stop = threading.Event()

    def beat() -> None:
        while not stop.wait(lease_s / 4):
            try:
                store.jobs.beat(jobs, lease_s=lease_s)
            except HomeError as error:
                log.warning("leases could not be renewed: %s", error)

    thread = threading.Thread(target=beat, name="heartbeat", daemon=True)
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join()
