"""The real recogniser on real files, offline: what it hears, and what it must never hear."""

from __future__ import annotations

import json
import socket
from typing import Any

import numpy as np
import pytest

from tests.speech.sound import noise, tone
from voicelog import cards
from voicelog.bench import noise as workshop
from voicelog.config import shipped
from voicelog.errors import ConfigError, NoSpeech
from voicelog.heard import RATE_HZ, Audio
from voicelog.speech import audio, vocabulary
from voicelog.speech.fake import FakeRecogniser
from voicelog.speech.recognise import WhisperRecogniser
from voicelog.speech.repetition import over_again, says_twice, too_fast, unrepeated

pytestmark = pytest.mark.model


@pytest.fixture(scope="module")
def recogniser() -> WhisperRecogniser:
    return WhisperRecogniser()


def _notes(count: int) -> list[tuple[dict[str, Any], Audio]]:
    folder = shipped("sample_audio")
    lines = (folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines()
    rows = [json.loads(line) for line in lines if line.startswith("{")]
    wanted = [row for row in rows if row["noise"] == "clean"]
    return [(row, audio.load(folder / row["file"])) for row in wanted[:count]]


def test_it_hears_without_a_network(
    recogniser: WhisperRecogniser, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    row, heard = _notes(1)[0]
    card = cards.shipped()[row["card"]]
    transcript = recogniser.transcribe(heard, vocabulary.of(card, row["step"]))
    said, found = set(row["text"].casefold().split()), set(transcript.text.casefold().split())
    assert transcript.words
    assert len(said & found) > 0
    assert transcript.model == "base-shop"
    assert len(transcript.model_sha256) == 64
    assert dict(transcript.settings)["second"] == "tiny.en-shop"


def test_words_lie_in_order_inside_the_recording(recogniser: WhisperRecogniser) -> None:
    for _, heard in _notes(2):
        transcript = recogniser.transcribe(heard)
        ends = [0.0]
        for word in transcript.words:
            assert ends[-1] - 0.05 <= word.start_s <= word.end_s <= heard.duration_s + 0.05
            assert 0 <= word.probability <= 1
            ends.append(word.end_s)
        for each in transcript.suspicions:
            assert 0 <= each.start < each.end <= len(transcript.text)


def test_the_same_sound_is_read_the_same_way(recogniser: WhisperRecogniser) -> None:
    _, heard = _notes(1)[0]
    assert recogniser.transcribe(heard) == recogniser.transcribe(heard)


def test_what_was_begun_early_is_read_the_same_way(recogniser: WhisperRecogniser) -> None:
    (_, heard), (_, other) = _notes(2)
    card = next(iter(cards.shipped().values()))
    told = vocabulary.of(card, card.steps[0])
    plain = recogniser.transcribe(heard, told)
    recogniser.begin(heard)
    assert recogniser.transcribe(heard, told) == plain
    recogniser.begin(other)
    assert recogniser.transcribe(heard, told) == plain, "what was begun is of this recording only"


def _nothing() -> dict[str, np.ndarray]:
    rng = np.random.default_rng(4)
    t = np.arange(4 * RATE_HZ) / RATE_HZ
    chord = sum(np.sin(2 * np.pi * hz * t) for hz in (262, 330, 392)) * 0.1
    tune = np.concatenate([tone(0.5, hz) for hz in (262, 294, 330, 349, 392, 440, 494, 523)])
    return {
        "silence": np.zeros(4 * RATE_HZ, np.float32),
        "faint noise": noise(4.0, 0.0005),
        "loud noise": noise(4.0, 0.3),
        "workshop": (0.1 * workshop.workshop(4 * RATE_HZ, rng)).astype(np.float32),
        "hum": tone(4.0, 400.0),
        "chord": chord.astype(np.float32),
        "tune": tune,
        "clicks": (np.arange(4 * RATE_HZ) % 4000 == 0).astype(np.float32),
        "not a number": np.full(RATE_HZ, np.nan, np.float32),
        "too short": tone(0.02),
    }


@pytest.mark.parametrize("kind", _nothing())
def test_nothing_is_heard_where_nobody_speaks(recogniser: WhisperRecogniser, kind: str) -> None:
    for card in cards.shipped().values():
        told = vocabulary.of(card, card.steps[0])
        with pytest.raises(NoSpeech, match="nobody speaks"):
            recogniser.transcribe(audio.of_samples(_nothing()[kind]), told)


def test_the_prompt_of_a_wrong_step_does_not_come_back_as_text(
    recogniser: WhisperRecogniser,
) -> None:
    row, heard = _notes(1)[0]
    for card in cards.shipped().values():
        if card.number != row["card"]:
            told = vocabulary.of(card, card.steps[-1])
            text = recogniser.transcribe(heard, told).text
            for phrase in told.phrases[:3]:
                assert phrase.strip(".").casefold() not in text.casefold()


def test_a_note_in_loud_noise_is_kept_and_told(recogniser: WhisperRecogniser) -> None:
    _, heard = _notes(1)[0]
    noisy = workshop.apply(heard.samples, workshop.CONDITIONS["5 dB"], "test")
    try:
        transcript = recogniser.transcribe(audio.of_samples(noisy))
    except NoSpeech:
        return
    assert any("Too loud here" in sentence for sentence in transcript.warnings)


def test_a_long_dictation_is_read_window_by_window() -> None:
    quick = WhisperRecogniser("tiny.en", "fast")
    notes = _notes(6)
    gap = noise(1.0, 0.0003)
    samples = np.concatenate([part for _, heard in notes for part in (heard.samples, gap)])
    assert len(samples) > 30 * RATE_HZ
    transcript = quick.transcribe(audio.of_samples(samples))
    said = sum(len(row["text"].split()) for row, _ in notes)
    assert len(transcript.words) > 0.6 * said
    assert transcript.words[0].start_s < 2
    assert transcript.words[-1].end_s > len(samples) / RATE_HZ - 4


def test_an_unknown_profile_is_refused() -> None:
    with pytest.raises(ConfigError, match="no profile 'hasty'; there are: standard, fast, careful"):
        WhisperRecogniser(profile="hasty")


def test_a_phrase_that_the_model_says_again_is_dropped() -> None:
    assert (
        unrepeated("Screws, 20. Missing, 17. Screws, 20. Missing, 17.")
        == "Screws, 20. Missing, 17."
    )
    assert unrepeated("plug, " * 20) == "plug,"
    assert unrepeated("zero zero zero four") == "zero zero zero four"
    assert unrepeated("bolt 1 98 bolt 2 98") == "bolt 1 98 bolt 2 98"
    assert unrepeated("") == ""


def test_the_fake_hears_what_it_was_told() -> None:
    heard = audio.of_samples(tone())
    fake = FakeRecogniser({heard.sha256: "bolt 3 101"}, queue=["second note"])
    assert fake.transcribe(heard).text == "bolt 3 101"
    assert fake.transcribe(audio.of_samples(tone(hz=300))).text == "second note"
    with pytest.raises(NoSpeech):
        fake.transcribe(audio.of_samples(tone(hz=200)))


def test_what_nobody_can_say_in_the_time_is_told_from_quick_speech() -> None:
    assert too_fast("Eighteen, Eight, " * 5, 0.9)
    assert not too_fast("one two three four five", 0.9)


def test_a_word_over_again_is_told_from_more_that_was_said() -> None:
    assert over_again("12, 12, 12,", "12")
    assert over_again("Fifteen, 15,", "Fifteen")
    assert over_again("No play, no play", "No play")
    for more in ("Twelve", "twelve bar twelve", "the nut twelve, twelve", "twelve thirteen"):
        assert not over_again(more, "twelve"), more


def test_what_is_said_twice_at_once_is_seen() -> None:
    assert says_twice("Three three.")
    assert says_twice("Bolt one, bolt one")
    assert not says_twice("bolt one two one")
