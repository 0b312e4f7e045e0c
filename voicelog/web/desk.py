"""What all pages share, and one visit of one person to one of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

from markupsafe import Markup
from starlette.datastructures import FormData
from starlette.responses import HTMLResponse, RedirectResponse, Response

from voicelog.errors import NotFound, VoicelogError

if TYPE_CHECKING:
    import jinja2
    from starlette.requests import Request

    from voicelog.objects import Card
    from voicelog.records import Person, Store
    from voicelog.web.backlog import Backlog
    from voicelog.web.live import Live
    from voicelog.web.security import Rate
    from voicelog.web.sessions import Session, Sessions
    from voicelog.web.site import Site, Texts


class BadRequest(VoicelogError):
    """What was sent can't be understood, or is more than the page takes."""

    def __init__(self, message: str, status: int = 400) -> None:
        super().__init__(message)
        self.status = status


@dataclass(frozen=True, slots=True)
class Desk:
    """Everything that lives as long as the server does."""

    store: Store
    site: Site
    texts: Texts
    sessions: Sessions
    templates: jinja2.Environment
    live: Live
    backlog: Backlog
    uploads: Rate
    sign_ins: Rate
    tls: bool


@dataclass(frozen=True, slots=True)
class Upload:
    """A file that came with a form."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Visit:
    """One request, by whom, with what."""

    desk: Desk
    request: Request
    person: Person | None = None
    session: Session | None = None
    form: FormData = field(default_factory=FormData)
    files: dict[str, Upload] = field(default_factory=dict)

    @property
    def store(self) -> Store:
        return self.desk.store

    @property
    def me(self) -> str:
        """Id of the person; only on pages that ask for a sign-in."""
        if self.person is None:
            raise NotFound("nobody is signed in")
        return self.person.id

    def path(self, name: str) -> str:
        """A part of the address."""
        return str(self.request.path_params[name])

    def asked(self, name: str) -> str:
        """A part of the query, without spaces around it."""
        return self.request.query_params.get(name, "").strip()

    def number(self, name: str, default: int, most: int = 1_000_000) -> int:
        """A whole number of the query, between 0 and `most`."""
        text = self.asked(name)
        return (
            min(int(text), most)
            if text.isascii() and text.isdigit() and len(text) < 12
            else default
        )

    def said(self, name: str) -> str:
        """A field of the form, without spaces around it; empty when it is missing."""
        value = self.form.get(name, "")
        return value.strip() if isinstance(value, str) else ""

    def secret(self, name: str) -> str:
        """A field of the form exactly as typed."""
        value = self.form.get(name, "")
        return value if isinstance(value, str) else ""

    def all_said(self, name: str) -> tuple[str, ...]:
        """Every value of a field that a form may hold several times."""
        return tuple(v.strip() for v in self.form.getlist(name) if isinstance(v, str) and v.strip())

    def version(self) -> int:
        """The version of the note that the form was made from. Raises BadRequest."""
        text = self.said("version")
        if not (text.isascii() and text.isdigit() and len(text) < 10):
            raise BadRequest(self.desk.texts.error.form)
        return int(text)

    def page(self, template: str, status: int = 200, **context: Any) -> Response:
        """A page out of its template."""
        return HTMLResponse(self.html(template, **context), status)

    def html(self, template: str, **context: Any) -> str:
        """A template filled in."""
        return self.desk.templates.get_template(template).render(
            visit=self,
            me=self.person,
            site=self.desk.site,
            t=self.desk.texts,
            csrf=self._token,
            **context,
        )

    def _token(self) -> Markup:
        """The hidden field of every form that changes something."""
        token = self.session.csrf if self.session else ""
        return Markup('<input type="hidden" name="csrf" value="{}">').format(token)

    def go(self, *parts: str, told: str = "", **query: str) -> Response:
        """Send the browser on; `told` names a sentence of the texts that it shows there."""
        address = "/" + "/".join(quote(part, safe="") for part in parts)
        asked = {key: value for key, value in ({"told": told} | query).items() if value}
        return RedirectResponse(f"{address}?{urlencode(asked)}" if asked else address, 303)

    def card(self, number: str, revision: str | None = None) -> Card:
        """A card of the store. Raises NotFound, CardError."""
        return self.store.cards.get(number, revision)
