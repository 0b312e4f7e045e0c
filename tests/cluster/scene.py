"""A cluster of processes over TLS, with certificates made here, and workers that only pretend
to listen."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

ROOT = Path(__file__).resolve().parent.parent.parent

PRETEND = """
from tests.work.scene import chain
from voicelog.cluster import remote
remote.model_digest = lambda name: "0" * 64
remote.make_chain = lambda model, profile: _made
_made = chain()
"""
"""Preloaded by workers: no model, every recording says the same."""

OLDER = PRETEND + "remote.__version__ = '0.0.1'\n"
"""A worker that was not upgraded."""

DISPATCH = """
import sys, time
from pathlib import Path
from tests.records.scene import CHEAP
from voicelog import __version__
from voicelog.cluster import ClusterHands, remote
from voicelog.errors import VoicelogError
from voicelog.records import Store
from voicelog.work.follow import until_ended
remote.terms = lambda model, profile: remote.Terms(
    __version__, remote.settings_digest(), "pretend", "0" * 64, profile)
if __name__ == "__main__":
    with Store.open(Path(sys.argv[1]), cost=CHEAP) as store:
        ids = [job.id for job in store.jobs.list(limit=10_000)]
        try:
            hands = ClusterHands(store, sys.argv[2], patience_s=float(sys.argv[3]))
            for job in until_ended(store, ids, hands):
                pass
        except VoicelogError as error:
            sys.exit(f"voicelog: {error}")
"""
"""What `voicelog add --cluster` does, without a model of its own."""

LIVE = """
import sys
import numpy as np
from voicelog import __version__
from voicelog.cluster import Live, remote
remote.terms = lambda model, profile: remote.Terms(
    __version__, remote.settings_digest(), "pretend", "0" * 64, profile)
if __name__ == "__main__":
    live = Live(sys.argv[1])
    print(live.hear(np.full(8000, 0.1, np.float32), None, None, timeout_s=60).transcript.text)
    live.close()
"""
"""What a server does with one utterance when its own recogniser is busy."""


def certificates(folder: Path) -> dict[str, str]:
    """An authority and one certificate for scheduler, workers and client, as Dask's settings."""
    now = datetime.now(UTC)

    def write(name: str, data: bytes) -> str:
        path = folder / name
        path.write_bytes(data)
        path.chmod(0o600)
        return str(path)

    def key() -> ec.EllipticCurvePrivateKey:
        return ec.generate_private_key(ec.SECP256R1())

    def name(text: str) -> x509.Name:
        return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])

    def begin(subject: str, public: ec.EllipticCurvePublicKey) -> x509.CertificateBuilder:
        return (
            x509.CertificateBuilder()
            .subject_name(name(subject))
            .issuer_name(name("authority of the test site"))
            .public_key(public)
            .serial_number(x509.random_serial_number())
            .not_valid_before(now - timedelta(hours=1))
            .not_valid_after(now + timedelta(days=1))
        )

    authority, own = key(), key()
    identifier = x509.SubjectKeyIdentifier.from_public_key(authority.public_key())
    root = (
        begin("authority of the test site", authority.public_key())
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(identifier, critical=False)
        .sign(authority, hashes.SHA256())
    )
    leaf = (
        begin("test cluster", own.public_key())
        .add_extension(
            x509.SubjectAlternativeName(
                [x509.DNSName("localhost"), x509.IPAddress(ip_address("127.0.0.1"))]
            ),
            critical=False,
        )
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(identifier),
            critical=False,
        )
        .sign(authority, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    ca = write("ca.pem", root.public_bytes(pem))
    certificate = write("own.pem", leaf.public_bytes(pem))
    secret = write(
        "own.key",
        own.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()),
    )
    settings = {"DASK_DISTRIBUTED__COMM__TLS__CA_FILE": ca}
    for role in ("SCHEDULER", "WORKER", "CLIENT"):
        settings[f"DASK_DISTRIBUTED__COMM__TLS__{role}__CERT"] = certificate
        settings[f"DASK_DISTRIBUTED__COMM__TLS__{role}__KEY"] = secret
    return settings


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Site:
    """Scheduler and workers as processes; everything is ended by `close`."""

    def __init__(self, folder: Path, *, tls: bool) -> None:
        self.folder = folder
        self.settings = certificates(folder) if tls else {}
        self.protocol = "tls" if tls else "tcp"
        self.port = free_port()
        self.url = f"{self.protocol}://127.0.0.1:{self.port}"
        self._started: list[subprocess.Popen[bytes]] = []

    def _start(self, *words: str, quiet: bool = True) -> subprocess.Popen[bytes]:
        process = subprocess.Popen(
            [sys.executable, *words],
            cwd=ROOT,
            env=os.environ
            | self.settings
            | {"PYTHONPATH": str(ROOT), "DASK_DISTRIBUTED__COMM__RETRY__COUNT": "0"},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL if quiet else subprocess.PIPE,
        )
        self._started.append(process)
        return process

    def scheduler(self) -> subprocess.Popen[bytes]:
        """A scheduler that accepts connections."""
        process = self._start(
            "-m", "distributed.cli.dask_scheduler", "--host", self.url, "--no-dashboard",
            "--no-jupyter", "--no-show",
        )  # fmt: skip
        until = time.monotonic() + 60
        while time.monotonic() < until:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return process
            time.sleep(0.1)
        raise AssertionError(f"no scheduler: {process.poll()}")

    def worker(self, preload: str = PRETEND) -> subprocess.Popen[bytes]:
        """A worker without a nanny: a kill is the end of it."""
        path = self.folder / f"preload{len(self._started)}.py"
        path.write_text(preload, encoding="utf-8")
        return self._start(
            "-m", "distributed.cli.dask_worker", self.url, "--no-nanny", "--nthreads", "1",
            "--no-dashboard", "--preload", str(path), "--local-directory", str(self.folder),
            "--protocol", self.protocol, "--host", "127.0.0.1", "--death-timeout", "90",
        )  # fmt: skip

    def dispatch(self, home: Path, patience_s: float = 60) -> subprocess.Popen[bytes]:
        """A process that sends all jobs of a home."""
        path = self.folder / "dispatch.py"
        path.write_text(DISPATCH, encoding="utf-8")
        return self._start(str(path), str(home), self.url, str(patience_s), quiet=False)

    def live(self) -> str:
        """What one utterance is heard as."""
        path = self.folder / "live.py"
        path.write_text(LIVE, encoding="utf-8")
        done = subprocess.run(
            [sys.executable, path, self.url], cwd=ROOT, capture_output=True, text=True,
            env=os.environ | self.settings | {"PYTHONPATH": str(ROOT)}, check=True, timeout=90,
        )  # fmt: skip
        return done.stdout.strip()

    def close(self) -> None:
        for process in self._started:
            process.kill()
            process.wait()
            if process.stderr:
                process.stderr.close()
