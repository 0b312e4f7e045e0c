"""Noise of real machines, from the sound set of Debian's package openttd-opensfx.

The package is read where it is installed; none of its sounds is part of voicelog. Its file
is a table of (offset, size) pairs, little-endian, 32 bits each, then for every sound its
title as a string with a length byte, and a WAV file (seen in version 1.0.3). The recordings
are free (CC BY 3.0 or CC0, as each title says).
"""

from __future__ import annotations

import os
import struct
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from voicelog.bench.waves import Samples, of_wave, resampled, unit_power
from voicelog.errors import AudioError

if TYPE_CHECKING:
    from collections.abc import Iterator

TITLES = {
    "air hammer": "Jackhammer",
    "circular saw": "Sawmill",
    "smithy": "Building bridge",
    "machinery": "Mining machinery",
    "jet": "Early jet take off",
    "propeller": "Propeller plane start",
}
"""Our names of the sounds that a workshop or an apron may hold, and their titles."""

_FILE = "/usr/share/games/openttd/baseset/opensfx/opensfx.cat"


def _path() -> Path:
    return Path(os.environ.get("VOICELOG_NOISE", _FILE))


def installed() -> bool:
    """Whether the sound set is there."""
    return _path().is_file()


@cache
def _sounds(path: Path) -> dict[str, bytes]:
    try:
        data = path.read_bytes()
    except OSError as error:
        raise AudioError(
            f"{path}: real noise can't be read ({error.strerror}); "
            "install it with: apt install openttd-opensfx"
        ) from error
    try:
        return dict(_entries(data))
    except (struct.error, IndexError) as error:
        raise AudioError(f"{path}: is not the sound set that was expected ({error})") from error


def _entries(data: bytes) -> Iterator[tuple[str, bytes]]:
    """(title, WAV file) of every sound."""
    count = (struct.unpack_from("<I", data)[0] & 0x7FFFFFFF) // 8
    for index in range(count):
        offset, size = struct.unpack_from("<II", data, 8 * index)
        offset &= 0x7FFFFFFF  # the highest bit of an offset is a mark, not a place
        length = data[offset]
        label = data[offset + 1 : offset + 1 + length].decode("latin-1")
        begin = offset + 1 + length
        yield label.split('"')[1] if '"' in label else label, data[begin : begin + size + 8]


def noise(name: str, count: int, rng: np.random.Generator) -> Samples:
    """`count` samples of the sound `name` of `TITLES`, of power one, from a random place on.

    Raises AudioError when the sound set is not installed or lacks the sound.
    """
    sounds = _sounds(_path())
    if TITLES.get(name) not in sounds:
        raise AudioError(f"{_path()}: holds no sound for {name!r}; known are: {', '.join(TITLES)}")
    samples, rate_hz = of_wave(sounds[TITLES[name]])
    loop = resampled(samples, rate_hz)
    start = int(rng.integers(len(loop)))
    return unit_power(np.resize(np.roll(loop, -start), count))
