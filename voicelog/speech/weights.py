"""Weights in CTranslate2's binary format (version 6): a low-rank adapter merged in, in 8 bits.

The format, as written by CTranslate2 4.8 and seen in its own files, little-endian:

    u32 version, string name of the specification, u32 its revision
    u32 count, then for each variable: string name, u8 rank, u32 for each dimension,
        u8 type, u32 bytes, the bytes
    u32 count, then for each alias: string name, string name of the variable

A string is u16 length (its final NUL counted) and the bytes.
"""

from __future__ import annotations

import json
import struct
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from voicelog.errors import ModelError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

VERSION = 6
_TYPES = {0: "<f4", 1: "<i1", 2: "<i2", 3: "<i4", 4: "<f2"}
_CODES = {np.dtype(name): code for code, name in _TYPES.items()}
_MOST_HEADER = 1 << 20
_MATRIX = 2

Tensors = dict[str, np.ndarray[Any, Any]]


@dataclass(frozen=True, slots=True)
class Weights:
    """One `model.bin`: its variables by name, in the order of the file."""

    spec: str
    revision: int
    tensors: Tensors
    aliases: tuple[tuple[str, str], ...] = ()


class _Reader:
    def __init__(self, path: Path) -> None:
        self.path, self.data, self.at = path, path.read_bytes(), 0

    def take(self, count: int) -> bytes:
        if self.at + count > len(self.data):
            raise ModelError(f"{self.path}: ends in the middle; it is not a whole model.bin")
        self.at += count
        return self.data[self.at - count : self.at]

    def number(self, kind: str) -> int:
        return int(struct.unpack(f"<{kind}", self.take(struct.calcsize(kind)))[0])

    def string(self) -> str:
        return self.take(self.number("H"))[:-1].decode()


def read(path: Path) -> Weights:
    """The weights in `path`. Raises ModelError for another format, OSError."""
    source = _Reader(path)
    if source.number("I") != VERSION:
        raise ModelError(f"{path}: not version {VERSION} of CTranslate2's format")
    spec, revision = source.string(), source.number("I")
    tensors: Tensors = {}
    for _ in range(source.number("I")):
        name = source.string()
        shape = [source.number("I") for _ in range(source.number("B"))]
        code = source.number("B")
        if code not in _TYPES:
            raise ModelError(f"{path}: {name} is of a type ({code}) that is not read here")
        raw = source.take(source.number("I"))
        tensors[name] = np.frombuffer(raw, _TYPES[code]).reshape(shape)
    aliases = tuple((source.string(), source.string()) for _ in range(source.number("I")))
    return Weights(spec, revision, tensors, aliases)


def _string(text: str) -> bytes:
    raw = text.encode() + b"\0"
    return struct.pack("<H", len(raw)) + raw


def write(weights: Weights, path: Path) -> None:
    """`weights` as a file that `read` gives back bit for bit."""
    parts = [struct.pack("<I", VERSION), _string(weights.spec)]
    parts.append(struct.pack("<II", weights.revision, len(weights.tensors)))
    for name, tensor in weights.tensors.items():
        raw = tensor.tobytes()
        parts.append(_string(name))
        parts.append(struct.pack(f"<B{tensor.ndim}I", tensor.ndim, *tensor.shape))
        parts += [struct.pack("<BI", _CODES[tensor.dtype], len(raw)), raw]
    parts.append(struct.pack("<I", len(weights.aliases)))
    parts += [_string(text) for alias in weights.aliases for text in alias]
    path.write_bytes(b"".join(parts))


# --- adapter ----------------------------------------------------------------------


