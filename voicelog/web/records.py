"""Finding and reading records; a correction supersedes one and never changes it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, get_args

from voicelog.errors import Conflict, VoicelogError
from voicelog.objects import Draft
from voicelog.records import Correction, Filter
from voicelog.records.search import State
from voicelog.web import review, sheet
from voicelog.web.desk import BadRequest

if TYPE_CHECKING:
    from starlette.responses import Response

    from voicelog.objects import Card, Record
    from voicelog.records import Shown
    from voicelog.web.desk import Visit

STATES: tuple[str, ...] = get_args(State)
CONDITIONS = (
    "words", "work_order", "card", "equipment", "serial_number", "person",
    "since", "until", "state",
)  # fmt: skip
"""What a search can ask for; the export asks for the same."""


def wanted(conditions: dict[str, str], visit: Visit) -> Filter:
    """The filter that a form describes. Raises BadRequest for what is no date."""
    found: dict[str, object] = {}
    for name in CONDITIONS:
        text = conditions.get(name, "")
        if not text:
            continue
        if name in ("since", "until"):
            try:
                found[name] = date.fromisoformat(text)
            except ValueError as error:
                raise BadRequest(visit.desk.texts.error.date.format(text=text), 422) from error
        else:
            found[name] = text
    if found.get("state", "current") not in STATES:
        raise BadRequest(visit.desk.texts.error.form)
    return Filter(**found)  # type: ignore[arg-type]  # the names are those of its fields


def search(visit: Visit) -> Response:
    """The search form with what it finds, the newest first."""
    conditions = {name: visit.asked(name) for name in CONDITIONS}
    rows, start = visit.desk.site.limits.page_rows, visit.number("from", 0, 100_000)
    asked = any(conditions.values())
    filter_ = wanted(conditions, visit)
    found = []
    for at, record in enumerate(
        visit.store.records.search(replace(filter_, limit=start + rows + 1))
    ):
        if at >= start:
            found.append(record)
    return visit.page(
        "records.html",
        records=found[:rows],
        more=start + rows if len(found) > rows else None,
        start=start,
        asked=asked,
        conditions=conditions,
        states=STATES,
        query={name: text for name, text in conditions.items() if text},
        names=review.names(visit),
        people=visit.store.people.list(),
    )


def page(visit: Visit) -> Response:
    """One record as it was signed, with its history, inspections and sound."""
    store = visit.store
    record = store.records.get(visit.path("record"))
    card = visit.card(record.card, record.revision)
    note = store.notes.get(record.note)
    return visit.page(
        "record.html",
        record=record,
        card=card,
        note=note,
        sections=sections(card, record),
        history=store.records.history(record.id),
        inspections=store.records.inspections(record.inspects or record.id),
        successor=store.records.successor(record.id),
        names=review.names(visit),
    )


def sections(card: Card, record: Record) -> list[sheet.Section]:
    """The steps that a record speaks of."""
    draft = Draft(card.number, card.revision, record.step, (), record.proposals)
    return [s for s in sheet.lay_out(card, draft, record.decisions) if s.touched]


def ask_correction(
    visit: Visit, error: str = "", status: int = 200, shown: Shown | None = None
) -> Response:
    """The form that supersedes a record."""
    record = visit.store.records.get(visit.path("record"))
    card = visit.card(record.card, record.revision)
    return visit.page(
        "correct.html",
        status,
        record=record,
        card=card,
        sections=sections(card, record),
        shown=shown,
        sections_of=lambda what: sections(card, what.record),
        error=error,
        given={name: visit.said(name) for name in visit.form},
        follow_ups=review.FOLLOW_UPS,
        reasons={r.block: r.why for r in review.reasons(visit)},
        names=review.names(visit),
    )


def correct(visit: Visit) -> Response:
    """First shows what would be signed; with the secret and its digest, signs it."""
    from starlette.datastructures import FormData

    record = visit.store.records.get(visit.path("record"))
    card = visit.card(record.card, record.revision)
    try:
        found = []
        at = review.decided_at(visit).isoformat()
        for section in sections(card, record):
            for line in section.lines:
                fields = {
                    name: visit.said(f"{name}:{line.id}")
                    for name in ("kind", "value", "unit", "follow_up", "reference")
                }
                if fields["kind"]:
                    form = FormData([*fields.items(), ("why", visit.said("why")), ("at", at)])
                    found.append(review.decision_of(replace(visit, form=form), line))
        act = Correction(record.id, tuple(found), visit.said("why"), review.reasons(visit))
        if visit.said("act") != "sign":
            return ask_correction(visit, shown=visit.store.records.show(act, by=visit.me))
        made = visit.store.records.sign(
            act, by=visit.me, secret=visit.secret("secret"), digest=visit.said("digest")
        )
    except VoicelogError as error:
        return ask_correction(visit, str(error), 409 if isinstance(error, Conflict) else 422)
    return visit.go("records", made.id, told="corrected")
