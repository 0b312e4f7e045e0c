"""Who is signed in: sessions kept in files of the home, so that a restart signs nobody out.

The cookie holds a random token; the file is named by its SHA-256, so that a copy of the
home gives nobody a way in.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
import time
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

COOKIE = "voicelog"


@dataclass(frozen=True, slots=True)
class Session:
    """One signed-in person at one browser."""

    person: str
    csrf: str
    """Goes into every form and every request that changes something."""
    began: float
    """Seconds since the epoch."""


class Sessions:
    """All sessions of one home."""

    def __init__(self, folder: Path, hours: float) -> None:
        self._folder = folder
        self._seconds = hours * 3600
        self._known: dict[str, Session] = {}
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)

    @staticmethod
    def _name(token: str) -> str:
        return hashlib.sha256(token.encode()).hexdigest()

    def begin(self, person: str) -> tuple[str, Session]:
        """A new session and the token for its cookie."""
        self._sweep()
        token = secrets.token_urlsafe(32)
        session = Session(person, secrets.token_urlsafe(32), time.time())
        path = self._folder / self._name(token)
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
            json.dump(asdict(session), file)
        self._known[path.name] = session
        return token, session

    def find(self, token: str | None) -> Session | None:
        """The session behind a cookie; None when there is none or its time is over."""
        if not token or len(token) > 100:
            return None
        name = self._name(token)
        session = self._known.get(name)
        if session is None:
            try:
                session = Session(**json.loads((self._folder / name).read_text()))
            except (OSError, ValueError, TypeError):
                return None
            self._known[name] = session
        if not 0 <= time.time() - session.began < self._seconds:
            self._forget(name)
            return None
        return session

    def end(self, token: str | None) -> None:
        """Sign out."""
        if token:
            self._forget(self._name(token))

    def _forget(self, name: str) -> None:
        self._known.pop(name, None)
        (self._folder / name).unlink(missing_ok=True)

    def _sweep(self) -> None:
        """Remove what has run out."""
        for path in self._folder.iterdir():
            if time.time() - path.stat().st_mtime > self._seconds:
                self._forget(path.name)
