"""Keys: the site's own, and one for each person, sealed under that person's secret.

A person's Ed25519 key is encrypted with a key derived from the secret by Argon2id
(RFC 9106), so signing needs the secret itself and not merely the software's word that it
was given; verifying needs public keys only. Whether a secret is right is seen by its
opening the seal (ChaCha20-Poly1305 refuses any other).
"""

from __future__ import annotations

import json
import os
import unicodedata
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from voicelog.errors import HomeError
from voicelog.records.audio import sync_folder
from voicelog.records.connection import plain_errors

if TYPE_CHECKING:
    from pathlib import Path

SITE_KEY = "site.key"


@dataclass(frozen=True, slots=True)
class Cost:
    """Work that one try of a secret costs: RFC 9106, second recommended option."""

    time: int = 3
    memory_kib: int = 65_536
    lanes: int = 4


def new_seed() -> bytes:
    """The private half of a new Ed25519 key: 32 random bytes."""
    return os.urandom(32)


def public_of(seed: bytes) -> str:
    """Public half, hex."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    return Ed25519PrivateKey.from_private_bytes(seed).public_key().public_bytes_raw().hex()


def sign(seed: bytes, data: bytes) -> str:
    """Ed25519 signature, hex."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    return Ed25519PrivateKey.from_private_bytes(seed).sign(data).hex()


def verify(public: str, data: bytes, signature: str) -> bool:
    """Whether `signature` (hex) over `data` was made with the private half of `public` (hex)."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(public))
        key.verify(bytes.fromhex(signature), data)
    except (InvalidSignature, ValueError):
        return False
    return True


def _derive(secret: str, salt: bytes, cost: Cost) -> bytes:
    from argon2.low_level import Type, hash_secret_raw

    return hash_secret_raw(
        unicodedata.normalize("NFKC", secret).encode(),
        salt,
        time_cost=cost.time,
        memory_cost=cost.memory_kib,
        parallelism=cost.lanes,
        hash_len=32,
        type=Type.ID,
    )


def seal(seed: bytes, secret: str, cost: Cost) -> str:
    """`seed` encrypted under `secret`: JSON with all that opening it needs but the secret."""
    from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

    salt, nonce = os.urandom(16), os.urandom(12)
    box = ChaCha20Poly1305(_derive(secret, salt, cost)).encrypt(nonce, seed, b"voicelog")
    return json.dumps(
        {"argon2id": asdict(cost), "salt": salt.hex(), "nonce": nonce.hex(), "box": box.hex()}
    )


def unseal(sealed: str, secret: str) -> bytes | None:
    """The seed, or None when `secret` is not the one it was sealed under."""
    from cryptography.exceptions import InvalidTag
    from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

    parts = json.loads(sealed)
    key = _derive(secret, bytes.fromhex(parts["salt"]), Cost(**parts["argon2id"]))
    try:
        return ChaCha20Poly1305(key).decrypt(
            bytes.fromhex(parts["nonce"]), bytes.fromhex(parts["box"]), b"voicelog"
        )
    except InvalidTag:
        return None


class SiteKey:
    """The site's signing key: `site.key` in the home folder, readable by its owner only."""

    def __init__(self, seed: bytes) -> None:
        self._seed = seed
        self.public = public_of(seed)

    def sign(self, data: bytes) -> str:
        """Ed25519 signature over `data`, hex."""
        return sign(self._seed, data)

    @classmethod
    def make(cls, home: Path) -> SiteKey:
        """A key for a new home. One left by an attempt that was interrupted is taken over."""
        path = home / SITE_KEY
        with plain_errors(home):
            if not path.exists():
                partial = path.with_suffix(".partial")
                partial.unlink(missing_ok=True)
                handle = os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
                with os.fdopen(handle, "w", encoding="ascii") as file:
                    file.write(new_seed().hex() + "\n")
                    file.flush()
                    os.fsync(file.fileno())
                partial.replace(path)
                sync_folder(home)
        return cls.load(home)

    @classmethod
    def load(cls, home: Path) -> SiteKey:
        """The key of a home. Raises HomeError when it is missing or no key."""
        path = home / SITE_KEY
        if not path.exists():
            raise HomeError(f"{path}: the site's signing key is missing; restore it from a backup")
        with plain_errors(home):
            text = path.read_text(encoding="ascii", errors="replace").strip()
        try:
            return cls(bytes.fromhex(text))
        except ValueError as error:
            raise HomeError(f"{path}: not a signing key; restore it from a backup") from error
