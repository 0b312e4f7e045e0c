"""Recordings in, samples out: any container that is on the list, decoded with suspicion.

An upload is not trusted. Its container is recognised by its first bytes and handed to that
one demuxer (an ffconcat text would otherwise make FFmpeg open a neighbouring file), no
protocol may open anything further, the length is capped while decoding (a few megabytes of
FLAC can hold hours of silence), damaged packets and holes in the time line are counted, and
what was decoded is compared with what the container declares.
"""

from __future__ import annotations

import hashlib
import io
import wave
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from voicelog.errors import AudioError
from voicelog.heard import RATE_HZ, Audio

if TYPE_CHECKING:
    from collections.abc import Iterator

MAX_BYTES = 512 * 1024 * 1024
"""A larger file is refused before it is read."""
MAX_DURATION_S = 3600.0
"""A longer recording is refused: an hour of samples takes 230 MB."""
MISSING_TOLERANCE_S = 0.25
"""Encoder delay and padding make declared and decoded duration differ by less than this."""

# First bytes -> FFmpeg's name of the demuxer. Signatures: the specifications of each format.
_DEMUXERS: tuple[tuple[int, bytes, str], ...] = (
    (0, b"RIFF", "wav"),
    (0, b"RF64", "wav"),
    (0, b"fLaC", "flac"),
    (0, b"OggS", "ogg"),
    (0, b"\x1a\x45\xdf\xa3", "matroska"),
    (4, b"ftyp", "mov"),
    (4, b"moov", "mov"),
    (4, b"mdat", "mov"),
    (0, b"#!AMR", "amr"),
    (0, b"caff", "caf"),
    (0, b"FORM", "aiff"),
    (0, b"ID3", "mp3"),
)
READS = "wav, flac, ogg, opus, webm, m4a, mp4, mp3, 3gp, amr, aac, caf, aiff"


@dataclass(frozen=True, slots=True)
class _Decoded:
    samples: np.ndarray
    declared_s: float | None
    damaged: int
    holes_s: float


def demuxer_of(data: bytes) -> str | None:
    """FFmpeg's name for the container that begins with `data`; None: not on the list."""
    for offset, magic, name in _DEMUXERS:
        if data[offset : offset + len(magic)] == magic:
            return name
    if len(data) > 1 and data[0] == 0xFF and data[1] & 0xE0 == 0xE0:  # MPEG frame sync
        return "aac" if data[1] & 0x06 == 0 else "mp3"
    return None


def _looks_like_text(data: bytes) -> bool:
    head = data[:4096]
    try:
        text = head.decode("utf-8")
    except UnicodeDecodeError as error:
        text = head[: error.start].decode("utf-8") if error.start > len(head) - 4 else ""
    return bool(text) and all(sign.isprintable() or sign in "\r\n\t\f" for sign in text)


def _read(path: Path) -> bytes:
    try:
        if not path.is_file():
            raise AudioError(
                f"{path}: is not a file" if path.exists() else f"{path}: there is no such file"
            )
        if path.stat().st_size > MAX_BYTES:
            raise AudioError(f"{path}: larger than {MAX_BYTES // 2**20} MiB; split the recording")
        return path.read_bytes()
    except OSError as error:
        raise AudioError(f"{path}: can't be read ({error.strerror})") from error


def frames(container: Any, stream: Any, damage: list[int]) -> Iterator[Any]:
    """Decoded frames; packets that are damaged are counted and skipped."""
    import av

    for packet in container.demux(stream):
        if packet.is_corrupt:
            damage[0] += 1
        try:
            yield from packet.decode()
        except av.FFmpegError:
            damage[0] += 1


def opened(source: Any, demuxer: str) -> Any:
    """The container, by that demuxer alone; nothing else may be opened from inside it."""
    import av

    options = {"protocol_whitelist": "none", "format_whitelist": demuxer}
    return av.open(source, format=demuxer, options=options, metadata_errors="ignore")


def length_s(container: Any, stream: Any) -> float | None:
    """Seconds that the container declares, if it does."""
    import av

    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    length = getattr(container, "duration", None)
    return length / av.time_base if length else None


