"""What runs on a cluster's worker: strings and bytes in, a string out.

Nothing but JSON and audio crosses between machines, so that two of them can disagree about
a class without anybody noticing. Each worker process loads its model once.
"""

from __future__ import annotations

import hashlib
import json
import threading
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from voicelog import __version__, config, wire
from voicelog.errors import NoSpeech, VoicelogError
from voicelog.objects import Card, Take
from voicelog.work.task import Result, Task, perform

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.pipeline import Chain

_ONE_AT_A_TIME = threading.RLock()
"""A worker may have several threads; the recogniser uses all cores of one task at a time."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What a worker must have to be trusted with a task."""

    version: str
    """Of voicelog."""
    settings: str
    """Digest of models_config/."""
    model: str
    model_sha256: str
    profile: str


def terms(model: str | None, profile: str) -> Terms:
    """Those of this machine. Raises ModelError."""
    from voicelog.speech import models

    found = models.find(model)
    return Terms(__version__, settings_digest(), found.name, found.sha256, profile)


@cache
def settings_digest() -> str:
    """SHA-256 over the settings that results depend on; cards travel with the tasks."""
    digest = hashlib.sha256()
    for path in sorted((*config.config_dir().glob("*.toml"), *config.config_dir().glob("*.jsonl"))):
        digest.update(f"{path.name}\0".encode() + hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()


def unfit(wanted: Terms) -> str:
    """Why this worker must not answer; empty when it may."""
    if wanted.version != __version__:
        return f"runs voicelog {__version__}, not {wanted.version}"
    if wanted.settings != settings_digest():
        return "has other settings in models_config"
    try:
        digest = model_digest(wanted.model)
    except VoicelogError as error:
        return str(error)
    return "" if digest == wanted.model_sha256 else f"has another model by the name {wanted.model}"


@cache
def model_digest(name: str) -> str:
    """Digest of the weights, checked file by file. Raises ModelError."""
    from voicelog.speech import models

    return models.find(name).sha256


@cache
def make_chain(model: str, profile: str) -> Chain:
    """The recogniser of this worker, loaded at its first task. Raises ModelError."""
    from voicelog.work.worker import whisper

    return whisper(model, profile)


def hear(order: str, audio: Sequence[bytes]) -> str:
    """Drafts for recordings: {"terms", "tasks"} in, {"results"} or {"unfit"} out."""
    data = json.loads(order)
    wanted = wire.from_plain(Terms, data["terms"])
    with _ONE_AT_A_TIME:
        if why := unfit(wanted):
            return json.dumps({"unfit": why})
        tasks = [wire.from_plain(Task, task) for task in data["tasks"]]
        chain = make_chain(wanted.model, wanted.profile)
        results = perform(chain, list(zip(tasks, audio, strict=True)))
    return json.dumps({"results": [wire.to_plain(result) for result in results]})


def hear_live(order: str, samples: bytes) -> str:
    """One utterance, float32 at 16 kHz: {"terms", "card", "step"} in, {"take"} out.

    {"silence": true} when nobody speaks, {"unfit"} as above.
    """
    from voicelog.speech import audio as sound

    data = json.loads(order)
    wanted = wire.from_plain(Terms, data["terms"])
    with _ONE_AT_A_TIME:
        if why := unfit(wanted):
            return json.dumps({"unfit": why})
        heard = sound.of_samples(np.frombuffer(samples, "<f4"), sha256=data["sha256"])
        card = wire.from_plain(Card, data["card"]) if data["card"] else None
        try:
            take = make_chain(wanted.model, wanted.profile).hear(heard, card, data["step"])
        except NoSpeech:
            return json.dumps({"silence": True})
    return json.dumps({"take": wire.to_plain(take)})


def results_of(answer: str) -> tuple[Result, ...]:
    """The results in an answer of `hear`. Raises ValueError when it is none."""
    return tuple(wire.from_plain(Result, each) for each in json.loads(answer)["results"])


def take_of(answer: str) -> Take:
    """The take in an answer of `hear_live`. Raises ValueError, KeyError."""
    return wire.from_plain(Take, json.loads(answer)["take"])
