"""All dictations that are going on, and how one ends as a draft in the store."""

from __future__ import annotations

import asyncio
import contextlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import anyio.to_thread

from voicelog.errors import Denied, NoSpeech, VoicelogError
from voicelog.heard import Transcript
from voicelog.objects import Take
from voicelog.web.dictation import Dictation, Opening
from voicelog.web.folder import Folders, new_id
from voicelog.web.listener import Listener

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from voicelog.objects import Card, Note
    from voicelog.records import Store
    from voicelog.web.recognition import Recognition
    from voicelog.web.site import Site, Texts


_FIRST = Take(Transcript.of_text("nothing yet"))
"""Read once for each card at the start, so that the first utterance needn't wait."""


@dataclass(frozen=True, slots=True)
class Start:
    """What a mechanic picks before speaking."""

    by: str
    work_order: str
    card: str
    step: str | None


class Live:
    """The listeners of one server, by the id of their dictation."""

    def __init__(self, store: Store, recognition: Recognition, site: Site, texts: Texts) -> None:
        self.recognition = recognition
        self._store, self._site, self._texts = store, site, texts
        self._folders = Folders(store.home)
        self._listeners: dict[str, Listener] = {}
        recognition.moved = self._moved
        self._opening = asyncio.Lock()
        self.trouble = ""
        """Why the recogniser can't be used, in plain words; empty when it can."""
        self.ready = False
        """The model is loaded."""

    @contextlib.asynccontextmanager
    async def lifespan(self, _: object) -> AsyncIterator[None]:
        """The server's life: load the model at once, end the process and close files after."""
        warming = asyncio.create_task(self._warm())
        try:
            yield
        finally:
            warming.cancel()
            await asyncio.gather(warming, return_exceptions=True)
            for listener in self._listeners.values():
                await listener.close()
                listener.folder.close()
            self.recognition.close()

    async def _warm(self) -> None:
        try:
            cards = await anyio.to_thread.run_sync(self._read_ahead)
            for card in cards:
                await self.recognition.propose((_FIRST,), card, None)
            await self.recognition.warm()
            self.ready = True
        except VoicelogError as error:
            self.trouble = str(error)

    def _read_ahead(self) -> list[Card]:
        """The current cards, with the voice detector loaded: what a first page would wait for."""
        from voicelog.speech.endpoint import Endpointer

        Endpointer()
        return [self._store.cards.get(n) for n in {e.number for e in self._store.cards.list()}]

    def _moved(self) -> None:
        for listener in self._listeners.values():
            if listener.waiting:
                listener.moved()

    def begin(self, start: Start) -> Opening:
        """A new dictation on disk. Raises NotFound, CardError, HomeError."""
        card = self._store.cards.get(start.card)
        opening = Opening(
            new_id(),
            start.by,
            start.work_order,
            card.number,
            card.revision,
            start.step,
            self._store.clock.now().isoformat(timespec="milliseconds"),
        )
        self._folders.begin(opening).close()
        return opening

    def unfinished(self, by: str) -> tuple[Opening, ...]:
        """Dictations of one person that are no drafts yet."""
        return tuple(opening for opening in self._folders.unfinished() if opening.by == by)

    @property
    def going_on(self) -> int:
        """How many are open in this server."""
        return len(self._listeners)

    async def listener(self, id: str, by: str) -> Listener:
        """The listener of a dictation, opened again where a restart closed it.

        Raises NotFound, and Denied for a dictation of somebody else.
        """
        async with self._opening:
            if id not in self._listeners:
                folder = await anyio.to_thread.run_sync(self._folders.open, id)
                if folder.opening.by == by:
                    opening = folder.opening
                    card = await anyio.to_thread.run_sync(
                        self._store.cards.get, opening.card, opening.revision
                    )
                    dictation = Dictation(opening, card)
                    for event in folder.journal.events():
                        dictation.apply(event)
                    listener = Listener(
                        folder, dictation, self.recognition, self._texts, self._site.read_back
                    )
                    await listener.begin()
                    self._listeners[id] = listener
                else:
                    folder.close()
                    raise Denied(self._texts.error.others_dictation)
            listener = self._listeners[id]
        if listener.dictation.opening.by != by:
            raise Denied(self._texts.error.others_dictation)
        return listener

    async def finish(self, id: str, by: str) -> Note:
        """The dictation as a draft in the store, once, however often it is asked for.

        Raises NoSpeech when nothing was said at all: there is nothing to keep then.
        """
        listener = await self.listener(id, by)
        await listener.finish()
        if listener.dictation.silent:
            raise NoSpeech(self._texts.dictate.nobody_spoke)
        note = await anyio.to_thread.run_sync(self._keep, listener)
        await self._close(id, listener)
        return note

    async def discard(self, id: str, by: str) -> None:
        """Throw a dictation away; the ledger says who did."""
        listener = await self.listener(id, by)
        await anyio.to_thread.run_sync(
            lambda: self._store.ledger.append("dictation thrown away", "dictation", id, by=by)
        )
        await self._close(id, listener)

    async def _close(self, id: str, listener: Listener) -> None:
        await listener.close()
        self._listeners.pop(id, None)
        await anyio.to_thread.run_sync(listener.folder.remove)

    def _keep(self, listener: Listener) -> Note:
        """Sound first, then the note, then nothing is left to lose."""
        from voicelog.speech import audio

        dictation, folder = listener.dictation, listener.folder
        whole = self._store.audio.keep(audio.to_flac(folder.spool.read(0)))

        takes = tuple(replace(take, audio_sha256=whole) for take in dictation.takes) or (
            Take(Transcript(()), whole),
        )
        draft = replace(dictation.draft, takes=takes)
        opening = dictation.opening
        return self._store.notes.add(
            draft, work_order=opening.work_order, by=opening.by, token=opening.id
        )
