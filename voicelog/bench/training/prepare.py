"""Writes the training set: `python -m voicelog.bench.training.prepare OUT`.

OUT/notes.jsonl has an object a line (name, split, written, phrases, real, keep), OUT/NAME.npy
the clean samples as int16. `real` marks real speech, whose speakers are split as well; `keep`
that of general content, on which the adapted model must go on saying what the base says.
"""

from __future__ import annotations

import argparse
import json
from functools import partial
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

_WORD_FOR_WORD = ("digits", "digit", "nato")
"""Kinds of real clips that are written down as spoken; the others are `keep`."""


def _spoken(note: grammar.Note, split: str) -> tuple[dict[str, Any], Samples]:
    voices = spoken.TRAINING if split == "training" else spoken.DEVELOPMENT
    row = {"name": note.name, "written": note.written, "phrases": note.phrases}
    about = {"real": False, "keep": False, "split": split}
    return row | about, spoken.said(note.name, note.spoken, voices)


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
    """Seeds: training notes 1, development notes 2."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("out", type=Path)
    asked.add_argument("--notes", type=int, default=4000)
    asked.add_argument("--development", type=int, default=200)
    asked.add_argument("--speech", type=Path, action="append", default=[])
    asked.add_argument("--processes", type=int, default=2)
    given = asked.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    with (
        (given.out / "notes.jsonl").open("w", encoding="utf-8") as listing,
        Pool(given.processes) as pool,
    ):
        training, development = (
            pool.imap(partial(_spoken, split=split), grammar.notes(seed, count), chunksize=8)
            for split, seed, count in (
                ("training", 1, given.notes),
                ("development", 2, given.development),
            )
        )
        for rows in (*map(_real, given.speech), development, training):
            for row, samples in rows:
                np.save(given.out / f"{row['name']}.npy", np.int16(np.clip(samples, -1, 1) * 32767))
                listing.write(json.dumps(row) + "\n")
                listing.flush()


if __name__ == "__main__":
    main()
