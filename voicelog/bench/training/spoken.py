"""Training sound: a note in one of many synthetic voices, under conditions drawn from a seed.

`TRAINING` and `DEVELOPMENT` share no voice, and neither holds a voice kept for measuring:
flite's slt, festival's, and espeak-ng's New York and Caribbean English.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING
from zlib import crc32

import numpy as np

from voicelog.bench import noise
from voicelog.bench.voices import Voice, speak

if TYPE_CHECKING:
    from voicelog.bench.waves import Samples

TRAINING = (
    *(Voice(f"flite-{name}", "flite", ("-voice", name)) for name in ("rms", "awb", "kal16")),
    Voice("hibari", "hibari"),
    Voice("hibari-british", "hibari", ("british",)),
    *(
        Voice(f"espeak-{accent}-{kind}", "espeak", ("-v", f"{accent}+{kind}", "-s", "145"))
        for accent in ("en-gb", "en-us", "en-gb-scotland", "en-gb-x-rp")
        for kind in ("m1", "m3", "m7", "f1", "f3", "f5")
    ),
)
DEVELOPMENT = (
    Voice("flite-kal", "flite", ("-voice", "kal")),
    Voice("espeak-gbclan", "espeak", ("-v", "en-gb-x-gbclan+m4", "-s", "140")),
)
_ENGINES = ("hibari", "flite", "espeak")
_SHARES = (0.45, 0.4, 0.15)
"""The more a voice sounds like a person, the more often it is heard."""


def draw_voice(name: str, voices: tuple[Voice, ...] = TRAINING) -> Voice:
    """One of `voices`, its pitch and formants shifted together by up to 12 %."""
    rng = np.random.default_rng(crc32(f"voice|{name}".encode()))
    shares = np.array([s if any(v.engine == e for v in voices) else 0.0
                       for e, s in zip(_ENGINES, _SHARES, strict=True)])  # fmt: skip
    engine = _ENGINES[int(rng.choice(len(_ENGINES), p=shares / shares.sum()))]
    many = [voice for voice in voices if voice.engine == engine]
    voice = many[int(rng.integers(len(many)))]
    pace, pitch = float(rng.uniform(0.85, 1.25)), float(rng.uniform(0.88, 1.12))
    return replace(voice, pace=pace, pitch=pitch)


def said(name: str, text: str, voices: tuple[Voice, ...] = TRAINING) -> Samples:
    """`text` in the voice drawn for `name`. Raises AudioError."""
    return speak(draw_voice(name, voices), text)


def draw_condition(seed: str) -> noise.Condition:
    """What is done to a clip: a third stays clean, noise and hall are independent."""
    rng = np.random.default_rng(crc32(f"condition|{seed}".encode()))
    if rng.random() < 0.33:
        return noise.CLEAN
    return noise.Condition(
        f"drawn {seed}",
        snr_db=float(rng.uniform(8, 28)) if rng.random() < 0.75 else None,
        t60_s=float(rng.uniform(0.2, 0.8)) if rng.random() < 0.6 else None,
        band_hz=noise.HEADSET_HZ if rng.random() < 0.15 else None,
        clip_db=float(rng.uniform(3, 15)) if rng.random() < 0.08 else None,
    )


def worsened(samples: Samples, seed: str) -> Samples:
    """`samples` under the condition drawn for `seed`, at a level drawn as well."""
    out = noise.apply(samples, draw_condition(seed), seed)
    gain_db = np.random.default_rng(crc32(f"gain|{seed}".encode())).uniform(-18, 0)
    return np.asarray(out * 10 ** (gain_db / 20), np.float32)
