"""The manifest of an export: what is in the folder, from where, by whom and when; signed.

Three files stand beside the exported ones: `manifest.json`, `manifest.sig` (Ed25519 over
the bytes of manifest.json, hex) and `site.pub` (the site's public key, hex), so that the
folder can be checked on a machine that has nothing but this software. Whoever holds the
folder could replace all three and sign anew with a key of their own: compare the key's
fingerprint with the one the site gives, or name the key (`verify(folder, public_key=...)`).
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicelog import wire
from voicelog.errors import ExportError
from voicelog.records.keys import verify as signed
from voicelog.records.ledger import SignedHead  # noqa: TC001 — read at run time

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


MANIFEST = "manifest.json"
SIGNATURE = "manifest.sig"
PUBLIC_KEY = "site.pub"
OWN = (MANIFEST, SIGNATURE, PUBLIC_KEY)

FORM = "voicelog-export/1"

_SHA256 = re.compile(r"[0-9a-f]{64}")
_KEY = re.compile(r"[0-9a-f]{64}")
_LARGEST = 1 << 30
"""A manifest larger than this is none (ids of a million records take some 40 MB)."""


@dataclass(frozen=True, slots=True)
class File:
    """An exported file."""

    name: str
    sha256: str
    size: int
    """In bytes."""


@dataclass(frozen=True, slots=True)
class Manifest:
    """What `manifest.json` holds."""

    form: str
    format: str
    written_by: str
    written_at: str
    software: str
    site: str
    public_key: str
    filter: tuple[tuple[str, str], ...]
    """(condition, value), only those that were set."""
    ledger: SignedHead
    """End of the ledger at that moment: nothing before it can be cut off unseen."""
    files: tuple[File, ...]
    records: tuple[str, ...]
    """Ids of the exported records, in the order of the export."""

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the public key, in groups of four, for comparing by eye or telephone."""
        return fingerprint(self.public_key)

    def content(self) -> tuple[Any, ...]:
        """What makes two exports the same: the bytes exported, and how they were chosen."""
        return self.format, self.filter, self.public_key, self.files, self.records

    def as_bytes(self) -> bytes:
        """The file: one JSON object, keys in a fixed order."""
        plain = {
            "form": self.form,
            "format": self.format,
            "written_by": self.written_by,
            "written_at": self.written_at,
            "software": self.software,
            "site": self.site,
            "public_key": self.public_key,
            "filter": dict(self.filter),
            "ledger": wire.to_plain(self.ledger),
            "files": [
                {"name": file.name, "sha256": file.sha256, "size": file.size} for file in self.files
            ],
            "records": list(self.records),
        }
        return (json.dumps(plain, indent=1, ensure_ascii=False) + "\n").encode()


def fingerprint(public_key: str) -> str:
    """SHA-256 of a public key (hex), in groups of four."""
    digest = hashlib.sha256(bytes.fromhex(public_key)).hexdigest()
    return " ".join(digest[at : at + 4] for at in range(0, len(digest), 4))


def _parse(data: bytes, name: str) -> Manifest:
    try:
        plain = json.loads(data)
        if plain["form"] != FORM:
            raise ExportError(
                f"{name}: of the form {plain['form']!r}, and this version reads {FORM!r};"
                " check it with the version that wrote it"
            )
        plain["filter"] = list(plain["filter"].items())
        manifest = wire.from_plain(Manifest, plain)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise ExportError(f"{name}: not the manifest of an export ({error})") from error
    for file in manifest.files:
        parts = Path(file.name).parts
        if not _SHA256.fullmatch(file.sha256) or parts != (file.name,) or file.name in OWN:
            raise ExportError(f"{name}: names no plain file: {file.name!r}")
    if not _KEY.fullmatch(manifest.public_key):
        raise ExportError(f"{name}: holds no public key")
    return manifest


def read(folder: Path) -> Manifest:
    """The manifest in `folder`; its signature is not looked at. Raises ExportError."""
    path = folder / MANIFEST
    try:
        if path.stat().st_size > _LARGEST:
            raise ExportError(f"{path}: too large for a manifest")
        return _parse(path.read_bytes(), str(path))
    except OSError as error:
        raise ExportError(
            f"{path}: can't be read ({error.strerror}); name the folder of an export"
        ) from error


