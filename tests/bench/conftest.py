"""A small card with samples, and a listener that says what it is told."""

import json
from types import SimpleNamespace

import numpy as np
import pytest

from voicelog.bench import samples
from voicelog.heard import Transcript
from voicelog.objects import Draft, Take
from voicelog.speech.audio import to_flac


@pytest.fixture
def bench(tmp_path):
    """`manifest`, `samples` (two recordings on a demo card) and `cards`."""
    rows = [
        {"file": "a.flac", "text": "Tyre pressure two hundred p s i. No leaks.", "card": "DM-32-10",
         "step": "40", "voice": "x", "noise": "clean",
         "expect": [{"field": "tyre_pressure", "value": 200, "unit": "psi"},
                    {"field": "leaks", "value": "pass"}]},
        {"file": "b.flac", "text": "Three broken wires.", "card": "DM-KR-15", "step": "40",
         "voice": "y", "noise": "15 dB", "expect": [{"field": "broken_wires", "value": 3}]},
    ]  # fmt: skip
    for row in rows:
        tone = 0.3 * np.sin(np.arange(16000) / 10)
        (tmp_path / row["file"]).write_bytes(to_flac(tone.astype(np.float32)))
    path = tmp_path / "manifest.jsonl"
    path.write_text("\n".join(map(json.dumps, rows)), encoding="utf-8")
    return SimpleNamespace(manifest=path, samples=samples.read(path), cards=samples.cards_for(path))


def draft_of(card, step, text, *values):
    """A draft of `values` for a recording in which `text` was heard."""
    return Draft(card.number, card.revision, step, (Take(Transcript.of_text(text)),), values)