def read_adapter(path: Path) -> tuple[Tensors, dict[str, str]]:
    """Tensors and metadata of a safetensors file of float16 and float32. Raises ModelError."""
    data = path.read_bytes()
    size = int.from_bytes(data[:8], "little")
    try:
        if not 0 < size <= min(_MOST_HEADER, len(data) - 8):
            raise ValueError("its header is damaged")
        header = json.loads(data[8 : 8 + size])
        metadata = dict(header.pop("__metadata__", {}))
        body, tensors = data[8 + size :], {}
        for name, entry in header.items():
            begin, end = entry["data_offsets"]
            kind = {"F16": "<f2", "F32": "<f4"}[entry["dtype"]]
            tensors[name] = np.frombuffer(body[begin:end], kind).reshape(entry["shape"])
    except (ValueError, KeyError, TypeError) as error:
        raise ModelError(f"{path}: not an adapter in the safetensors format ({error})") from error
    return tensors, metadata


def scale_of(about: Mapping[str, str], path: Path) -> float:
    """The scale that the adapter's metadata names. Raises ModelError."""
    try:
        return float(about["scale"])
    except (KeyError, ValueError) as error:
        raise ModelError(f"{path}: does not say its scale") from error


def write_adapter(tensors: Tensors, metadata: Mapping[str, str], path: Path) -> None:
    """Float16 tensors in the safetensors format."""
    header: dict[str, Any] = {"__metadata__": dict(metadata)}
    body = b""
    for name, tensor in sorted(tensors.items()):
        raw = tensor.astype("<f2").tobytes()
        offsets = [len(body), len(body) + len(raw)]
        header[name] = {"dtype": "F16", "shape": list(tensor.shape), "data_offsets": offsets}
        body += raw
    head = json.dumps(header, sort_keys=True).encode()
    head += b" " * (-len(head) % 8)
    path.write_bytes(len(head).to_bytes(8, "little") + head + body)


def merge(weights: Weights, adapter: Tensors, scale: float) -> Weights:
    """`weight + scale * up @ down` for every pair `NAME/up`, `NAME/down`, in the type it had.

    `up` is [out, rank] and `down` [rank, in] of the variable `NAME` [out, in]. The sum is taken
    rank by rank in double precision, so it comes out with the same bits on every machine.
    Raises ModelError when a pair is not whole or does not fit.
    """
    names = {name.rsplit("/", 1)[0] for name in adapter}
    merged = dict(weights.tensors)
    for name in sorted(names):
        up, down = adapter.get(f"{name}/up"), adapter.get(f"{name}/down")
        old = merged.get(name)
        if up is None or down is None or old is None:
            raise ModelError(f"the adapter does not belong to this model: {name} has no partner")
        if (up.shape[0], down.shape[1]) != old.shape or up.shape[1] != down.shape[0]:
            raise ModelError(f"the adapter does not belong to this model: {name} has another shape")
        new = old.astype(np.float64)
        for rank in range(up.shape[1]):
            column, row = up[:, rank].astype(np.float64), down[rank].astype(np.float64)
            new += scale * (column[:, None] * row)
        merged[name] = new.astype(old.dtype)
    return replace(weights, tensors=merged)


def quantized(weights: Weights) -> Weights:
    """Matrices in 8 bits with a scale (127 / its largest magnitude) for each row.

    CTranslate2 does the same when it loads for int8, each time, and comes to the same bits; a file
    that holds them is half as large to check and loaded in a quarter of the time.
    """
    tensors: Tensors = {}
    for name, tensor in weights.tensors.items():
        tensors[name] = tensor
        if name.endswith("/weight") and tensor.ndim == _MATRIX and tensor.dtype.kind == "f":
            exact = tensor.astype(np.float32)
            largest = np.abs(exact).max(axis=1)
            scale = np.float32(127) / np.where(largest == 0, np.float32(127), largest)
            tensors[name] = np.rint(exact * scale[:, None]).astype(np.int8)
            tensors[f"{name}_scale"] = scale
    return replace(weights, tensors=tensors)


def adapted(base: Path, adapter: Path) -> Weights:
    """The weights in `base` with those in `adapter` merged in, in 8 bits.

    Raises ModelError when one can't be read or they don't belong together, OSError.
    """
    tensors, about = read_adapter(adapter)
    return quantized(merge(read(base), tensors, scale_of(about, adapter)))
