"""Hours of audio an hour: the bare library and voicelog on the same recordings.

Every system runs in a process of its own, so that its peak memory is its own; models are
loaded and warmed up before the clock starts. What it writes is scored, too: speed that
costs values is no gain. The library works with the weights as they came, before they were
adapted to shop speech, and with its own defaults. A cold start is timed apart: one note, from
the start of the process to the end of it.
"""

from __future__ import annotations

import multiprocessing
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING, Any

import numpy as np

from voicelog.bench import memory
from voicelog.bench import samples as recordings
from voicelog.bench.accuracy import outcomes_of, written_in
from voicelog.bench.score import Tally
from voicelog.bench.systems import BEAM, bare_model, library, ours, words_of
from voicelog.bench.wer import error_rate
from voicelog.errors import NoSpeech
from voicelog.heard import RATE_HZ, Audio, Transcript, Word
from voicelog.objects import Card, Draft, Take
from voicelog.speech import engine

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
    cpu_s: float
    """Processor time of the same, all cores together."""
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
            "cpu_s": self.cpu_s,
            "audio_hours_per_hour": self.audio_s / self.took_s,
            "peak_mb": self.peak_mb,
            "word_error_rate": self.word_error_rate,
            "expected": self.tally.expected,
            "right": self.tally.right,
            "right_unflagged": self.tally.right_unflagged,
            "silent": self.tally.silent,
            "missed": self.tally.missed,
        }


@dataclass(frozen=True, slots=True)
class ColdRow:
    """One note from nothing: a process is started, a model loaded, the note heard, and read."""

    system: str
    times: int
    took_s: float
    """Median."""
    least_s: float

    def plain(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "system": f"{self.system}, cold start",
            "times": self.times,
            "took_s": self.took_s,
            "least_s": self.least_s,
        }


def unadapted(model: str | Path | None = None) -> str | Path | None:
    """The model that `model` (or the default one) was adapted from, or itself."""
    from voicelog.speech import models

    name = models.default_name() if model is None else str(model)
    for entry in models.entries():
        if entry.name == name and entry.adapter is not None:
            return entry.adapter.of
    return model


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


def _plain_library(model: str | Path | None) -> Any:
    """The library with its own defaults: text, and no times of words."""
    from voicelog.pipeline import Chain

    whisper, chain = bare_model(unadapted(model)), Chain()

    def listen(audio: Audio, card: Card, step: str | None) -> Draft:
        segments, _ = whisper.transcribe(audio.samples, language="en", beam_size=BEAM)
        text = "".join(segment.text for segment in segments)
        return chain.propose((Take(Transcript.of_text(text)),), card, step)

    return _one_by_one(listen)


def _batched_library(model: str | Path | None) -> Any:
    """The library's batched pipeline over all recordings as one, its words given back by time."""
    from faster_whisper import BatchedInferencePipeline

    from voicelog.pipeline import Chain

    pipeline, chain = BatchedInferencePipeline(bare_model(unadapted(model))), Chain()

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
    """All recordings handed over at once, as to a worker with a backlog, files and all."""
    from voicelog.pipeline import Chain
    from voicelog.speech import batch
    from voicelog.speech.recognise import WhisperRecogniser
    from voicelog.work.task import Task, perform

    lanes = batch.lanes(engine.TOGETHER)
    chain = Chain(WhisperRecogniser(model, cpu_threads=1, lanes=lanes))

    def work(jobs: Sequence[Job]) -> list[Draft | None]:
        tasks = [
            (Task(sample.name, (card,), card.number, "W-1", step=sample.step), sample.path)
            for sample, card, _ in jobs
            if sample.path is not None
        ]
        return [result.draft for result in perform(chain, tasks, lanes)]

    return work


_SYSTEMS: dict[str, Callable[[Any], Any]] = {
    "faster-whisper, one by one": _plain_library,
    "faster-whisper, with times of words": lambda model: _one_by_one(library(unadapted(model))),
    "faster-whisper, batched": _batched_library,
    "voicelog, one by one": lambda model: _one_by_one(ours(model)),
    "voicelog --fast": lambda model: _one_by_one(ours(model, "fast")),
    "voicelog, batch": _voicelog_batch,
}


def systems() -> tuple[str, ...]:
    """Names of what is measured."""
    return tuple(_SYSTEMS)


def _measure(system: str, manifest: Path, model: str | Path | None, first: int | None) -> SpeedRow:
    from voicelog.speech import audio as sound

    cards = recordings.cards_for(manifest)
    jobs = [
        (sample, recordings.card_of(sample, cards), sound.load(sample.path))
        for sample in recordings.read(manifest)[:first]
        if sample.path is not None
    ]
    work = _SYSTEMS[system](model)
    work(jobs[:2])
    begin, begin_cpu = time.perf_counter(), time.process_time()
    drafts = work(jobs)
    took_s, cpu_s = time.perf_counter() - begin, time.process_time() - begin_cpu
    pairs = tuple(zip(jobs, drafts, strict=True))
    return SpeedRow(
        system,
        len(jobs),
        sum(audio.duration_s for *_, audio in jobs),
        took_s,
        cpu_s,
        memory.peak_mib(),
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


_COLD_LIBRARY = """
import sys
from faster_whisper import WhisperModel
whisper = WhisperModel(sys.argv[1], device="cpu", compute_type="int8", local_files_only=True)
segments, _ = whisper.transcribe(sys.argv[2], language="en")
print("".join(segment.text for segment in segments))
"""


def cold_starts(
    manifest: Path, model: str | Path | None = None, times: int = 5
) -> tuple[ColdRow, ...]:
    """The library's own few lines and `voicelog preview` on the first note, by turns.

    Each is run once before, so that files lie in memory for both. Raises ModelError.
    """
    from voicelog.speech import models

    sample = next(each for each in recordings.read(manifest) if each.path is not None)
    folder, path = str(models.find(unadapted(model)).folder), str(sample.path)
    preview = ["-c", "from voicelog.cli import main; main()", "preview", path]
    preview += ["--card", sample.card]
    preview += ["--step", sample.step] if sample.step else []
    preview += ["--model", str(model)] if model is not None else []
    commands = {
        "faster-whisper": [sys.executable, "-c", _COLD_LIBRARY, folder, path],
        "voicelog preview": [sys.executable, *preview],
    }
    took: dict[str, list[float]] = {system: [] for system in commands}
    for _ in range(times + 1):
        for system, command in commands.items():
            begin = time.perf_counter()
            subprocess.run(command, check=True, capture_output=True)
            took[system].append(time.perf_counter() - begin)
    return tuple(
        ColdRow(system, times, median(seconds[1:]), min(seconds[1:]))
        for system, seconds in took.items()
    )
