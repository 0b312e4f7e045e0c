"""One recording to one draft, with nothing but what the task brings along.

A task holds its cards and the audio comes beside it as bytes, so it can run in this process,
in another one, or on another machine, and running it twice does no harm: it saves nothing.
"""

from __future__ import annotations

import threading
from collections.abc import Generator
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime  # noqa: TC003 — read when a task arrives
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from voicelog.errors import AudioError, CardError, NoSpeech
from voicelog.heard import RATE_HZ, Audio, Transcript
from voicelog.objects import Card, Draft, Reason, Take
from voicelog.speech import audio as sound
from voicelog.speech import batch, stream
from voicelog.work import announcement

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from voicelog.pipeline import Chain
    from voicelog.work.announcement import Announcement

Source = bytes | Path
"""A recording: its bytes, or where they lie on this machine."""

AT_ONCE_S = 600.0
"""So much sound is held in memory at once, and one recording more."""
OPENING_S = 20.0
"""How much of a recording is listened to for its heading when the card is not known."""


@dataclass(frozen=True, slots=True)
class Task:
    """All that is known about a recording."""

    name: str
    cards: tuple[Card, ...]
    """The card; all there are when the recording itself says which."""
    card: str = ""
    """Number of the card; empty when it is not known."""
    work_order: str = ""
    orders: tuple[str, ...] = ()
    """Work orders that are open, to compare with what is said."""
    step: str | None = None
    announced: bool = False
    recorded_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Result:
    """A draft and its work order, or why there is none."""

    draft: Draft | None = None
    work_order: str = ""
    error: str = ""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a task has to have heard before it can go on."""

    audio: Audio
    card: Card | None
    step: str | None


R = TypeVar("R")
Flow = Generator[Wanted, "Take | NoSpeech", R]
"""A task on its way: it gives what it wants heard and is sent what was heard."""

_READING = threading.RLock()
"""Reading is quick and done one at a time; only listening goes on side by side."""


def perform(
    chain: Chain, work: Sequence[tuple[Task, Source]], lanes: int = 1
) -> tuple[Result, ...]:
    """A result for each task, in order; a recording that can't be used is its own error.

    Recordings of about the same length are heard together, `lanes` such groups side by side; the
    chain's recogniser must be made for it. Raises what is wrong with the recogniser, never with
    a recording.
    """
    results: dict[int, Result] = {}
    flows = [_flow(chain, task, source) for task, source in work]
    waiting: dict[int, Wanted] = {}

    def move(at: int, answer: Take | NoSpeech | None) -> None:
        """On with one task until it wants something heard or has ended."""
        try:
            with _READING:
                flow = flows[at]
                waiting[at] = next(flow) if answer is None else flow.send(answer)
        except StopIteration as end:
            results[at] = end.value

    def hear(group: list[tuple[int, Wanted]]) -> None:
        heard = chain.hear_many([(each.audio, each.card, each.step) for _, each in group])
        for (at, _), answer in zip(group, heard, strict=True):
            move(at, answer)

    begun = iter(range(len(flows)))
    while True:
        for at in begun:
            move(at, None)
            if sum(each.audio.duration_s for each in waiting.values()) > AT_ONCE_S:
                break
        if not waiting:
            break
        asked, waiting = list(waiting.items()), {}
        groups = batch.groups([each.audio.duration_s for _, each in asked], lanes)
        batch.side_by_side(hear, [[asked[at] for at in group] for group in groups], lanes)
    return tuple(results[at] for at in range(len(flows)))


def _flow(chain: Chain, task: Task, source: Source) -> Flow[Result]:
    """One task from its recording to its result."""
    try:
        if stream.is_long(source):
            return (yield from _draft(chain, task, partial(_hear_long, source, task.name)))
        data = source if isinstance(source, bytes) else source.read_bytes()
        return (yield from _draft(chain, task, partial(_hear, sound.load(data, task.name))))
    except NoSpeech:
        return Result(error=f"{task.name}: nobody speaks in this recording; record it again")
    except (AudioError, CardError) as error:
        return Result(error=str(error))


def _hear(audio: Audio, card: Card | None, step: str | None, opening: bool = False) -> Flow[Take]:
    """Raises NoSpeech."""
    if opening:
        audio = replace(audio, samples=audio.samples[: round(OPENING_S * RATE_HZ)])
    heard = yield Wanted(audio, card, step)
    if isinstance(heard, NoSpeech):
        raise heard
    return heard


def _hear_long(
    source: Source, name: str, card: Card | None, step: str | None, opening: bool = False
) -> Flow[Take]:
    """Slice by slice, so that memory does not grow with the recording. Raises NoSpeech."""
    parts: list[Transcript] = []
    offset_s, sha256 = 0.0, ""
    for piece in stream.slices(source, name):
        if opening:
            return (yield from _hear(piece, card, step, opening=True))
        sha256 = piece.sha256
        with suppress(NoSpeech):
            heard = yield from _hear(piece, card, step)
            parts.append(_later(heard.transcript, offset_s))
        offset_s += piece.duration_s
    if not parts:
        raise NoSpeech(f"{name}: nobody speaks in this recording; record it again")
    return Take(replace(Transcript.joined(tuple(parts)), duration_s=offset_s), sha256)


def _later(transcript: Transcript, by_s: float) -> Transcript:
    words = tuple(
        replace(word, start_s=round(word.start_s + by_s, 2), end_s=round(word.end_s + by_s, 2))
        for word in transcript.words
    )
    return replace(transcript, words=words)


def _draft(chain: Chain, task: Task, hear: Callable[..., Flow[Take]]) -> Flow[Result]:
    known = {card.number: card for card in task.cards}
    said = None
    if task.announced and not task.card:
        said = yield from _opening(hear, task, known)
    card = _card(task, known, said)
    step = task.step or _step(card, said)
    take = yield from hear(card, step)
    if task.announced:
        again = announcement.parse(take.transcript, known, task.orders)
        said = said or again
        take = _without_heading(take, said, again)
    order = task.work_order or (said.work_order if said else "")
    if not order:
        raise AudioError(
            f"{task.name}: no work order was given, and none is said at the start; "
            "put one into a side-car file or name it with --work-order"
        )
    take = replace(take, recorded_at=task.recorded_at)
    draft = chain.propose((take,), card, step)
    if said is not None:
        draft = replace(draft, warnings=(*draft.warnings, *_doubts(task, said, order, card, step)))
    return Result(draft, order)


def _opening(
    hear: Callable[..., Flow[Take]], task: Task, known: dict[str, Card]
) -> Flow[Announcement | None]:
    """The heading, listened for without a card's vocabulary."""
    try:
        heard = yield from hear(None, None, opening=True)
    except NoSpeech:
        return None
    return announcement.parse(heard.transcript, known, task.orders)


