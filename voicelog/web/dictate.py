"""Dictating: pick the work, speak, finish."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, Any

import anyio.to_thread
from starlette.responses import Response

from voicelog import cards
from voicelog.errors import Conflict, NoSpeech, VoicelogError
from voicelog.records import WorkOrder
from voicelog.web import board, readback, sheet
from voicelog.web.desk import BadRequest
from voicelog.web.live import Start

if TYPE_CHECKING:
    from voicelog.objects import Card
    from voicelog.web.desk import Visit


def choice(
    visit: Visit, template: str, status: int = 200, error: str = "", **context: Any
) -> Response:
    """A page on which work order, card and step are picked."""
    store = visit.store
    shelf = {entry.number: store.cards.get(entry.number) for entry in store.cards.list()}
    return visit.page(
        template,
        status,
        cards=tuple(shelf.values()),
        orders=store.orders.list(state="open", limit=200),
        unfinished=visit.desk.live.unfinished(visit.me),
        error=error,
        chosen={name: visit.said(name) or visit.asked(name) for name in _NAMES},
        **context,
    )


_NAMES = ("work_order", "card", "step", "equipment", "serial_number")


def choose(visit: Visit) -> Response:
    """Work order, card, step."""
    return choice(visit, "dictate_choose.html")


def start(visit: Visit) -> tuple[Start, Card]:
    """What the form picked; a work order that is new is opened. Raises VoicelogError."""
    number, card_number, step = (visit.said(n) for n in ("work_order", "card", "step"))
    if not number or not card_number:
        raise BadRequest(visit.desk.texts.dictate.pick_all, 422)
    card = visit.card(card_number)
    cards.find_step(card, step or None)
    equipment, serial_number = visit.said("equipment"), visit.said("serial_number")
    if equipment or serial_number:
        with contextlib.suppress(Conflict):  # it is there already: what it says of itself stands
            order = WorkOrder(number, equipment=equipment, serial_number=serial_number)
            visit.store.orders.open(order, by=visit.me)
    visit.store.orders.ensure(number, by=visit.me)
    return Start(visit.me, number, card.number, step or None), card


def begin(visit: Visit) -> Response:
    """A new dictation; from here on the page listens."""
    try:
        begun, _ = start(visit)
    except VoicelogError as error:
        return choice(visit, "dictate_choose.html", 422, str(error))
    return visit.go("dictate", visit.desk.live.begin(begun).id)


async def page(visit: Visit) -> Response:
    """The page that listens."""
    listener = await visit.desk.live.listener(visit.path("id"), visit.me)
    shown = await anyio.to_thread.run_sync(board.state, visit, listener)
    return await anyio.to_thread.run_sync(
        lambda: visit.page(
            "dictate.html",
            dictation=listener.dictation,
            shown=shown,
            sections=sheet.lay_out(listener.dictation.card, listener.dictation.draft),
        )
    )


async def voice(visit: Visit) -> Response:
    """The read-back that is waited for, spoken; 204 when there is nothing, or no voice."""
    listener = await visit.desk.live.listener(visit.path("id"), visit.me)
    question = listener.question()
    if not question:
        return Response(status_code=204)
    sound = await anyio.to_thread.run_sync(readback.speak, question, visit.desk.site.read_back)
    if sound is None:
        return Response(status_code=204)
    return Response(sound, media_type="audio/wav")


async def finish(visit: Visit) -> Response:
    """The dictation becomes a draft for the reviewer."""
    try:
        note = await visit.desk.live.finish(visit.path("id"), visit.me)
    except NoSpeech as error:
        message = str(error)
        return await anyio.to_thread.run_sync(
            lambda: visit.page("dictate_empty.html", 422, id=visit.path("id"), error=message)
        )
    return visit.go("dictated", note.id)


async def discard(visit: Visit) -> Response:
    """Throw an unfinished dictation away."""
    await visit.desk.live.discard(visit.path("id"), visit.me)
    return visit.go("dictate", told="discarded")


def done(visit: Visit) -> Response:
    """What the reviewer will find."""
    note = visit.store.notes.get(visit.path("note"))
    card = visit.card(note.draft.card, note.draft.revision)
    sections = [s for s in sheet.lay_out(card, note.draft) if s.touched]
    return visit.page("dictated.html", note=note, card=card, sections=sections)
