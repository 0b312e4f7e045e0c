"""Long recordings: all of the sound, cut where it is quiet, in memory that does not grow."""

from __future__ import annotations

import tracemalloc
import wave
from pathlib import Path

import numpy as np
import pytest

from voicelog.errors import AudioError
from voicelog.heard import RATE_HZ
from voicelog.speech import audio, stream


def speechlike(seconds: int) -> np.ndarray:
    """Four seconds of a tone, one of near silence, again and again."""
    at = np.arange(seconds * RATE_HZ)
    loud = (at // RATE_HZ) % 5 < 4
    return np.where(loud, 0.3 * np.sin(at / 9.0), 0.001).astype(np.float32)


def wav(samples: np.ndarray) -> bytes:
    return audio.to_wav(samples)


@pytest.fixture
def short_slices(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stream, "SLICE_S", 20.0)
    monkeypatch.setattr(stream, "_SEARCH_S", 8.0)


@pytest.mark.usefixtures("short_slices")
@pytest.mark.parametrize("encode", [audio.to_wav, audio.to_flac])
@pytest.mark.parametrize("as_file", [False, True])
def test_slices_are_the_whole(tmp_path: Path, encode: object, as_file: bool) -> None:
    samples = speechlike(93)
    data = encode(samples)  # type: ignore[operator]
    source: Path | bytes = data
    if as_file:
        source = tmp_path / "long"
        source.write_bytes(data)
    pieces = list(stream.slices(source))
    joined = np.concatenate([piece.samples for piece in pieces])
    whole = audio.load(data)
    assert np.array_equal(joined, whole.samples)
    assert {piece.sha256 for piece in pieces} == {whole.sha256}
    assert max(piece.duration_s for piece in pieces) <= 20.0
    for piece in pieces[:-1]:
        assert np.abs(piece.samples[-1600:]).max() < 0.01, "cut in a pause"


def test_what_is_long(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stream, "LONG_S", 10.0)
    assert stream.is_long(wav(speechlike(11)))
    assert not stream.is_long(wav(speechlike(9)))
    assert not stream.is_long(b"a text")
    assert not stream.is_long(b"")
    assert not stream.is_long(b"RIFF    WAVEfmt ")


@pytest.mark.usefixtures("short_slices")
@pytest.mark.parametrize("encode", [audio.to_wav, audio.to_flac])
def test_a_recording_that_is_cut_off_is_said(encode: object) -> None:
    data = encode(speechlike(60))  # type: ignore[operator]
    with pytest.raises(AudioError, match=r"cut off|damaged"):
        list(stream.slices(data[: len(data) // 2], "half.wav"))


@pytest.mark.parametrize("data", [b"", b"a text", b"fLaC" + bytes(100)])
def test_what_is_no_recording_is_refused(data: bytes) -> None:
    with pytest.raises(AudioError, match=r"note\.wav"):
        list(stream.slices(data, "note.wav"))


def test_too_long_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stream, "LONGEST_S", 30.0)
    with pytest.raises(AudioError, match="longer than"):
        list(stream.slices(wav(speechlike(45))))


def test_memory_does_not_grow_with_the_recording(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stream, "SLICE_S", 30.0)

    def peak(minutes: int) -> int:
        path = tmp_path / "long.wav"
        with wave.open(str(path), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(RATE_HZ)
            for _ in range(minutes):
                file.writeframes(bytes(2 * 60 * RATE_HZ))
        tracemalloc.start()
        try:
            assert sum(p.duration_s for p in stream.slices(path)) == pytest.approx(60 * minutes)
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    assert peak(24) < 1.3 * peak(4)
