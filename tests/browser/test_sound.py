"""From the browser's microphone to the disk: every sample, whatever the way and the rate.

Three links, each compared on its own: the samples that the browser hands to the page against
the file that its fake microphone plays (`test_dictation`); those samples against the server's
disk, here, number by number; and the arithmetic in between against the same in NumPy.
"""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Iterator
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.browser.conftest import CHROMIUM, Launch, begin_dictation, sign_in
from tests.browser.serving import Server
from tests.browser.speech import write
from tests.browser.witness import FRAME, RATE_HZ, Witness, quantised, resampled
from tests.web.scene import CHEAP
from voicelog.objects import Note
from voicelog.records import Store
from voicelog.speech import audio
from voicelog.web.render import STATIC

FED = """async ([rate, samples, sizes, channels]) => {
  const { Frames } = await import("/frames.js");
  const out = [];
  const frames = new Frames(rate, (buffer) => out.push(...new Int16Array(buffer)));
  let at = 0;
  for (const size of sizes) {
    const piece = Float32Array.from(samples.slice(at, at + size));
    frames.take(Array.from({ length: channels }, () => piece), at / rate);
    at += size;
  }
  return out;
}"""

TIMED = """async ([pieces]) => {
  const { Frames } = await import("/frames.js");
  const told = [];
  let number = 0;
  const frames = new Frames(16000, (_, lost) => {
    number += 1;
    if (lost) told.push([number, lost]);
  });
  for (const [size, time] of pieces) frames.take([new Float32Array(size)], time);
  return told;
}"""


class Quiet(SimpleHTTPRequestHandler):
    """Serves the pages' scripts, and says nothing."""

    def __init__(self, *arguments: Any, **more: Any) -> None:
        super().__init__(*arguments, directory=str(STATIC), **more)

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture(scope="module")
def page(play: Any) -> Iterator[Any]:
    """A page that can import the scripts; no server of ours behind it."""
    with ThreadingHTTPServer(("127.0.0.1", 0), Quiet) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        made = browser.new_page()
        made.goto(f"http://127.0.0.1:{server.server_port}/mark.svg")
        yield made
        browser.close()
        server.shutdown()


@pytest.mark.parametrize("rate", [16_000, 48_000, 44_100, 96_000, 8_000, 22_050])
@pytest.mark.parametrize("channels", [1, 2])
def test_no_sample_is_lost_or_doubled_between_pieces(page: Any, rate: int, channels: int) -> None:
    rng = np.random.default_rng(rate)
    samples = rng.normal(0, 0.3, rate).astype(np.float32)
    sizes: list[int] = []
    while sum(sizes) < len(samples):
        sizes.append(int(rng.integers(1, 700)))
    got = np.array(page.evaluate(FED, [rate, samples.tolist(), sizes, channels]))
    wanted = quantised(resampled(samples.astype(np.float64), rate))
    assert len(got) == len(wanted) // FRAME * FRAME
    assert len(got) >= 9 * FRAME
    assert np.abs(got - wanted[: len(got)]).max() <= (0 if rate == RATE_HZ else 1)


def test_the_filter_keeps_speech_and_stops_what_would_fold_into_it() -> None:
    """Within 0.1 dB to 6 kHz; what lies above 9 kHz is at least 60 dB down."""
    for rate in (44_100, 48_000):
        time = np.arange(rate) / rate
        for tone_hz in (100, 1000, 3400, 6000):
            out = resampled(np.sin(2 * np.pi * tone_hz * time), rate)[2000:-2000]
            assert abs(20 * np.log10(np.sqrt(2 * np.mean(out**2)))) < 0.1, tone_hz
        for tone_hz in (9000, 12_000, 20_000):
            out = resampled(np.sin(2 * np.pi * tone_hz * time), rate)[2000:-2000]
            assert 20 * np.log10(np.sqrt(2 * np.mean(out**2))) < -60, tone_hz


def pieces(*, seconds: float = 8.0, drift: float = 0.0) -> list[tuple[int, float]]:
    """10 ms each, with the time at which it was captured."""
    return [(160, 100 + n * 0.01 * (1 + drift)) for n in range(round(seconds * 100))]


