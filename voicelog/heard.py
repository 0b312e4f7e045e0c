"""What was heard: decoded sound, and the words that a recogniser wrote for it.

Character spans are half-open offsets into `Transcript.text`; time spans are seconds from the
start of the take's audio.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np

RATE_HZ = 16_000
"""Sample rate of every `Audio`: what the recogniser's features are made for."""


@dataclass(frozen=True, slots=True, eq=False)
class Audio:
    """Decoded sound: float32 mono samples in [-1, 1] at `rate_hz`."""

    samples: np.ndarray
    sha256: str
    """Digest of the bytes as they came, before decoding."""
    path: Path | None = None
    rate_hz: int = RATE_HZ
    warnings: tuple[str, ...] = ()
    """Plain sentences on the signal (too quiet, clipped, noisy, samples missing)."""

    @property
    def duration_s(self) -> float:
        return len(self.samples) / self.rate_hz


@dataclass(frozen=True, slots=True)
class Word:
    """One recognised word, without spaces around it."""

    text: str
    start_s: float = 0.0
    end_s: float = 0.0
    probability: float = 1.0
    alternatives: tuple[str, ...] = ()


@dataclass(frozen=True)
class Transcript:
    """What the recogniser wrote: words, and which model wrote them under which settings."""

    words: tuple[Word, ...]
    model: str = ""
    model_sha256: str = ""
    settings: tuple[tuple[str, str], ...] = ()
    duration_s: float = 0.0
    warnings: tuple[str, ...] = ()
    """Plain sentences about the signal; each one puts every value of the note in doubt."""
    suspicions: tuple[Suspicion, ...] = ()
    """Words that a second look at the same audio did not bear out."""
    second: str = ""
    """What another model wrote for the same audio; empty where none did."""

    @classmethod
    def of_text(cls, text: str) -> Transcript:
        """A transcript of typed text: no times, full probability."""
        return cls(tuple(Word(word) for word in text.split()), model="typed")

    @classmethod
    def joined(cls, parts: tuple[Transcript, ...]) -> Transcript:
        """Several transcripts as one text; word times stay those of each part's own audio."""
        if len(parts) == 1:
            return parts[0]
        suspicions, offset = [], 0
        for part in parts:
            suspicions += [
                replace(found, start=found.start + offset, end=found.end + offset)
                for found in part.suspicions
            ]
            offset += len(part.text) + 1 if part.words else 0
        return cls(
            words=tuple(word for part in parts for word in part.words),
            model=parts[0].model if parts else "",
            model_sha256=parts[0].model_sha256 if parts else "",
            settings=parts[0].settings if parts else (),
            duration_s=sum(part.duration_s for part in parts),
            warnings=tuple(dict.fromkeys(w for part in parts for w in part.warnings)),
            suspicions=tuple(suspicions),
            second=cls._seconds(parts),
        )

    @staticmethod
    def _seconds(parts: tuple[Transcript, ...]) -> str:
        seconds = [part.second or part.text for part in parts]
        return " ".join(filter(None, seconds)) if any(part.second for part in parts) else ""

    @cached_property
    def text(self) -> str:
        return " ".join(word.text for word in self.words)

    @cached_property
    def word_starts(self) -> tuple[int, ...]:
        """Character offset at which each word begins in `text`."""
        starts, position = [], 0
        for word in self.words:
            starts.append(position)
            position += len(word.text) + 1
        return tuple(starts)

    def words_in(self, start: int, end: int) -> tuple[Word, ...]:
        """The words that the character span `start`..`end` touches."""
        first = max(bisect_right(self.word_starts, start) - 1, 0)
        last = bisect_left(self.word_starts, end)
        return tuple(
            word
            for word, at in zip(self.words[first:last], self.word_starts[first:last], strict=True)
            if at + len(word.text) > start
        )


@dataclass(frozen=True, slots=True)
class Suspicion:
    """A stretch of the transcript that a second look put in doubt.

    `start`..`end` are characters of `Transcript.text`; `alternatives` are other wordings
    of that stretch which the audio supports about as well, best first; `margin` is the
    difference of the summed log probabilities (nats) between the wording that was kept
    and its best rival, negative when the rival won.
    """

    start: int
    end: int
    alternatives: tuple[str, ...]
    margin: float
    why: str