def _decode(data: bytes, demuxer: str, name: str) -> _Decoded:
    import av

    with opened(io.BytesIO(data), demuxer) as container:
        stream = next(iter(container.streams.audio), None)
        if stream is None:
            what = "a video without sound" if container.streams.video else "no sound"
            raise AudioError(f"{name}: holds {what}; record it again with the microphone on")
        declared_s = length_s(container, stream)
        if declared_s is not None and declared_s > MAX_DURATION_S + 1:
            raise _too_long(name)
        resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE_HZ)
        pieces: list[np.ndarray] = []
        damage = [0]
        count, holes_s, expected = 0, 0.0, None

        def keep(frame: Any) -> None:
            nonlocal count
            for piece in resampler.resample(frame):
                pieces.append(piece.to_ndarray().reshape(-1))
                count += len(pieces[-1])
            if count > MAX_DURATION_S * RATE_HZ:
                raise _too_long(name)

        for frame in frames(container, stream, damage):
            if frame.is_corrupt:
                damage[0] += 1
            if frame.pts is not None and frame.time_base:
                at = float(frame.pts * frame.time_base)
                if expected is not None and at - expected > 0.005:
                    holes_s += at - expected
                expected = at + frame.samples / frame.sample_rate
            frame.pts = None  # holes are counted above; the resampler need not fill them
            keep(frame)
        if count:
            keep(None)
    samples = np.concatenate(pieces) if pieces else np.zeros(0, np.float32)
    return _Decoded(samples.astype(np.float32, copy=False), declared_s, damage[0], holes_s)


def _too_long(name: str) -> AudioError:
    return AudioError(f"{name}: longer than {MAX_DURATION_S / 60:.0f} minutes; split the recording")


def load(source: Path | bytes, name: str = "recording") -> Audio:
    """Decode a recording to 16 kHz mono.

    `name` stands for the recording in messages when `source` is its bytes. Damage that leaves
    most of it readable is told in `Audio.warnings`; raises AudioError when the file is missing,
    empty, no audio, truncated, too long or damaged throughout.
    """
    import av

    path = source if isinstance(source, Path) else None
    if isinstance(source, Path):
        data, name = _read(source), str(source)
    else:
        data = source
    if not data:
        raise AudioError(f"{name}: is empty; record it again")
    demuxer = demuxer_of(data)
    if demuxer is None:
        what = "is a text, not a recording" if _looks_like_text(data) else "is no known recording"
        raise AudioError(f"{name}: {what}; voicelog reads {READS}")
    check_chunks(data, len(data), name)
    try:
        decoded = _decode(data, demuxer, name)
    except (av.FFmpegError, ValueError, EOFError) as error:
        reason = getattr(error, "strerror", None) or error
        raise AudioError(
            f"{name}: is damaged or cut off and can't be decoded ({reason}); "
            "copy or record it again"
        ) from error
    return Audio(
        samples=_sound(decoded, name),
        sha256=hashlib.sha256(data).hexdigest(),
        path=path,
        warnings=_damage(decoded, name),
    )


def check_chunks(data: bytes, total: int, name: str) -> None:
    """FFmpeg shortens the sound of these containers to what is there; the header says what was.

    A recorder that streams leaves the size open (0 or all bits set) and fills it in at the end,
    if at all. `data` are the first of `total` bytes.
    """
    kind = (data[:4], data[8:12])
    if kind == (b"RIFF", b"WAVE"):
        at, order, width, wanted = 12, "little", 4, b"data"
    elif kind[0] == b"FORM" and kind[1] in (b"AIFF", b"AIFC"):
        at, order, width, wanted = 12, "big", 4, b"SSND"
    elif kind[0] == b"caff":
        at, order, width, wanted = 8, "big", 8, b"data"
    else:
        return
    while at + 4 + width <= len(data):
        size = int.from_bytes(data[at + 4 : at + 4 + width], order)  # type: ignore[arg-type]
        left = total - at - 4 - width
        if data[at : at + 4] == wanted:
            if 0 < size < 1 << (8 * width - 1) and left < size:
                raise AudioError(
                    f"{name}: is cut off: {left / size:.0%} of its sound are there; "
                    "copy it again from the recorder"
                )
            return
        at += 4 + width + size + (size % 2 if width == 4 else 0)


