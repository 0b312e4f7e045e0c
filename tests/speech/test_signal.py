"""The signal check: told where it foretells errors, silent where it doesn't."""

from __future__ import annotations

import numpy as np
import pytest

from tests.speech.sound import noise
from voicelog.bench import noise as workshop
from voicelog.heard import RATE_HZ
from voicelog.speech import settings, signal

LIMITS = settings.load().signal
SPEECH = ((RATE_HZ, 3 * RATE_HZ), (4 * RATE_HZ, 6 * RATE_HZ))


def talk(level: float = 0.1, floor: float = 0.0) -> np.ndarray:
    """Something as loud and as wide as talk, from 1 s to 3 s and from 4 s to 6 s."""
    samples = noise(7.0, floor, seed=1)
    for start, end in SPEECH:
        burst = noise((end - start) / RATE_HZ, level, seed=2)
        swell = 0.6 + 0.4 * np.sin(np.arange(end - start) / 800)
        samples[start:end] += burst * swell
    return samples.astype(np.float32)


def test_a_sound_recording_is_told_nothing() -> None:
    assert signal.check(talk(floor=0.002), SPEECH, LIMITS) == ()
    assert signal.check(talk(), SPEECH, LIMITS) == ()


@pytest.mark.parametrize("snr_db", [5, 10, 15, 20, 30])
def test_the_ratio_of_speech_to_noise_is_measured(snr_db: int) -> None:
    clean = talk()
    level = np.sqrt(np.mean(np.square(np.concatenate([clean[a:b] for a, b in SPEECH]))))
    noisy = clean + noise(7.0, level * 10 ** (-snr_db / 20), seed=3)
    assert signal.measure(noisy, SPEECH).snr_db == pytest.approx(snr_db, abs=1.5)


def test_workshop_noise_is_told_at_ten_decibels_and_not_at_twenty() -> None:
    for snr_db, told in ((5, True), (10, True), (20, False)):
        rng = np.random.default_rng(5)
        noisy = workshop.add_noise(talk(), snr_db, rng)
        found = signal.check(noisy, SPEECH, LIMITS)
        assert any("Too loud here" in sentence for sentence in found) is told


def test_clipping_is_told() -> None:
    loud = np.clip(talk(0.6), -0.3, 0.3)
    assert any("Overdriven" in each for each in signal.check(loud, SPEECH, LIMITS))


def test_a_whisper_is_told() -> None:
    assert any("Too quiet" in each for each in signal.check(talk(0.0005), SPEECH, LIMITS))


def test_missing_packets_are_told() -> None:
    samples = talk(floor=0.002)
    for at in range(RATE_HZ, 6 * RATE_HZ, RATE_HZ // 2):
        samples[at : at + 640] = 0
    assert any("missing" in each for each in signal.check(samples, SPEECH, LIMITS))


def test_a_headset_is_fit_and_a_muffled_microphone_is_told() -> None:
    wide = talk(floor=0.002)
    headset = workshop.limit_band(wide, 300, 3400)
    assert signal.check(headset, SPEECH, LIMITS) == ()
    muffled = workshop.limit_band(wide, 50, 1000)
    assert any("Muffled" in each for each in signal.check(muffled, SPEECH, LIMITS))


@pytest.mark.parametrize("beyond", [0, 1, 400, 511])
def test_speech_up_to_the_very_end_is_measured(beyond: int) -> None:
    samples = talk()[RATE_HZ : 2 * RATE_HZ + 37]
    samples[5000:9000] *= 0.001  # the gap between two words
    assert signal.check(samples, ((0, len(samples) + beyond),), LIMITS) == ()


def test_a_voice_that_is_exactly_silent_between_words_lost_nothing() -> None:
    samples = talk()
    for at in range(RATE_HZ, 6 * RATE_HZ, RATE_HZ // 2):
        fade = np.linspace(1, 0, 800, dtype=np.float32)
        samples[at : at + 800] *= fade
        samples[at + 800 : at + 2400] = 0
        samples[at + 2400 : at + 3200] *= fade[::-1]
    assert not any("missing" in each for each in signal.check(samples, SPEECH, LIMITS))
