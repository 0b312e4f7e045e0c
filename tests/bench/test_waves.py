"""Sound as arrays."""

import numpy as np
import pytest

from voicelog.bench.waves import of_wave, resampled, unit_power
from voicelog.speech.audio import to_wav


def test_a_wav_file_is_its_samples():
    tone = (0.4 * np.sin(np.arange(1600) / 7)).astype(np.float32)
    samples, rate_hz = of_wave(to_wav(tone))
    assert rate_hz == 16000
    assert np.abs(samples - tone).max() < 1e-4


def test_resampling_keeps_pitch_and_level():
    t = np.arange(44100) / 44100
    tone = (0.3 * np.sin(2 * np.pi * 440 * t)).astype(np.float32)
    out = resampled(tone, 44100)
    assert len(out) == 16000
    assert np.abs(np.fft.rfft(out)).argmax() == 440
    assert np.abs(out).max() == pytest.approx(0.3, abs=0.01)
    assert resampled(out, 16000) is out


def test_a_lower_rate_makes_a_deeper_voice():
    tone = np.sin(2 * np.pi * 440 * np.arange(24000) / 24000).astype(np.float32)
    lower = resampled(tone, 24000 * 0.8)
    assert len(lower) == 20000
    assert np.abs(np.fft.rfft(lower)).argmax() / (len(lower) / 16000) == pytest.approx(352, abs=1)


def test_power():
    assert np.mean(np.square(unit_power(np.array([3.0, -4.0])))) == pytest.approx(1)
    assert not unit_power(np.zeros(5)).any()
    assert len(unit_power(np.zeros(0))) == 0
