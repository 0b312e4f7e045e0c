"""What time it is: UTC, with the site's offset kept beside it."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Anything that tells an aware time; tests bring their own."""

    def now(self) -> datetime: ...


class SystemClock:
    """The machine's clock. The offset is the local one at that moment."""

    def now(self) -> datetime:
        return datetime.now(UTC).astimezone()


def stamp(at: datetime) -> str:
    """`at` as it is stored: ISO 8601 to the millisecond, with its offset."""
    return at.isoformat(timespec="milliseconds")
