"""Independent inspection: a second person looks at the work and decides anew."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.errors import Conflict, VoicelogError
from voicelog.objects import Decision, Draft, FieldValue
from voicelog.records import Inspection
from voicelog.web import records, review, sheet

if TYPE_CHECKING:
    from starlette.responses import Response

    from voicelog.objects import Card, Record
    from voicelog.records import Shown
    from voicelog.web.desk import Visit


def queue(visit: Visit) -> Response:
    """Records that wait for a second person, the oldest first."""
    return visit.page(
        "inspections.html",
        records=visit.store.records.awaiting_inspection(visit.desk.site.limits.page_rows),
        names=review.names(visit),
    )


def _sections(card: Card, record: Record) -> tuple[sheet.Section, ...]:
    """The steps to be inspected, with the first person's values as what there is to look at."""
    values = tuple(
        FieldValue(*d.key, d.value, d.unit, limit=d.limit)
        for d in record.decisions
        if d.step in record.to_inspect and d.value is not None
    )
    draft = Draft(card.number, card.revision, None, (), values)
    not_applicable = {
        d.key
        for d in record.decisions
        if d.kind == "not applicable" and d.step in record.to_inspect
    }
    return tuple(
        replace(
            section,
            lines=tuple(
                replace(line, needed=line.key in not_applicable)
                for line in section.lines
                if line.proposals or line.key in not_applicable
            ),
        )
        for section in sheet.lay_out(card, draft)
        if section.step.number in record.to_inspect
    )


def page(visit: Visit, error: str = "", status: int = 200, shown: Shown | None = None) -> Response:
    """What to look at, the first person's decisions beside it, the second's own to make."""
    record = visit.store.records.get(visit.path("record"))
    card = visit.card(record.card, record.revision)
    return visit.page(
        "inspect.html",
        status,
        record=record,
        card=card,
        sections=_sections(card, record),
        names=review.names(visit),
        follow_ups=review.FOLLOW_UPS,
        given={name: visit.said(name) for name in visit.form},
        reasons={r.block: r.why for r in review.reasons(visit)},
        shown=shown,
        sections_of=lambda what: records.sections(card, what.record),
        error=error,
    )


def _decisions(visit: Visit, card: Card, record: Record) -> tuple[Decision, ...]:
    """One decision for each line of the form; a line without a choice has none yet."""
    found = []
    at = review.decided_at(visit).isoformat()
    for section in _sections(card, record):
        for line in section.lines:
            fields = {
                name: visit.said(f"{name}:{line.id}")
                for name in ("kind", "value", "unit", "why", "follow_up", "reference")
            }
            if fields["kind"]:
                from starlette.datastructures import FormData

                one = replace(visit, form=FormData([*fields.items(), ("at", at)]))
                found.append(review.decision_of(one, line))
    return tuple(found)


def sign(visit: Visit) -> Response:
    """First shows what would be signed; with the secret and its digest, signs it."""
    record = visit.store.records.get(visit.path("record"))
    card = visit.card(record.card, record.revision)
    try:
        act = Inspection(record.id, _decisions(visit, card, record), review.reasons(visit))
        if visit.said("act") != "sign":
            return page(visit, shown=visit.store.records.show(act, by=visit.me))
        made = visit.store.records.sign(
            act, by=visit.me, secret=visit.secret("secret"), digest=visit.said("digest")
        )
    except VoicelogError as error:
        status = 409 if isinstance(error, Conflict) else 422
        return page(visit, str(error), status)
    return visit.go("records", made.id, told="inspected")
