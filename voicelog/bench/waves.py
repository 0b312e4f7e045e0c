"""Sound as arrays: read a WAV file, change its rate, bring it to a level."""

from __future__ import annotations

import io
import wave
from typing import Any

import numpy as np

from voicelog.heard import RATE_HZ

Samples = np.ndarray[Any, np.dtype[np.float32]]
"""float32 mono samples, at 16 kHz unless said otherwise."""


def of_wave(data: bytes) -> tuple[Samples, int]:
    """Samples and rate of a 16-bit mono WAV file."""
    with wave.open(io.BytesIO(data)) as source:
        pcm = np.frombuffer(source.readframes(source.getnframes()), "<i2")
        return np.asarray(pcm / np.float32(32768), np.float32), source.getframerate()


def resampled(samples: Samples, rate_hz: float) -> Samples:
    """From `rate_hz` to 16 kHz, by cutting or filling up the spectrum of the whole clip."""
    wanted = round(len(samples) * RATE_HZ / rate_hz)
    if wanted == len(samples):
        return samples
    spectrum = np.fft.rfft(samples)
    return np.asarray(np.fft.irfft(spectrum, wanted) * (wanted / len(samples)), np.float32)


def unit_power(samples: Any) -> Samples:
    """Scaled to a power of one; silence stays silent."""
    level = float(np.sqrt(np.mean(np.square(samples)))) if len(samples) else 0.0
    return np.asarray(samples / level if level > 0 else samples, np.float32)
