"""Several workers, each in a process of its own with its share of the cores.

A worker that dies (the machine ran out of memory, say) is replaced; what it held is freed at
once and tried again. Workers end with their parent. Each is told to stop by a pipe of its own
that closes: an event shared by all of them would stay locked for ever by one that was killed
while it looked.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import time
from contextlib import suppress
from typing import TYPE_CHECKING, Self

from voicelog.errors import ModelError, VoicelogError
from voicelog.work.worker import BATCH, Worker, bury, hand_back, my_name

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from multiprocessing.connection import Connection
    from multiprocessing.context import SpawnProcess
    from pathlib import Path
    from types import TracebackType

    from voicelog.pipeline import Chain
    from voicelog.records import Store

IDLE_S = 0.2
"""Pause of a worker that found nothing to do."""
_DEATHS = 5
"""So many workers may die in a row without one draft between them."""


def share(workers: int) -> int:
    """Cores for each of `workers` on this machine."""
    return max(1, len(os.sched_getaffinity(0)) // max(1, workers))


def fair_batch(backlog: int, workers: int) -> int:
    """Jobs to lease at once, so that nobody idles while somebody else hoards."""
    return max(1, min(BATCH, backlog // (2 * max(1, workers))))


def _work(
    home: Path, make: Callable[[], Chain], only: Sequence[str] | None, batch: int, parent: int,
    stop: Connection,
) -> None:  # fmt: skip
    from voicelog.records import Store

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent hears it, and asks us to stop

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(0.5)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
    with Store.open(home) as store:
        worker = Worker(store, make, batch=batch)
        while not stop.poll():
            if not worker.step(only):
                stop.poll(IDLE_S)


class Crew:
    """`workers` processes that work on the jobs of a home, until told to stop."""

    def __init__(
        self,
        store: Store,
        make: Callable[[], Chain],
        workers: int,
        *,
        only: Sequence[str] | None = None,
        batch: int = BATCH,
        patience_s: float = 30.0,
    ) -> None:
        """`make` is called in each process, so it must be importable there.

        `patience_s`: so long each may take to finish what it is at when it has to end.
        """
        self._store = store
        self._patience_s = patience_s
        self._context = multiprocessing.get_context("spawn")
        self._arguments = (store.home, make, only, batch, os.getpid())
        self._stopped = False
        self._stops: dict[int | None, Connection] = {}
        """By process: it has to end when this is closed."""
        self._deaths = 0
        self._done = -1
        self._processes = [self._start() for _ in range(workers)]

    def _start(self) -> SpawnProcess:
        stop, held = self._context.Pipe(duplex=False)
        process = self._context.Process(target=_work, args=(*self._arguments, stop), daemon=True)
        process.start()
        stop.close()
        self._stops[process.pid] = held
        return process

    def look(self) -> None:
        """Replace workers that died. Raises ModelError when they die as soon as they start."""
        for place, process in enumerate(self._processes):
            if process.is_alive() or self._stopped:
                continue
            self._stops.pop(process.pid).close()
            bury(self._store)
            done = self._store.jobs.counts()["done"]
            self._deaths = 0 if done != self._done else self._deaths + 1
            self._done = done
            if self._deaths >= _DEATHS:
                raise ModelError(
                    "workers stop as soon as they start; run one recording with: voicelog"
                    " preview, to see why. The jobs are kept"
                )
            self._processes[place] = self._start()

    def close(self) -> None:
        """Let each finish the batch it is at, then end; what one can't finish is given back."""
        self._stopped = True
        while self._stops:
            self._stops.popitem()[1].close()
        until = time.monotonic() + self._patience_s
        with suppress(VoicelogError):  # else the leases run out by themselves
            for process in self._processes:
                process.join(timeout=max(0.0, until - time.monotonic()))
                if process.is_alive():
                    process.kill()
                    process.join()
                    self._give_back(process)
            bury(self._store)

    def _give_back(self, process: SpawnProcess) -> None:
        """What a process held that was told to end: no fault of the recording."""
        held = my_name(process.pid)
        jobs = self._store.jobs.list("leased", limit=100_000)
        hand_back(self._store, [job for job in jobs if job.worker == held])

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
