"""What a workshop does to speech, from a seed: noise, reverb, a headset's band, clipping, loss.

Every function takes and gives float32 mono samples at 16 kHz; the same seed gives the same
samples on every machine.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from zlib import crc32

import numpy as np

from voicelog.bench import recorded
from voicelog.bench.waves import Samples, unit_power
from voicelog.heard import RATE_HZ

PEAK = 0.9
"""Level to which the loudest sample is scaled when a mixture would clip."""


@dataclass(frozen=True, slots=True)
class Condition:
    """One way in which a clean recording is made worse; all off is the recording as it is."""

    name: str
    snr_db: float | None = None
    """Level of the talking above the noise."""
    source: str = "workshop"
    """"workshop" is computed; other names are recordings of real machines (`recorded`)."""
    t60_s: float | None = None
    """Reverberation time of the hall."""
    band_hz: tuple[float, float] | None = None
    clip_db: float | None = None
    """By how much the peaks exceed full scale before they are cut off."""
    loss: float = 0.0
    """Share of 20 ms packets that never arrive."""


HEADSET_HZ = (300.0, 3400.0)
"""The narrow band of telephony, ITU-T G.712 (from memory)."""
HALL_S = 0.45
"""A mild hall; common practice, no source."""

CLEAN = Condition("clean")
LADDER = (
    CLEAN,
    Condition("20 dB", 20),
    Condition("15 dB", 15),
    Condition("10 dB", 10),
    Condition("5 dB", 5),
    Condition("reverb", t60_s=HALL_S),
    Condition("20 dB, reverb", 20, t60_s=HALL_S),
    Condition("15 dB, reverb", 15, t60_s=HALL_S),
    Condition("10 dB, reverb", 10, t60_s=HALL_S),
    Condition("5 dB, reverb", 5, t60_s=HALL_S),
    Condition("headset band", band_hz=HEADSET_HZ),
    Condition("15 dB, headset band", 15, band_hz=HEADSET_HZ),
    Condition("clipped", clip_db=12),
    Condition("packets lost", loss=0.03),
)
"""The noise ladder, with the other things that happen to a recording beside it."""

REAL = tuple(
    Condition(f"{snr_db} dB, {name}", snr_db, source=name)
    for name in recorded.TITLES
    for snr_db in (20, 15, 10)
)
"""Real machines beside the computed noise; they need Debian's package openttd-opensfx."""

CONDITIONS = {condition.name: condition for condition in (*LADDER, *REAL)}


def _pink(count: int, rng: np.random.Generator) -> Samples:
    """Noise whose power falls by 3 dB an octave, from 40 Hz upwards."""
    spectrum = np.fft.rfft(rng.standard_normal(count))
    hz = np.fft.rfftfreq(count, 1 / RATE_HZ)
    shaped = np.where(hz < 40, 0, spectrum / np.sqrt(np.maximum(hz, 40)))
    return unit_power(np.fft.irfft(shaped, count))


def _hum(count: int, rng: np.random.Generator) -> Samples:
    """Mains hum of a 400 Hz ground supply with its first harmonics, drifting a little."""
    t = np.arange(count) / RATE_HZ
    base = 400 * (1 + 0.002 * np.sin(2 * np.pi * 0.3 * t + rng.uniform(0, 6)))
    phase = 2 * np.pi * np.cumsum(base) / RATE_HZ
    return unit_power(sum(np.sin(k * phase + rng.uniform(0, 6)) / k**1.5 for k in (1, 2, 3)))


