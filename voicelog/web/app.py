"""Every page, who may open it, and what shows it: one table.

    browser -> Hardened -> ROUTES -> _answer: session, role, form, token -> handler(Visit)

A handler is a plain function of a `Visit`; it calls the store and shows what the store
says. No rule of confirmation lives here.
"""

from __future__ import annotations

import contextlib
import inspect
import logging
import time
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import anyio.to_thread
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.formparsers import MultiPartException
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles

from voicelog import errors
from voicelog.web import (
    account,
    again,
    channel,
    dictate,
    export,
    handed,
    inspection,
    orders,
    records,
    review,
    sound,
    upkeep,
)
from voicelog.web.desk import BadRequest, Desk, Upload, Visit
from voicelog.web.render import STATIC
from voicelog.web.security import Hardened, TooLarge, same_origin, same_token
from voicelog.web.sessions import COOKIE

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.types import ASGIApp

    from voicelog.records import Person

Handler = Callable[[Visit], Response | Awaitable[Response]]

log = logging.getLogger("voicelog.web")

ANYBODY: frozenset[str] | None = None
EVERYONE = frozenset({"mechanic", "reviewer", "clerk", "administrator"})
MECHANIC = frozenset({"mechanic"})
REVIEWER = frozenset({"reviewer"})
CLERK = frozenset({"clerk"})
ADMINISTRATOR = frozenset({"administrator"})
WORKERS = frozenset({"mechanic", "reviewer", "clerk"})


@dataclass(frozen=True, slots=True)
class Page:
    """One line of the table."""

    method: str
    path: str
    show: Handler
    roles: frozenset[str] | None
    """Who may: anybody (None), or somebody who is signed in and has one of these roles."""
    large: bool = False
    """Takes files up to the site's limit; every other form is small."""


ROUTES: tuple[Page, ...] = (
    # everybody
    Page("GET", "/sign-in", account.ask, ANYBODY),
    Page("POST", "/sign-in", account.sign_in, ANYBODY),
    Page("POST", "/sign-out", account.sign_out, EVERYONE),
    Page("GET", "/", account.home, EVERYONE),
    Page("GET", "/secret", account.ask_secret, EVERYONE),
    Page("POST", "/secret", account.change_secret, EVERYONE),
    # mechanic
    Page("GET", "/dictate", dictate.choose, MECHANIC),
    Page("POST", "/dictate", dictate.begin, MECHANIC),
    Page("GET", "/dictate/upload", handed.ask, MECHANIC),
    Page("POST", "/dictate/upload", handed.take, MECHANIC, large=True),
    Page("GET", "/dictate/upload/{job}", handed.page, MECHANIC),
    Page("POST", "/dictate/upload/{job}/again", handed.again, MECHANIC),
    Page("GET", "/dictate/{id}", dictate.page, MECHANIC),
    Page("POST", "/dictate/{id}/finish", dictate.finish, MECHANIC),
    Page("POST", "/dictate/{id}/discard", dictate.discard, MECHANIC),
    Page("GET", "/dictate/{id}/voice", dictate.voice, MECHANIC),
    Page("GET", "/dictated/{note}", dictate.done, MECHANIC),
    # reviewer
    Page("GET", "/review", review.queue, REVIEWER),
    Page("GET", "/review/{note}", review.page, REVIEWER),
    Page("POST", "/review/{note}/decide", review.decide, REVIEWER),
    Page("POST", "/review/{note}/undo", review.undo, REVIEWER),
    Page("POST", "/review/{note}/place", review.place, REVIEWER),
    Page("POST", "/review/{note}/again", again.take, REVIEWER, large=True),
    Page("POST", "/review/{note}/withdraw", review.withdraw, REVIEWER),
    Page("GET", "/review/{note}/sign", review.ask_signature, REVIEWER),
    Page("POST", "/review/{note}/sign", review.sign, REVIEWER),
    Page("GET", "/inspect", inspection.queue, REVIEWER),
    Page("GET", "/inspect/{record}", inspection.page, REVIEWER),
    Page("POST", "/inspect/{record}", inspection.sign, REVIEWER),
    # clerk, and whoever reads
    Page("GET", "/records", records.search, WORKERS),
    Page("GET", "/records/{record}", records.page, WORKERS),
    Page("GET", "/records/{record}/correct", records.ask_correction, REVIEWER),
    Page("POST", "/records/{record}/correct", records.correct, REVIEWER),
    Page("GET", "/orders", orders.listing, WORKERS),
    Page("POST", "/orders", orders.open_order, WORKERS),
    Page("GET", "/orders/{number}", orders.page, WORKERS),
    Page("GET", "/orders/{number}/handover", orders.handover, WORKERS),
    Page("POST", "/orders/{number}/complete", orders.complete, REVIEWER),
    Page("GET", "/export", export.ask, CLERK),
    Page("POST", "/export", export.make, CLERK),
    Page("GET", "/export/check", export.ask_check, CLERK),
    Page("POST", "/export/check", export.check, CLERK, large=True),
    Page("GET", "/sound/{sha256}", sound.play, WORKERS),
    Page("GET", "/sound/{sha256}/peaks", sound.peaks, WORKERS),
    # administrator
    Page("GET", "/upkeep", upkeep.overview, ADMINISTRATOR),
    Page("GET", "/upkeep/people", upkeep.people, ADMINISTRATOR),
    Page("POST", "/upkeep/people", upkeep.add_person, ADMINISTRATOR),
    Page("GET", "/upkeep/people/{id}", upkeep.person, ADMINISTRATOR),
    Page("POST", "/upkeep/people/{id}", upkeep.change_person, ADMINISTRATOR),
    Page("POST", "/upkeep/people/{id}/secret", upkeep.give_secret, ADMINISTRATOR),
    Page("GET", "/upkeep/cards", upkeep.cards, ADMINISTRATOR),
    Page("POST", "/upkeep/cards", upkeep.add_card, ADMINISTRATOR, large=True),
    Page("GET", "/upkeep/cards/{number}", upkeep.card, ADMINISTRATOR),
    Page("GET", "/upkeep/tools", upkeep.tools, ADMINISTRATOR),
    Page("POST", "/upkeep/tools", upkeep.put_tool, ADMINISTRATOR),
    Page("GET", "/upkeep/integrity", upkeep.integrity, ADMINISTRATOR),
    Page("POST", "/upkeep/integrity", upkeep.verify, ADMINISTRATOR),
    Page("POST", "/upkeep/backup", upkeep.back_up, ADMINISTRATOR),
)

