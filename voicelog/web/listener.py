"""From numbered frames to events: sound is written down, cut into utterances, heard, obeyed.

Utterances of one dictation are worked on one after another in the order of the sound, so
"correction" always finds what it corrects. Everything here runs on the event loop; waiting
is for the recogniser's process and for the disk.
"""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from voicelog import wire
from voicelog.errors import AudioError, ModelError, NoSpeech, VoicelogError
from voicelog.heard import RATE_HZ, Transcript
from voicelog.speech.endpoint import Endpointer
from voicelog.web import control, readback
from voicelog.web.recognition import Utterance
from voicelog.web.spool import FRAME, pcm

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    import numpy as np

    from voicelog.objects import Take
    from voicelog.speech.endpoint import Utterance as Heard
    from voicelog.web.dictation import Dictation
    from voicelog.web.folder import DictationFolder
    from voicelog.web.recognition import Recognition
    from voicelog.web.site import ReadBack, Texts


PASSING_STREAM = 0
"""Stream of the frames that were spoken right after "resume"."""
_FIRST_WORDS = 3 * RATE_HZ
"""On stand-by only the beginning of an utterance is heard: "resume" comes first."""
_RETRY_S = 3.0
_OVERHEARD_FRAMES = 400
"""40 s: longer than any utterance that the recogniser takes at once."""


@dataclass(frozen=True, slots=True)
class _Sound:
    """An utterance that waits to be heard: a stretch of the spool, or sound of its own."""

    start: int
    end: int
    own: np.ndarray | None = None
    """Samples that are not in the spool: spoken on stand-by."""
    pause: int = 0
    """Which pause it was spoken in."""


