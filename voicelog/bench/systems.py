"""What is measured side by side: voicelog, the bare library, and a bare quantity parser.

A listener turns a recording into a draft; the bare library is faster-whisper as it comes
(same weights, beam of five, no prompt, no second look) with voicelog's reading behind it,
so the difference is the listening alone.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Protocol

from voicelog import units
from voicelog.errors import ConfigError
from voicelog.heard import Transcript, Word
from voicelog.objects import Draft, Ratio, Take
from voicelog.pipeline import Chain

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from voicelog.bench.score import Entry
    from voicelog.heard import Audio
    from voicelog.objects import Card, FieldValue

BEAM = 5
"""Beam of the bare library: its own default."""


class Listener(Protocol):
    """One recording, all the way to a draft. Raises NoSpeech."""

    def __call__(self, audio: Audio, card: Card, step: str | None) -> Draft: ...


def ours(model: str | Path | None = None, profile: str = "standard") -> Listener:
    """voicelog's own chain. Raises ModelError."""
    from voicelog.speech.recognise import WhisperRecogniser

    return Chain(WhisperRecogniser(model, profile)).note


def bare_model(model: str | Path | None = None) -> Any:
    """faster-whisper's own class over the same checked weights, int8 on the CPU."""
    from faster_whisper import WhisperModel

    from voicelog.speech import engine, models

    folder = models.find(model).folder
    return WhisperModel(
        str(folder),
        device="cpu",
        compute_type="int8",
        cpu_threads=engine.threads(),
        local_files_only=True,
    )


def library(model: str | Path | None = None) -> Listener:
    """The bare library, with voicelog's reading of what it wrote. Raises ModelError."""
    whisper, chain = bare_model(model), Chain()

    def listen(audio: Audio, card: Card, step: str | None) -> Draft:
        segments, _ = whisper.transcribe(
            audio.samples, language="en", beam_size=BEAM, word_timestamps=True
        )
        words = words_of(segments)
        transcript = Transcript(words, model="library", duration_s=audio.duration_s)
        return chain.propose((Take(transcript),), card, step)

    return listen


def words_of(segments: Iterable[Any]) -> tuple[Word, ...]:
    """The library's words; a piece that it writes without a space ("11", ".4") is glued on."""
    out: list[Word] = []
    for segment in segments:
        for piece in segment.words:
            if out and piece.word and not piece.word[0].isspace():
                last = out[-1]
                out[-1] = Word(
                    last.text + piece.word.strip(),
                    last.start_s,
                    piece.end,
                    min(last.probability, piece.probability),
                )
            elif piece.word.strip():
                out.append(Word(piece.word.strip(), piece.start, piece.end, piece.probability))
    return tuple(out)


# --- numbers in a text ------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number that a system reads in a text; `unit` in Pint's notation, None without one."""

    value: Decimal
    unit: str | None = None


def numbers(values: Iterable[Entry | FieldValue]) -> tuple[Quantity, ...]:
    """The numbers in values of fields; a ratio is two of them, text and dates are none."""
    out: list[Quantity] = []
    for entry in values:
        match entry.value:
            case Decimal() as value:
                out.append(Quantity(value, entry.unit))
            case Ratio(reading, reference):
                out += [Quantity(reading, entry.unit), Quantity(reference, entry.unit)]
    return tuple(out)


def reading() -> Callable[[str, Card, str | None], tuple[Quantity, ...]]:
    """The numbers that voicelog puts into fields for a text."""
    chain = Chain()

    def read(text: str, card: Card, step: str | None) -> tuple[Quantity, ...]:
        return numbers(chain.read(text, card, step).values)

    return read


def quantity_parser() -> Callable[[str], tuple[Quantity, ...]]:
    """quantulum3 as it comes. Raises ConfigError when it is not installed."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it tells that its optional classifier is missing
        try:
            from quantulum3 import parser
        except ImportError as error:
            raise ConfigError(
                "quantulum3 is not installed, which the comparison is with; "
                "install what measuring needs with: pip install 'voicelog[dev]'"
            ) from error

    def read(text: str) -> tuple[Quantity, ...]:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            try:
                found = parser.parse(text)
            except Exception:  # its crash on a text is a text in which it found nothing
                return ()
        return tuple(Quantity(Decimal(str(q.value)), _pint_unit(q.unit)) for q in found)

    return read


_NAMES = {
    "dimensionless": None,
    "pound per square inch": "psi",
    "degree Celsius": "degC",
    "degree Fahrenheit": "degF",
    "degree angle": "degree",
    "percentage": "percent",
    "revolutions per minute": "rpm",
    "pound-mass": "pound",
    "pound force": "lbf",
}
"""quantulum3's names that Pint spells otherwise."""


def _pint_unit(unit: Any) -> str | None:
    """quantulum3's unit in Pint's notation; its own name where Pint knows no such unit."""
    if unit.name in _NAMES:
        return _NAMES[unit.name]
    parts = [
        f"{_NAMES.get(part['base'], part['base'])}".replace(" ", "_").replace("-", "_")
        + (f"**{part['power']}" if part["power"] != 1 else "")
        for part in unit.dimensions
    ]
    expression = "*".join(parts).replace("foot*pound", "foot*lbf")
    return expression if units.known(expression) else str(unit.name)
