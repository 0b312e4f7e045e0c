"""A live utterance heard by the cluster, for a server whose own recogniser is busy."""

from __future__ import annotations

import json
import threading
from contextlib import suppress
from typing import TYPE_CHECKING

from voicelog import wire
from voicelog.cluster import connection, remote
from voicelog.errors import ClusterError, NoSpeech
from voicelog.speech import audio as sound

if TYPE_CHECKING:
    import numpy as np
    from distributed import Client, Future

    from voicelog.objects import Card, Take


class Live:
    """Blocking calls, usable from any thread; the caller falls back on its own recogniser."""

    def __init__(self, url: str, model: str | None = None, profile: str = "standard") -> None:
        """Nothing is connected yet. Raises ClusterError for a wrong address, ModelError."""
        connection.check(url)
        self._url = url
        self._terms = remote.terms(model, profile)
        self._client: Client | None = None
        self._connecting = threading.Lock()

    def connect(self, timeout_s: float = connection.CONNECT_S) -> None:
        """Connect unless that is done. Raises ClusterError."""
        self._connected(timeout_s)

    def _connected(self, timeout_s: float) -> Client:
        with self._connecting:
            if self._client is None or self._client.status != "running":
                self.close()
                self._client = connection.connect(self._url, timeout_s=timeout_s)
            return self._client

    def hear(
        self, samples: np.ndarray, card: Card | None, step: str | None, timeout_s: float = 15.0
    ) -> Take:
        """What was said. Raises NoSpeech, and ClusterError when no answer comes in time."""
        order = {
            "terms": wire.to_plain(self._terms),
            "sha256": sound.of_samples(samples).sha256,
            "card": None if card is None else wire.to_plain(card),
            "step": step,
        }
        future: Future | None = None
        try:
            future = self._connected(timeout_s).submit(
                remote.hear_live,
                json.dumps(order),
                samples.astype("<f4").tobytes(),
                priority=10,  # before any batch
                pure=False,
            )
            answer = str(future.result(timeout=timeout_s))
        except ClusterError:
            raise
        except Exception as error:  # Dask raises whatever its transport or its peer raised
            if future is not None:
                with suppress(Exception):  # nobody waits for it any more
                    future.cancel()
            raise ClusterError(
                f"{self._url}: no answer ({error or type(error).__name__})"
            ) from error
        found = json.loads(answer)
        if "unfit" in found:
            raise ClusterError(f"{self._url}: a worker {found['unfit']}")
        if "silence" in found:
            raise NoSpeech("nobody speaks in this recording; record it again")
        return remote.take_of(answer)

    def close(self) -> None:
        """Leave the cluster."""
        client, self._client = self._client, None
        if client is not None:
            client.close(timeout=2)
