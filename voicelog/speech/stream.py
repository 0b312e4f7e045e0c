"""A long recording in slices: decoded as it is listened to, never whole in memory.

A recorder that ran through a shift holds hours. It is decoded piece by piece with the same
suspicion as a short one (`audio`), and cut where it is quietest, so that no word is halved.
"""

from __future__ import annotations

import hashlib
import io
import itertools
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from voicelog.errors import AudioError
from voicelog.heard import RATE_HZ, Audio
from voicelog.speech import audio

if TYPE_CHECKING:
    from collections.abc import Iterator

LONG_S = 900.0
"""From here on a recording is heard in slices."""
LONGEST_S = 12 * 3600.0
"""A longer one is refused."""
SLICE_S = 300.0
_SEARCH_S = 45.0
"""The cut is looked for in so much of a slice's end."""
_QUIET_S = 0.4
_HEAD_BYTES = 64 * 2**10
_UNDECLARED_BYTES = 4 * 2**20
"""A file of so many bytes that doesn't say how long it is may be long."""


def is_long(source: Path | bytes) -> bool:
    """Whether a recording has to be heard in slices. What is none is not long."""
    import av

    with _file(source) as file:
        head, size = _look(file)
        demuxer = audio.demuxer_of(head)
        if demuxer is None:
            return False
        try:
            with audio.opened(file, demuxer) as container:
                declared_s = audio.length_s(container, next(iter(container.streams.audio)))
        except (av.FFmpegError, ValueError, StopIteration):
            return False
    return size > _UNDECLARED_BYTES if declared_s is None else declared_s > LONG_S


def slices(source: Path | bytes, name: str = "recording") -> Iterator[Audio]:
    """The recording as `Audio` of some minutes each, all with the digest of the whole.

    Raises AudioError as `audio.load` does; for what is cut off, at the end.
    """
    import av

    path = source if isinstance(source, Path) else None
    count, kept = 0, np.zeros(0, np.float32)
    with _file(source) as file:
        sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        head, size = _look(file)
        demuxer = audio.demuxer_of(head)
        if demuxer is None:
            raise AudioError(f"{name}: is no known recording; voicelog reads {audio.READS}")
        audio.check_chunks(head, size, name)
        try:
            with audio.opened(file, demuxer) as container:
                stream = next(iter(container.streams.audio), None)
                if stream is None:
                    raise AudioError(f"{name}: holds no sound; record it again")
                declared_s = audio.length_s(container, stream)
                for piece in _pieces(container, stream):
                    count += len(piece)
                    if count > LONGEST_S * RATE_HZ:
                        raise AudioError(
                            f"{name}: longer than {LONGEST_S / 3600:.0f} hours; split it"
                        )
                    kept = np.concatenate((kept, piece))
                    while len(kept) > SLICE_S * RATE_HZ:
                        at = _quietest(kept[: int(SLICE_S * RATE_HZ)])
                        yield Audio(kept[:at].copy(), sha256, path)
                        kept = kept[at:]
        except (av.FFmpegError, ValueError, EOFError) as error:
            raise AudioError(f"{name}: is damaged and can't be decoded ({error})") from error
    if len(kept):
        yield Audio(kept, sha256, path)
    if not count:
        raise AudioError(f"{name}: holds no sound; record it again")
    if declared_s is not None and declared_s - count / RATE_HZ > 0.01 * declared_s:
        raise AudioError(
            f"{name}: is cut off or damaged: {count / RATE_HZ:.0f} s of {declared_s:.0f} s are "
            "there; copy it again from the recorder"
        )


def _file(source: Path | bytes) -> io.BufferedReader | io.BytesIO:
    return source.open("rb") if isinstance(source, Path) else io.BytesIO(source)


def _look(file: io.BufferedReader | io.BytesIO) -> tuple[bytes, int]:
    """(first bytes, size); the file is at its beginning afterwards."""
    size = file.seek(0, io.SEEK_END)
    file.seek(0)
    head = file.read(_HEAD_BYTES)
    file.seek(0)
    return head, size


def _pieces(container: Any, stream: Any) -> Iterator[np.ndarray]:
    """Samples at 16 kHz, mono, finite, in pieces of about ten seconds."""
    import av

    resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE_HZ)
    pieces: list[np.ndarray] = []
    length = given = 0
    for frame in itertools.chain(audio.frames(container, stream, [0]), (None,)):
        if frame is not None:
            frame.pts = None
        elif not length:
            break  # nothing was decoded: there is nothing to flush
        for each in resampler.resample(frame):
            pieces.append(each.to_ndarray().reshape(-1))
            length += pieces[-1].size
        if length - given > 10 * RATE_HZ:
            yield _clean(pieces)
            pieces, given = [], length
    if pieces:
        yield _clean(pieces)


def _clean(pieces: list[np.ndarray]) -> np.ndarray:
    joined = np.nan_to_num(np.concatenate(pieces).astype(np.float32, copy=False))
    clipped: np.ndarray = np.clip(joined, -1.0, 1.0)
    return clipped


def _quietest(samples: np.ndarray) -> int:
    """Sample in the middle of the quietest stretch near the end."""
    hop = int(_QUIET_S * RATE_HZ)
    begin = max(hop, len(samples) - int(_SEARCH_S * RATE_HZ))
    tail = samples[begin : begin + (len(samples) - begin) // hop * hop].reshape(-1, hop)
    return begin + int(np.argmin((tail**2).mean(axis=1))) * hop + hop // 2
