"""Recordings: the seconds that belong to a word, and the outline of the waveform.

A recording of hours is never decoded whole into memory: its outline is kept, and a stretch
of it is found by listening through.
"""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from starlette.responses import JSONResponse, Response

from voicelog.errors import NotFound
from voicelog.heard import RATE_HZ
from voicelog.web.desk import BadRequest

if TYPE_CHECKING:
    from voicelog.web.desk import Visit

_SHA256 = re.compile(r"[0-9a-f]{64}")
_SECONDS = re.compile(r"\d{1,6}(?:\.\d{1,4})?")
LONGEST_S = 120.0
"""Longest stretch that is played at once."""
_STEP = RATE_HZ // 20
"""Samples behind one number of a kept outline."""


@lru_cache(maxsize=4)
def _loaded(path: str) -> np.ndarray:
    """A recording decoded; the few that somebody is listening to stay in memory."""
    from voicelog.speech import audio

    return audio.load(Path(path)).samples


@lru_cache(maxsize=16)
def _outline(path: str) -> np.ndarray:
    """The largest magnitude in each twentieth of a second of a long recording."""
    from voicelog.speech import stream

    found, rest = [], np.zeros(0, np.float32)
    for piece in stream.slices(Path(path)):
        samples = np.abs(np.concatenate((rest, piece.samples)))
        whole = len(samples) // _STEP * _STEP
        found.append(samples[:whole].reshape(-1, _STEP).max(axis=1))
        rest = samples[whole:]
    return np.append(np.concatenate(found), np.max(rest, initial=0.0))


@lru_cache(maxsize=64)
def _is_long(path: str) -> bool:
    from voicelog.speech import stream

    return stream.is_long(Path(path))


def _stretch(path: str, start: int, end: int) -> np.ndarray:
    """Samples `start`..`end`."""
    from voicelog.speech import stream

    if not _is_long(path):
        return _loaded(path)[start:end]
    found, at = [], 0
    for piece in stream.slices(Path(path)):
        if at >= end:
            break
        found.append(piece.samples[max(0, start - at) : max(0, end - at)])
        at += len(piece.samples)
    return np.concatenate(found) if found else np.zeros(0, np.float32)


def _path(visit: Visit) -> str:
    digest = visit.path("sha256")
    if not _SHA256.fullmatch(digest) or not visit.store.audio.has(digest):
        raise NotFound(visit.desk.texts.error.no_sound)
    return str(visit.store.audio.path(digest))


def _seconds(visit: Visit, name: str) -> float | None:
    text = visit.asked(name)
    if text and not _SECONDS.fullmatch(text):
        raise BadRequest(visit.desk.texts.error.form)
    return float(text) if text else None


def play(visit: Visit) -> Response:
    """A stretch of a recording as WAV: `from` and `to` in seconds, at most two minutes."""
    from voicelog.speech import audio

    path = _path(visit)
    start_s, end_s = _seconds(visit, "from") or 0.0, _seconds(visit, "to")
    end_s = min(start_s + LONGEST_S if end_s is None else end_s, start_s + LONGEST_S)
    samples = _stretch(path, round(start_s * RATE_HZ), round(end_s * RATE_HZ))
    return Response(
        audio.to_wav(samples),
        media_type="audio/wav",
        headers={"cache-control": "private, max-age=3600"},
    )


def peaks(visit: Visit) -> Response:
    """Outline of a stretch: `n` magnitudes between 0 and 100."""
    from voicelog.speech import audio

    path = _path(visit)
    source, step = (_outline(path), _STEP) if _is_long(path) else (_loaded(path), 1)
    start_s, end_s = _seconds(visit, "from") or 0.0, _seconds(visit, "to")
    first = min(round(start_s * RATE_HZ / step), len(source))
    last = len(source) if end_s is None else min(round(end_s * RATE_HZ / step), len(source))
    stretch = audio.of_samples(source[first : max(first, last)], visit.path("sha256"))
    outline = audio.peaks(stretch, max(10, visit.number("n", 200, 2000)))
    return JSONResponse(
        [round(100 * peak) for peak in outline],
        headers={"cache-control": "private, max-age=3600"},
    )
