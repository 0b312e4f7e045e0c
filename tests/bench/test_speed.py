"""The speed bench with the real recogniser, each system in a process of its own."""

import pytest

from voicelog.bench import samples, speed
from voicelog.errors import ModelError
from voicelog.speech import models


def installed():
    try:
        models.find("tiny.en")
    except ModelError:
        return False
    return True


@pytest.mark.model
@pytest.mark.slow
@pytest.mark.skipif(not installed(), reason="the model tiny.en is not installed")
def test_systems_run_on_the_same_recordings():
    pytest.importorskip("jiwer")
    ticks = []
    names = [name for name in speed.systems() if name != "voicelog --fast"]
    rows = speed.measure(samples.shipped(), "tiny.en", names, first=2, tick=lambda: ticks.append(1))
    assert [row.system for row in rows] == names
    assert len(ticks) == len(names)
    assert len({(row.notes, row.audio_s, row.tally.expected) for row in rows}) == 1
    for row in rows:
        assert row.took_s > 0
        assert 100 < row.peak_mb < 4000
        assert row.word_error_rate < 0.6
        assert row.cpu_s > 0
        assert row.plain()["audio_hours_per_hour"] > 0.2


def test_the_library_is_measured_with_the_weights_as_they_came():
    assert speed.unadapted() == speed.unadapted("base-shop") == "base"
    assert speed.unadapted("base") == "base"
    assert speed.unadapted("/some/folder") == "/some/folder"


@pytest.mark.model
@pytest.mark.slow
@pytest.mark.skipif(not installed(), reason="the model tiny.en is not installed")
def test_cold_starts_hear_the_note_by_turns():
    rows = speed.cold_starts(samples.shipped(), "tiny.en", times=1)
    assert [row.system for row in rows] == ["faster-whisper", "voicelog preview"]
    for row in rows:
        assert row.least_s == row.took_s > 0.3
