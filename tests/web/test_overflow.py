"""A long queue goes to a cluster; without one, everything is heard here."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from tests.web.scene import CARD, Browser
from tests.work.scene import Hears
from voicelog import __version__, cards, web
from voicelog.cluster import Live, remote
from voicelog.errors import ClusterError, NoSpeech
from voicelog.heard import Transcript
from voicelog.objects import Take
from voicelog.pipeline import Chain
from voicelog.records import Store
from voicelog.web import overflow
from voicelog.web.overflow import Overflow
from voicelog.web.recognition import Recognition, Utterance
from voicelog.web.site import Site

UTTERANCE = Utterance(np.full(8000, 0.1, np.float32), cards.parse(CARD, "hub.yaml"), "10")


class Gate(Hears):
    """Hears only while the gate is open."""

    def __init__(self) -> None:
        super().__init__(otherwise="heard here")
        self.open = threading.Event()

    def transcribe(self, audio, vocabulary=None):  # type: ignore[no-untyped-def]
        assert self.open.wait(20)
        return super().transcribe(audio, vocabulary)


class Elsewhere:
    """A cluster that answers, or fails as it is told."""

    def __init__(self) -> None:
        self.fails: Exception | None = None
        self.asked = 0
        self.closed = False

    def connect(self) -> None:
        if self.fails:
            raise self.fails

    def hear(self, *_: object) -> Take:
        self.asked += 1
        if self.fails:
            raise self.fails
        return Take(Transcript.of_text("heard there"))

    def close(self) -> None:
        self.closed = True


class Hearing:
    """Four utterances at once: where was each heard?"""

    def __init__(self, far: overflow.Far, patience_s: float = 5.0) -> None:
        gate = Gate()
        self.gate = gate.open
        self.recognition = Recognition(
            lambda: Chain(gate),
            pool=lambda: ThreadPoolExecutor(1),
            overflow=Overflow(far, patience_s),
        )

    async def four(self) -> list[str]:
        tasks = [asyncio.create_task(self.recognition.hear(UTTERANCE)) for _ in range(4)]
        await asyncio.sleep(0.1)
        assert self.recognition.waiting == sum(not task.done() for task in tasks)
        self.gate.set()
        takes = await asyncio.gather(*tasks)
        assert self.recognition.waiting == 0
        self.gate.clear()
        return [take.transcript.text for take in takes]


@pytest.fixture
def far() -> Elsewhere:
    return Elsewhere()


@pytest.fixture
def hearing(far: Elsewhere) -> Iterator[Hearing]:
    made = Hearing(far)
    yield made
    made.recognition.close()
    assert far.closed


def test_what_would_wait_too_long_goes_to_the_cluster(hearing: Hearing, far: Elsewhere) -> None:
    assert asyncio.run(hearing.four()) == ["heard here"] * 2 + ["heard there"] * 2
    assert (far.asked, hearing.recognition.overflow.heard) == (2, 2)  # type: ignore[union-attr]


def test_a_cluster_that_fails_is_said_and_left_alone_for_a_while(
    hearing: Hearing, far: Elsewhere, monkeypatch: pytest.MonkeyPatch
) -> None:
    far.fails = ClusterError("tls://10.0.0.9:8786: no answer (timed out)")
    assert asyncio.run(hearing.four()) == ["heard here"] * 4
    assert hearing.recognition.overflow is not None
    assert hearing.recognition.overflow.trouble == str(far.fails)
    asked, far.fails = far.asked, None
    assert asyncio.run(hearing.four()) == ["heard here"] * 4
    assert far.asked == asked
    monkeypatch.setattr(time, "monotonic", lambda real=time.monotonic: real() + overflow.SHUT_S)
    assert asyncio.run(hearing.four()) == ["heard here"] * 2 + ["heard there"] * 2
    assert hearing.recognition.overflow.trouble == ""


def test_how_many_are_heard_before_is_told() -> None:
    gate = Gate()
    told: list[int] = []

    async def run() -> None:
        recognition = Recognition(lambda: Chain(gate), pool=lambda: ThreadPoolExecutor(1))
        said = [Utterance(UTTERANCE.samples, UTTERANCE.card, step) for step in ("10", "20", "10")]
        tasks = [asyncio.create_task(recognition.hear(each)) for each in said]
        await asyncio.sleep(0.05)
        assert [recognition.before(each) for each in said] == [0, 1, 2]
        recognition.moved = lambda: told.append(recognition.waiting)
        gate.open.set()
        await asyncio.gather(*tasks)
        recognition.close()

    asyncio.run(run())
    assert told == [2, 1, 0]


def test_silence_is_an_answer_not_a_failure(hearing: Hearing, far: Elsewhere) -> None:
    far.fails = NoSpeech("nobody speaks")

    async def run() -> list[object]:
        tasks = [asyncio.create_task(hearing.recognition.hear(UTTERANCE)) for _ in range(3)]
        await asyncio.sleep(0.1)
        hearing.gate.set()
        return list(await asyncio.gather(*tasks, return_exceptions=True))

    assert isinstance(asyncio.run(run())[2], NoSpeech)
    assert hearing.recognition.overflow is not None
    assert hearing.recognition.overflow.trouble == ""


def test_an_administrator_sees_how_the_cluster_is(store: Store, far: Elsewhere) -> None:
    far.fails = ClusterError("tls://10.0.0.9:8786: can't be reached")
    recognition = Recognition(
        lambda: Chain(Hears()), pool=lambda: ThreadPoolExecutor(1), overflow=Overflow(far)
    )
    with TestClient(web.create(store, Site(), recognition)) as client:
        browser = Browser(client)
        browser.sign_in("ada")
        until = time.monotonic() + 10
        while "tls://10.0.0.9:8786" not in (page := browser.get("/upkeep")):
            assert time.monotonic() < until
        assert "heard on this machine" in page


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")  # Dask's own, of the versions in use
def test_a_local_cluster_hears_and_then_is_gone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from distributed import LocalCluster

    there = Chain(Hears(otherwise="heard there"))
    monkeypatch.setattr(remote, "model_digest", lambda _: "0" * 64)
    monkeypatch.setattr(remote, "make_chain", lambda *_: there)
    monkeypatch.setattr(
        remote,
        "terms",
        lambda _, profile: remote.Terms(
            __version__, remote.settings_digest(), "pretend", "0" * 64, profile
        ),
    )
    cluster = LocalCluster(
        n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None,
        host="tcp://127.0.0.1", local_directory=str(tmp_path),
    )  # fmt: skip
    hearing = Hearing(Live(cluster.scheduler_address, profile="fast"), patience_s=2.0)

    async def both() -> tuple[list[str], list[str]]:
        await hearing.recognition.warm()
        first = await hearing.four()
        await asyncio.to_thread(cluster.close)
        return first, await hearing.four()

    try:
        first, second = asyncio.run(both())
    finally:
        cluster.close()
        hearing.recognition.close()
    assert sorted(first) == ["heard here"] * 2 + ["heard there"] * 2
    assert second == ["heard here"] * 4
    assert hearing.recognition.overflow is not None
    assert "tcp://127.0.0.1" in hearing.recognition.overflow.trouble
