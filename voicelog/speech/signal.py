"""The signal before it is decoded: is it fit to be understood?

Every sentence given here puts every value of the note in doubt, so one is given only where
it foretells errors. Levels are in dB relative to full scale; the ratio of speech to noise
compares the frames in which somebody speaks with those in which nobody does.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from voicelog.heard import RATE_HZ

if TYPE_CHECKING:
    from voicelog.speech.settings import SignalLimits
    from voicelog.speech.voice import Span

_FRAME = RATE_HZ // 50
_EDGE_FRAMES = 5
"""Frames beside speech that hold its tail, and count as neither."""
_EDGE_SAMPLES = 16
"""The last millisecond beside a silent frame."""
_FLOOR = 1e-10


@dataclass(frozen=True, slots=True)
class Quality:
    """What was measured on one recording."""

    level_db: float
    """Of the speech."""
    snr_db: float
    clipped: float
    """Share of the loud samples that stand at the recording's own ceiling."""
    dropped: float
    """Share of the speech that is exact silence: packets that never came."""
    bandwidth_hz: float
    """Frequency below which nearly all of the speech's power lies."""


def measure(samples: np.ndarray, speech: tuple[Span, ...]) -> Quality:
    """Measure a recording in which `speech` was found. Needs at least one stretch.

    The last stretch may reach beyond the samples: the detector fills up its last frame.
    """
    count = len(samples) // _FRAME
    frames = samples[: count * _FRAME].reshape(count, _FRAME)
    power = np.mean(np.square(frames, dtype=np.float64), axis=1)
    spoken = np.zeros(count, bool)
    near = np.zeros(count, bool)
    for start, end in speech:
        first, last = start // _FRAME, -(-end // _FRAME)
        spoken[first:last] = True
        near[max(0, first - _EDGE_FRAMES) : last + _EDGE_FRAMES] = True
    loud = power[spoken] if spoken.any() else power
    silent = (power == 0.0) & ~spoken
    quiet = power[~near & ~silent]
    if len(quiet) < 10:  # speech from end to end: its quietest frames stand for the noise
        quiet = np.sort(loud[loud > 0])[: max(1, len(loud) // 10)]
        if (~near & silent).sum() >= 10:
            quiet = np.zeros(1)
    noise = float(np.mean(quiet)) if len(quiet) else 0.0
    signal = float(np.mean(loud)) if len(loud) else 0.0
    return Quality(
        level_db=_db(signal),
        snr_db=_db(max(signal - noise, _FLOOR)) - _db(noise),
        clipped=_clipped(samples),
        dropped=_dropped(frames, spoken, signal),
        bandwidth_hz=_bandwidth(samples, speech),
    )


def _db(power: float) -> float:
    return float(10 * np.log10(max(power, _FLOOR)))


def _clipped(samples: np.ndarray) -> float:
    """Share of samples near the peak that stand exactly at it: speech rarely touches it twice."""
    magnitude = np.abs(samples)
    top = float(magnitude.max(initial=0.0))
    if top < 0.05:
        return 0.0
    loud = magnitude > 0.7 * top
    return float(np.mean(magnitude[loud] > 0.998 * top)) if loud.any() else 0.0


def _dropped(frames: np.ndarray, spoken: np.ndarray, power: float) -> float:
    """Share of the frames inside speech that are exact silence cut into the sound.

    Speech dies away; a lost packet ends it within a sample. Synthetic voices are exactly silent
    between words too, so a silent stretch counts only if the sound is cut off on a side of it.
    """
    silent = np.max(np.abs(frames), axis=1, initial=0.0) == 0.0
    edge = 0.1 * np.sqrt(power)
    lost = at = 0
    while at < len(frames):
        end = at
        while end < len(frames) and silent[end]:
            end += 1
        if end > at:
            before = np.abs(frames[at - 1, -_EDGE_SAMPLES:]).max() if at else 0.0
            after = np.abs(frames[end, :_EDGE_SAMPLES]).max() if end < len(frames) else 0.0
            if max(before, after) > edge:
                lost += int(spoken[at:end].sum())
        at = end + 1
    return lost / max(1, int(spoken.sum()))


def _bandwidth(samples: np.ndarray, speech: tuple[Span, ...]) -> float:
    """Frequency below which 99.9 % of the power of the speech lies."""
    total = np.zeros(257)
    for start, end in speech:
        piece = samples[start:end]
        piece = piece[: len(piece) // 512 * 512].reshape(-1, 512)
        total += np.square(np.abs(np.fft.rfft(piece * np.hanning(512), axis=1))).sum(axis=0)
    if total.sum() <= 0:
        return RATE_HZ / 2
    share = np.cumsum(total) / total.sum()
    return float(np.searchsorted(share, 0.999) * RATE_HZ / 512)


def sentences(quality: Quality, limits: SignalLimits) -> tuple[str, ...]:
    """What to tell the mechanic; nothing when the recording is fit to be understood."""
    told = []
    if quality.snr_db < limits.least_snr_db:
        told.append(
            "Too loud here: hold the microphone closer to your mouth and say the values again."
        )
    if quality.level_db < limits.least_level_db:
        told.append("Too quiet: hold the microphone closer or speak up, and say the values again.")
    if quality.clipped > limits.most_clipped:
        told.append("Overdriven: hold the microphone further away and say the values again.")
    if quality.dropped > limits.most_dropped:
        told.append("Parts of the sound are missing: check the connection, say the values again.")
    if quality.bandwidth_hz < limits.least_bandwidth_hz:
        told.append("Muffled: uncover the microphone or check the recorder's sample rate.")
    return tuple(told)


def check(samples: np.ndarray, speech: tuple[Span, ...], limits: SignalLimits) -> tuple[str, ...]:
    """Measure and tell."""
    return sentences(measure(samples, speech), limits) if speech else ()