class Listener:
    """Listens to one dictation. `changed` is called after every event."""

    def __init__(
        self,
        folder: DictationFolder,
        dictation: Dictation,
        recognition: Recognition,
        texts: Texts,
        read_back: ReadBack,
    ) -> None:
        self.folder, self.dictation = folder, dictation
        self._recognition, self._texts, self._settings = recognition, texts, read_back
        self.changed: Callable[[], None] = lambda: None
        self.moved: Callable[[], None] = lambda: None
        """Called when others before this dictation's utterance have been heard."""
        self._hearing: Utterance | None = None
        """The utterance that is with the recogniser, or in line for it."""
        self.trouble = ""
        """Why nothing can be heard at the moment, in plain words."""
        self._queue: asyncio.Queue[_Sound | Callable[[], None]] = asyncio.Queue()
        """Utterances, and acts that must take their turn among them."""
        self._origin = dictation.heard_until
        self._cutter = Endpointer()
        self._passing = Endpointer()
        self._overheard: list[bytes] = []
        """The last frames on stand-by: in memory only, and gone with the pause."""
        self._forgotten = 0
        """Frames of this pause that are no longer in `_overheard`."""
        self._pause = 0
        """Goes up when a pause is ended by touch: what was spoken in it doesn't count then."""
        self._fed = self._origin
        self._task: asyncio.Task[None] | None = None
        self.ending = False
        """The speaker has said that the dictation is finished."""

    # --- sound comes in ------------------------------------------------------------

    async def begin(self) -> None:
        """Read what was said before, and go on where the sound was last worked on."""
        await self._read()
        self._task = asyncio.create_task(self._work())
        await self._catch_up()

    async def _catch_up(self) -> None:
        """Cut what is in the spool and not cut yet; leaves the loop free after each second."""
        spool = self.folder.spool
        while self._fed < spool.samples:
            block = spool.read(self._fed, self._fed + RATE_HZ)
            self._fed += len(block)
            self._put_all(self._cutter.feed(block))
            await asyncio.sleep(0)

    async def heard_frames(self) -> None:
        """Frames have been written: look for utterances in them."""
        await self._catch_up()

    def passing(self, data: bytes) -> None:
        """Sound on stand-by: listened to for "resume", never written down.

        Between "resume" and the moment when the page knows of it, it counts like any other.
        """
        if self.dictation.paused_at is None:
            self._keep(data)
            return
        self._overheard.append(data)
        for heard in self._passing.feed(pcm(data)):
            start, end = round(heard.start_s * RATE_HZ), round(heard.end_s * RATE_HZ)
            self._put(_Sound(start, end, heard.samples[:_FIRST_WORDS], self._pause))
        surplus = len(self._overheard) - _OVERHEARD_FRAMES
        if surplus > 0:
            del self._overheard[:surplus]
            self._forgotten += surplus

    def _keep(self, data: bytes) -> None:
        spool = self.folder.spool
        spool.take(PASSING_STREAM, spool.wanted(PASSING_STREAM), data)

    def _put_all(self, ended: Iterable[Heard]) -> None:
        for heard in ended:
            start, end = round(heard.start_s * RATE_HZ), round(heard.end_s * RATE_HZ)
            self._put(_Sound(self._origin + start, min(self._origin + end, self._fed)))

    def _put(self, item: _Sound | Callable[[], None]) -> None:
        self._queue.put_nowait(item)
        self.changed()

    @property
    def waiting(self) -> int:
        """Utterances of this dictation that are not heard yet."""
        return self._queue.qsize() + (self._hearing is not None)

    @property
    def before(self) -> int:
        """Utterances of others that are heard before the next one of this dictation."""
        return self._recognition.before(self._hearing) if self._hearing is not None else 0

    async def _recognise(self, utterance: Utterance) -> Take:
        self._hearing = utterance
        self.changed()
        try:
            return await self._recognition.hear(utterance)
        finally:
            self._hearing = None

    @property
    def speaking(self) -> bool:
        """Somebody is in the middle of an utterance."""
        return self._cutter.speaking

    # --- acts of the page ------------------------------------------------------------

    def act(self, event: dict[str, Any]) -> None:
        """Write an event down, then let it count."""
        self.folder.journal.append(event)
        self.dictation.apply(event)
        self.changed()

    def _cut_here(self) -> None:
        """End the utterance that is being spoken: a button was pressed."""
        self._put_all(self._cutter.flush())
        self._cutter, self._origin = Endpointer(), self._fed

    def lost(self, ms: int) -> None:
        """The device lost so much sound right before the frame that comes now."""
        self.act({"lost": [self.folder.spool.samples, ms]})

    def stand_by(self) -> None:
        """By touch: what was said so far counts, what comes now doesn't."""
        self._cut_here()
        self.act({"paused_at": self.folder.spool.samples})

    def resume(self) -> None:
        """By touch: what was said on stand-by and not heard yet doesn't count."""
        self._pause += 1
        self._end_pause(self.folder.spool.samples)

    def _end_pause(self, until: int, said: _Sound | None = None) -> None:
        """`said` is the "resume" that was spoken on stand-by: from its first word on all counts."""
        if self.dictation.paused_at is not None:
            self.folder.spool.blank(self.dictation.paused_at, until)
            self.act({"paused_at": None})
        overheard, self._overheard = self._overheard, []
        if said is not None:
            for frame in overheard[max(0, said.start // FRAME - self._forgotten) :]:
                self._keep(frame)
        self._passing, self._forgotten = Endpointer(), 0

    def select(self, step: str) -> None:
        """By touch: go to a step once all that was said before is heard."""
        self._cut_here()
        self._put(lambda: self._select(step))

    def _select(self, step: str) -> None:
        """Its number, "next" or "previous"."""
        numbers = [each.number for each in self.dictation.card.steps]
        at = numbers.index(self.dictation.step)
        target = {"next": at + 1, "previous": at - 1}.get(step)
        if target is not None:
            step = numbers[min(max(target, 0), len(numbers) - 1)]
        if step in numbers and step != self.dictation.step:
            self.act({"step": step})

    def drop(self, number: int) -> None:
        """Disregard one utterance."""
        if any(h.number == number and h.fate == "kept" for h in self.dictation.heard):
            self.act({"drop": number})
            self._put(_nothing)

    def read_back(self) -> None:
        """Ask for the values of this step."""
        if values := self.dictation.to_ask(everything=True):
            self.act({"asked": [wire.to_plain(value) for value in values]})

    def answer(self, word: str) -> None:
        """ "affirm" or "negative" to what was read back."""
        if self.dictation.asked:
            self.act({"answer": word})
            self._put(_nothing)

    def question(self) -> str:
        """What the voice says now; empty when there is nothing to say."""
        asked = self.dictation.asked
        said = [readback.sentence(value, self.dictation.card, self._texts) for value in asked]
        return " ".join((*said, self._texts.spoken.affirm_or_negative)) if said else ""

    # --- the work --------------------------------------------------------------------

    async def _work(self) -> None:
        while True:
            item = await self._queue.get()
            while not await self._done(item):  # the recogniser or the disk may come back
                await asyncio.sleep(_RETRY_S)
            self._queue.task_done()
            self.changed()

    async def _done(self, item: _Sound | Callable[[], None]) -> bool:
        try:
            if isinstance(item, _Sound):
                await self._hear(item)
            else:
                item()
            await self._read()
        except (VoicelogError, OSError) as error:
            self.trouble = str(error)
            self.changed()
            return False
        self.trouble = ""
        return True

    async def _hear(self, sound: _Sound) -> None:
        if sound.own is not None:
            return await self._overhear(sound)
        samples = self.folder.spool.read(sound.start, sound.end)
        step, card = self.dictation.step, self.dictation.card
        paused_at = self.dictation.paused_at
        paused = paused_at is not None and sound.start >= paused_at
        about: dict[str, Any] = {"start": sound.start, "end": sound.end}
        until = {"until": sound.end}
        try:
            take = await self._recognise(Utterance(samples, card, step))
        except (NoSpeech, AudioError) as error:
            fate = "silent" if isinstance(error, NoSpeech) else "unheard"
            self.act(until if paused else {"heard": about | {"fate": fate}} | until)
            return None
        spoken = control.commands(take.transcript.text)
        names = [command.name for command in spoken]
        if paused:
            if "resume" not in names:
                self.act(until)
                return None
            self._end_pause(sound.start)
        take = _shifted(replace(take, step=step), sound.start / RATE_HZ)
        alone = bool(spoken) and all(command.alone for command in spoken)
        fate = "control" if alone else "kept"
        self.act({"heard": about | {"fate": fate, "take": wire.to_plain(take)}} | until)
        return await self._obey(names, take, sound)

    async def _overhear(self, sound: _Sound) -> None:
        """Something said on stand-by: only "resume" counts, and what follows it."""
        if sound.own is None or sound.pause != self._pause or self.dictation.paused_at is None:
            return
        heard = Utterance(sound.own, self.dictation.card, self.dictation.step)
        try:
            take = await self._recognise(heard)
        except (NoSpeech, AudioError):
            return
        names = [command.name for command in control.commands(take.transcript.text)]
        if "resume" in names and sound.pause == self._pause:
            self._end_pause(self.folder.spool.samples, sound)
            await self._catch_up()

    async def _obey(self, names: list[str], take: Take, sound: _Sound) -> None:
        said_step = await self._recognition.step_said(
            take.transcript, self.dictation.card, take.step
        )
        if said_step is not None and said_step != self.dictation.step:
            self.act({"step": said_step})
        for name in names:
            match name:
                case "next_step" | "previous_step":
                    self._select(name.removesuffix("_step"))
                case "stand_by":
                    self.act({"paused_at": sound.end})
                case "disregard":
                    kept = [h.number for h in self.dictation.heard if h.fate == "kept"]
                    if kept:
                        self.act({"drop": kept[-1]})
                case "read_back":
                    await self._read()
                    self.read_back()
                case "affirm" | "negative" if self.dictation.asked:
                    self.act({"answer": name})
                case "finish":
                    self.ending = True

    async def _read(self) -> None:
        """Read everything kept so far into the draft, and ask about what is new and in doubt."""
        takes = self.dictation.takes
        opening = self.dictation.opening
        if takes:
            draft = await self._recognition.propose(takes, self.dictation.card, opening.step)
            self.dictation.proposed(draft, self._texts.doubt)
        else:
            self.dictation.draft = replace(self.dictation.draft, takes=(), values=(), unplaced=())
        quiet = self._settings.unasked and self._queue.empty()
        if quiet and (values := self.dictation.to_ask(everything=False)):
            self.act({"asked": [wire.to_plain(value) for value in values]})

    async def finish(self) -> None:
        """Return when everything that was said is in the draft."""
        await self._catch_up()
        self._cut_here()
        waiting = asyncio.create_task(self._queue.join())
        while not waiting.done():
            await asyncio.wait({waiting}, timeout=1)
            if self.trouble and not waiting.done():
                waiting.cancel()
                raise ModelError(self.trouble)
        if self.dictation.paused_at is not None:
            self.folder.spool.blank(self.dictation.paused_at, self.folder.spool.samples)

    async def close(self) -> None:
        """Stop listening; what waits is worked on when the dictation is opened again."""
        if self._task is not None:
            self._task.cancel()
            await asyncio.gather(self._task, return_exceptions=True)


def _nothing() -> None:
    """Nothing to hear, but the draft has to be read again."""


def _shifted(take: Take, by_s: float) -> Take:
    """`take` with its word times counted from the start of the dictation."""
    words = tuple(
        replace(word, start_s=round(word.start_s + by_s, 3), end_s=round(word.end_s + by_s, 3))
        for word in take.transcript.words
    )
    transcript: Transcript = replace(take.transcript, words=words)
    return replace(take, transcript=transcript)
