"""Recordings that are handed in: in line at once, heard beside the pages, never lost."""

from __future__ import annotations

import re
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import numpy as np
import pytest
from starlette.testclient import TestClient

from tests.browser.serving import Server
from tests.web.scene import CHEAP, SECRET, Browser, recognition
from voicelog import web
from voicelog.errors import ClusterError
from voicelog.pipeline import Chain
from voicelog.records import Job, Person, Store
from voicelog.speech import audio
from voicelog.speech.fake import FakeRecogniser
from voicelog.web import backlog
from voicelog.web.site import Limits, Site
from voicelog.work.follow import Hands, OwnHands
from voicelog.work.intake import Heading, take

SAID = "Bolt one, ninety eight newton metres."


def recording(seed: int = 1, seconds: float = 1.0) -> bytes:
    noise = np.random.default_rng(seed).normal(0, 0.1, round(16_000 * seconds))
    return audio.to_flac(noise.astype(np.float32))


class Held:
    """Hands that work only while they may."""

    def __init__(self, store: Store, said: list[str]) -> None:
        recogniser = FakeRecogniser()
        recogniser._queue = said
        self._hands = OwnHands(store, lambda: Chain(recogniser))
        self.free = True

    def look(self) -> bool:
        return self.free and self._hands.look()

    def close(self) -> None:
        self._hands.close()


@contextmanager
def served(store: Store, *hands: Callable[[], Hands], **limits: int) -> Iterator[Browser]:
    site = Site(limits=Limits(uploads_per_minute=100, **limits))
    app = web.create(store, site, recognition(), hands=hands)
    with TestClient(app, base_url="http://testserver") as client:
        browser = Browser(client)
        browser.sign_in("tom")
        browser.get("/dictate/upload")
        yield browser


def hand_in(browser: Browser, data: bytes, status: int = 200, **fields: object) -> str:
    told = {"work_order": "W-8", "card": "DM-10", "step": "10"} | fields
    return browser.post("/dictate/upload", status, files={"recording": ("n.flac", data)}, **told)


def ended(store: Store, id: str = "J-000001") -> Job:
    until = time.monotonic() + 10
    while (job := store.jobs.get(id)).state not in ("done", "failed"):
        assert time.monotonic() < until, job
        time.sleep(0.02)
    return job


def test_a_recording_is_in_line_at_once_and_becomes_a_draft(store: Store) -> None:
    held = Held(store, [SAID, SAID])
    held.free = False
    with served(store, lambda: held) as browser:
        page = hand_in(browser, recording(1), equipment="Rig 2")
        assert "In line" in page
        assert "It is the next one." in page
        assert store.orders.get("W-8").equipment == "Rig 2"
        page = hand_in(browser, recording(2), work_order="W-9")
        assert "1 before it." in page
        listed = browser.get("/dictate/upload")
        assert listed.index("W-9") < listed.index("W-8")
        held.free = True
        job = ended(store)
        assert "Sent to review" in browser.get("/dictate/upload/J-000001")
        note = store.notes.get(str(job.note))
        assert [str(value.value) for value in note.draft.values] == ["98"]
        assert (note.by, note.work_order, note.draft.revision) == ("tom", "W-8", "1")


def test_what_is_no_recording_leaves_nothing_behind(store: Store) -> None:
    with served(store, upload_minutes=1) as browser:
        for data in (b"", b"this is text", b"\x00" * 5000, recording(3, 61)):
            page = hand_in(browser, data, 422)
        assert "longer than 1 minutes" in page
        hand_in(browser, recording(), 422, card="")
        hand_in(browser, recording(), 422, step="99")
    assert store.jobs.list() == ()
    assert not list((store.home / "audio").rglob("*.*"))


def test_the_same_recording_again_is_the_same_draft(store: Store) -> None:
    held = Held(store, [SAID])
    with served(store, lambda: held) as browser:
        hand_in(browser, recording())
        ended(store)
        assert "Sent to review" in hand_in(browser, recording())
    assert len(store.jobs.list()) == len(list(store.notes.list())) == 1


def test_what_could_not_be_heard_says_why_and_can_be_tried_again(store: Store) -> None:
    said: list[str] = []
    held = Held(store, said)
    with served(store, lambda: held) as browser:
        hand_in(browser, recording())
        assert ended(store).state == "failed"
        page = browser.get("/dictate/upload/J-000001")
        assert "Not heard" in page
        assert "nobody speaks" in page
        said.append(SAID)
        browser.post("/dictate/upload/J-000001/again")
        assert ended(store).state == "done"
        browser.post("/dictate/upload/J-000001/again", 409)


