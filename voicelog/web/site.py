"""What a site sets for its pages, and every sentence they show.

`site.toml` holds the settings; `texts.en.toml` holds the words, so that another language is
another file beside it and nothing else.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from voicelog import config
from voicelog.errors import ConfigError

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class Limits:
    """What the pages take at most."""

    upload_mb: int = 48
    upload_minutes: int = 60
    uploads_per_minute: int = 12
    sign_ins_per_minute: int = 20
    dictation_hours: int = 4
    session_hours: int = 12
    page_rows: int = 50


@dataclass(frozen=True, slots=True)
class ReadBack:
    """How values are said back to the mechanic."""

    voice: Literal["auto", "espeak", "hibari", "off"] = "auto"
    words_per_minute: int = 150
    unasked: bool = True
    """Values in doubt or outside their limits are read back without being asked for."""


@dataclass(frozen=True, slots=True)
class Dictation:
    """How the page listens."""

    model: str = ""
    """Name of a speech model, or a folder; empty for the default of speech.toml."""
    profile: str = "fast"
    """Decoding profile while somebody waits for the text."""


@dataclass(frozen=True, slots=True)
class Recordings:
    """How recordings that are handed in are heard; the model is that of the dictation."""

    profile: str = "standard"


@dataclass(frozen=True, slots=True)
class Site:
    """The whole of `site.toml`."""

    name: str = "voicelog"
    time_zone: str = "UTC"
    language: str = "en"
    limits: Limits = field(default_factory=Limits)
    read_back: ReadBack = field(default_factory=ReadBack)
    dictation: Dictation = field(default_factory=Dictation)
    recordings: Recordings = field(default_factory=Recordings)

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)


def load(path: Path | None = None) -> Site:
    """The settings in `path`, else those of models_config/. Raises ConfigError."""
    if path is None:
        site = config.load(Site, "site.toml")
    else:
        try:
            data = tomllib.loads(path.read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
            raise ConfigError(f"{path}: {error}; see models_config/site.toml") from error
        site = config.build(Site, data, str(path))
    try:
        ZoneInfo(site.time_zone)
    except (ZoneInfoNotFoundError, ValueError) as error:
        raise ConfigError(
            f"site settings, time_zone: {site.time_zone!r} is no time zone; "
            "write one such as Europe/Lisbon"
        ) from error
    return site


class Texts:
    """The words of one language: `texts.review.accept`. A missing one is an error, not a blank."""

    def __init__(self, words: dict[str, Any], where: str) -> None:
        self._words, self._where = words, where

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        if name not in self._words:
            raise ConfigError(f"{self._where}: lacks the text {name!r}")
        found = self._words[name]
        return Texts(found, f"{self._where}, {name}") if isinstance(found, dict) else found

    def __getitem__(self, name: str) -> Any:
        return self.__getattr__(name.replace(" ", "_"))

    def plain(self) -> dict[str, Any]:
        """The words as they stand in the file, for the page's script."""
        return self._words


@cache
def texts(language: str = "en") -> Texts:
    """The words of `texts.<language>.toml`. Raises ConfigError."""
    path = config.config_dir() / f"texts.{language}.toml"
    try:
        return Texts(tomllib.loads(path.read_text(encoding="utf-8")), str(path))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ConfigError(f"{path}: {error}") from error
