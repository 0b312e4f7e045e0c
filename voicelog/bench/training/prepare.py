"""Writes the training set: `python -m voicelog.bench.training.prepare OUT`.

OUT/notes.jsonl has an object a line (name, split, written, phrases, real, keep), OUT/NAME.npy
the clean samples as int16. A set that is there already is added to. `real` marks real speech,
whose speakers are split as well; `keep` that of general content, on which the adapted model must
go on saying what the base says.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass
from functools import partial
from itertools import chain
from multiprocessing import Pool
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zlib import crc32

import numpy as np

from voicelog.bench.training import grammar, spoken
from voicelog.speech import audio

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.bench.waves import Samples

_DEVELOPMENT_SEED = 2
_WORD_FOR_WORD = ("digits", "digit", "nato")
"""Kinds of real clips that are written down as spoken; the others are `keep`."""


@dataclass(frozen=True, slots=True)
class _Script:
    """What a voice is given to say."""

    name: str
    spoken: str
    row: dict[str, Any]


def _notes(seed: int, count: int, split: str, alone: float = grammar.ALONE) -> Iterator[_Script]:
    for note in grammar.notes(seed, count, alone):
        row = {"written": note.written, "phrases": note.phrases, "keep": False, "split": split}
        yield _Script(note.name, note.spoken, row)


def _prose(file: Path) -> Iterator[_Script]:
    """Sentences of a file, one a line: general English, and what the base makes of it stays."""
    for number, line in enumerate(file.read_text(encoding="utf-8").splitlines()):
        row = {"written": line, "phrases": (), "keep": True, "split": "training"}
        yield _Script(f"{file.stem}-{number:05d}", line, row)


def _dictated(file: Path, voices: int) -> Iterator[_Script]:
    """Sentences that people wrote, each in so many voices: {name, text, phrases} a line."""
    for line in file.read_text(encoding="utf-8").splitlines():
        entry = json.loads(line)
        row = {"written": entry["text"], "phrases": entry["phrases"], "keep": False}
        for voice in range(voices):
            yield _Script(f"{entry['name']}-{voice}", entry["text"], row | {"split": "training"})


def _spoken(script: _Script, engines: tuple[str, ...]) -> tuple[dict[str, Any], Samples]:
    training = script.row["split"] == "training"
    voices = spoken.TRAINING if training else spoken.DEVELOPMENT
    voices = tuple(voice for voice in voices if not engines or voice.engine in engines)
    row = {"name": script.name, "real": False, **script.row}
    return row, spoken.said(script.name, script.spoken, voices)


def split_of(speaker: str) -> str:
    """A speaker belongs to one of training (half), development (a quarter), and neither."""
    return ("training", "training", "development", "held out")[crc32(speaker.encode()) % 4]


def _real(folder: Path) -> Iterator[tuple[dict[str, Any], Samples]]:
    """Clips of a folder with a manifest.jsonl of file, text, speaker and perhaps kind."""
    for line in (folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines():
        entry = json.loads(line)
        split = split_of(f"{folder.name}/{entry['speaker']}")
        if split == "held out":
            continue
        name = f"{folder.name}-{Path(entry['file']).stem}"
        text = str(entry["text"]).lower().capitalize()
        keep = entry.get("kind") not in _WORD_FOR_WORD
        row = {"name": name, "written": text, "phrases": ()}
        about = {"real": True, "keep": keep, "split": split}
        yield row | about, audio.load(folder / entry["file"]).samples


def main() -> None:
    """Seeds: training notes 1 and above, development notes `_DEVELOPMENT_SEED`."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("out", type=Path)
    asked.add_argument("--notes", type=int, default=4000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--alone", type=float, default=grammar.ALONE)
    asked.add_argument("--development", type=int, default=200)
    asked.add_argument("--prose", type=Path, action="append", default=[])
    asked.add_argument("--dictated", type=Path, action="append", default=[])
    asked.add_argument("--voices", type=int, default=2)
    asked.add_argument("--speech", type=Path, action="append", default=[])
    asked.add_argument("--engine", action="append", default=[])
    asked.add_argument("--processes", type=int, default=2)
    given = asked.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    scripts = chain(
        _notes(_DEVELOPMENT_SEED, given.development, "development"),
        *map(_prose, given.prose),
        *(_dictated(file, given.voices) for file in given.dictated),
        _notes(given.seed, given.notes, "training", given.alone),
    )
    say = partial(_spoken, engines=tuple(given.engine))
    with (
        (given.out / "notes.jsonl").open("a", encoding="utf-8") as listing,
        Pool(given.processes) as pool,
    ):
        made = pool.imap(say, scripts, chunksize=8)
        for row, samples in chain(*map(_real, given.speech), made):
            np.save(given.out / f"{row['name']}.npy", np.int16(np.clip(samples, -1, 1) * 32767))
            listing.write(json.dumps(row) + "\n")
            listing.flush()


if __name__ == "__main__":
    main()
