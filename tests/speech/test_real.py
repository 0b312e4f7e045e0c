"""People, real machines, and nobody at all, heard by the models that are shipped.

The recordings are those of Debian's pocketsphinx-testdata (digits, a command, read sentences;
texts beside them), asterisk-core-sounds-en-g722 (numbers in one studio voice) and
openttd-opensfx (machines); each test skips where its package is not installed.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tests.speech.sound import noise, tone
from voicelog import cards
from voicelog.bench import corpora, recorded
from voicelog.bench import noise as workshop
from voicelog.bench.wer import error_rate, normal
from voicelog.errors import NoSpeech
from voicelog.heard import RATE_HZ
from voicelog.speech import audio, vocabulary
from voicelog.speech.recognise import WhisperRecogniser

if TYPE_CHECKING:
    from voicelog.heard import Transcript
    from voicelog.speech.vocabulary import Vocabulary

pytestmark = pytest.mark.model

PEOPLE = Path("/usr/share/pocketsphinx/test/data")
STUDIO = Path("/usr/share/asterisk/sounds/en_US_f_Allison/digits")
NUMBERS = {"4": "four", "13": "thirteen", "50": "fifty"}

needs_people = pytest.mark.skipif(
    not PEOPLE.is_dir(), reason="real speech: apt install pocketsphinx-testdata"
)
needs_studio = pytest.mark.skipif(
    not STUDIO.is_dir(), reason="real numbers: apt install asterisk-core-sounds-en-g722"
)


@pytest.fixture(scope="module")
def recogniser() -> WhisperRecogniser:
    return WhisperRecogniser()


def _step() -> Vocabulary:
    """What is told with a step that asks for measurements."""
    card = next(iter(cards.shipped().values()))
    step = next(s for s in card.steps if any(f.type == "measurement" for f in s.fields))
    return vocabulary.of(card, step)


def _right_or_asked(said: str, heard: Transcript) -> bool:
    """Whether the figures are those that were said, or none, or put in doubt."""
    figures = [re.findall(r"\d", normal(text)) for text in (said, heard.text)]
    return not figures[1] or figures[0] == figures[1] or bool(heard.suspicions or heard.warnings)


@needs_people
def test_digits_of_a_person_are_right_or_asked_about(recogniser: WhisperRecogniser) -> None:
    said, sound = "two nine three four zero", corpora.raw(PEOPLE / "tidigits/dhd.2934z.raw")
    assert _right_or_asked(said, recogniser.transcribe(sound, _step()))


@needs_people
def test_people_are_understood_about_other_things_too(recogniser: WhisperRecogniser) -> None:
    """Read prose of 1811 and a command; 5 errors in 46 words when this was written."""
    pairs = [
        (
            "go forward ten meters",
            recogniser.transcribe(corpora.raw(PEOPLE / "goforward.raw"), _step()).text,
        )
    ]
    listing = (PEOPLE / "librivox/transcription").read_text(encoding="utf-8")
    for text, name in re.findall(r"<s> (.*?) </s> \((\S+)\)", listing)[1:4]:
        sound = PEOPLE / f"librivox/{name}.wav"
        if sound.is_file():
            pairs.append((text, recogniser.transcribe(audio.load(sound), _step()).text))
    rate = error_rate(pairs)
    assert rate is not None
    assert rate < 0.25


@needs_studio
@pytest.mark.parametrize("name", NUMBERS)
def test_a_number_alone_is_right_or_asked_about(recogniser: WhisperRecogniser, name: str) -> None:
    sound = corpora.g722(STUDIO / f"{name}.g722")
    try:
        heard = recogniser.transcribe(sound, _step())
    except NoSpeech:
        return
    assert _right_or_asked(NUMBERS[name], heard)


def _melody(seed: int) -> np.ndarray:
    """Six seconds of plucked notes that the voice detector takes for speech now and then."""
    rng, out = np.random.default_rng(seed), np.zeros(6 * RATE_HZ)
    for _ in range(18):
        hz, at = 220 * 2 ** (rng.integers(0, 24) / 12), int(rng.uniform(0, 5) * RATE_HZ)
        t = np.arange(int(rng.uniform(0.2, 1) * RATE_HZ)) / RATE_HZ
        note = sum(np.sin(2 * np.pi * hz * k * t) / k for k in (1, 2, 3, 4)) * np.exp(-4 * t)
        out[at : at + len(t)] += note[: len(out) - at]
    return np.asarray(0.5 * out / np.abs(out).max())


def _unspoken() -> dict[str, np.ndarray]:
    """Five seconds each in which nobody speaks, from a seed."""
    rng = np.random.default_rng(6)
    count = 5 * RATE_HZ
    din = workshop.workshop(count, rng)
    _, hum, hammering = workshop.parts(count, rng)
    falling = np.exp(-3 * (np.arange(count) % 8000) / 8000).astype(np.float32)
    return {
        "din": 0.1 * din,
        "din in a hall": workshop.reverberate(0.1 * din, 0.9, rng),
        "din in a headset": workshop.limit_band(0.1 * din, *workshop.HEADSET_HZ),
        "hum": 0.1 * hum,
        "hammering": 0.2 * hammering,
        "breath": noise(5.0, 0.05) * np.abs(np.sin(np.arange(count) / RATE_HZ)),
        **{f"melody {seed}": _melody(seed) for seed in (1, 3)},
        "plucked": tone(5.0, 220.0) * falling + tone(5.0, 330.0, 0.1),
    }


@pytest.mark.parametrize("kind", _unspoken())
def test_nothing_is_written_where_nobody_speaks(recogniser: WhisperRecogniser, kind: str) -> None:
    sound = audio.of_samples(_unspoken()[kind].astype(np.float32))
    for card in cards.shipped().values():
        for step in card.steps[:: max(1, len(card.steps) - 1)]:
            with pytest.raises(NoSpeech):
                recogniser.transcribe(sound, vocabulary.of(card, step))


@pytest.mark.skipif(not recorded.installed(), reason="real machines: apt install openttd-opensfx")
@pytest.mark.parametrize("name", recorded.TITLES)
def test_nothing_is_written_where_machines_run(recogniser: WhisperRecogniser, name: str) -> None:
    rng = np.random.default_rng(8)
    sound = audio.of_samples(np.clip(0.15 * recorded.noise(name, 5 * RATE_HZ, rng), -1, 1))
    with pytest.raises(NoSpeech):
        recogniser.transcribe(sound, _step())


@needs_studio
def test_a_number_said_once_is_written_once(recogniser: WhisperRecogniser) -> None:
    for said in ("8", "5"):
        text = recogniser.transcribe(corpora.g722(STUDIO / f"{said}.g722"), _step()).text
        assert re.findall(r"\d", normal(text)) == [said]
