"""The way to a Dask scheduler: plain or TLS, with errors in plain words.

Certificates are configured as Dask's own, for scheduler, workers and this program alike:

    DASK_DISTRIBUTED__COMM__TLS__CA_FILE          the site's own authority
    DASK_DISTRIBUTED__COMM__TLS__CLIENT__CERT     this program's certificate
    DASK_DISTRIBUTED__COMM__TLS__CLIENT__KEY      and its key
"""

from __future__ import annotations

import logging
import warnings
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from voicelog.errors import ClusterError

if TYPE_CHECKING:
    from distributed import Client

log = logging.getLogger("voicelog.cluster")

CONNECT_S = 10.0
_LOCAL = ("127.0.0.1", "localhost", "::1")


def check(url: str) -> None:
    """Raises ClusterError when `url` can't be the address of a scheduler, or Dask is missing."""
    parts = urlsplit(url)
    try:
        port = parts.port
    except ValueError:
        port = None
    if parts.scheme not in ("tcp", "tls") or not parts.hostname or port is None:
        raise ClusterError(f"{url!r} is no cluster; name it like tls://HOST:8786")
    try:
        import distributed  # noqa: F401
    except ImportError as error:
        raise ClusterError(
            "Dask is not installed; install it with: pip install 'voicelog[cluster]'"
        ) from error
    if parts.scheme == "tcp" and parts.hostname not in _LOCAL:
        log.warning(
            "%s is not encrypted, and whoever reaches it can run code there; use tls://", url
        )


def connect(url: str, timeout_s: float = CONNECT_S) -> Client:
    """A connected client. Raises ClusterError: not there, certificate refused, wrong version."""
    check(url)
    from distributed import Client

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # versions are compared by `remote`, strictly
            return Client(
                url,
                timeout=timeout_s,
                security=_security(url),
                set_as_default=False,
                name="voicelog",
            )
    except Exception as error:  # Dask raises whatever its transport raised
        raise ClusterError(f"{url}: can't be reached ({_innermost(error)})") from error


def _security(url: str) -> Any:
    from distributed.security import Security

    if urlsplit(url).scheme != "tls":
        return None
    security = Security(require_encryption=True)
    if not (security.tls_ca_file and security.tls_client_cert and security.tls_client_key):
        raise ClusterError(
            f"{url}: needs certificates; set DASK_DISTRIBUTED__COMM__TLS__CA_FILE, "
            "…__TLS__CLIENT__CERT and …__TLS__CLIENT__KEY"
        )
    return security


def _innermost(error: BaseException) -> str:
    while error.__cause__ is not None:
        error = error.__cause__
    return str(error) or type(error).__name__
