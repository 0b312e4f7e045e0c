"""Frames on disk: once, in order, whole; whatever is sent twice, late or cut short."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelog.speech import audio
from voicelog.web.journal import Journal
from voicelog.web.spool import FRAME, FRAME_BYTES, Spool, pcm


def frame(value: int) -> bytes:
    return np.full(FRAME, value, "<i2").tobytes()


def held(spool: Spool) -> list[int]:
    """The value of each frame in the file."""
    return [round(x * 32767) for x in spool.read(0)[::FRAME].tolist()]


def test_frames_are_taken_once_and_in_order(tmp_path: Path) -> None:
    spool = Spool(tmp_path / "sound.pcm")
    assert spool.wanted(7) == 0
    assert spool.take(7, 0, frame(1))
    assert not spool.take(7, 0, frame(1))
    assert not spool.take(7, 2, frame(3))
    assert spool.take(7, 1, frame(2))
    assert (spool.wanted(7), held(spool)) == (2, [1, 2])
    spool.close()


def test_two_pages_number_their_frames_apart(tmp_path: Path) -> None:
    """A phone that lost the network must not lose what a tablet's frames had the number of."""
    spool = Spool(tmp_path / "sound.pcm")
    spool.take(7, 0, frame(1))
    spool.take(9, 0, frame(2))
    spool.take(7, 1, frame(3))
    spool.close()
    spool = Spool(tmp_path / "sound.pcm")
    assert (spool.wanted(7), spool.wanted(9), held(spool)) == (2, 1, [1, 2, 3])
    spool.close()


def test_a_frame_of_another_size_is_refused(tmp_path: Path) -> None:
    spool = Spool(tmp_path / "sound.pcm")
    with pytest.raises(ValueError, match="3200 bytes"):
        spool.take(7, 0, b"short")
    assert spool.frames == 0
    spool.close()


def test_blanked_sound_is_silence_and_keeps_its_time(tmp_path: Path) -> None:
    spool = Spool(tmp_path / "sound.pcm")
    for number in range(3):
        spool.take(7, number, frame(5))
    spool.blank(FRAME, 2 * FRAME)
    assert held(spool) == [5, 0, 5]
    spool.close()


def test_flac_gives_back_each_bit() -> None:
    """Nothing is lost between the microphone and the file that is kept."""
    sent = np.random.default_rng(3).integers(-32767, 32768, 4 * FRAME).astype("<i2")
    kept = audio.load(audio.to_flac(pcm(sent.tobytes()))).samples
    assert (np.round(kept * 32768).astype(int) == sent).all()


acts = st.lists(
    st.one_of(
        st.tuples(st.just("send"), st.integers(1, 3), st.integers(0, 2)),
        st.tuples(st.just("crash"), st.integers(0, FRAME_BYTES - 1), st.just(0)),
    ),
    max_size=40,
)


@settings(max_examples=60, deadline=None)
@given(acts)
def test_whatever_is_repeated_and_however_often_it_crashes(
    acts: list[tuple[str, int, int]],
) -> None:
    """Pages send from what the server last wanted, some frames again; crashes leave torn frames."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sound.pcm"
        spool = Spool(path)
        sent = dict.fromkeys((1, 2, 3), 0)
        expected: list[int] = []
        for act, which, back in acts:
            if act == "send":
                numbers = range(max(0, spool.wanted(which) - back), sent[which] + 1)
                values = [100 * which + number for number in numbers]
                expected += [
                    value
                    for number, value in zip(numbers, values, strict=True)
                    if spool.take(which, number, frame(value))
                ]
                sent[which] += 1
            else:
                spool.close()
                with path.open("ab") as file:
                    file.write(os.urandom(which))
                spool = Spool(path)
            assert {s: spool.wanted(s) for s in sent} == sent
        assert held(spool) == expected
        spool.close()


def test_a_journal_drops_a_line_that_a_crash_cut_short(tmp_path: Path) -> None:
    path = tmp_path / "journal.jsonl"
    journal = Journal(path)
    journal.append({"step": "10"})
    journal.close()
    with path.open("ab") as file:
        file.write(b'{"step": "2')
    journal = Journal(path)
    journal.append({"step": "30"})
    assert list(journal.events()) == [{"step": "10"}, {"step": "30"}]
    journal.close()