def test_what_the_device_loses_is_told_once(page: Any) -> None:
    whole = pieces()
    assert page.evaluate(TIMED, [whole]) == []
    lost = page.evaluate(TIMED, [whole[:400] + whole[430:]])
    assert [ms for _, ms in lost] == [300]
    assert 40 <= lost[0][0] <= 57
    twice = page.evaluate(TIMED, [whole[:300] + whole[310:600] + whole[625:]])
    assert [ms for _, ms in twice] == [100, 250]


def test_sound_that_is_only_late_was_not_lost(page: Any) -> None:
    """A page that was busy for a while gets it all at once; clocks differ by 200 ppm."""
    busy = [(size, max(time, 104.7) if 103.9 < time < 104.7 else time) for size, time in pieces()]
    assert page.evaluate(TIMED, [busy]) == []
    for drift in (-2e-4, 2e-4):
        assert page.evaluate(TIMED, [pieces(seconds=60, drift=drift)]) == []
    rng = np.random.default_rng(2)
    shaky = [(size, time + float(rng.uniform(0, 0.06))) for size, time in pieces()]
    assert page.evaluate(TIMED, [shaky]) == []


def the_note(home: Path) -> Note:
    with Store.open(home, cost=CHEAP) as store:
        (note,) = store.notes.list()
        return note


def on_disk(home: Path, note: Note) -> np.ndarray:
    """The 16-bit samples of the recording."""
    with Store.open(home, cost=CHEAP) as store:
        samples = audio.load(store.audio.path(note.draft.takes[0].audio_sha256)).samples
    return np.round(samples.astype(np.float64) * 32768).astype(int)


def assert_whole(disk: np.ndarray, witness: Witness) -> None:
    """`disk` is what the browser handed over, from the first sample to the end of the dictation."""
    made = witness.frames()
    assert 0 < len(disk) <= len(made)
    off = np.flatnonzero(np.abs(disk - made[: len(disk)]) > 1)
    assert not len(off), f"differs first at sample {off[0]} of {len(disk)}"


def listened(
    page: Any, server: Server, home: Path, seconds: float, until: re.Pattern[str] | None = None
) -> tuple[np.ndarray, str]:
    """Dictate for so long, and until that text was there; the samples on the disk, and the journal.

    A text that goes again after a while has to be awaited while it is dictated.
    """
    sign_in(page, server.address, "tom")
    folder = home / "dictations" / begin_dictation(page, server.address)
    page.locator("#band[data-state=listening], #band[data-state=hearing]").wait_for()
    page.wait_for_timeout(1000 * seconds)
    if until:
        page.get_by_text(until).wait_for()
    page.get_by_role("button", name="Stand by").click()
    page.locator("#band[data-state=paused]").wait_for()
    page.wait_for_timeout(500)
    disk = np.frombuffer((folder / "sound.pcm").read_bytes(), "<i2").astype(int)
    return disk, (folder / "journal.jsonl").read_text()


@pytest.mark.parametrize("way", ["straight", "graph", "own rate"])
def test_every_way_into_the_page(
    way: str, server: Server, home: Path, tmp_path: Path, browsing: Launch
) -> None:
    """Straight from the device, or the ways of browsers that don't allow that."""
    with browsing(hiss(tmp_path)) as page:
        witness = Witness(page, way)
        disk, _ = listened(page, server, home, 4)
    assert (witness.rate_hz == RATE_HZ) == (way == "graph")
    assert len(disk) > 3.5 * RATE_HZ
    assert_whole(disk, witness)


def test_what_the_device_lost_is_said(
    server: Server, home: Path, tmp_path: Path, browsing: Launch
) -> None:
    with browsing(hiss(tmp_path)) as page:
        witness = Witness(page, drop=(400, 425))
        told = re.compile(r"This device lost 0\.2\d s of sound just now\.")
        disk, journal = listened(page, server, home, 4, told)
    assert_whole(disk, witness)
    lost = [json.loads(line)["lost"] for line in journal.splitlines() if "lost" in line]
    # The times are those at which the fake device woke: on a busy machine some ms off.
    assert abs(sum(ms for _, ms in lost) - 250) <= 25
    assert 4.0 <= lost[0][0] / RATE_HZ <= 6.0


def hiss(folder: Path) -> Path:
    """Nothing that could be taken for speech, and no two stretches alike."""
    return write(folder / "hiss.wav", np.random.default_rng(4).normal(0, 0.01, 60 * RATE_HZ))
