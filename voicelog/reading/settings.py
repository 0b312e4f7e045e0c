"""models_config/reading.toml: order of the stages, thresholds and reasons of doubt."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal  # noqa: TC003  (the settings are built from the annotations)
from functools import cache
from typing import TYPE_CHECKING

from voicelog import config
from voicelog.objects import Reason

if TYPE_CHECKING:
    from collections.abc import Iterable


@dataclass(frozen=True, slots=True)
class Settings:
    """The shape of reading.toml."""

    stages: tuple[str, ...]
    """Names of the reading stages in the order in which they run."""
    thresholds: dict[str, Decimal]
    reasons: dict[str, str]
    """Code of a doubt -> plain sentence shown to the reviewer."""


@cache
def settings() -> Settings:
    """The settings of this installation. Raises ConfigError."""
    return config.load(Settings, "reading.toml")


def reasons_of(codes: Iterable[str]) -> tuple[Reason, ...]:
    """The reasons behind codes of doubt, each once, with their plain sentences."""
    sentences = settings().reasons
    return tuple(
        Reason(code, sentences.get(code, code.replace("_", " "))) for code in dict.fromkeys(codes)
    )
