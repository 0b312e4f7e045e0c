"""Sentences through installed synthetic voices: each engine is run as a program of its own.

None of it is part of voicelog; what an engine says of our own sentences may be passed on
(licences, as their packages state them):

    hibari    hibari-tts from the package index, Apache-2.0, model included
    flite     Debian package flite: Carnegie Mellon's voices, BSD-like, free for any use
    espeak    Debian package espeak-ng: the program is GPL-3, which covers the program and
              not what it says
    festival  Debian packages festival, festvox-kallpc16k and festvox-us-slt-hts, BSD-like,
              free for any use
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from voicelog.bench.waves import Samples, of_wave, resampled
from voicelog.errors import AudioError
from voicelog.heard import RATE_HZ

_LEAD_S, _TAIL_S = 0.4, 0.5
"""Silence before and after: a recorder is started before, and stopped after, the talking."""
_LEVEL = 0.5
"""Every clip's loudest sample."""
_LIMIT_S = 60
"""A sentence that takes an engine longer has made it hang."""


@dataclass(frozen=True, slots=True)
class Voice:
    """One voice: the engine, what it is told, and what is done to its sound.

    `pace` above 1 is faster; `pitch` below 1 makes a deeper voice of the same pace.
    """

    name: str
    engine: str
    options: tuple[str, ...] = ()
    pace: float = 1.0
    pitch: float = 1.0


VOICES = {
    voice.name: voice
    for voice in (
        Voice("hibari", "hibari"),
        Voice("hibari-british", "hibari", ("british",), pace=0.95, pitch=1.04),
        Voice("hibari-deep", "hibari", pace=1.05, pitch=0.8),
        Voice("hibari-fast", "hibari", pace=1.25, pitch=0.93),
        Voice("flite-slt", "flite", ("-voice", "slt")),
        Voice("flite-rms", "flite", ("-voice", "rms")),
        Voice("flite-awb", "flite", ("-voice", "awb")),
        Voice("flite-kal16", "flite", ("-voice", "kal16")),
        Voice("espeak-gb", "espeak", ("-v", "en-gb", "-s", "145")),
        Voice("espeak-us", "espeak", ("-v", "en-us+f3", "-s", "140")),
        Voice("espeak-scotland", "espeak", ("-v", "en-gb-scotland+m3", "-s", "140")),
        Voice("festival-kal", "festival"),
    )
}

_PACKAGES = {
    "hibari": "pip install hibari-tts",
    "flite": "apt install flite",
    "espeak": "apt install espeak-ng",
    "festival": "apt install festival festvox-kallpc16k",
}
_PROGRAMS = {"flite": "flite", "espeak": "espeak-ng", "festival": "text2wave"}

# hibari is a Python package; its own process keeps its model out of ours.
_HIBARI = """
import sys
from hibari import Hibari
from hibari.g2p import G2P
speed, british, out = float(sys.argv[1]), sys.argv[2] == "british", sys.argv[3]
Hibari(g2p=G2P(british=british)).save(sys.stdin.read(), out, speed=speed, seed=0)
"""


def _lacking(engine: str) -> AudioError:
    return AudioError(f"the voice {engine} is not installed; install it with: {_PACKAGES[engine]}")


def _command(voice: Voice, out: str) -> tuple[list[str], bool]:
    """The command line that speaks its standard input into `out`, or reads the text as argument."""
    if voice.engine == "hibari":
        accent = "british" if "british" in voice.options else "american"
        speed = str(voice.pace / voice.pitch)
        return [sys.executable, "-c", _HIBARI, speed, accent, out], True
    program = shutil.which(_PROGRAMS[voice.engine])
    if program is None:
        raise _lacking(voice.engine)
    match voice.engine:
        case "flite":
            return [program, *voice.options, "-o", out, "-t"], False
        case "espeak":
            return [program, *voice.options, "-w", out, "--stdin"], True
        case _:
            return [program, *voice.options, "-o", out, "-"], True


def speak(voice: Voice, text: str) -> Samples:
    """`text` spoken by `voice`, at 16 kHz, with silence around it.

    Raises AudioError when the engine is not installed or says nothing.
    """
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "said.wav"
        command, piped = _command(voice, str(out))
        done = subprocess.run(
            command if piped else [*command, text],
            input=text if piped else None,
            capture_output=True,
            text=True,
            timeout=_LIMIT_S,
            check=False,
        )
        if "No module named 'hibari'" in done.stderr:
            raise _lacking(voice.engine)
        if done.returncode or not out.is_file():
            last = (done.stderr.strip().splitlines() or ["no message"])[-1]
            raise AudioError(f"the voice {voice.name} failed to say {text!r}: {last}")
        samples, rate_hz = of_wave(out.read_bytes())
    samples = resampled(samples, rate_hz * voice.pitch)
    peak = float(np.abs(samples).max()) if len(samples) else 0.0
    if peak == 0:
        raise AudioError(f"the voice {voice.name} said nothing of {text!r}")
    silence = [np.zeros(int(length * RATE_HZ), np.float32) for length in (_LEAD_S, _TAIL_S)]
    return np.concatenate([silence[0], samples * np.float32(_LEVEL / peak), silence[1]])
