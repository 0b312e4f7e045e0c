"""Upkeep: people, cards, tools, the model, integrity, copies."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from voicelog.errors import ModelError, VoicelogError
from voicelog.records import Authorisation, Person, Tool, backup
from voicelog.records import verify as verify_home
from voicelog.records.people import ROLES
from voicelog.web.desk import BadRequest

if TYPE_CHECKING:
    from starlette.responses import Response

    from voicelog.web.desk import Visit

BACKUP_HOURS = 24
"""A copy within 24 hours of the work: AMC M.A.614."""


@dataclass(frozen=True, slots=True)
class ModelLine:
    """One speech model and whether it can be used."""

    name: str
    origin: str
    licence: str
    size_mb: int
    state: str


def overview(visit: Visit) -> Response:
    """How things stand, and where each thing is kept."""
    store = visit.store
    last = _last_backup(visit)
    now = store.clock.now()
    hours = (now - last).total_seconds() / 3600 if last else None
    return visit.page(
        "upkeep.html",
        models=_models(visit),
        last_backup=last,
        backup_hours=hours,
        backup_old=hours is None or hours > BACKUP_HOURS,
        head=store.ledger.head(),
        people=len(store.people.list()),
        cards=len({entry.number for entry in store.cards.list()}),
        tools=len(store.tools.list()),
        live=visit.desk.live,
        backlog=visit.desk.backlog,
        jobs=store.jobs.counts(),
    )


def _last_backup(visit: Visit) -> datetime | None:
    last = None
    for line in visit.store.ledger.lines(kind="backup"):
        if line.act == "backup made":
            last = line.at
    return datetime.fromisoformat(last) if last else None


def _models(visit: Visit) -> list[ModelLine]:
    from voicelog.speech import models

    words = visit.desk.texts.upkeep
    found = []
    for each in models.entries():
        try:
            state = words.model_ready if models.installed(each) else words.model_missing
        except ModelError as error:
            state = str(error)
        found.append(ModelLine(each.name, each.origin, each.licence, each.size_mb, state))
    return found


# --- people -----------------------------------------------------------------------


def people(visit: Visit, error: str = "", status: int = 200) -> Response:
    """The register, and a form for somebody new."""
    return visit.page(
        "people.html",
        status,
        people=visit.store.people.list(),
        roles=ROLES,
        error=error,
        given={n: visit.said(n) for n in ("id", "name", "certificate", "certificate_kind")},
        given_roles=visit.all_said("role"),
    )


def _person(visit: Visit, id: str) -> Person:
    return Person(
        id,
        visit.said("name"),
        tuple(role for role in ROLES if role in visit.all_said("role")),
        certificate=visit.said("certificate"),
        certificate_kind=visit.said("certificate_kind"),
        authorisations=_authorisations(visit),
        active=visit.said("active") != "no",
    )


def _authorisations(visit: Visit) -> tuple[Authorisation, ...]:
    """One for each row of the form that names a card."""
    texts = visit.desk.texts
    found = []
    rows = zip(
        visit.form.getlist("card"),
        visit.form.getlist("steps"),
        visit.form.getlist("until"),
        visit.form.getlist("inspect"),
        strict=False,
    )
    for card, steps, until, may_inspect in rows:
        if not isinstance(card, str) or not card.strip():
            continue
        try:
            day = date.fromisoformat(str(until).strip()) if str(until).strip() else None
        except ValueError as error:
            raise BadRequest(texts.error.date.format(text=until), 422) from error
        numbers = tuple(str(steps).replace(",", " ").split())
        found.append(Authorisation(card.strip(), numbers, day, inspect=may_inspect == "yes"))
    return tuple(found)


def add_person(visit: Visit) -> Response:
    """Enter somebody with a first secret."""
    try:
        added = visit.store.people.add(
            _person(visit, visit.said("id")), visit.secret("secret"), by=visit.me
        )
    except VoicelogError as error:
        return people(visit, str(error), 422)
    return visit.go("upkeep", "people", added.id, told="person_added")


def person(visit: Visit, error: str = "", status: int = 200) -> Response:
    """One person and what they did lately."""
    found = visit.store.people.get(visit.path("id"))
    acts = list(visit.store.ledger.lines(kind="person", subject=found.id))[-20:]
    return visit.page(
        "person.html",
        status,
        person=found,
        roles=ROLES,
        error=error,
        acts=reversed(acts),
        cards=sorted({entry.number for entry in visit.store.cards.list()}),
    )


def change_person(visit: Visit) -> Response:
    """Roles, certificate, authorisations, activity."""
    id = visit.store.people.get(visit.path("id")).id
    try:
        visit.store.people.update(_person(visit, id), by=visit.me)
    except VoicelogError as error:
        return person(visit, str(error), 422)
    return visit.go("upkeep", "people", id, told="person_changed")


def give_secret(visit: Visit) -> Response:
    """A new secret for somebody who lost theirs or is locked out."""
    id = visit.store.people.get(visit.path("id")).id
    try:
        visit.store.people.set_secret(id, visit.secret("secret"), by=visit.me)
    except VoicelogError as error:
        return person(visit, str(error), 422)
    return visit.go("upkeep", "people", id, told="secret_given")


# --- cards ------------------------------------------------------------------------


def cards(visit: Visit, error: str = "", status: int = 200) -> Response:
    """The shelf, and a form that checks a card and puts it there."""
    shelf = visit.store.cards
    current = {entry.number: shelf.get(entry.number) for entry in shelf.list()}
    return visit.page(
        "cards.html",
        status,
        cards=tuple(current.values()),
        today=visit.store.clock.now().date(),
        error=error,
    )


def add_card(visit: Visit) -> Response:
    """A card from its file; a fault is named with its line."""
    file = visit.files.get("card")
    if file is None or not file.data:
        return cards(visit, visit.desk.texts.upkeep.no_card_file, 422)
    try:
        added = visit.store.cards.add(file.data, file.name or "card.yaml", by=visit.me)
    except VoicelogError as error:
        return cards(visit, str(error), 422)
    return visit.go("upkeep", "cards", added.number, told="card_added")


def card(visit: Visit) -> Response:
    """A card with its revisions; two of them side by side when asked for."""
    shelf, number = visit.store.cards, visit.path("number")
    entries = [entry for entry in shelf.list() if entry.number == number]
    found = visit.card(number, visit.asked("revision") or None)
    old, new = visit.asked("old"), visit.asked("new")
    rows = []
    if old and new:
        sides = [
            shelf.source(number, revision).decode("utf-8", "replace").splitlines()
            for revision in (old, new)
        ]
        rows = side_by_side(*sides)
    return visit.page(
        "card.html",
        card=found,
        entries=entries,
        old=old,
        new=new,
        rows=rows,
        source=shelf.source(number, found.revision).decode("utf-8", "replace").splitlines(),
        today=visit.store.clock.now().date(),
    )


def side_by_side(old: list[str], new: list[str]) -> list[tuple[str, str, str]]:
    """Lines of two texts beside each other: ("same" | "changed" | "gone" | "new", left, right)."""
    rows: list[tuple[str, str, str]] = []
    matcher = difflib.SequenceMatcher(a=old, b=new, autojunk=False)
    for tag, a, b, c, d in matcher.get_opcodes():
        if tag == "equal":
            rows += [("same", line, line) for line in old[a:b]]
            continue
        left, right = old[a:b], new[c:d]
        for at in range(max(len(left), len(right))):
            one = left[at] if at < len(left) else ""
            two = right[at] if at < len(right) else ""
            kind = "changed" if at < len(left) and at < len(right) else "gone" if one else "new"
            rows.append((kind, one, two))
    return rows


# --- tools ------------------------------------------------------------------------


def tools(visit: Visit, error: str = "", status: int = 200) -> Response:
    """The register of measuring tools."""
    return visit.page(
        "tools.html",
        status,
        tools=visit.store.tools.list(),
        today=visit.store.clock.now().date(),
        error=error,
        given={n: visit.said(n) for n in ("number", "name", "calibration_due", "certificate")},
    )


def put_tool(visit: Visit) -> Response:
    """Enter a tool, or its new calibration."""
    due = visit.said("calibration_due")
    try:
        tool = Tool(
            visit.said("number"),
            visit.said("name"),
            date.fromisoformat(due) if due else None,
            visit.said("certificate"),
        )
        tool = replace(tool, in_use=visit.said("in_use") != "no")
        visit.store.tools.put(tool, by=visit.me)
    except ValueError:
        return tools(visit, visit.desk.texts.error.date.format(text=due), 422)
    except VoicelogError as error:
        return tools(visit, str(error), 422)
    return visit.go("upkeep", "tools", told="tool_entered")


# --- integrity --------------------------------------------------------------------


def integrity(visit: Visit) -> Response:
    """Where the whole home can be checked."""
    return visit.page("integrity.html", faults=None)


def verify(visit: Visit) -> Response:
    """Recompute ledger, records, signatures and recordings; name each fault."""
    visit.store.ledger.append("integrity checked", "store", "", by=visit.me)
    return visit.page("integrity.html", faults=verify_home(visit.store.home))


def back_up(visit: Visit) -> Response:
    """A checked copy of the home in its own folder of copies."""
    store = visit.store
    stamp = store.clock.now().strftime("%Y%m%d-%H%M%S")
    folder = store.home.parent / f"{store.home.name}-copies" / stamp
    try:
        backup(store, folder, by=visit.me)
    except VoicelogError as error:
        return visit.page("integrity.html", 422, faults=None, error=str(error))
    return visit.go("upkeep", told="backed_up", folder=str(folder))
