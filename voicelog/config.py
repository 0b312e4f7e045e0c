"""models_config/ as frozen settings. A wrong file is refused, naming file and key.

Every room declares its settings as a frozen dataclass and loads it with `load`; the file
has the same shape as the dataclass, and a key that the dataclass lacks is an error, so a
misspelt setting can't be ignored in silence.
"""

from __future__ import annotations

import json
import os
import tomllib
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import cattrs
from platformdirs import user_cache_path, user_data_path

from voicelog.errors import ConfigError

T = TypeVar("T")

_HERE = Path(__file__).resolve().parent


def shipped(name: str) -> Path:
    """Folder `name` (models_config, sample_audio): inside an installed package or beside it."""
    installed = _HERE / name
    return installed if installed.is_dir() else _HERE.parent / name


def config_dir() -> Path:
    """Where the settings are: `VOICELOG_CONFIG`, else the ones that came with the software."""
    chosen = os.environ.get("VOICELOG_CONFIG")
    return Path(chosen) if chosen else shipped("models_config")


def home_dir(chosen: Path | None = None) -> Path:
    """The home folder: `chosen` (--home), else `VOICELOG_HOME`, else the platform's data folder."""
    if chosen is not None:
        return chosen
    named = os.environ.get("VOICELOG_HOME")
    return Path(named) if named else user_data_path("voicelog", appauthor=False)


def cache_dir() -> Path:
    """Where models are put together: `VOICELOG_CACHE`, else the platform's cache folder."""
    named = os.environ.get("VOICELOG_CACHE")
    return Path(named) if named else user_cache_path("voicelog", appauthor=False)


def _decimal(value: Any, _: type) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, (int, str, Decimal)):
        raise TypeError("expected a number")
    return Decimal(value)


@cache
def _converter() -> cattrs.Converter:
    converter = cattrs.Converter(forbid_extra_keys=True)
    converter.register_structure_hook(Decimal, _decimal)
    return converter


def build(shape: type[T], data: Any, where: str) -> T:
    """`data` as an instance of the frozen dataclass `shape`.

    Raises ConfigError naming `where` and the key of each thing that is wrong.
    """
    try:
        return _converter().structure(data, shape)
    except cattrs.BaseValidationError as error:
        faults = "; ".join(
            fault.replace(" @ $.", " at key ").replace(" @ $", "")
            for fault in cattrs.transform_error(error)
        )
        raise ConfigError(f"{where}: {faults}") from error
    except (TypeError, ValueError) as error:
        raise ConfigError(f"{where}: {error}") from error


def _read(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(
            f"{path}: can't be read ({error}); reinstall voicelog or set VOICELOG_CONFIG"
        ) from error


def load(shape: type[T], name: str) -> T:
    """The TOML file `name` of the settings folder as a frozen `shape`; decimals stay exact."""
    path = config_dir() / name
    try:
        data = tomllib.loads(_read(path), parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(f"{path}: {error}") from error
    return build(shape, data, str(path))


def load_lines(name: str) -> tuple[dict[str, Any], ...]:
    """The JSON Lines file `name` of the settings folder; lines that begin with # explain it."""
    path = config_dir() / name
    rows = []
    for number, line in enumerate(_read(path).splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        try:
            rows.append(json.loads(line))
        except json.JSONDecodeError as error:
            raise ConfigError(f"{path}, line {number}: {error}") from error
    return tuple(rows)
