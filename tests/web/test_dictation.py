"""A dictation by WebSocket: every frame once, acts, stand-by, restarts, drafts.

Sound is real speech-like noise for the voice detector's sake where it matters; the
recogniser is the fake one, so what is "heard" is known.
"""

from __future__ import annotations

import json
import struct
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any

import anyio
import numpy as np
import pytest
from starlette.testclient import TestClient, WebSocketTestSession
from starlette.websockets import WebSocketDisconnect

from tests.web.scene import Browser
from voicelog import web
from voicelog.pipeline import Chain
from voicelog.records import Store
from voicelog.speech import audio, endpoint
from voicelog.speech.fake import FakeRecogniser
from voicelog.web import listener
from voicelog.web.recognition import Recognition
from voicelog.web.site import ReadBack, Site
from voicelog.web.spool import FRAME

ORIGIN = {"origin": "http://testserver"}
LOUD = np.full(FRAME, 9000, "<i2").tobytes()
QUIET = bytes(2 * FRAME)


class LoudnessCutter:
    """Stands in for the endpointer: loud frames are speech, a quiet one ends it."""

    def __init__(self) -> None:
        self.at, self.start = 0, None

    @property
    def speaking(self) -> bool:
        return self.start is not None

    def feed(self, samples: np.ndarray) -> list[endpoint.Utterance]:
        found = []
        for first in range(0, len(samples), FRAME):
            block = samples[first : first + FRAME]
            loud = float(np.abs(block).max()) > 0.1
            if loud and self.start is None:
                self.start = self.at
            elif not loud and self.start is not None:
                found += self.flush()
            self.at += len(block)
        return found

    def flush(self) -> list[endpoint.Utterance]:
        if self.start is None:
            return []
        rate = audio.RATE_HZ
        made = endpoint.Utterance(np.zeros(self.at - self.start), self.start / rate, self.at / rate)
        self.start = None
        return [made]


class Page:
    """What the script in the browser does, in a few lines."""

    def __init__(self, socket: WebSocketTestSession, stream: int = 11) -> None:
        self.socket, self.stream, self.number = socket, stream, 0
        self.shown: dict[str, Any] = {}
        self.wanted: dict[int, int] = {}

    def frame(self, sound: bytes, number: int | None = None, kind: int = 1) -> None:
        at = self.number if number is None else number
        self.socket.send_bytes(struct.pack("<BII", kind, self.stream, at) + sound)
        if number is None:
            self.number += 1

    def say(self, kind: int = 1, frames: int = 5) -> None:
        """An utterance and the silence that ends it."""
        for sound in [LOUD] * frames + [QUIET] * 2:
            self.frame(sound, kind=kind)

    def act(self, do: str, **more: Any) -> None:
        self.socket.send_text(json.dumps({"do": do} | more))

    def receive(self) -> str:
        """The next message; a server that has nothing to say fails the test, not its run."""

        async def soon() -> Any:
            with anyio.fail_after(20):
                return await self.socket._send_rx.receive()

        message = self.socket.portal.call(soon)
        self.socket._raise_on_close(message)
        return str(message["text"])

    def until(self, wanted: Callable[[Page], bool], what: str) -> None:
        """Take messages until the page shows what is waited for."""
        deadline = time.monotonic() + 10
        while not wanted(self):
            assert time.monotonic() < deadline, f"waited for {what}; shows {self.shown}"
            message = json.loads(self.receive())
            self.shown = message.get("page", self.shown)
            if "ack" in message:
                self.wanted[message["ack"][0]] = message["ack"][1]

    def heard(self, text: str) -> None:
        self.until(lambda page: text in page.shown.get("heard_html", ""), text)

    def acknowledged(self, number: int) -> None:
        self.until(lambda page: page.wanted.get(page.stream) == number, f"ack {number}")