def test_a_recording_of_somebody_else_is_not_shown(store: Store) -> None:
    store.people.add(Person("tess", "Tess Low", ("mechanic",)), SECRET, by="ada")
    with served(store) as browser:
        hand_in(browser, recording())
        browser.sign_in("tess")
        browser.get("/dictate/upload/J-000001", 403)
        browser.post("/dictate/upload/J-000001/again", 403)
        assert "Handed in by you" not in browser.get("/dictate/upload")
        browser.get("/dictate/upload/J-000002", 404)


@pytest.mark.parametrize(
    "heading", [Heading("tom", "W-8", "DM-10"), Heading("tom", announced=True)]
)
def test_one_that_came_another_way_is_shown(heading: Heading, store: Store) -> None:
    """`add` names no revision; a recorder's recording may say itself what it belongs to."""
    job = take(store, recording(), "REC0001.flac", heading)
    with served(store) as browser:
        assert "REC0001.flac" in browser.get("/dictate/upload")
        assert "In line" in browser.get(f"/dictate/upload/{job.id}")


def test_the_next_hands_take_over_when_the_first_ones_fail(store: Store) -> None:
    held = Held(store, [SAID])

    class Away(Held):
        def look(self) -> bool:
            raise ClusterError("tcp://10.0.0.9:8786: can't be reached")

    with served(store, lambda: Away(store, []), lambda: held) as browser:
        hand_in(browser, recording())
        assert ended(store).state == "done"
        browser.sign_in("ada")
        assert "tcp://10.0.0.9:8786: can&#39;t be reached" in browser.get("/upkeep")


def test_hands_that_fail_are_taken_on_again(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(backlog, "RETRY_S", 0.05)
    taken_on: list[int] = []

    def hands() -> Hands:
        taken_on.append(1)
        if len(taken_on) < 3:
            raise ClusterError("away")
        return Held(store, [SAID])

    with served(store, hands) as browser:
        hand_in(browser, recording())
        assert ended(store).state == "done"
    assert len(taken_on) == 3


@contextmanager
def slow_server(store: Store) -> Iterator[tuple[Handing, httpx.Client]]:
    """A server that takes long over each recording, and somebody signed in."""
    store.close()
    (store.home / "slow").touch()
    server = Handing(store.home)
    server.start()
    try:
        with httpx.Client(base_url=server.address, follow_redirects=True) as client:
            sign_in(client)
            yield server, client
    finally:
        server.stop()


def until_shown(client: httpx.Client, number: int, words: str, seconds: float = 30) -> None:
    """Wait until the page of the recording `number` says `words`."""
    until = time.monotonic() + seconds
    while words not in client.get(f"/dictate/upload/J-00000{number}").text:
        assert time.monotonic() < until
        time.sleep(0.1)


@pytest.mark.slow
def test_a_server_killed_in_mid_recording_loses_nothing(store: Store) -> None:
    """Killed while one is being heard and another waits; both become one draft each."""
    with slow_server(store) as (server, client):
        for number in (1, 2):
            assert "n.flac" in send(client, recording(number))
        until_shown(client, 1, "Being heard")
        server.kill()
        (store.home / "slow").unlink()
        server.start()
        for number in (1, 2):
            until_shown(client, number, "Sent to review", 60)
    with Store.open(store.home, cost=CHEAP) as again:
        assert [note.work_order for note in again.notes.list()] == ["W-7", "W-7"]
        assert again.jobs.counts()["done"] == 2


@pytest.mark.slow
def test_a_server_that_is_stopped_gives_back_what_it_was_at(store: Store) -> None:
    with slow_server(store) as (_, client):
        send(client, recording())
        until_shown(client, 1, "Being heard")
    with Store.open(store.home, cost=CHEAP) as again:
        job = again.jobs.get("J-000001")
        assert (job.state, job.tries) == ("queued", 0)


class Handing(Server):
    """The pages of `tests.web.handing`."""

    def __init__(self, home: Path) -> None:
        super().__init__(home, home)

    def command(self) -> list[str]:
        return [sys.executable, "-m", "tests.web.handing", str(self.home), str(self.port)]


def sign_in(client: httpx.Client) -> None:
    page = client.get("/sign-in").text
    client.post("/sign-in", data={"csrf": token(page), "person": "tom", "secret": SECRET})


def send(client: httpx.Client, data: bytes) -> str:
    page = client.get("/dictate/upload").text
    told = {"csrf": token(page), "work_order": "W-7", "card": "DM-10", "step": "10"}
    answer = client.post("/dictate/upload", data=told, files={"recording": ("n.flac", data)})
    return answer.text


def token(page: str) -> str:
    found = re.search(r'name="csrf" value="([^"]+)"', page)
    assert found
    return found[1]
