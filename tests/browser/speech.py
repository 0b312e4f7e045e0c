"""Dictations spoken into WAV files for the fake microphone; is a recording one of them?"""

from __future__ import annotations

import wave
from collections.abc import Iterable
from pathlib import Path

import numpy as np

RATE_HZ = 16_000


def write(path: Path, samples: np.ndarray) -> Path:
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE_HZ)
        out.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    return path


def read(path: Path) -> np.ndarray:
    with wave.open(str(path)) as file:
        return np.frombuffer(file.readframes(file.getnframes()), "<i2") / 32767


def spoken(path: Path, parts: Iterable[str | float]) -> Path:
    """Sentences in a synthetic voice, and pauses in seconds, over a faint hiss.

    The hiss makes every stretch of time recognisable, so that a lost piece of silence shows.
    """
    import hibari
    from scipy.signal import resample_poly

    voice = hibari.Hibari()
    pieces = []
    for part in parts:
        if isinstance(part, str):
            said = resample_poly(voice(part, seed=1), 2, 3)
            pieces.append(0.6 * said / np.abs(said).max())
        else:
            pieces.append(np.zeros(round(part * RATE_HZ)))
    whole = np.concatenate(pieces)
    return write(path, whole + np.random.default_rng(1).normal(0, 0.003, len(whole)))


def missing_s(recorded: np.ndarray, played: np.ndarray, window_s: float = 1.0) -> list[float]:
    """Seconds at which `recorded` is not what was `played`, at one and the same delay.

    The browser resamples on its way, so samples differ a little: each window is compared by
    correlation at the delay of the loudest one, wherever in `played` that is (a slow machine
    begins to listen late). A single lost or doubled frame moves all that is beyond it by 100 ms
    and makes every window there fail.
    """
    from scipy.signal import correlate, resample_poly

    size = round(window_s * RATE_HZ)
    first = 2 * size
    starts = range(first, len(recorded) - 2 * size, size)
    loudest = max(starts, key=lambda at: float(np.sum(recorded[at : at + 2 * size] ** 2)))
    found = correlate(played, recorded[loudest : loudest + 2 * size], "valid")
    delay = int(np.argmax(found)) - loudest
    # the clock of the fake device and a fraction of a sample: look at eight times the rate
    wrong = []
    for at in range(first, len(recorded) - size, size):
        a = resample_poly(recorded[at : at + size], 4, 1)
        start = at + delay
        if start + size > len(played):
            break
        b = resample_poly(played[max(0, start - 8) : start + size + 8], 4, 1)
        scores = correlate(b, a, "valid") / (np.linalg.norm(a) * np.linalg.norm(b) + 1e-9)
        if scores.max() < 0.9:
            wrong.append(at / RATE_HZ)
    return wrong