def _card(task: Task, known: dict[str, Card], said: Announcement | None) -> Card:
    if task.card:
        return known[task.card]
    if said is not None and said.card in known:
        return known[said.card]
    heard = f"the card {said.card!r}, which is not known" if said and said.card else "no card"
    raise AudioError(
        f"{task.name}: no card was given, and {heard} is said at the start; "
        f"put one into a side-car file (known are: {', '.join(sorted(known)) or 'none'})"
    )


def _step(card: Card, said: Announcement | None) -> str | None:
    if said is None or said.step is None or card.step(said.step) is None:
        return None
    return said.step


def _without_heading(take: Take, said: Announcement | None, again: Announcement | None) -> Take:
    """`take` without the words of the heading.

    Heard with the card's vocabulary the heading may be written otherwise; then the words up
    to the second at which it ended are cut.
    """
    if again is not None:
        words = again.words
    elif said is not None:
        words = sum(word.end_s <= said.end_s for word in take.transcript.words)
    else:
        return take
    return replace(take, transcript=announcement.cut(take.transcript, words))


def _doubts(
    task: Task, said: Announcement, order: str, card: Card, step: str | None
) -> tuple[Reason, ...]:
    taken = {
        what: value
        for what, value, given in (
            ("work order", order, task.work_order),
            ("card", card.number, task.card),
            ("step", step, task.step),
        )
        if value and not given
    }
    sentences = []
    if taken:
        listed = ", ".join(f"{what} {value}" for what, value in taken.items())
        sentences.append(f"{listed}: taken from what was said, {said.text!r}")
    sentences += [sentence for what, sentence in said.remarks if what in taken]
    for what, value, spoken in (
        ("work order", order, said.work_order),
        ("card", card.number, said.card),
        ("step", step, said.step),
    ):
        if spoken and spoken != value:
            sentences.append(
                f"the recording says {what} {spoken}; it was filed under "
                + (f"{what} {value}" if value else f"no {what}")
            )
    return tuple(Reason("announced", sentence) for sentence in sentences)
