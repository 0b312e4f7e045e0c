"""The layer above CTranslate2: what is read again with a beam, and what a score is."""

from __future__ import annotations

import json

import numpy as np
import pytest

from voicelog.config import shipped
from voicelog.speech import audio, models
from voicelog.speech.engine import Engine, Heard

SURE, UNSURE, CIRCLING = ((1,), -0.05), ((2,), -0.3), ((3,) * 201, -0.01)
HEARD = [Heard(np.zeros((1, 150, 1), np.float32), frames) for frames in (1, 2, 3)]


class Scripted(Engine):
    """Reads what the script says, and notes which windows it read with which beam."""

    def __init__(self) -> None:
        self.read: list[tuple[int, list[int]]] = []

    def _read(self, heard, _contexts, beam, *_):  # type: ignore[no-untyped-def, override]
        self.read.append((beam, [window.frames for window in heard]))
        if beam == 1:
            return [SURE, UNSURE, CIRCLING]
        return [((10 * window.frames,), -0.2) for window in heard]


def test_only_what_is_unsure_or_goes_round_in_circles_is_read_with_a_beam() -> None:
    engine = Scripted()
    assert engine.decode(HEARD, [(), (), ()], 5, greedy=-0.1) == [(1,), (20,), (30,)]
    assert engine.read == [(1, [1, 2, 3]), (5, [2, 3])]


def test_at_zero_everything_is_read_with_a_beam() -> None:
    engine = Scripted()
    assert engine.decode(HEARD, [(), (), ()], 5, greedy=0.0) == [(10,), (20,), (30,)]
    assert engine.read == [(5, [1, 2, 3])]


@pytest.mark.model
def test_a_score_without_times_is_the_same_score() -> None:
    engine = Engine(models.find("tiny.en"), cpu_threads=1)
    folder = shipped("sample_audio")
    row = json.loads((folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines()[0])
    heard = engine.encode(audio.load(folder / row["file"]).samples)
    tokens, context = tuple(engine.tokens(" " + row["text"])), engine.context(("Wheel,",), 40)
    assert engine.chances(heard, context, tokens) == engine.align(heard, context, tokens).chances
    assert engine.chances(heard, context, ()) == ()
