"""Voices are run as programs; a missing one is told with how to get it."""

import shutil
import subprocess

import numpy as np
import pytest

from voicelog.bench import voices
from voicelog.bench.samples import record
from voicelog.errors import AudioError, ConfigError


def installed(voice):
    program = voices._PROGRAMS.get(voice.engine)
    if program:
        return shutil.which(program) is not None
    pytest.importorskip("hibari")
    return True


@pytest.mark.parametrize("name", ["hibari-british", "flite-slt", "espeak-gb", "festival-kal"])
def test_a_voice_says_the_same_every_time(name):
    voice = voices.VOICES[name]
    if not installed(voice):
        pytest.skip(f"{voice.engine} is not installed")
    said = voices.speak(voice, "Nil leaks.")
    assert said.dtype == np.float32
    assert 1.2 < len(said) / 16000 < 4
    assert not said[:6000].any()
    assert np.abs(said).max() == pytest.approx(0.5, abs=1e-3)
    assert np.array_equal(said, voices.speak(voice, "Nil leaks."))


def test_a_missing_engine_is_told_with_its_package(monkeypatch):
    monkeypatch.setattr(shutil, "which", lambda _: None)
    with pytest.raises(AudioError, match=r"flite is not installed.*apt install flite"):
        voices.speak(voices.VOICES["flite-slt"], "Nil leaks.")


def test_a_missing_package_is_told(monkeypatch):
    def run(*args, **more):
        return subprocess.CompletedProcess(
            args, 1, "", "ModuleNotFoundError: No module named 'hibari'"
        )

    monkeypatch.setattr(subprocess, "run", run)
    with pytest.raises(AudioError, match="pip install hibari-tts"):
        voices.speak(voices.VOICES["hibari"], "Nil leaks.")


def test_an_engine_that_fails_is_told(monkeypatch):
    monkeypatch.setattr(shutil, "which", lambda _: "/bin/false")
    with pytest.raises(AudioError, match="flite-slt failed to say"):
        voices.speak(voices.VOICES["flite-slt"], "Nil leaks.")


def test_unknown_names_are_refused():
    with pytest.raises(ConfigError, match="no voice 'hamlet'"):
        record("x", "hamlet", "clean", "x")
    with pytest.raises(ConfigError, match="no condition 'rain'"):
        record("x", "hibari", "rain", "x")
