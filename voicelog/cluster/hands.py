"""The job table worked on by a cluster.

Leases are held here, by the one who asks, and renewed as long as this process lives; the
cluster only computes. So it does not matter what the cluster forgets: a batch whose answer
does not come is put in line again and sent to whoever is there then.
"""

from __future__ import annotations

import itertools
import json
import logging
import threading
import time
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from voicelog import wire
from voicelog.cluster import connection, remote
from voicelog.errors import ClusterError, HomeError
from voicelog.records.jobs import LEASE_S
from voicelog.work import intake
from voicelog.work.crew import fair_batch
from voicelog.work.worker import bury, close, hand_back, my_name, prepared

if TYPE_CHECKING:
    from collections.abc import Sequence

    from distributed import Client, Future

    from voicelog.records import Job, Store

log = logging.getLogger("voicelog.cluster")

AHEAD = 2
"""Batches in the cluster for each of its workers: one is heard, one waits."""
PATIENCE_S = 120.0
"""So long a scheduler may be away before this gives up; the jobs are kept."""
_OVERDUE_S = 1800.0
"""A batch without an answer for so long is sent again."""


@dataclass(frozen=True, slots=True)
class _Sent:
    """A batch that is in the cluster."""

    jobs: tuple[Job, ...]
    future: Future
    at_s: float


class ClusterHands:
    """Sends jobs to a cluster; one process of these for a home is enough."""

    def __init__(
        self,
        store: Store,
        url: str,
        model: str | None = None,
        profile: str = "standard",
        *,
        only: Sequence[str] | None = None,
        lease_s: float = LEASE_S,
        patience_s: float = PATIENCE_S,
    ) -> None:
        """Connect. Raises ClusterError, ModelError."""
        self._store = store
        self._url = url
        self._only = only
        self._lease_s = lease_s
        self._patience_s = patience_s
        self._terms = remote.terms(model, profile)
        self._client: Client | None = connection.connect(url)
        self._away_since: float | None = None
        self._unfit: dict[str, str] = {}
        self._sent: list[_Sent] = []
        self._number = itertools.count()
        self._stop = threading.Event()
        bury(store)
        self._heart = threading.Thread(target=self._beat, name="heartbeat", daemon=True)
        self._heart.start()

    def look(self) -> bool:
        """Collect answers, send what is in line. Raises ClusterError when nobody can do it."""
        client = self._connected()
        if client is None:
            return False
        try:
            return self._collect() | self._send(client)
        except HomeError:
            raise
        except (OSError, RuntimeError) as error:  # the connection broke in the middle
            log.warning("%s: %s", self._url, error)
            self._drop()
            return False

    def close(self) -> None:
        """Give back what has no answer yet."""
        self._stop.set()
        self._heart.join()
        self._drop()

    # --- the connection ----------------------------------------------------------

    def _connected(self) -> Client | None:
        if self._client is not None and self._client.status == "running":
            self._away_since = None
            return self._client
        if self._client is not None:
            log.warning("%s: the scheduler has gone; what it had is sent again", self._url)
            self._drop()
        now = time.monotonic()
        self._away_since = self._away_since or now
        try:
            self._client = connection.connect(self._url, timeout_s=3)
        except ClusterError as error:
            if now - self._away_since > self._patience_s:
                raise ClusterError(
                    f"{error}; the jobs are kept: give the command again when it is back, or "
                    "work on them here with: voicelog jobs work"
                ) from error
            return None
        self._unfit.clear()
        return self._client

    def _drop(self) -> None:
        """Forget the cluster, and give back what it had."""
        for sent in self._sent:
            hand_back(self._store, sent.jobs)
        self._sent.clear()
        client, self._client = self._client, None
        if client is not None:
            with suppress(Exception):  # it is gone already
                client.close(timeout=2)

    # --- out ---------------------------------------------------------------------

    def _send(self, client: Client) -> bool:
        workers = [worker for worker in _workers(client) if worker not in self._unfit]
        if not workers:
            if self._unfit:
                raise ClusterError(
                    f"{self._url}: no worker can be used: {_sentence(self._unfit)}; "
                    "install the same version there. The jobs are kept"
                )
            return False
        busy = False
        while len(self._sent) < AHEAD * len(workers):
            backlog = self._store.jobs.counts()["queued"]
            jobs = self._store.jobs.lease(
                my_name(),
                fair_batch(backlog, len(workers)),
                only=self._only,
                lease_s=self._lease_s,
            )
            if not jobs:
                break
            busy = True
            self._submit(client, jobs, workers)
        return busy

    def _submit(self, client: Client, jobs: tuple[Job, ...], workers: list[str]) -> None:
        ready = prepared(self._store, jobs)
        if not ready:
            return
        order = {
            "terms": wire.to_plain(self._terms),
            "tasks": [wire.to_plain(intake.task(self._store, job.request)) for job, _ in ready],
        }
        held = tuple(job for job, _ in ready)
        try:
            future = client.submit(
                remote.hear,
                json.dumps(order),
                [path.read_bytes() for _, path in ready],
                key=f"voicelog-{my_name()}-{next(self._number)}",
                workers=workers if self._unfit else None,
                pure=False,
            )
        except BaseException:
            hand_back(self._store, held)
            raise
        self._sent.append(_Sent(held, future, time.monotonic()))

    # --- back --------------------------------------------------------------------

    def _collect(self) -> bool:
        busy = False
        for sent in list(self._sent):
            status = sent.future.status
            if status == "pending" and time.monotonic() - sent.at_s < _OVERDUE_S:
                continue
            self._sent.remove(sent)
            busy = True
            if status == "finished":
                self._answered(sent, str(sent.future.result(timeout=30)))
            elif status == "error":
                error = sent.future.exception(timeout=30)
                log.warning("a batch failed in the cluster: %s", error)
                hand_back(self._store, sent.jobs, f"failed in the cluster: {error}")
            else:  # cancelled or lost with the scheduler, or overdue: nobody's fault
                with suppress(Exception):
                    sent.future.cancel()
                hand_back(self._store, sent.jobs)
        return busy

    def _answered(self, sent: _Sent, answer: str) -> None:
        why = json.loads(answer).get("unfit")
        if why:
            hand_back(self._store, sent.jobs)
            self._exclude(sent.future, why)
            return
        for job, result in zip(sent.jobs, remote.results_of(answer), strict=True):
            close(self._store, job, result)

    def _exclude(self, future: Future, why: str) -> None:
        """Send nothing more to the worker that answered with its being unfit."""
        client = self._client
        holders = client.who_has([future]) if client is not None else {}
        for worker in itertools.chain.from_iterable(holders.values()):
            if worker not in self._unfit:
                log.warning("worker %s is not used: it %s", worker, why)
            self._unfit[worker] = why

    def _beat(self) -> None:
        while not self._stop.wait(self._lease_s / 4):
            jobs = [job for sent in tuple(self._sent) for job in sent.jobs]
            if jobs:
                try:
                    self._store.jobs.beat(jobs, lease_s=self._lease_s)
                except HomeError as error:
                    log.warning("leases could not be renewed: %s", error)


def _workers(client: Client) -> list[str]:
    info: dict[str, Any] = client.scheduler_info(n_workers=-1)
    return list(info["workers"])


def _sentence(unfit: dict[str, str]) -> str:
    return "; ".join(f"{worker} {why}" for worker, why in sorted(unfit.items()))
