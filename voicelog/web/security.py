"""What every answer carries and what every request must: headers, sizes, origin, rate.

The pages run no inline script or style and load nothing from elsewhere; a form that lacks
the session's token changes nothing; a WebSocket from another site is refused.
"""

from __future__ import annotations

import hmac
import time
from collections import defaultdict, deque
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.requests import HTTPConnection
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

CONTENT_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "media-src 'self' blob:",
        "connect-src 'self'",
        "worker-src 'self'",
        "manifest-src 'self'",
        "font-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)

HEADERS = (
    ("content-security-policy", CONTENT_POLICY),
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "same-origin"),  # without a referrer a form has no Origin either
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", "microphone=(self), camera=(), geolocation=(), payment=(), usb=()"),
)


_FOREVER = b"public, max-age=31536000, immutable"
"""For what is addressed by its content."""


class TooLarge(Exception):
    """The body of a request is larger than its route takes."""


class Hardened:
    """ASGI wrapper: security headers on every answer, a cap on every body."""

    def __init__(self, app: ASGIApp, *, max_body: int, tls: bool) -> None:
        self._app, self._max_body = app, max_body
        headers = [*HEADERS]
        if tls:
            headers.append(("strict-transport-security", "max-age=31536000"))
        self._headers = [(name.encode(), value.encode()) for name, value in headers]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        taken = 0

        async def capped() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > self._max_body:
                raise TooLarge
            return message

        async def hardened(message: Message) -> None:
            if message["type"] == "http.response.start":
                present = {name for name, _ in message["headers"]}
                extra = [pair for pair in self._headers if pair[0] not in present]
                if b"cache-control" not in present:
                    fixed = scope["path"].startswith("/static/") and message["status"] == 200
                    extra.append((b"cache-control", _FOREVER if fixed else b"no-store"))
                message["headers"] = [*message["headers"], *extra]
            await send(message)

        await self._app(scope, capped, hardened)


def same_origin(connection: HTTPConnection) -> bool:
    """Whether the browser says that the request comes from these very pages.

    A client that is no browser sends no Origin; it can't be tricked into a request either.
    """
    origin = connection.headers.get("origin")
    return origin is None or urlsplit(origin).netloc == connection.headers.get("host")


def same_token(given: str, expected: str) -> bool:
    """Compared in constant time."""
    return hmac.compare_digest(given.encode(), expected.encode())


class Rate:
    """At most `count` acts a minute for each key (an address, a person)."""

    def __init__(self, count: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._count = count
        self._clock = clock
        self._acts: defaultdict[str, deque[float]] = defaultdict(deque)

    def allow(self, key: str) -> bool:
        """Count one act of `key`; False when it comes too soon."""
        now = self._clock()
        if len(self._acts) > 10_000:
            self._acts.clear()
        acts = self._acts[key]
        while acts and now - acts[0] > 60:
            acts.popleft()
        if len(acts) >= self._count:
            return False
        acts.append(now)
        return True
