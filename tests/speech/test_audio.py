"""Recordings in: every container, every way in which one can be wrong."""

from __future__ import annotations

import contextlib
import hashlib
import io
import struct
import tracemalloc
import wave
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.speech.sound import encoded, noise, tone
from voicelog.errors import AudioError
from voicelog.heard import RATE_HZ
from voicelog.speech import audio

CONTAINERS = [
    ("wav", "pcm_s16le", RATE_HZ, "mono"),
    ("wav", "pcm_s24le", 48000, "stereo"),
    ("wav", "pcm_f32le", 44100, "mono"),
    ("flac", "flac", 48000, "mono"),
    ("ogg", "libopus", 48000, "mono"),
    ("webm", "libopus", 48000, "mono"),
    ("ipod", "aac", 44100, "stereo"),
    ("mp4", "aac", 44100, "mono"),
    ("mp3", "libmp3lame", 44100, "mono"),
    ("3gp", "aac", 16000, "mono"),
    ("caf", "pcm_s16be", 44100, "mono"),
    ("aiff", "pcm_s16be", 44100, "mono"),
    ("adts", "aac", 44100, "mono"),
]


@pytest.mark.parametrize(("container", "codec", "rate_hz", "layout"), CONTAINERS)
def test_every_container_comes_out_as_16_khz_mono(
    container: str, codec: str, rate_hz: int, layout: str
) -> None:
    data = encoded(tone(1.5), container, codec, rate_hz, layout)
    heard = audio.load(data, f"tone.{container}")
    assert heard.samples.dtype == np.float32
    assert heard.samples.ndim == 1
    assert heard.duration_s == pytest.approx(1.5, abs=0.12)
    assert heard.sha256 == hashlib.sha256(data).hexdigest()
    assert heard.warnings == ()
    middle = heard.samples[4000:20000]
    spectrum = np.abs(np.fft.rfft(middle * np.hanning(len(middle))))
    assert np.argmax(spectrum) * RATE_HZ / len(middle) == pytest.approx(440, abs=3)


def test_a_file_keeps_its_path(tmp_path: Path) -> None:
    path = tmp_path / "note.wav"
    path.write_bytes(audio.to_wav(tone()))
    assert audio.load(path).path == path


