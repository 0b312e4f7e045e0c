"""Noise is the same every time, and as loud, as late and as narrow as it is said to be."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelog.bench import noise
from voicelog.heard import RATE_HZ


def tone(hz=440.0, seconds=1.0, level=0.3):
    t = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    return (level * np.sin(2 * np.pi * hz * t)).astype(np.float32)


def power(samples):
    return float(np.mean(np.square(samples.astype(float))))


@pytest.mark.parametrize("condition", noise.LADDER, ids=lambda c: c.name)
def test_the_same_seed_gives_the_same_samples(condition):
    clean = tone()
    first = noise.apply(clean, condition, "a")
    assert first.dtype == np.float32
    assert first.shape == clean.shape
    assert np.abs(first).max() <= 1
    assert np.array_equal(first, noise.apply(clean, condition, "a"))
    random = condition.snr_db is not None or condition.t60_s is not None or condition.loss
    assert np.array_equal(first, noise.apply(clean, condition, "b")) is not bool(random)
    assert np.array_equal(clean, tone())


def test_clean_is_left_alone():
    assert np.array_equal(noise.apply(tone(), noise.CLEAN, "a"), tone())


@given(st.sampled_from([20.0, 15.0, 10.0, 5.0, 0.0]), st.integers(0, 1000))
@settings(max_examples=20, deadline=None)
def test_noise_is_as_loud_as_said(snr_db, seed):
    clean = tone(level=0.05)
    noisy = noise.add_noise(clean, snr_db, np.random.default_rng(seed))
    found = 10 * np.log10(power(clean) / power(noisy - clean))
    assert found == pytest.approx(snr_db, abs=0.05)


def test_silence_around_the_talking_does_not_make_the_noise_softer():
    padded = np.concatenate([np.zeros(2 * RATE_HZ, np.float32), tone()])
    assert noise.speech_level(padded) == pytest.approx(noise.speech_level(tone()), rel=0.02)
    assert noise.speech_level(np.zeros(0, np.float32)) == 0


def test_workshop_noise_falls_off_and_hums():
    sound = noise.workshop(10 * RATE_HZ, np.random.default_rng(1))
    spectrum = np.abs(np.fft.rfft(sound)) ** 2
    hz = np.fft.rfftfreq(len(sound), 1 / RATE_HZ)

    def band(low, high):
        return spectrum[(hz >= low) & (hz < high)].mean()

    assert power(sound) == pytest.approx(1, rel=1e-4)
    assert band(100, 200) > band(1000, 2000) > band(6000, 8000)
    assert band(395, 405) > 20 * band(300, 390)


def test_a_hall_rings_on_and_dies_away():
    click = np.zeros(RATE_HZ, np.float32)
    click[0] = 0.5
    wet = noise.reverberate(click, 0.4, np.random.default_rng(3))
    early, late = wet[: RATE_HZ // 10], wet[RATE_HZ // 5 : 2 * RATE_HZ // 5]
    assert power(early) > 30 * power(late) > 0
    assert not wet[int(0.41 * RATE_HZ) :].round(6).any()


def test_a_band_keeps_the_middle():
    low, high = noise.HEADSET_HZ
    assert power(noise.limit_band(tone(1000), low, high)) == pytest.approx(power(tone()), rel=0.01)
    for hz in (100, 6000):
        assert power(noise.limit_band(tone(hz), low, high)) < 1e-3 * power(tone())


def test_clipping_flattens_peaks_and_loss_leaves_holes():
    assert (np.abs(noise.clip(tone(), 12)) == 1).mean() > 0.5
    lost = noise.lose_packets(tone(seconds=20), 0.1, np.random.default_rng(0))
    assert (lost.reshape(-1, RATE_HZ // 50) == 0).all(axis=1).mean() == pytest.approx(0.1, abs=0.03)