SOUND = "/dictate/{id}/sound"
"""The WebSocket that takes the frames of a dictation; for the mechanic who began it."""

_STATUS: tuple[tuple[type[Exception], int], ...] = (
    (errors.NotFound, 404),
    (errors.Conflict, 409),
    (errors.Denied, 403),
    (errors.HomeError, 503),
    (errors.ModelError, 503),
    (errors.VoicelogError, 422),
)
SMALL_BODY = 400_000
"""Bytes of a form without files."""


def build(desk: Desk) -> ASGIApp:
    """The application of one site."""
    routes: list[Any] = [
        Route(page.path, _endpoint(desk, page), methods=[page.method]) for page in ROUTES
    ]
    routes.append(WebSocketRoute(SOUND, channel.endpoint(desk)))
    routes.append(Mount("/static", StaticFiles(directory=STATIC)))
    app = Starlette(
        routes=routes,
        exception_handlers={
            HTTPException: _not_here(desk),
            TooLarge: _not_here(desk),
            Exception: _broken(desk),
        },
        lifespan=_lifespan(desk),
    )
    most = desk.site.limits.upload_mb * 1_000_000 + SMALL_BODY
    return Hardened(app, max_body=most, tls=desk.tls)


def _lifespan(desk: Desk) -> Callable[[Starlette], contextlib.AbstractAsyncContextManager[None]]:
    """The server's life: it hears dictations, and the recordings that are in line."""

    @contextlib.asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        desk.backlog.begin()
        try:
            async with desk.live.lifespan(app):
                yield
        finally:
            await anyio.to_thread.run_sync(desk.backlog.close)

    return life


def _endpoint(desk: Desk, page: Page) -> Callable[[Request], Awaitable[Response]]:
    async def endpoint(request: Request) -> Response:
        began = time.perf_counter()
        response = await _answer(desk, page, request)
        log.info(
            "%s %s %d %.0f ms", page.method, page.path, response.status_code,
            1000 * (time.perf_counter() - began),
        )  # fmt: skip
        return response

    return endpoint


