"""The seconds of a recording, and its outline; of a long one, too, without taking it whole."""

from __future__ import annotations

import io
import wave
from collections.abc import Callable

import numpy as np
import pytest

from tests.web.scene import Browser
from voicelog.records import Store
from voicelog.speech import audio, stream
from voicelog.web import sound

RATE_HZ = 16_000


@pytest.fixture(params=["short", "long"])
def recording(
    request: pytest.FixtureRequest, store: Store, monkeypatch: pytest.MonkeyPatch
) -> tuple[str, np.ndarray]:
    """70 s whose loudness grows; heard in slices of 20 s where it counts as long."""
    if request.param == "long":
        monkeypatch.setattr(stream, "LONG_S", 60.0)
        monkeypatch.setattr(stream, "SLICE_S", 20.0)
        monkeypatch.setattr(stream, "_SEARCH_S", 5.0)
        monkeypatch.setattr(sound, "_loaded", None)  # never asked
    for kept in (sound._is_long, sound._outline):
        kept.cache_clear()
    count = 70 * RATE_HZ
    noise = np.random.default_rng(1).uniform(-1, 1, count) * np.linspace(0, 0.9, count)
    samples = noise.astype(np.float32)
    data = audio.to_flac(samples)
    return store.audio.keep(data), audio.load(data, "x.flac").samples


def wav(data: bytes) -> np.ndarray:
    with wave.open(io.BytesIO(data)) as file:
        return np.frombuffer(file.readframes(file.getnframes()), "<i2") / 32767


@pytest.mark.parametrize(
    ("asked", "start_s", "end_s"),
    [("", 0, 70), ("?from=0&to=2", 0, 2), ("?from=19.5&to=41.25", 19.5, 41.25),
     ("?from=60&to=900", 60, 70), ("?from=80&to=90", 70, 70), ("?from=5&to=4", 5, 5)],
)  # fmt: skip
def test_a_stretch_is_played(
    asked: str, start_s: float, end_s: float, recording: tuple[str, np.ndarray],
    as_: Callable[[str], Browser],
) -> None:  # fmt: skip
    digest, samples = recording
    answer = as_("ruth").client.get(f"/sound/{digest}{asked}")
    expected = samples[round(start_s * RATE_HZ) : round(end_s * RATE_HZ)]
    played = wav(answer.content)
    assert len(played) == len(expected)
    assert not len(played) or np.abs(played - expected).max() < 1e-3


def test_the_outline(recording: tuple[str, np.ndarray], as_: Callable[[str], Browser]) -> None:
    digest, samples = recording
    client = as_("ruth").client
    outline = client.get(f"/sound/{digest}/peaks?n=70").json()
    exact = np.abs(samples).reshape(70, RATE_HZ).max(axis=1) * 100
    assert np.abs(np.array(outline) - exact).max() <= 2
    part = client.get(f"/sound/{digest}/peaks?n=10&from=30&to=40").json()
    assert np.abs(np.array(part) - exact[30:40]).max() <= 2
    assert client.get(f"/sound/{digest}/peaks?n=10&from=80&to=90").json() == [0] * 10


@pytest.mark.parametrize("address", ["ab" * 32, "x", "ab" * 32 + "/peaks"])
def test_no_such_recording(address: str, as_: Callable[[str], Browser]) -> None:
    assert as_("ruth").client.get(f"/sound/{address}").status_code == 404


def test_no_such_stretch(recording: tuple[str, np.ndarray], as_: Callable[[str], Browser]) -> None:
    client = as_("ruth").client
    for asked in ("?from=x", "?to=-1", "?from=1e5", "/peaks?from=nan"):
        assert client.get(f"/sound/{recording[0]}{asked}").status_code == 400