@pytest.fixture
def said(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """What the recogniser hears, utterance by utterance."""
    monkeypatch.setattr(listener, "Endpointer", LoudnessCutter)
    queue: list[str] = []
    yield queue
    queue.clear()


@contextmanager
def server(store: Store, said: list[str], *, unasked: bool = False) -> Iterator[Browser]:
    recogniser = FakeRecogniser()
    recogniser._queue = said
    hearing = Recognition(lambda: Chain(recogniser), pool=lambda: ThreadPoolExecutor(1))
    site = Site(read_back=ReadBack(voice="off", unasked=unasked))
    with TestClient(web.create(store, site, hearing), base_url="http://testserver") as client:
        browser = Browser(client)
        browser.sign_in("tom")
        yield browser


def begin(browser: Browser) -> str:
    browser.get("/dictate")
    answer = browser.client.post(
        "/dictate",
        data={"csrf": browser.token, "work_order": "W-7", "card": "DM-10", "step": ""},
        follow_redirects=False,
    )
    return str(answer.headers["location"]).rsplit("/", 1)[1]


@contextmanager
def page(browser: Browser, id: str, stream: int = 11) -> Iterator[Page]:
    with browser.client.websocket_connect(f"/dictate/{id}/sound", headers=ORIGIN) as socket:
        yield Page(socket, stream)


def finish(browser: Browser, id: str, status: int = 200) -> str:
    browser.get(f"/dictate/{id}")
    return browser.post(f"/dictate/{id}/finish", status)


def test_from_sound_to_draft(store: Store, said: list[str]) -> None:
    said += ["Bolt one, ninety eight newton metres.", "Cotter pin fitted.", "Next step.",
             "Safety wire fitted."]  # fmt: skip
    with server(store, said) as browser:
        id = begin(browser)
        with page(browser, id) as at:
            for text in list(said):
                at.say()
                at.heard(text)
            assert at.shown["step"] == "20"
            at.acknowledged(at.number)
        shown = finish(browser, id)
        assert "Sent to review" in shown
    note = next(iter(store.notes.list()))
    values = {(v.step, v.field, v.position): str(v.value) for v in note.draft.values}
    assert values == {("10", "bolt", "1"): "98", ("10", "pin", None): "pass",
                      ("20", "wire", None): "pass"}  # fmt: skip
    sound = audio.load(store.audio.path(note.draft.takes[0].audio_sha256))
    assert len(sound.samples) == 28 * FRAME  # four utterances of seven frames, to the sample
    assert note.draft.values[0].start_s is not None


def test_frames_sent_twice_count_once_and_early_ones_wait(store: Store, said: list[str]) -> None:
    with server(store, said) as browser:
        id = begin(browser)
        with page(browser, id) as at:
            for number in (0, 1, 1, 0, 3, 2):
                at.frame(QUIET, number)
            at.acknowledged(3)
        with page(browser, id) as at:
            at.act("streams", of=[11, 12])
            at.until(lambda p: p.wanted == {11: 3, 12: 0}, "both streams")


def test_sound_that_the_device_lost_is_doubted_where_it_was(store: Store, said: list[str]) -> None:
    """The frame that comes after the loss says so, up to two seconds late; once."""
    said += ["Cotter pin fitted.", "Bolt one, ninety eight newton metres."]
    lost = struct.pack("<H", 250)
    with server(store, said) as browser:
        id = begin(browser)
        with page(browser, id) as at:
            at.say()
            at.frame(QUIET + lost)
            at.frame(QUIET + lost, at.number - 1)  # sent again
            for _ in range(30):
                at.frame(QUIET)
            at.say()
            at.heard("ninety eight")
    with server(store, []) as browser:  # the journal knows it, too
        finish(browser, id)
    draft = next(iter(store.notes.list())).draft
    sentence = "The device lost 0.25 s of sound while this was said: Cotter pin fitted."
    assert [w.sentence for w in draft.warnings if w.code == "sound_lost"] == [sentence]
    doubted = {v.field: "sound_lost" in {r.code for r in v.reasons} for v in draft.values}
    assert doubted == {"pin": True, "bolt": False}


def test_what_the_server_was_killed_over_is_heard_after_its_return(
    store: Store, said: list[str]
) -> None:
    said += ["Bolt one, ninety eight newton metres."]
    with server(store, said) as browser:
        id = begin(browser)
        with page(browser, id) as at:
            at.say()
            at.heard("ninety eight")
            at.say()  # on disk, and the server goes before it is heard: `said` is empty
            at.acknowledged(14)
    journal = store.home / "dictations" / id / "journal.jsonl"
    kept = [line for line in journal.read_text().splitlines() if '"silent"' not in line]
    journal.write_text("\n".join(kept) + "\n")  # the utterance was never worked on
    with server(store, ["Bolt two, ninety seven newton metres."]) as browser:
        with page(browser, id) as at:
            at.heard("ninety eight")
            at.heard("ninety seven")
        finish(browser, id)
    assert len(next(iter(store.notes.list())).draft.values) == 2


def test_on_stand_by_nothing_is_kept(store: Store, said: list[str]) -> None:
    said += ["Stand by.", "The foreman is a fool.", "Resume. Cotter pin fitted.",
             "Resume. Cotter pin fitted."]  # fmt: skip
    with server(store, said) as browser:
        id = begin(browser)
        with page(browser, id) as at:
            at.say()
            at.until(lambda p: p.shown.get("paused") is True, "stand by")
            at.say(kind=2)  # passing sound: what the page sends on stand-by
            at.say(kind=2)
            at.until(lambda p: p.shown.get("paused") is False, "resume")
            at.heard("Cotter pin fitted")
            assert "foreman" not in json.dumps(at.shown)
        folder = store.home / "dictations" / id
        assert "foreman" not in "".join(p.read_text() for p in folder.glob("*.json*"))
        # the sound on disk: stand-by itself, then what was said from "resume" on, nothing between
        assert (folder / "sound.pcm").stat().st_size == (7 + 7) * 2 * FRAME
        finish(browser, id)
    note = next(iter(store.notes.list()))
    assert [v.field for v in note.draft.values] == ["pin"]


def test_stand_by_and_resume_by_touch(store: Store, said: list[str]) -> None:
    said += ["Bolt one, ninety eight newton metres.", "Bolt two, ninety nine newton metres."]
    with server(store, said) as browser:
        id = begin(browser)
        with page(browser, id) as at:
            at.say()
            at.heard("ninety eight")
            at.act("stand_by")
            at.until(lambda p: p.shown.get("paused") is True, "stand by")
            at.act("resume")
            at.until(lambda p: p.shown.get("paused") is False, "resume")
            at.say()
            at.heard("ninety nine")


def test_a_step_chosen_by_touch_comes_after_what_was_said_before(
    store: Store, said: list[str]
) -> None:
    """A value spoken for one step must not land in the next one because a thumb was quick."""
    said += ["Remarks, scratch on the hub.", "Safety wire fitted."]
    with server(store, said) as browser:
        id = begin(browser)
        with page(browser, id) as at:
            at.say()
            at.act("step", step="next")
            at.until(lambda p: p.shown.get("step") == "20", "step 20")
            at.say()
            at.heard("Safety wire")
            at.act("step", step="10")
            at.until(lambda p: p.shown.get("step") == "10", "step 10")
        finish(browser, id)
    takes = next(iter(store.notes.list())).draft.takes
    assert [take.step for take in takes] == ["10", "20"]


def test_read_back_affirm_and_negative(store: Store, said: list[str]) -> None:
    said += ["Bolt one, ninety four newton metres.", "Affirm.",
             "Bolt two, ninety three newton metres.", "Negative."]  # fmt: skip
    with server(store, said, unasked=True) as browser:
        id = begin(browser)
        with page(browser, id) as at:
            at.say()
            at.until(lambda p: "niner four" in p.shown.get("question", ""), "a question unasked")
            assert "Below the limit of niner fife" in at.shown["question"]
            at.say()
            at.heard("Affirm")
            at.until(lambda p: p.shown.get("question") == "", "an answer")
            at.say()
            at.until(lambda p: "niner three" in p.shown.get("question", ""), "the next question")
            at.say()
            at.until(lambda p: p.shown.get("question") == "", "an answer")
        finish(browser, id)
    one, two = next(iter(store.notes.list())).draft.values
    assert one.affirmed
    assert not two.affirmed
    assert "denied_by_voice" in [reason.code for reason in two.reasons]


def test_disregard_drops_by_voice_and_by_touch(store: Store, said: list[str]) -> None:
    said += ["Bolt one, ninety eight newton metres.", "Disregard.",
             "Bolt two, ninety nine newton metres."]  # fmt: skip
    with server(store, said) as browser:
        id = begin(browser)
        with page(browser, id) as at:
            at.say()
            at.say()
            at.heard("disregarded")
            at.say()
            at.heard("ninety nine")
            at.act("drop", number=2)
            at.until(lambda p: p.shown["heard_html"].count("(disregarded)") == 2, "two dropped")
        finish(browser, id)
    assert next(iter(store.notes.list())).draft.values == ()


def test_silence_makes_no_draft(store: Store, said: list[str]) -> None:
    with server(store, said) as browser:
        id = begin(browser)
        with page(browser, id) as at:
            at.frame(QUIET)
            at.acknowledged(1)
        assert "Nobody has spoken" in finish(browser, id, 422)
        browser.post(f"/dictate/{id}/discard")
        browser.get(f"/dictate/{id}", 404)


def test_finishing_twice_makes_one_draft(store: Store, said: list[str]) -> None:
    said += ["Cotter pin fitted."]
    with server(store, said) as browser:
        id = begin(browser)
        with page(browser, id) as at:
            at.say()
            at.heard("Cotter")
        finish(browser, id)
        browser.post(f"/dictate/{id}/finish", 404)
    assert len(list(store.notes.list())) == 1


def told_after(browser: Browser, id: str, message: bytes | str) -> None:
    """Send something that is no message of a page, and listen until the link ends."""
    with page(browser, id) as at:
        if isinstance(message, bytes):
            at.socket.send_bytes(message)
        else:
            at.socket.send_text(message)
        at.until(lambda _: False, "being told")


@pytest.mark.parametrize(
    "message",
    [b"", b"\x01", b"\x01" + bytes(8) + b"x" * 10, b"\x01" + bytes(8 + 3201),
     b"\x01" + bytes(8 + 3203), "not json", "{}", "[]", '{"do": 3}',
     '{"do": "drop", "number": "x"}', '{"do": "streams", "of": ["x"]}'],
)  # fmt: skip
def test_nonsense_ends_the_link_and_harms_nothing(
    message: bytes | str, store: Store, said: list[str]
) -> None:
    with server(store, said) as browser:
        id = begin(browser)
        with pytest.raises(WebSocketDisconnect) as gone:
            told_after(browser, id, message)
        assert gone.value.code == 4400
        with page(browser, id) as at:
            at.frame(QUIET, 0)
            at.acknowledged(1)


@pytest.mark.parametrize("headers", [{"origin": "https://elsewhere.example"}, {}])
def test_a_link_from_elsewhere_is_refused(
    headers: dict[str, str], store: Store, said: list[str]
) -> None:
    with server(store, said) as browser:
        id = begin(browser)
        path = f"/dictate/{id}/sound"
        with (
            pytest.raises(WebSocketDisconnect),
            browser.client.websocket_connect(path, headers=headers),
        ):
            pass


@pytest.mark.parametrize("person", [None, "ruth"])
def test_a_link_is_for_the_mechanic_who_began(
    person: str | None, store: Store, said: list[str]
) -> None:
    with server(store, said) as browser:
        id = begin(browser)
        browser.client.cookies.clear()
        if person:
            browser.sign_in(person)
        with (
            pytest.raises(WebSocketDisconnect),
            browser.client.websocket_connect(f"/dictate/{id}/sound", headers=ORIGIN),
        ):
            pass


def test_a_second_page_takes_over(store: Store, said: list[str]) -> None:
    with server(store, said) as browser:
        id = begin(browser)
        with page(browser, id) as first, page(browser, id, stream=12) as second:
            with pytest.raises(WebSocketDisconnect) as gone:
                first.until(lambda _: False, "being told")
            assert gone.value.code == 4409
            second.frame(QUIET)
            second.acknowledged(1)