async def _answer(desk: Desk, page: Page, request: Request) -> Response:
    """Session, role, form and token in that order; then the page itself."""
    session = desk.sessions.find(request.cookies.get(COOKIE))
    visit = Visit(desk, request, session=session)
    try:
        person = await anyio.to_thread.run_sync(_person, desk, session)
        visit = Visit(desk, request, person, session if person else None)
        if page.roles is not None:
            if person is None:
                return await _sign_in_first(visit, page)
            if not page.roles & set(person.roles):
                raise errors.Denied(desk.texts.error.role)
        if page.method == "POST":
            visit = await _with_form(visit, page)
        if inspect.iscoroutinefunction(page.show):
            return cast("Response", await page.show(visit))
        return cast("Response", await anyio.to_thread.run_sync(page.show, visit))
    except (errors.VoicelogError, errors.RecordError) as error:
        status = next(code for kind, code in _STATUS if isinstance(error, kind))
        return await _sorry(visit, str(error), getattr(error, "status", status))


def _person(desk: Desk, session: Any) -> Person | None:
    """The signed-in person, as the register has them now."""
    if session is None:
        return None
    try:
        person = desk.store.people.get(session.person)
    except errors.NotFound:
        return None
    return person if person.active else None


async def _sign_in_first(visit: Visit, page: Page) -> Response:
    if page.method == "GET":
        return RedirectResponse("/sign-in", 303)
    return await _sorry(visit, visit.desk.texts.error.signed_out, 401)


async def _with_form(visit: Visit, page: Page) -> Visit:
    """The visit with its form, which must come from these pages and carry the token."""
    desk, request = visit.desk, visit.request
    length = request.headers.get("content-length", "0")
    most = desk.site.limits.upload_mb * 1_000_000 + SMALL_BODY if page.large else SMALL_BODY
    if not length.isdigit() or int(length) > most:
        raise BadRequest(desk.texts.error.too_large.format(mb=most // 1_000_000 or 1), 413)
    if page.large and visit.person and not desk.uploads.allow(visit.person.id):
        raise BadRequest(desk.texts.error.too_often, 429)
    if not same_origin(request):
        raise BadRequest(desk.texts.error.origin, 403)
    try:
        form = await request.form(max_files=4, max_fields=2000, max_part_size=SMALL_BODY)
    except (MultiPartException, HTTPException, UnicodeDecodeError, ValueError) as error:
        raise BadRequest(desk.texts.error.form) from error
    except TooLarge as error:
        raise BadRequest(desk.texts.error.too_large.format(mb=most // 1_000_000), 413) from error
    token = form.get("csrf", "")
    expected = visit.session.csrf if visit.session else account.anonymous_token(request)
    if not (isinstance(token, str) and expected and same_token(token, expected)):
        raise BadRequest(desk.texts.error.token, 403)
    files = await _files(form)
    return Visit(desk, request, visit.person, visit.session, form, files)


async def _files(form: FormData) -> dict[str, Upload]:
    found = {}
    for key, value in form.items():
        if not isinstance(value, str):
            found[key] = Upload(value.filename or "", await value.read())
            await value.close()
    return found


async def _sorry(visit: Visit, message: str, status: int) -> Response:
    if visit.request.headers.get("accept", "").startswith("application/json"):
        return PlainTextResponse(message, status)
    return await anyio.to_thread.run_sync(lambda: visit.page("sorry.html", status, message=message))


def _not_here(desk: Desk) -> Callable[[Request, Exception], Awaitable[Response]]:
    async def answer(request: Request, error: Exception) -> Response:
        status = error.status_code if isinstance(error, HTTPException) else 413
        words = {404: desk.texts.error.nothing_here, 405: desk.texts.error.method}
        session = desk.sessions.find(request.cookies.get(COOKIE))
        person = await anyio.to_thread.run_sync(_person, desk, session)
        visit = Visit(desk, request, person, session if person else None)
        return await _sorry(visit, words.get(status, desk.texts.error.form), status)

    return answer


def _broken(desk: Desk) -> Callable[[Request, Exception], Awaitable[Response]]:
    async def answer(request: Request, error: Exception) -> Response:
        log.error(
            "%s failed: %s", request.scope.get("path", "").split("/")[1:2], type(error).__name__
        )
        return await _sorry(Visit(desk, request), desk.texts.error.broken, 500)

    return answer
