"""Utterances that are more than this machine can hear at once, sent to a cluster."""

from __future__ import annotations

import asyncio
import logging
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Protocol, TypeVar

from voicelog.errors import ClusterError, NoSpeech

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np

    from voicelog.objects import Card, Take
    from voicelog.web.recognition import Utterance

T = TypeVar("T")

log = logging.getLogger("voicelog.web")

LONG = 2
"""So many utterances before one's own here are a long queue: text would come too late."""
SHUT_S = 30.0
"""After a failure nothing is sent for so long: each try makes somebody wait."""
PATIENCE_S = 6.0
"""An answer that takes longer is not waited for: the utterance is heard here."""
_LANES = 16


class Far(Protocol):
    """What hears elsewhere: `voicelog.cluster.Live`."""

    def connect(self) -> None: ...

    def hear(
        self, samples: np.ndarray, card: Card | None, step: str | None, timeout_s: float
    ) -> Take: ...

    def close(self) -> None: ...


class Overflow:
    """Sends utterances away while the queue here is long, as long as that works."""

    def __init__(self, far: Far, patience_s: float = PATIENCE_S) -> None:
        self._far = far
        self._patience_s = patience_s
        self._threads = ThreadPoolExecutor(_LANES, thread_name_prefix="overflow")
        self._shut_until = 0.0
        self.heard = 0
        """Utterances that were heard there."""
        self.trouble = ""
        """Why nothing is sent at the moment, in plain words."""

    def takes(self, ahead: int) -> bool:
        """Whether an utterance goes there when `ahead` of them wait here."""
        return ahead >= LONG and time.monotonic() >= self._shut_until

    async def connect(self) -> None:
        """Find the cluster before somebody waits for it."""
        with suppress(ClusterError):
            await self._ask(self._far.connect)

    async def hear(self, utterance: Utterance) -> Take:
        """What was said. Raises NoSpeech, and ClusterError: it must be heard here then."""
        take = await self._ask(
            partial(
                self._far.hear,
                utterance.samples,
                utterance.card,
                utterance.step,
                self._patience_s,
            )
        )
        self.heard += 1
        return take

    async def _ask(self, work: Callable[[], T]) -> T:
        try:
            answer = await asyncio.get_running_loop().run_in_executor(self._threads, work)
        except ClusterError as error:
            log.warning("%s; what is said is heard on this machine alone", error)
            self.trouble = str(error)
            self._shut_until = time.monotonic() + SHUT_S
            raise
        except NoSpeech:
            self.trouble = ""
            raise
        self.trouble = ""
        return answer

    def close(self) -> None:
        """Leave the cluster."""
        self._threads.shutdown(wait=False, cancel_futures=True)
        self._far.close()
