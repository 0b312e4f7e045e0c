"""The shape of `models_config/speech.toml`; its header explains the syntax."""

from __future__ import annotations

from dataclasses import dataclass

from voicelog import config


@dataclass(frozen=True, slots=True)
class Part:
    """A file inside an installed weight package."""

    package: str
    path: str


@dataclass(frozen=True, slots=True)
class ModelFile:
    name: str
    sha256: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Adapter:
    """A low-rank change of another model; `file` lies in `models_config/`."""

    of: str
    file: str
    sha256: str
    merged_sha256: str
    """Of `model.bin` after merging."""


@dataclass(frozen=True, slots=True)
class ModelEntry:
    """One declared model: files from weight packages, an adapted model, or one of the hub."""

    name: str
    origin: str
    licence: str
    size_mb: int
    files: tuple[ModelFile, ...] = ()
    hub: str | None = None
    default: bool = False
    adapter: Adapter | None = None
    partner: str | None = None
    """The model that reads the same sound a second time."""
    listen_s: float = 15.0
    beyond_s: float = 7.5
    timed: bool = True


@dataclass(frozen=True, slots=True)
class Profile:
    """How much time is spent on care."""

    beam: int
    greedy: float
    second: tuple[str, ...]
    expected: int
    rivals: int


@dataclass(frozen=True, slots=True)
class Recheck:
    """The rule of the second look; margins in nats."""

    teen: float
    near: float
    other: float
    paused: float
    sure: float
    shared: float
    certain: float
    unlikely: float
    leak: float
    nobody: float
    expected: float
    alike: float
    alone: float
    unit: float


@dataclass(frozen=True, slots=True)
class SignalLimits:
    """Where a recording is no longer fit to be understood."""

    least_snr_db: float
    least_level_db: float
    most_clipped: float
    most_dropped: float
    least_bandwidth_hz: float


@dataclass(frozen=True, slots=True)
class Voice:
    """Voice activity: when speech begins and ends, and how windows are filled."""

    threshold: float
    hangover_s: float
    shortest_s: float
    pad_s: float
    window_s: float
    overlap_s: float
    pause_s: float


@dataclass(frozen=True, slots=True)
class Prompting:
    longest: int
    general: tuple[str, ...]
    shop: tuple[str, ...]
    alphabet: str
    units: dict[str, str]


@dataclass(frozen=True, slots=True)
class SpeechSettings:
    models: tuple[ModelEntry, ...]
    profiles: dict[str, Profile]
    recheck: Recheck
    signal: SignalLimits
    voice: Voice
    vocabulary: Prompting


def load() -> SpeechSettings:
    """The settings as they stand now. Raises ConfigError."""
    return config.load(SpeechSettings, "speech.toml")