def _impacts(count: int, rng: np.random.Generator) -> Samples:
    """Metal struck about once a second: bursts of a few decaying resonances."""
    out = np.zeros(count)
    length = int(0.25 * RATE_HZ)
    t = np.arange(length) / RATE_HZ
    for at in rng.integers(0, max(count - length, 1), max(1, count // RATE_HZ)):
        ring = sum(
            np.exp(-t / rng.uniform(0.01, 0.06)) * np.sin(2 * np.pi * rng.uniform(600, 5000) * t)
            for _ in range(4)
        )
        end = min(at + length, count)
        out[at:end] += rng.uniform(0.4, 1.0) * np.asarray(ring)[: end - at]
    return unit_power(out)


def workshop(count: int, rng: np.random.Generator) -> Samples:
    """`count` samples of workshop noise of power one: a broad rush, a hum, some hammering."""
    rush, hum, hammering = parts(count, rng)
    return unit_power(1.0 * rush + 0.5 * hum + 0.5 * hammering)


def parts(count: int, rng: np.random.Generator) -> tuple[Samples, Samples, Samples]:
    """A broad rush, a hum and hammering, `count` samples of power one each."""
    return _pink(count, rng), _hum(count, rng), _impacts(count, rng)


def speech_level(samples: Samples) -> float:
    """Root mean square of the frames in which somebody talks (within 30 dB of the loudest)."""
    frame = RATE_HZ // 50
    whole = samples[: len(samples) // frame * frame].reshape(-1, frame)
    if not len(whole):
        return float(np.sqrt(np.mean(np.square(samples)))) if len(samples) else 0.0
    power = np.mean(np.square(whole), axis=1)
    return float(np.sqrt(power[power >= power.max() * 1e-3].mean()))


def add_noise(
    samples: Samples, snr_db: float, rng: np.random.Generator, source: str = "workshop"
) -> Samples:
    """Noise from `source`, `snr_db` below the level of the talking. Raises AudioError."""
    level = speech_level(samples) * 10 ** (-snr_db / 20)
    count = len(samples)
    noise = workshop(count, rng) if source == "workshop" else recorded.noise(source, count, rng)
    return _held(samples + level * noise)


def reverberate(samples: Samples, t60_s: float, rng: np.random.Generator) -> Samples:
    """The sound of a hall: the direct sound, and a tail that falls by 60 dB in `t60_s`.

    The tail is noise under an exponential envelope that begins 8 ms after the direct sound
    and holds as much power in all as the direct sound: the talker stands about at the
    critical distance (common practice, no source).
    """
    length = max(int(t60_s * RATE_HZ), 1)
    tail = rng.standard_normal(length) * 10 ** (-3 * np.arange(length) / length)
    tail[: int(0.008 * RATE_HZ)] = 0
    tail /= np.sqrt(np.sum(np.square(tail))) or 1.0
    response = np.concatenate([[1.0], tail])
    size = len(samples) + len(response) - 1
    wet = np.fft.irfft(np.fft.rfft(samples, size) * np.fft.rfft(response, size), size)
    return _held(wet[: len(samples)] / np.sqrt(2))


def limit_band(samples: Samples, low_hz: float, high_hz: float) -> Samples:
    """Only the frequencies from `low_hz` to `high_hz`, with edges one sixth of an octave wide."""
    hz = np.maximum(np.fft.rfftfreq(len(samples), 1 / RATE_HZ), 1e-3)
    gain = 1 / np.sqrt(1 + (low_hz / hz) ** 24) / np.sqrt(1 + (hz / high_hz) ** 24)
    return np.asarray(np.fft.irfft(np.fft.rfft(samples) * gain, len(samples)), np.float32)


def clip(samples: Samples, over_db: float) -> Samples:
    """As if recorded `over_db` too loud: the peaks are cut off at full scale."""
    peak = float(np.abs(samples).max()) or 1.0
    return np.asarray(np.clip(samples / peak * 10 ** (over_db / 20), -1.0, 1.0), np.float32)


def lose_packets(samples: Samples, share: float, rng: np.random.Generator) -> Samples:
    """Every 20 ms packet is silent with probability `share`."""
    frame = RATE_HZ // 50
    kept = rng.random(-(-len(samples) // frame)) >= share
    return np.asarray(samples * np.repeat(kept, frame)[: len(samples)], np.float32)


def _held(samples: Any) -> Samples:
    """Scaled down where it would exceed full scale."""
    peak = float(np.abs(samples).max()) if len(samples) else 0.0
    return np.asarray(samples * (PEAK / peak) if peak > PEAK else samples, np.float32)


def apply(samples: Samples, condition: Condition, seed: str) -> Samples:
    """`samples` under `condition`; `seed` is a name, such as that of the recording.

    The hall comes first, then the noise of the place, then microphone and radio. Raises
    AudioError when a recorded noise is not installed.
    """
    rng = np.random.default_rng(crc32(f"{seed}|{condition.name}".encode()))
    out = samples
    if condition.t60_s is not None:
        out = reverberate(out, condition.t60_s, rng)
    if condition.snr_db is not None:
        out = add_noise(out, condition.snr_db, rng, condition.source)
    if condition.band_hz is not None:
        out = limit_band(out, *condition.band_hz)
    if condition.clip_db is not None:
        out = clip(out, condition.clip_db)
    if condition.loss:
        out = lose_packets(out, condition.loss, rng)
    return out