def digest_of(path: Path) -> tuple[str, int]:
    """SHA-256 and size of a file, read in pieces."""
    hasher, size = hashlib.sha256(), 0
    with path.open("rb") as file:
        while piece := file.read(1 << 20):
            hasher.update(piece)
            size += len(piece)
    return hasher.hexdigest(), size


def write(folder: Path, manifest: Manifest, sign: Callable[[bytes], str]) -> None:
    """Put manifest, signature and public key into `folder`. `sign` gives a signature, hex."""
    data = manifest.as_bytes()
    (folder / MANIFEST).write_bytes(data)
    (folder / SIGNATURE).write_text(sign(data) + "\n", encoding="ascii")
    (folder / PUBLIC_KEY).write_text(manifest.public_key + "\n", encoding="ascii")


def _small_text(path: Path) -> str:
    """The text of a key or signature file; empty when it is missing or no such text."""
    try:
        with path.open("rb") as file:
            return file.read(4096).decode("ascii").strip()
    except (OSError, UnicodeDecodeError):
        return ""


def _bare(digits: str) -> str:
    return "".join(digits.split()).lower()


def _named(public_key: str) -> str:
    """The digits of a key or fingerprint that a person gave: themselves, or a file with them."""
    digits = _bare(public_key)
    if _KEY.fullmatch(digits):
        return digits
    try:
        return _bare(Path(public_key).read_text(encoding="ascii"))
    except (OSError, ValueError) as error:
        raise ExportError(
            f"{public_key}: neither a public key (64 hexadecimal digits), its fingerprint, nor"
            " a file that holds one"
        ) from error


def _signature_faults(folder: Path, manifest: Manifest, public_key: str | None) -> Iterator[str]:
    for name in OWN[1:]:
        if not (folder / name).is_file():
            yield f"{name}: missing"
    key = manifest.public_key
    if (folder / PUBLIC_KEY).is_file() and _small_text(folder / PUBLIC_KEY) != key:
        yield f"{PUBLIC_KEY}: not the key that the manifest names"
    if public_key is not None and _named(public_key) not in (key, _bare(manifest.fingerprint)):
        yield (
            f"{MANIFEST}: signed with another key (fingerprint {manifest.fingerprint}) than the"
            " one you named"
        )
    signature = _small_text(folder / SIGNATURE)
    if signature and not signed(key, (folder / MANIFEST).read_bytes(), signature):
        yield f"{MANIFEST}: the signature does not fit it; the manifest or its signature changed"
    if not manifest.ledger.genuine() or manifest.ledger.key != manifest.public_key:
        yield f"{MANIFEST}: the head of the ledger in it is not signed by the site"
    if not signature and (folder / SIGNATURE).is_file():
        yield f"{SIGNATURE}: holds no signature"


def _file_faults(
    folder: Path, manifest: Manifest, progress: Callable[[int, int], None]
) -> Iterator[str]:
    named = {file.name: file for file in manifest.files}
    for done, file in enumerate(manifest.files):
        progress(done, len(manifest.files))
        path = folder / file.name
        if path.is_symlink() or (path.exists() and not path.is_file()):
            yield f"{file.name}: not a plain file"
        elif not path.exists():
            yield f"{file.name}: missing"
        else:
            try:
                if digest_of(path) != (file.sha256, file.size):
                    yield f"{file.name}: changed since the export was signed"
            except OSError as error:
                yield f"{file.name}: can't be read ({error.strerror})"
    progress(len(manifest.files), len(manifest.files))
    for path in sorted(folder.iterdir()):
        if path.name not in named and path.name not in OWN:
            yield f"{path.name}: added; it is no part of the export"


def _silent(done: int, total: int) -> None:
    del done, total


def verify(
    folder: Path,
    public_key: str | None = None,
    progress: Callable[[int, int], None] = _silent,
) -> tuple[str, ...]:
    """What is wrong with the export in `folder`: a sentence for each fault, none when it holds.

    `public_key` pins the key it must be signed with: its digits (hex), its fingerprint, or
    a file that holds either. Without it the key that travels in the folder is used, and the
    caller shows its fingerprint (`read(folder).fingerprint`). Raises ExportError when
    `public_key` is none of the three.
    """
    try:
        manifest = read(folder)
    except ExportError as error:
        return (str(error),)
    return (
        *_signature_faults(folder, manifest, public_key),
        *_file_faults(folder, manifest, progress),
    )
