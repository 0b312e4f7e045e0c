"""Work orders: what is open and why, and the sheet for the next shift."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.errors import VoicelogError
from voicelog.records import Filter, WorkOrder
from voicelog.web import review

if TYPE_CHECKING:
    from starlette.responses import Response

    from voicelog.web.desk import Visit


def listing(visit: Visit, error: str = "", status: int = 200) -> Response:
    """The work orders, the latest first, and a form for a new one."""
    rows, start = visit.desk.site.limits.page_rows, visit.number("from", 0, 100_000)
    found = visit.store.orders.list(limit=start + rows + 1)[start:]
    return visit.page(
        "orders.html",
        status,
        orders=found[:rows],
        more=start + rows if len(found) > rows else None,
        start=start,
        error=error,
        given={
            name: visit.said(name) for name in ("number", "equipment", "serial_number", "title")
        },
    )


def open_order(visit: Visit) -> Response:
    """A new work order."""
    order = WorkOrder(
        visit.said("number"),
        equipment=visit.said("equipment"),
        serial_number=visit.said("serial_number"),
        title=visit.said("title"),
    )
    try:
        visit.store.orders.open(order, by=visit.me)
    except VoicelogError as error:
        return listing(visit, str(error), 422)
    return visit.go("orders", order.number)


def page(visit: Visit, error: str = "", status: int = 200) -> Response:
    """What is open on one work order, what waits and what is recorded."""
    store, number = visit.store, visit.path("number")
    state = store.orders.status(number)
    rows = visit.desk.site.limits.page_rows
    return visit.page(
        "order.html",
        status,
        state=state,
        order=state.order,
        notes=tuple(store.notes.list(work_order=number, state="open")),
        records=tuple(store.records.search(Filter(work_order=number, limit=rows))),
        names=review.names(visit),
        error=error,
    )


def handover(visit: Visit) -> Response:
    """On one sheet: what is open, who did what, where the last dictation stopped."""
    sheet = visit.store.orders.handover(visit.path("number"))
    return visit.page(
        "handover.html",
        sheet=sheet,
        order=sheet.status.order,
        names=review.names(visit),
        now=visit.store.clock.now(),
    )


def complete(visit: Visit) -> Response:
    """Call a work order complete, if the store finds nothing that blocks."""
    number = visit.path("number")
    try:
        visit.store.orders.complete(number, by=visit.me)
    except VoicelogError as error:
        return page(visit, str(error), 422)
    return visit.go("orders", number, told="order_complete")
