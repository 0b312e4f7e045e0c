"""Recordings: the seconds that belong to a word, and the outline of the waveform."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.responses import JSONResponse, Response

from voicelog.errors import NotFound
from voicelog.web.desk import BadRequest

if TYPE_CHECKING:
    from voicelog.objects import Audio
    from voicelog.web.desk import Visit

_SHA256 = re.compile(r"[0-9a-f]{64}")
_SECONDS = re.compile(r"\d{1,6}(?:\.\d{1,4})?")
LONGEST_S = 120.0
"""Longest stretch that is played at once."""


@lru_cache(maxsize=4)
def _loaded(path: str) -> Audio:
    """A recording decoded; the few that somebody is listening to stay in memory."""
    from voicelog.speech import audio

    return audio.load(Path(path))


def _audio(visit: Visit) -> Audio:
    digest = visit.path("sha256")
    if not _SHA256.fullmatch(digest) or not visit.store.audio.has(digest):
        raise NotFound(visit.desk.texts.error.no_sound)
    return _loaded(str(visit.store.audio.path(digest)))


def _span(visit: Visit, audio: Audio) -> tuple[int, int]:
    """The samples between `from` and `to`, in seconds of the query."""
    start, end = visit.asked("from") or "0", visit.asked("to") or f"{audio.duration_s:.3f}"
    if not _SECONDS.fullmatch(start) or not _SECONDS.fullmatch(end):
        raise BadRequest(visit.desk.texts.error.form)
    first = min(round(float(start) * audio.rate_hz), len(audio.samples))
    last = min(round(float(end) * audio.rate_hz), len(audio.samples))
    return first, max(first, last)


def play(visit: Visit) -> Response:
    """A stretch of a recording as WAV."""
    from voicelog.speech import audio as tools

    audio = _audio(visit)
    first, last = _span(visit, audio)
    last = min(last, first + round(LONGEST_S * audio.rate_hz))
    return Response(
        tools.to_wav(audio.samples[first:last]),
        media_type="audio/wav",
        headers={"cache-control": "private, max-age=3600"},
    )


def peaks(visit: Visit) -> Response:
    """Outline of a stretch: `n` magnitudes between 0 and 100."""
    from voicelog.speech import audio as tools

    audio = _audio(visit)
    first, last = _span(visit, audio)
    stretch = tools.of_samples(audio.samples[first:last], audio.sha256)
    outline = tools.peaks(stretch, max(10, visit.number("n", 200, 2000)))
    return JSONResponse(
        [round(100 * peak) for peak in outline],
        headers={"cache-control": "private, max-age=3600"},
    )
