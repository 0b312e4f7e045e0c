"""The WebSocket of a dictation: frames and acts come in, acknowledgements and the page go out.

In:  a frame: one byte (1 kept, 2 passing), its stream and its number in it (4 bytes each,
     little-endian), 100 ms of 16-bit PCM and, where the device lost sound before it, how many
     milliseconds (2 bytes); or an act as JSON: {"do": "stand_by"}.
Out: {"ack": [stream, next]}, the frame of a stream that is wanted next: all before it are on
     disk; {"page": ...}, what the page shows now; {"line": ...}, how many are heard before.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
import struct
from typing import TYPE_CHECKING, Any

import anyio.to_thread
from starlette.websockets import WebSocket, WebSocketDisconnect, WebSocketState

from voicelog.errors import VoicelogError
from voicelog.web import board
from voicelog.web.desk import Desk, Visit
from voicelog.web.security import same_origin
from voicelog.web.sessions import COOKIE
from voicelog.web.spool import FRAME_BYTES

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

    from voicelog.web.listener import Listener

KEPT, PASSING = 1, 2
log = logging.getLogger("voicelog.web")
_HEAD = struct.Struct("<BII")
_LOST = struct.Struct("<H")

REFUSED, MOVED, WRONG, FULL, BROKEN = 4403, 4409, 4400, 4507, 4500
"""Close codes: not allowed, opened elsewhere, not understood, the disk refuses,
the software failed."""


def endpoint(desk: Desk) -> Callable[[WebSocket], Awaitable[None]]:
    """The WebSocket of this site."""
    links: dict[str, Link] = {}

    async def serve(socket: WebSocket) -> None:
        session = desk.sessions.find(socket.cookies.get(COOKIE))
        if session is None or not same_origin(socket) or "origin" not in socket.headers:
            await socket.close(REFUSED)
            return
        id = socket.path_params["id"]
        try:
            person = await anyio.to_thread.run_sync(
                desk.store.people.require, session.person, "mechanic"
            )
            listener = await desk.live.listener(id, person.id)
        except VoicelogError:
            await socket.close(REFUSED)
            return
        await socket.accept()
        if id in links:
            await links[id].leave(MOVED)
        link = links[id] = Link(socket, listener, Visit(desk, socket, person, session))  # type: ignore[arg-type]
        try:
            await link.run()
        finally:
            if links.get(id) is link:
                del links[id]

    return serve


class Link:
    """One browser that is connected to one dictation."""

    def __init__(self, socket: WebSocket, listener: Listener, visit: Visit) -> None:
        self._socket, self._listener, self._visit = socket, listener, visit
        self._news, self._frames = asyncio.Event(), asyncio.Event()
        self._moved = asyncio.Event()
        self._streams: set[int] = set()
        """Streams that sent something, or were asked about, since the last acknowledgement."""
        self._most = round(visit.desk.site.limits.dictation_hours * 3600 * 10)

    async def run(self) -> None:
        """Until the browser goes."""
        self._listener.changed = self._news.set
        self._listener.moved = self._moved.set
        self._news.set()
        tasks = [
            asyncio.create_task(self._guarded(work))
            for work in (self._acknowledge, self._show, self._show_line)
        ]
        try:
            while True:
                message = await self._socket.receive()
                if message["type"] == "websocket.disconnect":
                    return
                if (data := message.get("bytes")) is not None:
                    await self._frame(data)
                else:
                    await self._act(json.loads(message.get("text") or ""))
        except (ValueError, KeyError, TypeError, AttributeError, struct.error):
            await self.leave(WRONG)
        except OSError:
            await self.leave(FULL)
        except (WebSocketDisconnect, RuntimeError):
            return
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    async def _guarded(self, work: Callable[[], Awaitable[None]]) -> None:
        try:
            await work()
        except OSError:
            await self.leave(FULL)
        except Exception as error:  # the browser must hear of it: it keeps its sound and comes back
            log.error("a link failed: %s", type(error).__name__)
            await self.leave(BROKEN)

    async def leave(self, code: int) -> None:
        """Close, unless the browser has."""
        if self._socket.client_state is WebSocketState.CONNECTED:
            with contextlib.suppress(RuntimeError, WebSocketDisconnect):
                await self._socket.close(code)

    async def _frame(self, data: bytes) -> None:
        kind, stream, number = _HEAD.unpack_from(data)
        sound = data[_HEAD.size : _HEAD.size + FRAME_BYTES]
        rest = data[_HEAD.size + FRAME_BYTES :]
        lost_ms = _LOST.unpack(rest)[0] if rest else 0
        spool = self._listener.folder.spool
        if len(sound) != FRAME_BYTES or spool.frames >= self._most:
            raise ValueError("not a frame of this dictation")
        if kind == PASSING:
            self._listener.passing(sound)
        else:
            if lost_ms and number == spool.wanted(stream):
                self._listener.lost(lost_ms)
            spool.take(stream, number, sound)
            self._streams.add(stream)
            self._frames.set()

    async def _act(self, act: dict[str, Any]) -> None:
        listener = self._listener
        await listener.heard_frames()  # what was said before comes before
        match act["do"]:
            case "streams":
                self._streams |= {int(stream) for stream in act["of"][:100]}
                self._frames.set()
            case "microphone":
                got = {
                    str(k)[:40]: str(v)[:80] for k, v in list(dict(act["settings"]).items())[:30]
                }
                listener.act({"microphone": got})
            case "stand_by":
                listener.stand_by()
            case "resume":
                listener.resume()
            case "step":
                listener.select(str(act["step"]))
            case "read_back":
                listener.read_back()
            case "affirm" | "negative" as word:
                listener.answer(word)
            case "drop":
                listener.drop(int(act["number"]))
            case other:
                raise ValueError(f"no act: {other!r}")

    async def _acknowledge(self) -> None:
        """One sync for all frames that came while the last one ran."""
        spool = self._listener.folder.spool
        while True:
            await self._frames.wait()
            self._frames.clear()
            wanted = [[stream, spool.wanted(stream)] for stream in self._streams]
            self._streams.clear()
            await anyio.to_thread.run_sync(spool.sync)
            for each in wanted:
                await self._send({"ack": each})
            await self._listener.heard_frames()

    async def _show(self) -> None:
        """The page as it is now; changes that come together are shown together."""
        while True:
            await self._news.wait()
            self._news.clear()
            shown = await anyio.to_thread.run_sync(board.state, self._visit, self._listener)
            await self._send({"page": shown})
            await asyncio.sleep(0.1)

    async def _show_line(self) -> None:
        """How far the line has moved: a number, not the page again."""
        while True:
            await self._moved.wait()
            self._moved.clear()
            await self._send({"line": board.line(self._listener)})
            await asyncio.sleep(0.1)

    async def _send(self, message: dict[str, Any]) -> None:
        with contextlib.suppress(WebSocketDisconnect, RuntimeError):
            await self._socket.send_text(json.dumps(message, ensure_ascii=False))
