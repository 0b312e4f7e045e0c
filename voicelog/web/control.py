"""Spoken control of the page: which procedure words an utterance holds, beside what it says.

Only whole phrases count, alone between pauses: a page that stopped listening over half a
word would lose notes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from voicelog import config

_PAUSE = re.compile(r"[.,;:!?…]+(?:\s|$)|\s[-–—]+\s")
_SIGN = re.compile(r"[^\w\s]|_")


@dataclass(frozen=True, slots=True)
class Control:
    """`control.toml`: commands and their phrases."""

    opens: tuple[str, ...]
    phrases: dict[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Command:
    """A command that was spoken."""

    name: str
    alone: bool
    """Nothing else was said in the utterance."""


@cache
def settings() -> Control:
    """The phrases. Raises ConfigError."""
    return config.load(Control, "control.toml")


def _plain(text: str) -> str:
    return " ".join(_SIGN.sub(" ", text.casefold()).split())


def commands(text: str) -> tuple[Command, ...]:
    """The commands in an utterance, in the order in which they were said."""
    known = {phrase: name for name, phrases in settings().phrases.items() for phrase in phrases}
    whole = _plain(text)
    if whole in known:
        return (Command(known[whole], alone=True),)
    parts = [plain for part in _PAUSE.split(text) if (plain := _plain(part))]
    found = [known[part] for part in parts if part in known]
    if not found:
        opening = [
            name
            for phrase, name in known.items()
            if name in settings().opens and whole.startswith(f"{phrase} ")
        ]
        found = opening[:1]
    alone = bool(parts) and all(part in known for part in parts)
    return tuple(Command(name, alone) for name in dict.fromkeys(found))
