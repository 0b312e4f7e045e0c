"""What a site may choose about its records: models_config/records.toml."""

from __future__ import annotations

from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache
from typing import TYPE_CHECKING

from voicelog import config

if TYPE_CHECKING:
    from datetime import date


@dataclass(frozen=True, slots=True)
class Secrets:
    """Rules for secrets and for locking out."""

    shortest: int
    tries: int
    """From this wrong try on, the person is locked out."""
    first_delay_s: float
    """Doubled at every further wrong try."""
    longest_delay_s: float


@dataclass(frozen=True, slots=True)
class Retention:
    """Records of cards whose number matches `card` are kept for `years`."""

    card: str
    years: int


@dataclass(frozen=True, slots=True)
class Settings:
    """The whole file."""

    secrets: Secrets
    retention: tuple[Retention, ...]

    def keep_until(self, card: str, performed: date) -> date | None:
        """Last day of the retention period by the first rule that matches `card`."""
        for rule in self.retention:
            if fnmatchcase(card, rule.card):
                year = performed.year + rule.years
                try:
                    return performed.replace(year=year)
                except ValueError:  # 29 February
                    return performed.replace(year=year, month=3, day=1)
        return None


@cache
def load() -> Settings:
    """Raises ConfigError."""
    return config.load(Settings, "records.toml")
