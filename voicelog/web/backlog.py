"""Recordings that were handed in, heard beside the pages; the job table says which.

A thread looks after the hands that do the work: processes of low priority here, or a
cluster. They are taken on when something is in line and let go when nothing has been for a
while, for a loaded model takes memory.
"""

from __future__ import annotations

import logging
import os
import threading
import time
from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING

from voicelog.errors import VoicelogError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from voicelog.pipeline import Chain
    from voicelog.records import Store
    from voicelog.work.follow import Hands

log = logging.getLogger("voicelog.web")

LOOK_S = 0.3
"""Pause between two looks at the hands at work."""
IDLE_S = 2.0
"""Between two looks for what others have put in line; what comes through the pages wakes up."""
REST_S = 300.0
"""Hands without work are kept for so long."""
RETRY_S = 15.0
"""Pause after something went wrong with the hands themselves."""
_END_S = 3.0
"""So long a recording may be finished when the server ends; later it is given back."""
_CLUSTER_S = 20.0
"""So long a cluster may be away before the work is done here."""


def in_the_background(model: str, profile: str, threads: int) -> Chain:
    """The chain of a process that steps back behind those who wait for their words."""
    from voicelog.work import worker

    os.nice(10)
    return worker.whisper(model or None, profile, threads)


def own(store: Store, model: str, profile: str, workers: int) -> Callable[[], Hands]:
    """Takes on `workers` processes of this machine."""

    def take_on() -> Hands:
        from voicelog.work import crew, follow

        make = partial(in_the_background, model, profile, crew.share(workers))
        return follow.CrewHands(store, make, workers, backlog=1, patience_s=_END_S)

    return take_on


def cluster(store: Store, url: str, model: str, profile: str) -> Callable[[], Hands]:
    """Takes on a cluster."""

    def take_on() -> Hands:
        from voicelog.cluster import ClusterHands

        return ClusterHands(store, url, model or None, profile, patience_s=_CLUSTER_S)

    return take_on


class Backlog:
    """Begin it with the server, close it with the server; between, it looks after itself."""

    def __init__(self, store: Store, choices: Sequence[Callable[[], Hands]]) -> None:
        """`choices` take hands on: the first by preference, the next when that one fails."""
        self._store = store
        self._choices = tuple(choices)
        self._choice = 0
        self._hands: Hands | None = None
        self._worked_at = 0.0
        self._stop, self._wake = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="backlog", daemon=True)
        self.trouble = ""
        """Why nobody works, or why it is not who should, in plain words."""

    def begin(self) -> None:
        if self._choices:
            self._thread.start()

    def close(self) -> None:
        """Give back what is not finished; it is heard when the server runs again."""
        self._stop.set()
        self._wake.set()
        if self._thread.is_alive():
            self._thread.join()

    def wake(self) -> None:
        """Something was put in line."""
        self._wake.set()

    def _run(self) -> None:
        pause_s = 0.0
        while not self._stop.is_set():
            self._wake.wait(pause_s)
            self._wake.clear()
            if self._stop.is_set():
                break
            try:
                pause_s = self._look()
            except (VoicelogError, OSError) as error:
                log.warning("recordings in line: %s", error)
                self.trouble = str(error)
                self._let_go()
                self._choice = (self._choice + 1) % len(self._choices)
                pause_s = 0.0 if self._choice else RETRY_S
        self._let_go()

    def _look(self) -> float:
        """Work, or see to it; how long nothing has to be done afterwards, in seconds."""
        if not self._store.jobs.pending():
            if time.monotonic() - self._worked_at > REST_S:
                self._let_go()
                self._choice = 0
            return IDLE_S
        if self._hands is None:
            self._hands = self._choices[self._choice]()
        self._worked_at = time.monotonic()
        busy = self._hands.look()
        if not self._choice:
            self.trouble = ""
        return 0.0 if busy else LOOK_S

    def _let_go(self) -> None:
        hands, self._hands = self._hands, None
        if hands is not None:
            with suppress(VoicelogError, OSError):
                hands.close()
