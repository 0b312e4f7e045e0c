"""The command line in-process: exit status, stdout, stderr."""

from __future__ import annotations

import io
import sys
import wave
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from voicelog.cli import main, shared
from voicelog.speech.fake import FakeRecogniser


@dataclass(frozen=True)
class Done:
    """What a command left behind."""

    status: int
    out: str
    err: str


Run = Callable[..., Done]


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty home that every command of the test uses."""
    folder = tmp_path / "home"
    monkeypatch.setenv("VOICELOG_HOME", str(folder))
    return folder


@pytest.fixture
def run(home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run `voicelog WORDS...` with `typed` on stdin."""

    def command(*words: object, typed: str = "") -> Done:
        monkeypatch.setattr(sys, "argv", ["voicelog", *map(str, words)])
        monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        try:
            main()
            status = 0
        except SystemExit as end:
            status = end.code if isinstance(end.code, int) else 1
        captured = capsys.readouterr()
        return Done(status, captured.out, captured.err)

    return command


@pytest.fixture
def hears(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """From now on the recogniser hears these texts, one a recording."""

    def say(*texts: str) -> None:
        fake = FakeRecogniser(queue=list(texts))
        monkeypatch.setattr(shared, "recogniser", lambda *_: fake)

    return say


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    """A short, sound WAV file."""
    path = tmp_path / "note.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
        file.writeframes(b"\x10\x00\xf0\xff" * 16_000)
    return path
