"""The stream gives what the whole recording gives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.speech.sound import noise
from voicelog.config import shipped
from voicelog.heard import RATE_HZ
from voicelog.speech import audio, voice
from voicelog.speech import settings as speech_settings
from voicelog.speech.endpoint import Detector, Endpointer
from voicelog.speech.voice import FRAME, Activity


def _recording() -> np.ndarray:
    """Two notes with silence before, between and after."""
    notes = sorted(shipped("sample_audio").glob("*.flac"))[:2]
    if len(notes) < 2:
        pytest.skip("no sample_audio here")
    gap = noise(2.0, 0.0005)
    first, second = (audio.load(path).samples for path in notes)
    return np.concatenate([gap, first, gap, second, gap])


def test_the_detector_on_a_stream_equals_the_batch_one() -> None:
    samples = _recording()
    whole = voice.probabilities(samples)
    padded = np.pad(samples, (0, -len(samples) % FRAME))
    detector = Detector()
    stream = [detector.hear(frame) for frame in padded.reshape(-1, FRAME)]
    assert len(whole) == len(stream)
    assert np.abs(whole - np.array(stream)).max() < 1e-3


@pytest.mark.parametrize("block", [160, 512, 1600, 16000])
def test_utterances_are_the_stretches_of_the_whole_recording(block: int) -> None:
    samples = _recording()
    shape = speech_settings.load().voice
    expected = voice.stretches(voice.probabilities(samples), shape)
    endpointer = Endpointer()
    found = []
    for start in range(0, len(samples), block):
        found += endpointer.feed(samples[start : start + block])
    found += endpointer.flush()
    assert len(found) == len(expected) >= 2
    pad = round(shape.pad_s * RATE_HZ)
    taken = 0
    for utterance, (start, end) in zip(found, expected, strict=True):
        first, last = round(utterance.start_s * RATE_HZ), round(utterance.end_s * RATE_HZ)
        assert first == max(taken, start - pad, 0)
        assert last >= min(end, len(samples))
        held = samples[first:last]
        assert np.array_equal(utterance.samples[: len(held)], held)
        taken = last
    assert not endpointer.speaking


def test_silence_and_noise_are_no_utterance() -> None:
    endpointer = Endpointer()
    assert endpointer.feed(np.zeros(5 * RATE_HZ, np.float32)) == []
    assert endpointer.feed(noise(5.0, 0.05)) == []
    assert endpointer.flush() == []


def test_an_endless_stream_of_silence_takes_no_memory() -> None:
    endpointer = Endpointer()
    for _ in range(20):
        endpointer.feed(np.zeros(RATE_HZ, np.float32))
    assert len(endpointer._kept) < RATE_HZ


@given(st.lists(st.floats(0, 1), max_size=400))
@settings(max_examples=100, deadline=None)
def test_stretches_lie_apart_in_order_and_inside(chances: list[float]) -> None:
    shape = speech_settings.load().voice
    spans = voice.stretches(chances, shape)
    end_before = -1
    for start, end in spans:
        assert end_before < start < end <= len(chances) * FRAME
        end_before = end


@given(st.lists(st.tuples(st.integers(1, 400), st.integers(1, 400)), max_size=30))
@settings(max_examples=100, deadline=None)
def test_windows_hold_all_speech_once_and_are_short_enough(gaps: list[tuple[int, int]]) -> None:
    shape = speech_settings.load().voice
    at, spans = 0, []
    for quiet, loud in gaps:
        spans.append(((at + quiet) * FRAME, (at + quiet + loud) * FRAME))
        at += quiet + loud
    total = (at + 10) * FRAME
    made = voice.windows(tuple(spans), total, shape)
    pieces = [piece for window in made for piece in window.pieces]
    for start, end in spans:
        covered = sum(max(0, min(end, b) - max(start, a)) for a, b in pieces)
        assert covered >= end - start
    assert all(window.duration_s <= 30 for window in made)
    for window in made:
        assert window.time_s(0) == pytest.approx(window.pieces[0][0] / RATE_HZ)
        assert window.time_s(window.duration_s) == pytest.approx(window.pieces[-1][1] / RATE_HZ)


def test_an_open_stretch_can_be_cut() -> None:
    shape = speech_settings.load().voice
    activity = Activity(shape)
    for _ in range(20):
        activity.push(0.9)
    assert activity.cut() == (0, 20 * FRAME)
    for _ in range(5):
        activity.push(0.9)
    assert activity.finish() == (20 * FRAME, 25 * FRAME)
