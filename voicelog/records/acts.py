"""Acts that a person signs, and what they are shown before they do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from voicelog.objects import Decision, Record


@dataclass(frozen=True, slots=True)
class Block:
    """Something that forbids signing until a named person resolves it with a reason."""

    key: str
    """What is blocked by what: "tool TW-114 out of calibration"."""
    sentence: str


@dataclass(frozen=True, slots=True)
class Resolution:
    """The signer's reason for going on in spite of a block."""

    block: str
    """`Block.key`."""
    why: str


@dataclass(frozen=True, slots=True)
class Confirmation:
    """A note's values become a record. One decision for every proposed value."""

    note: str
    version: int
    decisions: tuple[Decision, ...]
    resolutions: tuple[Resolution, ...] = ()


@dataclass(frozen=True, slots=True)
class Inspection:
    """A second person decides anew about the steps of a record that ask for it."""

    record: str
    decisions: tuple[Decision, ...]
    resolutions: tuple[Resolution, ...] = ()


@dataclass(frozen=True, slots=True)
class Correction:
    """A record is superseded: `decisions` replace those on the same fields, the rest stay."""

    record: str
    decisions: tuple[Decision, ...]
    why: str
    resolutions: tuple[Resolution, ...] = ()


Act = Confirmation | Inspection | Correction


@dataclass(frozen=True, slots=True)
class Shown:
    """Exactly what would be signed, and what is still in the way."""

    record: Record
    """The record to be, with its signature still empty."""
    digest: str
    """Stands for the content shown; give it back to `sign`."""
    problems: tuple[str, ...] = ()
    """Plain sentences; while there are any, it can't be signed."""
    blocks: tuple[Block, ...] = ()
    """Those that have no resolution yet (each is among the problems too)."""
