"""Many recordings at once: which are heard together, and that each is heard as if alone."""

from __future__ import annotations

import json
import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog import cards
from voicelog.config import shipped
from voicelog.errors import NoSpeech
from voicelog.heard import Transcript
from voicelog.speech import audio, batch, engine, vocabulary
from voicelog.speech.fake import FakeRecogniser
from voicelog.speech.recognise import WhisperRecogniser


@given(st.lists(st.floats(0.1, 900.0), max_size=60), st.integers(1, 8))
def test_everything_is_heard_once_and_the_longest_first(lengths: list[float], lanes: int) -> None:
    groups = batch.groups(lengths, lanes)
    order = [at for group in groups for at in group]
    assert sorted(order) == list(range(len(lengths)))
    assert [lengths[at] for at in order] == sorted(lengths, reverse=True)
    assert all(1 <= len(group) <= engine.TOGETHER for group in groups)
    assert len(groups) >= min(lanes, -(-len(lengths) // engine.TOGETHER))


def test_no_lane_is_left_empty() -> None:
    assert [len(group) for group in batch.groups([5.0] * 6, 2)] == [3, 3]
    assert [len(group) for group in batch.groups([5.0] * 6, 1)] == [6]


def test_lanes_work_side_by_side() -> None:
    meeting = threading.Barrier(2, timeout=10)  # one alone would never get past it
    batch.side_by_side(lambda _: meeting.wait(), [1, 2], 2)


def test_what_goes_wrong_in_a_lane_is_told() -> None:
    with pytest.raises(ZeroDivisionError):
        batch.side_by_side(lambda n: 1 // n, [1, 0, 2], 2)


def test_silence_among_others_is_its_own() -> None:
    fake = FakeRecogniser(queue=["one", "", "two"])
    sounds = [audio.of_samples(audio_of(seconds)) for seconds in (1, 2, 3)]
    first, silent, last = fake.transcribe_many(sounds, [None] * 3)
    assert isinstance(first, Transcript)
    assert isinstance(last, Transcript)
    assert isinstance(silent, NoSpeech)
    assert (first.text, last.text) == ("one", "two")


def audio_of(seconds: int):  # type: ignore[no-untyped-def]
    from tests.speech.sound import tone

    return tone(float(seconds))


@pytest.mark.model
def test_together_is_exactly_as_alone() -> None:
    folder = shipped("sample_audio")
    lines = (folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines()
    rows = [json.loads(line) for line in lines if line.startswith("{")][::4][:9]
    sounds = [audio.load(folder / row["file"]) for row in rows]
    sounds.insert(4, audio.of_samples(audio_of(3)))
    known = cards.shipped()
    told = [vocabulary.of(known[row["card"]], row["step"]) for row in rows]
    told.insert(4, told[0])
    recogniser = WhisperRecogniser(cpu_threads=1)
    together = recogniser.transcribe_many(sounds, told)
    assert isinstance(together[4], NoSpeech)
    for sound, words, heard in zip(sounds, told, together, strict=True):
        (alone,) = recogniser.transcribe_many([sound], [words])
        if isinstance(alone, NoSpeech):
            assert isinstance(heard, NoSpeech)
        else:
            assert heard == alone
