"""The way into the job table: a recording is looked at, kept, and put in line once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime  # noqa: TC003 — part of a public dataclass
from typing import TYPE_CHECKING

from voicelog.errors import AudioError
from voicelog.records import Request
from voicelog.speech import audio as sound
from voicelog.speech import stream
from voicelog.work.task import Task

if TYPE_CHECKING:
    from pathlib import Path

    from voicelog.objects import Card
    from voicelog.records import Job, Store


@dataclass(frozen=True, slots=True)
class Heading:
    """What is known about a recording before anybody listens to it."""

    by: str
    work_order: str = ""
    card: str = ""
    revision: str = ""
    step: str | None = None
    announced: bool = False
    """Listen for a spoken heading at the start of the recording."""
    recorded_at: datetime | None = None


def request(sha256: str, name: str, heading: Heading) -> Request:
    """What the job table needs for the recording of that digest."""
    return Request(
        audio=sha256,
        name=name,
        by=heading.by,
        work_order=heading.work_order,
        card=heading.card,
        revision=heading.revision,
        step=heading.step,
        announced=heading.announced,
        recorded_at=heading.recorded_at,
    )


def take(
    store: Store, data: bytes, name: str, heading: Heading, longest_s: float | None = None
) -> Job:
    """Put a recording in line; when it is there already, that job.

    It is decoded once to see that it is a recording, and whether it is longer than `longest_s`:
    what can't be used is refused here and leaves nothing behind. Raises AudioError, CardError,
    RecordError.
    """
    check(data, name, longest_s)
    return store.jobs.queue(request(store.audio.keep(data), name, heading))


def take_file(store: Store, path: Path, heading: Heading) -> Job:
    """The same for a file. Raises AudioError when it is missing or no recording, too."""
    if path.is_file() and stream.is_long(path):
        next(stream.slices(path, str(path)))
        return store.jobs.queue(request(store.audio.keep(path.read_bytes()), str(path), heading))
    heard = sound.load(path)
    kept = store.audio.keep(path.read_bytes())
    if kept != heard.sha256:
        raise AudioError(f"{path}: was written to meanwhile; try again when it is complete")
    return store.jobs.queue(request(kept, str(path), heading))


def check(data: bytes, name: str, longest_s: float | None = None) -> None:
    """Decode a recording, of a long one as much as has to be. Raises AudioError."""
    if not stream.is_long(data):
        _not_longer(sound.load(data, name).duration_s, name, longest_s)
        return
    length_s = 0.0
    for piece in stream.slices(data, name):
        length_s += piece.duration_s
        _not_longer(length_s, name, longest_s)
        if longest_s is None:
            return


def _not_longer(length_s: float, name: str, longest_s: float | None) -> None:
    if longest_s is not None and length_s > longest_s:
        raise AudioError(
            f"{name}: is longer than {longest_s / 60:g} minutes, which is the most that is taken "
            "here; split it"
        )


def task(store: Store, request: Request) -> Task:
    """What a worker has to know about a job. Raises NotFound when its card is gone."""
    cards: tuple[Card, ...]
    if request.card:
        cards = (store.cards.get(request.card, request.revision or None),)
    else:
        numbers = sorted({entry.number for entry in store.cards.list()})
        cards = tuple(store.cards.get(number) for number in numbers)
    orders: tuple[str, ...] = ()
    if request.announced:
        orders = tuple(order.number for order in store.orders.list() if order.state == "open")
    return Task(
        name=request.name,
        cards=cards,
        card=request.card,
        work_order=request.work_order,
        orders=orders,
        step=request.step,
        announced=request.announced,
        recorded_at=request.recorded_at,
    )