def _sound(decoded: _Decoded, name: str) -> np.ndarray:
    samples = decoded.samples
    if not len(samples):
        raise AudioError(f"{name}: holds no sound; record it again")
    finite = np.isfinite(samples)
    if not finite.all():
        if finite.mean() < 0.99:
            raise AudioError(f"{name}: its samples are no numbers; record it again")
        samples = np.where(finite, samples, np.float32(0))
    clipped: np.ndarray = np.clip(samples, -1.0, 1.0)
    return clipped


def _damage(decoded: _Decoded, name: str) -> tuple[str, ...]:
    """Plain sentences on what is missing. Raises AudioError when too much is."""
    found_s = len(decoded.samples) / RATE_HZ
    if decoded.declared_s is not None:
        missing_s = decoded.declared_s - found_s - decoded.holes_s
        if missing_s > max(MISSING_TOLERANCE_S, 0.01 * decoded.declared_s):
            raise AudioError(
                f"{name}: is cut off: {found_s:.1f} s of {decoded.declared_s:.1f} s are there; "
                "copy it again from the recorder"
            )
    if decoded.holes_s > found_s:
        raise AudioError(f"{name}: more than half of it is damaged; copy or record it again")
    if decoded.damaged or decoded.holes_s > 0.02 or not np.isfinite(decoded.samples).all():
        return (
            f"Parts of this recording are damaged ({decoded.holes_s:.1f} s are missing): "
            "say the values again.",
        )
    return ()


def of_samples(samples: np.ndarray, sha256: str = "", warnings: tuple[str, ...] = ()) -> Audio:
    """Live samples as `Audio`; without a digest it is that of their 16-bit PCM."""
    clean = np.clip(np.nan_to_num(samples.astype(np.float32, copy=False)), -1.0, 1.0)
    digest = sha256 or hashlib.sha256(_pcm(clean).tobytes()).hexdigest()
    return Audio(samples=clean, sha256=digest, warnings=warnings)


def _pcm(samples: np.ndarray) -> np.ndarray:
    pcm: np.ndarray = np.round(np.clip(samples, -1.0, 1.0) * 32767.0).astype("<i2")
    return pcm


def to_flac(samples: np.ndarray) -> bytes:
    """Mono samples at 16 kHz as FLAC, 16 bits: about half of PCM, the same bytes every time."""
    import av

    target = io.BytesIO()
    with av.open(target, "w", format="flac", options={"fflags": "+bitexact"}) as container:
        stream = container.add_stream("flac", rate=RATE_HZ, options={"flags": "+bitexact"})
        stream.layout = "mono"
        stream.format = "s16"
        pcm = _pcm(samples).reshape(1, -1)
        for start in range(0, pcm.shape[1], 4096):
            block = np.ascontiguousarray(pcm[:, start : start + 4096])
            frame = av.AudioFrame.from_ndarray(block, format="s16", layout="mono")
            frame.sample_rate = RATE_HZ
            frame.pts = start
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return target.getvalue()


def to_wav(samples: np.ndarray) -> bytes:
    """Mono samples at 16 kHz as a 16-bit WAV file."""
    target = io.BytesIO()
    with wave.open(target, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE_HZ)
        out.writeframes(_pcm(samples).tobytes())
    return target.getvalue()


def snippet(path: Path, start_s: float, end_s: float) -> bytes:
    """The seconds `start_s`..`end_s` of a recording as a WAV file, cut to the sample.

    Raises AudioError as `load` does, and when the span lies outside the recording.
    """
    samples = load(path).samples
    start, end = max(0, round(start_s * RATE_HZ)), min(len(samples), round(end_s * RATE_HZ))
    if start >= end:
        raise AudioError(
            f"{path}: has no sound from {start_s:.2f} s to {end_s:.2f} s; "
            f"it is {len(samples) / RATE_HZ:.2f} s long"
        )
    return to_wav(samples[start:end])


def peaks(audio: Audio, n: int) -> list[float]:
    """The largest magnitude in each of `n` equal stretches: the outline of the waveform."""
    edges = np.linspace(0, len(audio.samples), n + 1).astype(int)
    magnitude = np.abs(audio.samples)
    return [
        float(magnitude[start:end].max()) if end > start else 0.0 for start, end in pairwise(edges)
    ]
