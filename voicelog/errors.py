"""Every error that voicelog raises on purpose, one tree.

    VoicelogError
    ├── ConfigError        a file of models_config/ is missing or wrong
    ├── CardError          a task card is wrong, unknown, expired, or lacks a step
    ├── UnitError          a unit is unknown or of the wrong dimension
    ├── EntryError         a typed value does not fit its field
    ├── LimitError         a computation has not got what it needs
    ├── AudioError         a recording can't be used
    │   └── NoSpeech       nothing was said in it
    ├── ModelError         a speech model is missing, changed or can't be loaded
    ├── RecordError        the store refuses an act
    │   ├── HomeError      the home folder can't be used (unwritable, disk full, newer version)
    │   ├── NotFound       no such note, record, person, work order
    │   ├── Conflict       somebody else changed it meanwhile; nothing was lost
    │   ├── Incomplete     something has still to be decided
    │   └── Denied         wrong secret, locked out, or not authorised
    ├── ExportError        an export can't be written or read
    │   └── Tampered       what was signed is not what is there
    └── ClusterError       the cluster can't be reached or disagrees

A message says what is wrong, where, and what to do: the command line prints it as it
stands and exits with status 1; the pages show it.
"""

from __future__ import annotations

__all__ = [
    "AudioError",
    "CardError",
    "ClusterError",
    "ConfigError",
    "Conflict",
    "Denied",
    "EntryError",
    "ExportError",
    "HomeError",
    "Incomplete",
    "LimitError",
    "ModelError",
    "NoSpeech",
    "NotFound",
    "RecordError",
    "Tampered",
    "UnitError",
    "VoicelogError",
]


class VoicelogError(Exception):
    """The root: catching it catches all that voicelog raises on purpose."""


class ConfigError(VoicelogError):
    """A file of `models_config/` is missing or wrong; the message names file and key."""


class CardError(VoicelogError):
    """A task card is wrong, unknown or expired, or lacks the step; names file, line and key."""


class UnitError(VoicelogError):
    """A unit is unknown, or two units have different dimensions."""


class EntryError(VoicelogError):
    """A typed value does not fit its field; the message says what to type."""


class LimitError(VoicelogError):
    """A computation lacks an input, or its formula is unknown."""


class AudioError(VoicelogError):
    """A recording can't be used: missing, empty, no audio, damaged, too long."""


class NoSpeech(AudioError):
    """The recording is sound, and nobody speaks in it."""


class ModelError(VoicelogError):
    """A speech model is missing, changed, or can't be loaded."""


class RecordError(VoicelogError):
    """The store refuses an act; what was saved stays as it was."""


class HomeError(RecordError):
    """The home folder can't be used: unwritable, disk full, made by a newer version."""


class NotFound(RecordError):
    """No note, record, person or work order of that name."""


class Conflict(RecordError):
    """Somebody else changed it meanwhile; nothing was lost."""


class Incomplete(RecordError):
    """Something has still to be decided before this act."""


class Denied(RecordError):
    """Wrong secret, locked out, or not authorised for this act."""


class ExportError(VoicelogError):
    """An export can't be written or read."""


class Tampered(ExportError):
    """What was signed is not what is there; the message names each file or line."""


class ClusterError(VoicelogError):
    """The cluster can't be reached, or runs another version."""
