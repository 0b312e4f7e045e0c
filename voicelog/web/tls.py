"""TLS for phones: a browser gives a page the microphone only over an encrypted line."""

from __future__ import annotations

import ipaddress
import os
import socket
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from cryptography import x509

_DAYS = 397
"""Browsers distrust certificates that are valid for longer (common practice, no source)."""


def own_address() -> str:
    """Address of this machine in its network; the loopback one when there is none."""
    probe = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        probe.connect(("192.0.2.1", 9))  # documentation range (RFC 5737): nothing is sent
        return str(probe.getsockname()[0])
    except OSError:
        return "127.0.0.1"
    finally:
        probe.close()


def self_signed(folder: Path, host: str) -> tuple[Path, Path]:
    """Certificate and key for `host` in `folder`, made anew when they run out or don't fit."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    certificate_path, key_path = folder / "certificate.pem", folder / "key.pem"
    names = dict.fromkeys(("localhost", "127.0.0.1", own_address(), host, socket.gethostname()))
    wanted = {_name(name) for name in names if name not in ("", "0.0.0.0", "::")}  # noqa: S104
    if certificate_path.exists() and key_path.exists():
        there = x509.load_pem_x509_certificate(certificate_path.read_bytes())
        alternative = there.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
        fresh = there.not_valid_after_utc > datetime.now(UTC) + timedelta(days=7)
        if fresh and wanted <= set(alternative):
            return certificate_path, key_path
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "voicelog")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + timedelta(days=_DAYS))
        .add_extension(x509.SubjectAlternativeName(sorted(wanted, key=str)), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    private = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    with os.fdopen(os.open(key_path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:
        file.write(private)
    certificate_path.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    return certificate_path, key_path


def _name(name: str) -> x509.GeneralName:
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)
