"""The recogniser in a process of its own: a thread of this one would hold up every page.

There is one such process; utterances of all dictations wait for it in the order in which
they were spoken, and `waiting` says how many there are. If it dies it is started again and
the utterance is heard once more. Where there is a cluster, what would wait too long here
goes there; where that fails, it is heard here after all.
"""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import os
import threading
import time
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from functools import cache, partial
from typing import TYPE_CHECKING, TypeVar

from voicelog.errors import ClusterError, ModelError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import numpy as np

    from voicelog.heard import Transcript
    from voicelog.objects import Card, Draft, Take
    from voicelog.pipeline import Chain
    from voicelog.web.overflow import Overflow

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Utterance:
    """Something that was said, still as sound."""

    samples: np.ndarray
    card: Card
    step: str | None


def whisper(model: str, profile: str) -> Chain:
    """The chain with a real recogniser. Raises ModelError."""
    from voicelog.pipeline import Chain
    from voicelog.speech.recognise import WhisperRecogniser

    return Chain(WhisperRecogniser(model or None, profile=profile))


@cache
def _chain(make: Callable[[], Chain]) -> Chain:
    """One chain in each process, made at its first use."""
    return make()


def _begin(parent: int) -> None:
    """First act of the process: see to it that it ends with its parent, however that ends."""

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(1)
        os._exit(0)

    threading.Thread(target=watch, daemon=True).start()


def _hear(make: Callable[[], Chain], utterance: Utterance) -> Take:
    from voicelog.speech import audio

    chain = _chain(make)
    return chain.hear(audio.of_samples(utterance.samples), utterance.card, utterance.step)


def _step_said(transcript: Transcript, card: Card, step: str | None) -> str | None:
    from voicelog.reading import Reader

    said = [m.value for m in Reader(card).read(transcript, step).mentions if m.kind == "step"]
    return said[-1] if said and isinstance(said[-1], str) and card.step(said[-1]) else None


def _note(make: Callable[[], Chain], data: bytes, name: str, card: Card, step: str | None) -> Draft:
    from voicelog.speech import audio

    return _chain(make).note(audio.load(data, name), card, step)


def _ready(make: Callable[[], Chain]) -> str:
    _chain(make)
    return "ready"


class Recognition:
    """Hears and reads for all dictations; its methods are coroutines."""

    def __init__(
        self,
        make: Callable[[], Chain],
        pool: Callable[[], Executor] | None = None,
        overflow: Overflow | None = None,
    ) -> None:
        self._make = make
        self.overflow = overflow
        self._pool_maker = pool or self._process
        self._pool: Executor | None = None
        self._reading = ThreadPoolExecutor(1, thread_name_prefix="reading")
        """Reading text takes some hundredths of a second: a thread is enough for it."""
        self._reader: Chain | None = None
        self._line: list[object] = []
        """What is not heard yet, wherever it waits, in the order in which it came."""
        self.moved: Callable[[], None] = lambda: None
        """Called when the line has become shorter."""
        self._here = 0
        """Those that wait for the process of this machine."""

    def _process(self) -> Executor:
        return ProcessPoolExecutor(
            1,
            mp_context=multiprocessing.get_context("spawn"),
            initializer=_begin,
            initargs=(os.getpid(),),
        )

    async def hear(self, utterance: Utterance) -> Take:
        """What was said. Raises NoSpeech, AudioError, ModelError."""
        with self._in_line(utterance):
            if self.overflow is not None and self.overflow.takes(self._here):
                with contextlib.suppress(ClusterError):
                    return await self.overflow.hear(utterance)
            return await self._run(partial(_hear, self._make, utterance))

    async def note(self, data: bytes, name: str, card: Card, step: str | None) -> Draft:
        """A whole recording as a draft. Raises AudioError, NoSpeech, ModelError."""
        with self._in_line(object()):
            return await self._run(partial(_note, self._make, data, name, card, step))

    async def propose(self, takes: tuple[Take, ...], card: Card, step: str | None) -> Draft:
        """Values for the card's fields out of all that was said."""
        return await self._read(lambda: self._text_chain().propose(takes, card, step))

    async def step_said(self, said: Transcript, card: Card, step: str | None) -> str | None:
        """Number of the step that an utterance leads to ("step forty"); None when to none."""
        return await self._read(lambda: _step_said(said, card, step))

    def _text_chain(self) -> Chain:
        from voicelog.pipeline import Chain

        if self._reader is None:
            self._reader = Chain()
        return self._reader

    async def _read(self, work: Callable[[], T]) -> T:
        return await asyncio.get_running_loop().run_in_executor(self._reading, work)

    async def warm(self) -> None:
        """Load the model before somebody waits for it. Raises ModelError."""
        if self.overflow is not None:
            await self.overflow.connect()
        await self._read(self._text_chain)
        await self._run(partial(_ready, self._make))

    @property
    def waiting(self) -> int:
        """How many utterances are not heard yet."""
        return len(self._line)

    def before(self, utterance: Utterance) -> int:
        """How many are to be heard before that one."""
        return self._place(utterance)

    def _place(self, what: object) -> int:
        return next((at for at, one in enumerate(self._line) if one is what), 0)

    @contextlib.contextmanager
    def _in_line(self, what: object) -> Iterator[None]:
        self._line.append(what)
        try:
            yield
        finally:
            del self._line[self._place(what)]
            self.moved()

    async def _run(self, work: Callable[[], T]) -> T:
        self._here += 1
        try:
            return await self._run_here(work)
        finally:
            self._here -= 1

    async def _run_here(self, work: Callable[[], T]) -> T:
        for _ in range(3):
            if self._pool is None:
                self._pool = self._pool_maker()
            pool = self._pool
            try:
                return await asyncio.get_running_loop().run_in_executor(pool, work)
            except BrokenProcessPool:
                if self._pool is pool:
                    self._pool = None
                pool.shutdown(wait=False)
        raise ModelError(
            "the recogniser stopped three times over the same recording; the sound is kept: "
            "look at the memory of this machine and start voicelog again"
        )

    def close(self) -> None:
        """End the process; what waits is left on disk."""
        self._reading.shutdown(wait=False, cancel_futures=True)
        if self.overflow is not None:
            self.overflow.close()
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
            self._pool = None
