"""Voice activity: where in the audio somebody speaks, and the windows that are decoded.

The detector is the Silero model inside faster-whisper: one probability for each 32 ms. The
same small machine turns probabilities into stretches of speech here, for a whole recording,
and in `endpoint`, for a live stream, so both come to the same result.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from voicelog.heard import RATE_HZ

if TYPE_CHECKING:
    from collections.abc import Iterable

    from voicelog.speech.settings import Voice

FRAME = 512
"""Samples for each probability of the detector."""
_FALL = 0.15
"""Speech ends below `threshold` less this: the detector's own hysteresis."""

Span = tuple[int, int]
"""Half-open range of samples."""


def probabilities(samples: np.ndarray) -> np.ndarray:
    """Probability of speech for each 512 samples; the last frame is filled up with silence."""
    from faster_whisper.vad import get_vad_model

    padded = np.pad(samples, (0, -len(samples) % FRAME))
    if not len(padded):
        return np.zeros(0, np.float32)
    return np.asarray(get_vad_model()(padded), dtype=np.float32).reshape(-1)


class Activity:
    """From probabilities, frame by frame, to stretches of speech in samples."""

    def __init__(self, voice: Voice) -> None:
        self._voice = voice
        self._hangover = round(voice.hangover_s * RATE_HZ)
        self._shortest = round(voice.shortest_s * RATE_HZ)
        self._at = 0
        self.start: int | None = None
        """Where the stretch that is still open began."""
        self._quiet: int | None = None

    def push(self, probability: float) -> Span | None:
        """One frame on; the stretch that this frame ended, if it did."""
        at, self._at = self._at, self._at + FRAME
        if probability >= self._voice.threshold:
            self._quiet = None
            if self.start is None:
                self.start = at
        elif self.start is not None and probability < self._voice.threshold - _FALL:
            if self._quiet is None:
                self._quiet = at
            if self._at - self._quiet >= self._hangover:
                return self._end(self._quiet)
        return None

    def cut(self) -> Span | None:
        """End the open stretch here; if speech goes on, the next one begins with the next frame."""
        return None if self.start is None else self._end(self._at)

    def finish(self) -> Span | None:
        """The stretch that the end of the audio cuts off, if there is one."""
        return None if self.start is None else self._end(self._quiet or self._at)

    def _end(self, end: int) -> Span | None:
        start, self.start, self._quiet = self.start, None, None
        return (start, end) if start is not None and end - start >= self._shortest else None


def stretches(chances: Iterable[float], voice: Voice) -> tuple[Span, ...]:
    """Stretches of speech, in samples, without padding."""
    activity = Activity(voice)
    found = [activity.push(float(chance)) for chance in chances]
    found.append(activity.finish())
    return tuple(span for span in found if span is not None)


@dataclass(frozen=True, slots=True)
class Window:
    """What is decoded in one go: pieces of the audio with long pauses shortened."""

    pieces: tuple[Span, ...]

    @property
    def length(self) -> int:
        return sum(end - start for start, end in self.pieces)

    @property
    def duration_s(self) -> float:
        return self.length / RATE_HZ

    def cut(self, samples: np.ndarray) -> np.ndarray:
        """The window's samples."""
        return np.concatenate([samples[start:end] for start, end in self.pieces])

    def time_s(self, inside_s: float) -> float:
        """Seconds of the audio for seconds of the window."""
        left = inside_s * RATE_HZ
        for start, end in self.pieces:
            if left <= end - start:
                return (start + left) / RATE_HZ
            left -= end - start
        return self.pieces[-1][1] / RATE_HZ


def windows(speech: tuple[Span, ...], total: int, voice: Voice) -> tuple[Window, ...]:
    """Speech in windows of at most `voice.window_s`, cut at the longest pauses.

    A stretch without a pause that is longer than a window is cut into pieces that overlap.
    """
    longest = round(voice.window_s * RATE_HZ)
    parts = _short_enough(
        speech,
        longest - 2 * round(voice.pad_s * RATE_HZ),
        round(voice.overlap_s * RATE_HZ),
    )
    made = []
    while parts:
        fits = len(parts)
        while fits > 1 and _window(parts[:fits], total, voice).length > longest:
            fits -= 1
        if fits < len(parts):
            fits = _best_cut(parts, fits)
        made.append(_window(parts[:fits], total, voice))
        parts = parts[fits:]
    return tuple(made)


def _best_cut(parts: list[Span], fits: int) -> int:
    """How many of the first `fits` parts to take so that the pause after them is longest.

    Only the second half of what fits is looked at: windows that are too short cost time.
    """
    begin, end = parts[0][0], parts[fits - 1][1]
    middle = (begin + end) / 2
    candidates = [n for n in range(1, fits + 1) if parts[n - 1][1] >= middle]
    return max(candidates, key=lambda n: (parts[n][0] - parts[n - 1][1], n))


def _short_enough(speech: tuple[Span, ...], longest: int, overlap: int) -> list[Span]:
    parts = []
    for start, end in speech:
        fresh = max(1, longest - overlap)
        count = 1 if end - start <= longest else -(-(end - start) // fresh)
        edges = np.linspace(start, end, count + 1).astype(int)
        parts += [(max(start, int(a) - overlap), int(b)) for a, b in pairwise(edges)]
    return parts


def _window(parts: list[Span], total: int, voice: Voice) -> Window:
    pad, half = round(voice.pad_s * RATE_HZ), round(voice.pause_s * RATE_HZ / 2)
    pieces = [[max(0, parts[0][0] - pad), parts[0][1]]]
    for start, end in parts[1:]:
        if start - pieces[-1][1] <= 2 * half:
            pieces[-1][1] = end
        else:
            pieces[-1][1] += half
            pieces.append([start - half, end])
    pieces[-1][1] = min(total, pieces[-1][1] + pad)
    return Window(tuple((start, end) for start, end in pieces))
