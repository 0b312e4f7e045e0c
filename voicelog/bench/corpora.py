"""Recordings of real people, read where they are installed, and how they are understood.

None of it is part of voicelog. Debian's packages, each with its own licence:

    pocketsphinx-testdata        playing cards, read prose, digit strings, a command; BSD
    asterisk-core-sounds-en-g722 one studio voice: sentences, numbers, letters, the spelling
                                 alphabet; its texts are in asterisk-core-sounds-en; CC BY-SA 3.0
    klettres-data                letters said alone; GPL-2+

and any folder with a manifest.jsonl of `file` and `text` (and perhaps `kind`) a line.
"""

from __future__ import annotations

import gzip
import io
import json
import re
from dataclasses import dataclass
from functools import partial
from itertools import cycle, groupby
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from voicelog import cards
from voicelog.bench import wer
from voicelog.bench.training.figures import ALPHABET
from voicelog.errors import ConfigError, NoSpeech
from voicelog.reading.settings import settings
from voicelog.speech import audio

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from voicelog.heard import Audio, Transcript
    from voicelog.objects import Card
    from voicelog.pipeline import Chain

_SPHINX = Path("/usr/share/pocketsphinx/test/data")
_TELEPHONE = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
_TELEPHONE_TEXTS = Path("/usr/share/doc/asterisk-core-sounds-en/core-sounds-en.txt.gz")
_LETTERS = Path("/usr/share/klettres/en/alpha")
_DIGIT_NAMES = {"o": "oh", "z": "zero", "1": "one", "2": "two", "3": "three", "4": "four",
                "5": "five", "6": "six", "7": "seven", "8": "eight", "9": "nine"}  # fmt: skip
_FEWEST_WORDS = 4
"""A prompt of the telephone set with fewer words is no sentence."""


@dataclass(frozen=True, slots=True)
class Clip:
    """One recording and the words in it."""

    corpus: str
    name: str
    text: str
    sound: Callable[[], Audio]


@dataclass(frozen=True, slots=True)
class Heard:
    """What was written for a clip, and whether anything in it was put in doubt."""

    clip: Clip
    prompted: bool
    written: str
    doubted: bool

    @property
    def wrong(self) -> bool:
        return wer.normal(self.written) != wer.normal(self.clip.text)


@dataclass(frozen=True, slots=True)
class Row:
    """One corpus, with the step's prompt or without."""

    corpus: str
    prompted: bool
    clips: int
    words: int
    error_rate: float
    whole: int
    """Clips without any error."""
    silent: int
    """Clips with an error and no doubt about any of their words."""
    examples: tuple[str, ...]
    """The silent ones: what was said, and what was written."""


def raw(path: Path) -> Audio:
    """Headerless 16-bit samples at 16 kHz."""
    samples = np.frombuffer(path.read_bytes(), "<i2").astype(np.float32) / 32768
    return audio.of_samples(samples)


def g722(path: Path) -> Audio:
    """A telephone prompt; the format has no header, so it is named."""
    with audio.opened(io.BytesIO(path.read_bytes()), "g722") as container:
        pieces = [
            frame.to_ndarray().ravel()
            for frame in audio.frames(container, container.streams.audio[0], [0])
        ]
    return audio.of_samples(np.concatenate(pieces).astype(np.float32) / 32768)


def _sphinx() -> Iterator[Clip]:
    for part in ("cards", "librivox"):
        listing = next((_SPHINX / part).glob("*transcription"), None)
        for line in listing.read_text(encoding="utf-8").splitlines() if listing else ():
            found = re.fullmatch(r"<s>\s*(.*?)\s*</s>\s*\((.*)\)", line.strip())
            if found:
                path = _SPHINX / part / f"{found[2]}.wav"
                yield Clip(f"sphinx {part}", path.stem, found[1], partial(audio.load, path))
    for path in sorted((_SPHINX / "tidigits").glob("*.raw")):
        digits = re.sub(r"[^0-9oz]", "", path.stem.split(".")[1])
        text = " ".join(_DIGIT_NAMES[digit] for digit in digits)
        yield Clip("sphinx digits", path.stem, text, partial(raw, path))
    command = _SPHINX / "goforward.raw"
    if command.is_file():
        yield Clip("sphinx cards", command.stem, "go forward ten meters", partial(raw, command))