def _wav(samples: np.ndarray, code: int, bits: int) -> bytes:
    body = samples.tobytes()
    head = struct.pack("<HHIIHH", code, 1, RATE_HZ, RATE_HZ * bits // 8, bits // 8, bits)
    chunks = b"fmt " + struct.pack("<I", len(head)) + head + b"data" + struct.pack("<I", len(body))
    return b"RIFF" + struct.pack("<I", 4 + len(chunks) + len(body)) + b"WAVE" + chunks + body


def test_samples_that_are_no_numbers_are_silenced_and_told() -> None:
    samples = tone()
    samples[100:110] = np.nan
    heard = audio.load(_wav(samples, 3, 32), "nan.wav")
    assert np.isfinite(heard.samples).all()
    assert heard.warnings


def test_nothing_but_nan_is_refused() -> None:
    with pytest.raises(AudioError, match="no numbers"):
        audio.load(_wav(np.full(RATE_HZ, np.nan, np.float32), 3, 32), "nan.wav")


def test_a_float_file_above_full_scale_is_held_there() -> None:
    heard = audio.load(_wav(tone(level=3.0), 3, 32), "hot.wav")
    assert np.abs(heard.samples).max() <= 1.0


BAD = [
    (b"", "is empty"),
    (b"Bolt three, one zero one.\n", "is a text"),
    ("Größe: 5 µm".encode(), "is a text"),
    (b"ffconcat version 1.0\nfile other.wav\n", "is a text"),
    (b"#EXTM3U\nfile:///etc/hostname\n", "is a text"),
    (bytes(range(256)) * 8, "no known recording"),
    (b"\x89PNG\r\n\x1a\n" + bytes(64), "no known recording"),
    (b"RIFF" + bytes(60), "can't be decoded"),
    (b"OggS" + bytes(60), "can't be decoded"),
    (b"\x00\x00\x00\x18ftypmp42" + bytes(40), "can't be decoded"),
]


@pytest.mark.parametrize(("data", "says"), BAD)
def test_what_is_no_recording_is_refused_plainly(data: bytes, says: str) -> None:
    with pytest.raises(AudioError, match=says) as caught:
        audio.load(data, "upload")
    assert str(caught.value).startswith("upload: ")
    assert "\n" not in str(caught.value)


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(AudioError, match="no such file"):
        audio.load(tmp_path / "gone.wav")
    with pytest.raises(AudioError, match="is not a file"):
        audio.load(tmp_path)


def test_a_playlist_dressed_as_a_recording_opens_nothing(tmp_path: Path) -> None:
    """An ffconcat text made FFmpeg's own guess open a neighbouring file."""
    (tmp_path / "secret.wav").write_bytes(audio.to_wav(tone()))
    list_ = tmp_path / "note.wav"
    list_.write_text("ffconcat version 1.0\nfile secret.wav\n")
    with pytest.raises(AudioError, match="is a text"):
        audio.load(list_)


def test_video_without_sound_says_so() -> None:
    import av

    target = io.BytesIO()
    with av.open(target, "w", format="mp4") as out:
        stream = out.add_stream("mpeg4", rate=10)
        stream.width = stream.height = 32
        stream.pix_fmt = "yuv420p"
        for _ in range(10):
            out.mux(stream.encode(av.VideoFrame(32, 32, "yuv420p")))
        out.mux(stream.encode(None))
    with pytest.raises(AudioError, match="video without sound"):
        audio.load(target.getvalue(), "clip.mp4")


@pytest.mark.parametrize(
    ("container", "codec"),
    [
        ("wav", "pcm_s16le"),
        ("flac", "flac"),
        ("mp4", "aac"),
        ("caf", "pcm_s16be"),
        ("aiff", "pcm_s16be"),
    ],
)
def test_a_truncated_file_is_refused(container: str, codec: str) -> None:
    data = encoded(noise(4.0), container, codec)
    with pytest.raises(AudioError, match="cut off"):
        audio.load(data[: len(data) // 2], f"half.{container}")


def test_a_damaged_ogg_is_told_or_refused() -> None:
    """Six seconds came out as one without a word in a plain decoder."""
    data = bytearray(encoded(noise(6.0), "ogg", "libopus", 48000))
    for at in range(len(data) // 3, len(data) // 2, 7):
        data[at] ^= 0x5A
    try:
        heard = audio.load(bytes(data), "damaged.ogg")
    except AudioError:
        return
    assert heard.warnings


def test_hours_of_silence_in_a_few_bytes_are_refused_without_taking_memory(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(audio, "MAX_DURATION_S", 5.0)
    data = encoded(np.zeros(60 * RATE_HZ, np.float32), "flac", "flac")
    tracemalloc.start()
    with pytest.raises(AudioError, match="longer than"):
        audio.load(data, "long.flac")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 10_000_000


def test_a_length_that_the_header_hides_is_capped_while_decoding(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(audio, "MAX_DURATION_S", 5.0)
    data = encoded(noise(20.0), "adts", "aac")
    with pytest.raises(AudioError, match="longer than"):
        audio.load(data, "long.aac")


def test_a_file_that_is_too_large_is_not_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(audio, "MAX_BYTES", 1000)
    (tmp_path / "big.wav").write_bytes(bytes(2000))
    with pytest.raises(AudioError, match="larger than"):
        audio.load(tmp_path / "big.wav")


MAGIC = [b"", b"RIFF", b"OggS", b"fLaC", b"ID3", b"caff", b"FORM", b"RIFF\0\0\0\0WAVEdata"]


@given(st.binary(max_size=300), st.sampled_from(MAGIC))
@settings(max_examples=60, deadline=None)
def test_any_bytes_give_audio_or_an_audio_error(data: bytes, magic: bytes) -> None:
    with contextlib.suppress(AudioError):
        audio.load(magic + data, "fuzz")


def test_flac_is_lossless_for_16_bits_and_reproducible() -> None:
    samples = (np.round((tone(1.3) + noise(1.3, 0.005)) * 32767) / 32767).astype(np.float32)
    data = audio.to_flac(samples)
    assert data == audio.to_flac(samples)
    assert np.abs(audio.load(data).samples - samples).max() < 1e-4
    assert len(data) < 2 * len(samples)


def test_a_snippet_is_cut_to_the_sample(tmp_path: Path) -> None:
    path = tmp_path / "note.flac"
    samples = noise(3.0, 0.2)
    path.write_bytes(audio.to_flac(samples))
    with wave.open(io.BytesIO(audio.snippet(path, 1.0, 1.5))) as cut:
        assert cut.getnframes() == RATE_HZ // 2
        pcm = np.frombuffer(cut.readframes(RATE_HZ), "<i2") / 32767
    assert np.abs(pcm - samples[RATE_HZ : RATE_HZ * 3 // 2]).max() < 1e-3
    with pytest.raises(AudioError, match=r"3\.00 s long"):
        audio.snippet(path, 3.5, 4.0)


def test_peaks_outline_the_recording() -> None:
    samples = np.concatenate([np.zeros(RATE_HZ, np.float32), tone(1.0, level=0.5)])
    outline = audio.peaks(audio.of_samples(samples), 4)
    assert outline == pytest.approx([0, 0, 0.5, 0.5], abs=0.01)
    assert len(audio.peaks(audio.of_samples(samples[:2]), 10)) == 10


def test_live_samples_have_a_digest_of_their_own() -> None:
    one, two = audio.of_samples(tone()), audio.of_samples(tone(hz=441))
    assert len(one.sha256) == 64
    assert one.sha256 != two.sha256
