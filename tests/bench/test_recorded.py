"""Noise of real machines is read where it is installed, and asked for where it isn't."""

import struct

import numpy as np
import pytest

from voicelog.bench import noise, recorded
from voicelog.errors import AudioError
from voicelog.speech.audio import to_wav


def sound_set(folder, *titles):
    """A file of the same shape, with a tone for each title."""
    tone = to_wav((0.3 * np.sin(np.arange(8000) / 5)).astype(np.float32))
    labels = [f'"{title}". By nobody.'.encode() for title in titles]
    offset, table, body = 8 * len(titles), b"", b""
    for label in labels:
        table += struct.pack("<II", (offset + len(body)) | 0x80000000, len(tone))
        body += bytes([len(label)]) + label + tone
    path = folder / "set.cat"
    path.write_bytes(table + body)
    return path


def test_a_sound_is_found_by_its_title(tmp_path, monkeypatch):
    monkeypatch.setenv("VOICELOG_NOISE", str(sound_set(tmp_path, "Sheep", "Jackhammer")))
    assert recorded.installed()
    rng = np.random.default_rng
    sound = recorded.noise("air hammer", 20000, rng(1))
    assert sound.shape == (20000,)
    assert np.mean(np.square(sound)) == pytest.approx(1, rel=1e-3)
    assert np.array_equal(sound, recorded.noise("air hammer", 20000, rng(1)))
    condition = noise.CONDITIONS["15 dB, air hammer"]
    tone = (0.1 * np.sin(np.arange(16000) / 9)).astype(np.float32)
    noisy = noise.apply(tone, condition, "a")
    found = 10 * np.log10(np.mean(np.square(tone)) / np.mean(np.square(noisy - tone)))
    assert found == pytest.approx(15, abs=0.1)
    with pytest.raises(AudioError, match="no sound for 'jet'"):
        recorded.noise("jet", 10, rng(1))


def test_what_is_not_there_or_no_sound_set_is_told(tmp_path, monkeypatch):
    monkeypatch.setenv("VOICELOG_NOISE", str(tmp_path / "none.cat"))
    assert not recorded.installed()
    with pytest.raises(AudioError, match="apt install openttd-opensfx"):
        recorded.noise("jet", 10, np.random.default_rng(1))
    (tmp_path / "bad.cat").write_bytes(b"\x10\0\0\0abc")
    monkeypatch.setenv("VOICELOG_NOISE", str(tmp_path / "bad.cat"))
    with pytest.raises(AudioError, match="not the sound set"):
        recorded.noise("jet", 10, np.random.default_rng(1))


@pytest.mark.skipif(not recorded.installed(), reason="openttd-opensfx is not installed")
def test_the_installed_set_has_every_sound():
    for name in recorded.TITLES:
        assert recorded.noise(name, 16000, np.random.default_rng(0)).any()