def _telephone() -> Iterator[Clip]:
    if not _TELEPHONE_TEXTS.is_file():
        return
    lines = gzip.decompress(_TELEPHONE_TEXTS.read_bytes()).decode("utf-8", "replace").splitlines()
    for line in lines:
        name, colon, text = line.partition(":")
        path = _TELEPHONE / f"{name}.g722"
        if not colon or line.startswith(";") or "[" in text or not path.is_file():
            continue
        say = partial(g722, path)
        if "/" not in name and len(text.split()) >= _FEWEST_WORDS:
            yield Clip("telephone sentences", name, text.strip(), say)
        elif re.fullmatch(r"digits/\d+", name):
            yield Clip("telephone numbers", name, text.strip(), say)
        elif re.fullmatch(r"letters/[a-z]", name):
            yield Clip("telephone letters", name, name[-1], say)
    for word in ALPHABET:
        path = _TELEPHONE / "phonetic" / f"{word[0]}_p.g722"
        if path.is_file():
            yield Clip("telephone alphabet", path.stem, word, partial(g722, path))


def _letters() -> Iterator[Clip]:
    for path in sorted(_LETTERS.glob("[A-Z].ogg")):
        yield Clip("letters", path.stem, path.stem, partial(audio.load, path))


def _folder(folder: Path) -> Iterator[Clip]:
    try:
        lines = (folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines()
        for line in lines:
            row = json.loads(line)
            kind = row.get("kind", "")
            path = folder / row["file"]
            yield Clip(f"{folder.name} {kind}".strip(), path.stem, row["text"],
                       partial(audio.load, path))  # fmt: skip
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise ConfigError(f"{folder}/manifest.jsonl: can't be read ({error!r})") from error


def installed(folders: Iterable[Path] = ()) -> tuple[Clip, ...]:
    """Every clip that this machine has. Raises ConfigError."""
    return (*_sphinx(), *_telephone(), *_letters(), *(c for f in folders for c in _folder(f)))


def measure(
    chain: Chain, clips: Sequence[Clip], tick: Callable[[], object] = lambda: None
) -> tuple[Heard, ...]:
    """Each clip twice: with the prompt of a step of the demo, drawn in turn, and without.

    Clips too short for the voice detector to find anybody in them count as written empty,
    which is no silent error: nothing comes of them. Raises AudioError.
    """
    steps = cycle([(card, step.number) for card in cards.shipped().values() for step in card.steps])
    heard = []
    for clip in clips:
        sound, (card, step) = clip.sound(), next(steps)
        heard.append(_hear(chain, clip, sound, (card, step)))
        heard.append(_hear(chain, clip, sound, None))
        tick()
    return tuple(heard)


def _hear(chain: Chain, clip: Clip, sound: Audio, at: tuple[Card, str] | None) -> Heard:
    try:
        take = chain.hear(sound, *(at or ()))
    except NoSpeech:
        return Heard(clip, at is not None, "", doubted=True)
    return Heard(clip, at is not None, take.transcript.text, _doubted(take.transcript))


def _doubted(transcript: Transcript) -> bool:
    """Whether a value read from these words would carry a flag for the way they were heard."""
    least = float(settings().thresholds["word_probability"])
    unsure = any(word.probability < least for word in transcript.words)
    return unsure or bool(transcript.suspicions or transcript.warnings)


def rows(heard: Iterable[Heard]) -> tuple[Row, ...]:
    """One row a corpus and prompt."""
    ordered = sorted(heard, key=lambda each: (each.clip.corpus, not each.prompted))
    return tuple(
        _row(corpus, prompted, tuple(each))
        for (corpus, prompted), each in groupby(
            ordered, key=lambda each: (each.clip.corpus, each.prompted)
        )
    )


def _row(corpus: str, prompted: bool, heard: tuple[Heard, ...]) -> Row:
    silent = [each for each in heard if each.wrong and not each.doubted]
    return Row(
        corpus,
        prompted,
        len(heard),
        sum(len(wer.normal(each.clip.text).split()) for each in heard),
        wer.error_rate((each.clip.text, each.written) for each in heard) or 0.0,
        sum(not each.wrong for each in heard),
        len(silent),
        tuple(f"{each.clip.text} | {each.written}" for each in silent),
    )
