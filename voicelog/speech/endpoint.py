"""A live stream cut into utterances, with hangover and pre-roll.

The voice detector is driven frame by frame here: it keeps a state and the last 64 samples
between calls, and gives what the batch call over the whole recording gives (a test holds
that; the detector's package is pinned, since its inside is used). Samples are never lost
between utterances: those that no utterance took are silence.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from voicelog.heard import RATE_HZ
from voicelog.speech import settings
from voicelog.speech.voice import FRAME, Activity

_CONTEXT = 64
"""Samples of the frame before that the detector hears again."""


@dataclass(frozen=True, slots=True, eq=False)
class Utterance:
    """One stretch of speech: samples with pre-roll and hangover, and where it lay."""

    samples: np.ndarray
    start_s: float
    """Of the first sample, from the start of the stream."""
    end_s: float


class Detector:
    """The voice detector on a stream: one probability for each 512 samples."""

    def __init__(self) -> None:
        from faster_whisper.vad import get_vad_model

        self._session = get_vad_model().session
        self._h = np.zeros((1, 1, 128), np.float32)
        self._c = np.zeros((1, 1, 128), np.float32)
        self._before = np.zeros(_CONTEXT, np.float32)

    def hear(self, frame: np.ndarray) -> float:
        """Probability that somebody speaks in `frame` (512 samples)."""
        heard = np.concatenate([self._before, frame])[np.newaxis]
        output, self._h, self._c = self._session.run(
            None, {"input": heard, "h": self._h, "c": self._c}
        )
        self._before = frame[-_CONTEXT:]
        return float(np.asarray(output).reshape(-1)[0])


class Endpointer:
    """Feed it samples as they come; it hands out each utterance once it has ended.

    An utterance ends after `voice.hangover_s` without speech, or when it grows longer than
    one window of the recogniser. It begins `voice.pad_s` before the speech.
    """

    def __init__(self) -> None:
        """Raises ConfigError when speech.toml is wrong."""
        self._voice = settings.load().voice
        self._detector = Detector()
        self._activity = Activity(self._voice)
        self._pad = round(self._voice.pad_s * RATE_HZ)
        self._longest = round(self._voice.window_s * RATE_HZ) - 2 * self._pad
        self._kept = np.zeros(0, np.float32)
        """Samples that may still belong to an utterance."""
        self._kept_from = 0
        self._judged = 0
        self._taken = 0

    @property
    def speaking(self) -> bool:
        """Whether an utterance is open."""
        return self._activity.start is not None

    def feed(self, samples: np.ndarray) -> list[Utterance]:
        """Take in samples at 16 kHz; the utterances that ended with them."""
        self._kept = np.concatenate([self._kept, samples.astype(np.float32, copy=False)])
        ended = []
        while self._judged + FRAME <= self._kept_from + len(self._kept):
            at = self._judged - self._kept_from
            span = self._activity.push(self._detector.hear(self._kept[at : at + FRAME]))
            self._judged += FRAME
            if span is None and self._too_long():
                span = self._activity.cut()
            if span is not None:
                ended.append(self._utterance(*span))
        self._forget()
        return ended

    def flush(self) -> list[Utterance]:
        """The stream has ended: what is still open, as the last utterance."""
        rest = -(self._kept_from + len(self._kept)) % FRAME
        ended = self.feed(np.zeros(rest, np.float32)) if rest else []
        span = self._activity.finish()
        return [*ended, self._utterance(*span)] if span is not None else ended

    def _too_long(self) -> bool:
        start = self._activity.start
        return start is not None and self._judged - start >= self._longest

    def _utterance(self, start: int, end: int) -> Utterance:
        first = max(self._taken, start - self._pad, self._kept_from)
        last = min(end + self._pad, self._kept_from + len(self._kept))
        self._taken = last
        samples = self._kept[first - self._kept_from : last - self._kept_from].copy()
        return Utterance(samples, first / RATE_HZ, last / RATE_HZ)

    def _forget(self) -> None:
        """Drop what no utterance can need: all but the pre-roll, when nobody speaks."""
        start = self._activity.start
        needed = (start if start is not None else self._judged) - self._pad
        drop = max(0, needed - self._kept_from)
        self._kept = self._kept[drop:]
        self._kept_from += drop
