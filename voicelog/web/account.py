"""Sign in, sign out, the first page, one's own secret."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING

from voicelog.errors import Denied, RecordError
from voicelog.web.desk import BadRequest
from voicelog.web.sessions import COOKIE

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from voicelog.web.desk import Visit

DOOR = "voicelog-door"
"""Cookie of the sign-in form's own token, before there is a session."""


def anonymous_token(request: Request) -> str:
    """The token that a sign-in form must carry; empty when the form was never shown."""
    return request.cookies.get(DOOR, "")


def _cookie(visit: Visit, response: Response, name: str, value: str, seconds: int) -> None:
    response.set_cookie(
        name,
        value,
        max_age=seconds,
        path="/",
        secure=visit.desk.tls,
        httponly=True,
        samesite="strict",
    )


def ask(visit: Visit, error: str = "", status: int = 200) -> Response:
    """The sign-in form."""
    token = anonymous_token(visit.request) or secrets.token_urlsafe(32)
    response = visit.page(
        "sign_in.html", status, token=token, error=error, person=visit.said("person")
    )
    _cookie(visit, response, DOOR, token, 3600)
    return response


def sign_in(visit: Visit) -> Response:
    """Begin a session; the store counts wrong tries and locks out."""
    desk = visit.desk
    address = visit.request.client.host if visit.request.client else ""
    if not desk.sign_ins.allow(address):
        raise BadRequest(desk.texts.error.too_often, 429)
    try:
        person = desk.store.people.authenticate(visit.said("person"), visit.secret("secret"))
    except RecordError as error:
        return ask(visit, str(error), 403 if isinstance(error, Denied) else 422)
    token, _ = desk.sessions.begin(person.id)
    response = visit.go()
    _cookie(visit, response, COOKIE, token, round(desk.site.limits.session_hours * 3600))
    response.delete_cookie(DOOR, path="/")
    return response


def sign_out(visit: Visit) -> Response:
    """End the session at once, on the server too."""
    visit.desk.sessions.end(visit.request.cookies.get(COOKIE))
    visit.store.ledger.append("signed out", "person", visit.me, by=visit.me)
    response = visit.go("sign-in")
    response.delete_cookie(COOKIE, path="/")
    return response


def home(visit: Visit) -> Response:
    """Where each role begins its work, with what waits there."""
    roles = visit.person.roles if visit.person else ()
    store = visit.store
    waiting = {}
    if "reviewer" in roles:
        waiting["review"] = store.notes.waiting()
        waiting["inspect"] = len(store.records.awaiting_inspection())
    if "mechanic" in roles:
        waiting["dictate"] = len(visit.desk.live.unfinished(visit.me))
    return visit.page("home.html", waiting=waiting)


def ask_secret(visit: Visit) -> Response:
    """The form for another secret."""
    return visit.page("secret.html")


def change_secret(visit: Visit) -> Response:
    """Another secret of one's own."""
    if visit.secret("new") != visit.secret("again"):
        return visit.page("secret.html", 422, error=visit.desk.texts.account.differ)
    try:
        visit.store.people.set_secret(
            visit.me, visit.secret("new"), by=visit.me, old=visit.secret("old")
        )
    except RecordError as error:
        return visit.page("secret.html", 422, error=str(error))
    return visit.go(told="secret_changed")
