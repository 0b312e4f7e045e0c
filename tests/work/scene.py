"""A home with people and the records' card, and recordings that say something.

Sounds are invented: a number in the samples makes each recording another one. What is said
in it is known to `Hears` by its digest, so nothing has to be recognised.
"""

from __future__ import annotations

import io
import wave
from pathlib import Path

import numpy as np

from tests.records.scene import CARD, CHEAP, people
from voicelog.pipeline import Chain
from voicelog.records import Store
from voicelog.speech.fake import FakeRecogniser

SAID = "Bolt one, ninety eight newton metres."


def sound(number: int = 0, seconds: float = 0.2) -> bytes:
    """A WAV file that no other number gives."""
    samples = np.zeros(int(16_000 * seconds), "<i2")
    samples[:8] = [number >> shift & 15 for shift in range(0, 32, 4)]
    samples[8:] = 100
    target = io.BytesIO()
    with wave.open(target, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
        file.writeframes(samples.tobytes())
    return target.getvalue()


class Hears(FakeRecogniser):
    """Hears the same in every recording but those it was told about."""

    def __init__(self, heard: dict[str, str] | None = None, otherwise: str = SAID) -> None:
        super().__init__(heard)
        self._otherwise = otherwise

    def transcribe(self, audio, vocabulary=None):  # type: ignore[no-untyped-def]
        self._queue[:] = [self._otherwise]
        return super().transcribe(audio, vocabulary)


def chain() -> Chain:
    """Importable by worker processes."""
    return Chain(Hears())


def founded(home: Path) -> Path:
    """A home with people and a card."""
    with Store.open(home, cost=CHEAP) as store:
        people(store)
        store.cards.add(CARD, "bearing.yaml", by="ada")
    return home
