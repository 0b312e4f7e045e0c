"""Sounds for the tests of the speech room, made from a seed."""

from __future__ import annotations

import io

import numpy as np

from voicelog.heard import RATE_HZ


def tone(seconds: float = 1.0, hz: float = 440.0, level: float = 0.3) -> np.ndarray:
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return (level * np.sin(2 * np.pi * hz * t)).astype(np.float32)


def noise(seconds: float = 1.0, level: float = 0.1, seed: int = 0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return (level * rng.standard_normal(round(seconds * RATE_HZ))).astype(np.float32)


def encoded(
    samples: np.ndarray, container: str, codec: str, rate_hz: int = RATE_HZ, layout: str = "mono"
) -> bytes:
    """`samples` in any container that PyAV writes."""
    import av

    target = io.BytesIO()
    with av.open(target, "w", format=container) as out:
        stream = out.add_stream(codec, rate=rate_hz)
        stream.layout = layout
        resampler = av.AudioResampler(
            format=stream.format, layout=layout, rate=rate_hz, frame_size=stream.frame_size or 1024
        )
        frame = av.AudioFrame.from_ndarray(
            samples.reshape(1, -1).astype(np.float32), format="flt", layout="mono"
        )
        frame.sample_rate = RATE_HZ
        for piece in [*resampler.resample(frame), *resampler.resample(None)]:
            out.mux(stream.encode(piece))
        out.mux(stream.encode(None))
    return target.getvalue()
