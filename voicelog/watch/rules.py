"""What a file's name and its side-car say about a recording.

A rules file is TOML; the first rule whose `file` matches the whole name is taken:

    [[rules]]
    file = '(?P<work_order>W-\\d+)_(?P<step>\\d+)_(?P<time>\\d{8}-\\d{6})\\.wav'
    card = "HX-32-41"            # for every file that matches; a group of that name wins
    person = "tom"
    time = "%Y%m%d-%H%M%S"       # how the group `time` is written (strptime), local time
    sidecar = "required"         # wait for the side-car; otherwise "optional"

Groups may be work_order, card, step, person and time. A side-car is a JSON file beside the
recording, `note.json` or `note.wav.json` for `note.wav`, with any of the same five keys; what
it says wins over the name, the name over the command line. `time` there is ISO 8601.
"""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import TYPE_CHECKING, Literal

from voicelog import config
from voicelog.errors import ConfigError, RecordError
from voicelog.work.intake import Heading

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known about a recording; empty: not known."""

    work_order: str = ""
    card: str = ""
    step: str = ""
    person: str = ""
    time: str = ""

    def over(self, other: Facts) -> Facts:
        """These facts, filled up from `other`."""
        return Facts(*(getattr(self, f.name) or getattr(other, f.name) for f in fields(Facts)))


_KEYS = tuple(field.name for field in fields(Facts))


@dataclass(frozen=True, slots=True)
class Rule:
    """What files of one kind of name have in common."""

    file: str
    work_order: str = ""
    card: str = ""
    step: str = ""
    person: str = ""
    time: str = ""
    sidecar: Literal["optional", "required"] = "optional"

    def facts(self, name: str) -> Facts | None:
        """What the rule says about the file `name`; None when it is not for it."""
        found = re.fullmatch(self.file, name)
        if found is None:
            return None
        said = Facts(**{key: value or "" for key, value in found.groupdict().items()})
        if said.time:
            said = replace(said, time=self._time(said.time, name))
        return said.over(Facts(self.work_order, self.card, self.step, self.person))

    def _time(self, text: str, name: str) -> str:
        try:
            return datetime.strptime(text, self.time).astimezone().isoformat()
        except ValueError as error:
            raise RecordError(
                f"{name}: {text!r} is no time in the form {self.time!r} ({error}); "
                "correct the rule or the name"
            ) from error


@dataclass(frozen=True, slots=True)
class Rules:
    """Rules in the order in which they are tried, over what the command line says."""

    rules: tuple[Rule, ...] = ()
    defaults: Facts = Facts()

    @classmethod
    def load(cls, path: Path, defaults: Facts | None = None) -> Rules:
        """The rules in a file. Raises ConfigError, naming the file and what is wrong."""
        try:
            data = tomllib.loads(path.read_text(encoding="utf-8"))
        except OSError as error:
            raise ConfigError(f"{path}: can't be read ({error.strerror})") from error
        except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
            raise ConfigError(f"{path}: {error}") from error
        made = config.build(_File, data, str(path))
        for number, rule in enumerate(made.rules, 1):
            _check(rule, f"{path}: rules.{number}")
        return cls(made.rules, defaults or Facts())

    def wants_sidecar(self, name: str) -> bool:
        """Whether the file has to wait for its side-car."""
        rule = next((rule for rule in self.rules if re.fullmatch(rule.file, name)), None)
        return rule is not None and rule.sidecar == "required"

    def heading(self, name: str, sidecar: Path | None) -> Heading:
        """What is known about the recording `name`. Raises RecordError."""
        facts = Facts() if sidecar is None else _sidecar(sidecar)
        by_name = next(filter(None, (rule.facts(name) for rule in self.rules)), None)
        if self.rules and by_name is None and sidecar is None and not self.defaults.person:
            raise RecordError(f"{name}: no rule is for a file of this name, and it has no side-car")
        facts = facts.over(by_name or Facts()).over(self.defaults)
        if not facts.person:
            raise RecordError(
                f'{name}: nothing says who dictated it; put "person" into its side-car or '
                "into the rule, or start with --by"
            )
        return Heading(
            by=facts.person,
            work_order=facts.work_order,
            card=facts.card,
            step=facts.step or None,
            announced=True,
            recorded_at=_moment(facts.time, name) if facts.time else None,
        )


@dataclass(frozen=True, slots=True)
class _File:
    """The shape of a rules file."""

    rules: tuple[Rule, ...]


def _check(rule: Rule, where: str) -> None:
    try:
        groups = set(re.compile(rule.file).groupindex)
    except re.error as error:
        raise ConfigError(f"{where}.file: {error}") from error
    if unknown := groups - set(_KEYS):
        raise ConfigError(
            f"{where}.file: no group can be called {', '.join(sorted(unknown))}; "
            f"there are {', '.join(_KEYS)}"
        )
    if ("time" in groups) != bool(rule.time):
        raise ConfigError(f"{where}: a group `time` and the key `time` (its form) go together")


def _sidecar(path: Path) -> Facts:
    try:
        data = json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as error:
        raise RecordError(f"{path.name}: is no side-car that can be read ({error})") from error
    if not isinstance(data, dict) or not set(data) <= set(_KEYS):
        raise RecordError(
            f"{path.name}: a side-car is a JSON object with any of the keys {', '.join(_KEYS)}"
        )
    for key, value in data.items():
        if isinstance(value, bool) or not isinstance(value, (str, int)):
            raise RecordError(f"{path.name}: {key} has to be a text")
    return Facts(**{key: str(value).strip() for key, value in data.items()})


def _moment(text: str, name: str) -> datetime:
    try:
        return datetime.fromisoformat(text).astimezone()
    except ValueError as error:
        raise RecordError(
            f"{name}: {text!r} is no time; write it like 2026-03-01T14:05:00+01:00"
        ) from error
