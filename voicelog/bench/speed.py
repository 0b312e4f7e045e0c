"""Hours of audio an hour: the bare library and voicelog on the same recordings.

Every system runs in a process of its own, so that its peak memory is its own; models are
loaded and warmed up before the clock starts. What it writes is scored, too: speed that
costs values is no gain.
"""

from __future__ import annotations

import multiprocessing
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from voicelog.bench import samples as recordings
from voicelog.bench.accuracy import outcomes_of, written_in
from voicelog.bench.score import Tally
from voicelog.bench.systems import BEAM, bare_model, library, ours, words_of
from voicelog.bench.wer import error_rate
from voicelog.errors import NoSpeech
from voicelog.objects import RATE_HZ, Audio, Card, Draft, Take, Transcript, Word

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from voicelog.bench.samples import Sample

BATCH = 8
"""Windows decoded at once by the library's batched pipeline: its own default."""
_GAP_S = 1.5
"""Silence between recordings where a system takes them as one."""

Job = tuple["Sample", Card, Audio]


@dataclass(frozen=True, slots=True)
class SpeedRow:
    """One system on all recordings."""

    system: str
    notes: int
    audio_s: float
    took_s: float
    """Recognition and reading; loading is not counted."""
    peak_mb: float
    """Largest resident memory of its process."""
    word_error_rate: float | None
    tally: Tally

    def plain(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "system": self.system,
            "notes": self.notes,
            "audio_s": self.audio_s,
            "took_s": self.took_s,
            "audio_hours_per_hour": self.audio_s / self.took_s,
            "peak_mb": self.peak_mb,
            "word_error_rate": self.word_error_rate,
            "expected": self.tally.expected,
            "right": self.tally.right,
            "right_unflagged": self.tally.right_unflagged,
            "silent": self.tally.silent,
            "missed": self.tally.missed,
        }


def _one_by_one(listener: Any) -> Any:
    def work(jobs: Sequence[Job]) -> list[Draft | None]:
        drafts: list[Draft | None] = []
        for sample, card, audio in jobs:
            try:
                drafts.append(listener(audio, card, sample.step))
            except NoSpeech:
                drafts.append(None)
        return drafts

    return work


def _batched_library(model: str | Path | None) -> Any:
    """The library's batched pipeline over all recordings as one, its words given back by time."""
    from faster_whisper import BatchedInferencePipeline

    from voicelog.pipeline import Chain

    pipeline, chain = BatchedInferencePipeline(bare_model(model)), Chain()

    def work(jobs: Sequence[Job]) -> list[Draft | None]:
        gap = np.zeros(int(_GAP_S * RATE_HZ), np.float32)
        joined = np.concatenate([part for _, _, audio in jobs for part in (audio.samples, gap)])
        ends = np.cumsum([audio.duration_s + _GAP_S for _, _, audio in jobs])
        segments, _ = pipeline.transcribe(
            joined, language="en", beam_size=BEAM, batch_size=BATCH, word_timestamps=True
        )
        words: list[list[Word]] = [[] for _ in jobs]
        for word in words_of(segments):
            place = int(np.searchsorted(ends, (word.start_s + word.end_s) / 2))
            words[min(place, len(jobs) - 1)].append(word)
        return [
            chain.propose((Take(Transcript(tuple(own), model="library")),), card, sample.step)
            for own, (sample, card, _) in zip(words, jobs, strict=True)
        ]

    return work


def _voicelog_batch(model: str | Path | None) -> Any:
    """All recordings handed over at once, as a worker with a backlog does."""
    from voicelog.pipeline import Chain
    from voicelog.speech import batch, vocabulary
    from voicelog.speech.recognise import WhisperRecogniser

    lanes = batch.lanes(BATCH)
    recogniser = WhisperRecogniser(model, cpu_threads=1, lanes=lanes)
    chain = Chain()

    def work(jobs: Sequence[Job]) -> list[Draft | None]:
        words = [vocabulary.of(card, card.step(sample.step or "")) for sample, card, _ in jobs]
        heard = batch.transcribe_many(recogniser, [audio for *_, audio in jobs], words, lanes)
        return [
            None
            if isinstance(transcript, NoSpeech)
            else chain.propose((Take(transcript),), card, sample.step)
            for transcript, (sample, card, _) in zip(heard, jobs, strict=True)
        ]

    return work


_SYSTEMS: dict[str, Callable[[Any], Any]] = {
    "faster-whisper, one by one": lambda model: _one_by_one(library(model)),
    "faster-whisper, batched": _batched_library,
    "voicelog, one by one": lambda model: _one_by_one(ours(model)),
    "voicelog --fast": lambda model: _one_by_one(ours(model, "fast")),
    "voicelog, batch": _voicelog_batch,
}


def systems() -> tuple[str, ...]:
    """Names of what is measured."""
    return tuple(_SYSTEMS)


def _peak_mb() -> float:
    import resource

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1024 * 1024 if sys.platform == "darwin" else 1024)


def _measure(system: str, manifest: Path, model: str | Path | None, first: int | None) -> SpeedRow:
    from voicelog.speech import audio as sound

    cards = recordings.cards_for(manifest)
    jobs = [
        (sample, recordings.card_of(sample, cards), sound.load(sample.path))
        for sample in recordings.read(manifest)[:first]
        if sample.path is not None
    ]
    work = _SYSTEMS[system](model)
    work(jobs[:1])
    begin = time.perf_counter()
    drafts = work(jobs)
    took_s = time.perf_counter() - begin
    pairs = tuple(zip(jobs, drafts, strict=True))
    return SpeedRow(
        system,
        len(jobs),
        sum(audio.duration_s for *_, audio in jobs),
        took_s,
        _peak_mb(),
        error_rate((sample.text, written_in(draft)) for (sample, *_), draft in pairs),
        Tally.of(
            outcome
            for (sample, card, _), draft in pairs
            for outcome in outcomes_of(sample, card, draft)
        ),
    )


def measure(
    manifest: Path,
    model: str | Path | None = None,
    only: Sequence[str] = (),
    first: int | None = None,
    tick: Callable[[], object] = lambda: None,
) -> tuple[SpeedRow, ...]:
    """A row for each system, or for those in `only`, over the `first` recordings of `manifest`.

    Raises AudioError, CardError, ConfigError, ModelError.
    """
    rows = []
    for system in only or systems():
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(max_workers=1, mp_context=context) as pool:
            rows.append(pool.submit(_measure, system, manifest, model, first).result())
        tick()
    return tuple(rows)
