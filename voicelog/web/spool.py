"""The sound of one dictation on disk: frames of 100 ms, written before they are acknowledged,
and never twice.

Every opened page numbers its frames from 0: a stream. Frames are appended in the order in
which they come; beside them a line is kept for each change of stream, so the file and these
lines together say how many frames of each stream are here. There is no count of its own
that could disagree with the file after a crash.
"""

from __future__ import annotations

import os
import re
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path

FRAME = 1600
"""Samples of a frame: 100 ms at 16 kHz."""
FRAME_BYTES = 2 * FRAME
_LINE = re.compile(r"(\d{1,10}) (\d{1,10})\n")


class Spool:
    """Frames of 16-bit little-endian PCM."""

    def __init__(self, path: Path) -> None:
        self._file = os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT, 0o600), "r+b", buffering=0)
        self._turns_path = path.with_suffix(".streams")
        whole = os.fstat(self._file.fileno()).st_size // FRAME_BYTES
        # A frame that a crash cut short was never acknowledged: it will be sent again.
        self._file.truncate(whole * FRAME_BYTES)
        self.frames = whole
        """Frames that are here."""
        self._turns = self._read_turns()
        """(stream, frame at which it began to write), in that order."""

    def _read_turns(self) -> list[tuple[int, int]]:
        if not self._turns_path.exists():
            return []
        text = self._turns_path.read_text(encoding="ascii")
        return [(int(stream), int(at)) for stream, at in _LINE.findall(text)]

    @property
    def samples(self) -> int:
        return self.frames * FRAME

    def wanted(self, stream: int) -> int:
        """Number of the frame of `stream` that is wanted next; all before it are here."""
        starts = [at for _, at in self._turns]
        ends = [*starts[1:], self.frames]
        return sum(
            max(0, end - start)
            for (name, start), end in zip(self._turns, ends, strict=False)
            if name == stream
        )

    def take(self, stream: int, number: int, frame: bytes) -> bool:
        """Append one frame; False when it is here already or one before it is missing.

        Raises ValueError for a frame of another size, OSError when the disk is full.
        """
        if len(frame) != FRAME_BYTES:
            raise ValueError(f"a frame has {FRAME_BYTES} bytes, not {len(frame)}")
        if number != self.wanted(stream):
            return False
        if not self._turns or self._turns[-1][0] != stream:
            self._turn(stream)
        self._write(self.frames * FRAME_BYTES, frame)
        self.frames += 1
        return True

    def _turn(self, stream: int) -> None:
        """From here on `stream` writes: said on disk before its first frame is."""
        self.sync()
        with self._turns_path.open("ab") as file:
            file.write(f"{stream} {self.frames}\n".encode())
            file.flush()
            os.fsync(file.fileno())
        self._turns.append((stream, self.frames))

    def _write(self, at: int, data: bytes) -> None:
        self._file.seek(at)
        while data:
            data = data[self._file.write(data) :]

    def sync(self) -> None:
        """Return when everything taken so far is on the disk."""
        os.fdatasync(self._file.fileno())

    def blank(self, start: int, end: int) -> None:
        """Overwrite the samples `start`..`end` with silence: what was said on stand-by."""
        end = min(end, self.samples)
        if start < end:
            self._write(2 * start, bytes(2 * (end - start)))
            self.sync()

    def read(self, start: int, end: int | None = None) -> np.ndarray:
        """Samples `start`..`end` as float32 in [-1, 1]."""
        end = self.samples if end is None else min(end, self.samples)
        self._file.seek(2 * start)
        return pcm(self._file.read(2 * max(0, end - start)))

    def close(self) -> None:
        self._file.close()


def pcm(data: bytes) -> np.ndarray:
    """16-bit little-endian PCM as float32 samples; `audio.to_flac` gives back each bit.

    (All but -32768, which the page never sends: it scales by 32767.)
    """
    return np.frombuffer(data, "<i2").astype(np.float32) / np.float32(32767)
