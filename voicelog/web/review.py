"""Review: what was heard beside what it says, each value decided by a person, then signed.

Every rule is the store's: this file turns a form into `Decision`s and an act, and shows
what the store answers.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, get_args

from voicelog import entry, units
from voicelog.errors import Conflict, VoicelogError
from voicelog.objects import Decision, DecisionKind, FollowUp, Ratio, Value
from voicelog.reading.unit_words import unit_words
from voicelog.records import Confirmation, Resolution, accept_undoubted
from voicelog.web import listened, sheet
from voicelog.web.desk import BadRequest
from voicelog.web.render import unit_sign

if TYPE_CHECKING:
    from starlette.responses import Response

    from voicelog.objects import Card, Note
    from voicelog.web.desk import Visit

FOLLOW_UPS: tuple[str, ...] = get_args(FollowUp)
KINDS: tuple[str, ...] = get_args(DecisionKind)


def queue(visit: Visit) -> Response:
    """Drafts that wait: the most doubtful first, then the oldest."""
    rows, start = visit.desk.site.limits.page_rows, visit.number("from", 0)
    entries = visit.store.notes.queue(rows + 1, start)
    return visit.page(
        "queue.html",
        entries=entries[:rows],
        more=start + rows if len(entries) > rows else None,
        start=start,
        waiting=visit.store.notes.waiting(),
        names=names(visit),
    )


def names(visit: Visit) -> dict[str, str]:
    """Names of people by id."""
    return {person.id: person.name for person in visit.store.people.list()}


def note_and_card(visit: Visit) -> tuple[Note, Card]:
    """The note of the address and the card it was dictated against. Raises NotFound."""
    note = visit.store.notes.get(visit.path("note"))
    return note, visit.card(note.draft.card, note.draft.revision)


def page(visit: Visit) -> Response:
    """One draft on one screen."""
    return show(visit, *note_and_card(visit))


def show(visit: Visit, note: Note, card: Card, error: str = "", status: int = 200) -> Response:
    """The review page; `error` says why the last act was refused."""
    sections = sheet.lay_out(card, note.draft, note.decisions)
    lines = [line for section in sections for line in section.lines]
    to_decide = [line for line in lines if line.proposals or line.decision or line.needed]
    return visit.page(
        "review.html",
        status,
        note=note,
        card=card,
        sections=sections,
        lines=to_decide,
        decided=sum(line.decision is not None for line in to_decide),
        undoubted=len(_undoubted(visit, note)),
        takes=listened.rows(note),
        follow_ups=FOLLOW_UPS,
        names=names(visit),
        units=offered_units(visit, card),
        typed=typed,
        error=error,
        again=visit.asked("line"),
        again_value=visit.asked("value"),
        again_unit=visit.asked("unit"),
        again_text=visit.asked("heard"),
        again_doubt=visit.asked("doubt"),
    )


def typed(value: Value | None) -> str:
    """A value as one would type it: what `entry.parse` takes."""
    match value:
        case Ratio(reading, reference):
            return f"{reading:f}/{reference:f}"
        case Decimal():
            return f"{value:f}"
    return "" if value is None else str(value)


@cache
def instead_of(unit: str) -> tuple[str, ...]:
    """The units that can be typed in place of `unit`; itself first."""
    known = [each for table in unit_words().dimension.values() for each in table.units]
    return tuple(each for each in dict.fromkeys((unit, *known)) if units.compatible(each, unit))


def offered_units(visit: Visit, card: Card) -> dict[str, list[tuple[str, str]]]:
    """For each unit of the card, the units that can be typed instead: (unit, its sign)."""
    own = {field.unit for step in card.steps for field in step.fields if field.unit}
    return {
        unit: [(each, unit_sign(each, visit.desk.texts)) for each in instead_of(unit)]
        for unit in sorted(own)
    }


def find_line(visit: Visit, card: Card, note: Note, id: str) -> sheet.Line:
    """The line that a form names. Raises BadRequest."""
    for section in sheet.lay_out(card, note.draft, note.decisions):
        for line in section.lines:
            if line.id == id:
                return line
    raise BadRequest(visit.desk.texts.error.form)


def decision_of(visit: Visit, line: sheet.Line) -> Decision:
    """The decision that a form describes. Raises BadRequest, EntryError, UnitError."""
    kind = visit.said("kind")
    if kind not in KINDS:
        raise BadRequest(visit.desk.texts.error.form)
    value, unit, why = None, None, visit.said("why")
    if kind == "accept":
        value, unit = _chosen(visit, line)
    elif kind == "correct":
        if visit.said("alternative"):
            value, unit = _alternative(visit, line)
            why = why or visit.desk.texts.review.why_misheard
        else:
            typed = " ".join(filter(None, (visit.said("value"), visit.said("unit"))))
            entered = entry.parse(line.field, typed)
            value, unit = entered.value, entered.unit
    follow_up = visit.said("follow_up")
    return Decision(
        *line.key,
        kind,  # type: ignore[arg-type]  # checked against KINDS above
        visit.me,
        decided_at(visit),
        value=value,
        unit=unit,
        why=why,
        follow_up=follow_up if follow_up in FOLLOW_UPS else None,  # type: ignore[arg-type]
        reference=visit.said("reference"),
    )


def decided_at(visit: Visit) -> datetime:
    """When the form's decisions were made.

    A form that shows first and signs then brings the moment along, so that what is signed is
    what was shown; it must lie within the session. Raises BadRequest.
    """
    now = visit.store.clock.now()
    text = visit.said("at")
    if not text:
        return now
    try:
        at = datetime.fromisoformat(text)
        fits = timedelta(0) <= now - at <= timedelta(hours=visit.desk.site.limits.session_hours)
    except (ValueError, TypeError) as error:
        raise BadRequest(visit.desk.texts.error.form) from error
    if not fits:
        raise BadRequest(visit.desk.texts.error.token)
    return at


def _index(visit: Visit, name: str, count: int) -> int:
    text = visit.said(name) or "0"
    if not text.isascii() or not text.isdigit() or len(text) > 6 or int(text) >= count:
        raise BadRequest(visit.desk.texts.error.form)
    return int(text)


def _chosen(visit: Visit, line: sheet.Line) -> tuple[Value, str | None]:
    if not line.proposals:
        raise BadRequest(visit.desk.texts.review.nothing_proposed)
    text = visit.said("proposal")
    at = _index(visit, "proposal", len(line.proposals)) if text else len(line.proposals) - 1
    return line.proposals[at].value, line.proposals[at].unit


def _alternative(visit: Visit, line: sheet.Line) -> tuple[Value, str | None]:
    proposal = line.proposal
    if proposal is None:
        raise BadRequest(visit.desk.texts.error.form)
    at = _index(visit, "alternative", len(proposal.alternatives))
    return proposal.alternatives[at], proposal.unit


def merged(note: Note, new: tuple[Decision, ...]) -> tuple[Decision, ...]:
    """The note's decisions with `new` ones in place of those on the same fields."""
    replaced = {decision.key for decision in new}
    return (*(d for d in note.decisions if d.key not in replaced), *new)


def decide(visit: Visit) -> Response:
    """One value, or all that raise no question."""
    note, card = note_and_card(visit)
    if visit.said("kind") == "accept undoubted":
        new = _undoubted(visit, note)
    else:
        line = find_line(visit, card, note, visit.said("line"))
        try:
            new = (decision_of(visit, line),)
        except VoicelogError as error:
            return show(visit, note, card, str(error), 422)
    return keep(visit, note, card, new)


def _undoubted(visit: Visit, note: Note) -> tuple[Decision, ...]:
    taken = {decision.key for decision in note.decisions}
    bulk = accept_undoubted(note.draft.values, by=visit.me, at=visit.store.clock.now())
    return tuple(decision for decision in bulk if decision.key not in taken)


def keep(visit: Visit, note: Note, card: Card, new: tuple[Decision, ...]) -> Response:
    """Write decisions to the note, or show both sides when somebody was quicker."""
    try:
        visit.store.notes.decide(note.id, visit.version(), merged(note, new), by=visit.me)
    except Conflict as error:
        return _conflict(visit, card, new, str(error))
    return visit.go("review", note.id)


def _conflict(visit: Visit, card: Card, new: tuple[Decision, ...], message: str) -> Response:
    """What I decided beside what stands there now: the person chooses."""
    note = visit.store.notes.get(visit.path("note"))
    standing = {decision.key: decision for decision in note.decisions}
    sections = sheet.lay_out(card, note.draft, new)
    pairs = [
        (line, standing.get(line.key))
        for section in sections
        for line in section.lines
        if line.decision is not None
    ]
    return visit.page(
        "conflict.html",
        409,
        note=note,
        card=card,
        pairs=pairs,
        message=message,
        names=names(visit),
        again={name: visit.said(name) for name in visit.form if name not in ("csrf", "version")},
        where=visit.request.url.path,
    )


def undo(visit: Visit) -> Response:
    """Take a decision back."""
    note, card = note_and_card(visit)
    line = find_line(visit, card, note, visit.said("line"))
    rest = tuple(decision for decision in note.decisions if decision.key != line.key)
    try:
        visit.store.notes.decide(note.id, visit.version(), rest, by=visit.me)
    except Conflict as error:
        return _conflict(visit, card, (), str(error))
    return visit.go("review", note.id)


def place(visit: Visit) -> Response:
    """Put something that was said and found no field into one."""
    note, card = note_and_card(visit)
    line = find_line(visit, card, note, visit.said("line"))
    mention = note.draft.unplaced[_index(visit, "mention", len(note.draft.unplaced))]
    value = mention.value
    if line.field.type == "text" or value is None:
        value = mention.text
    decision = Decision(
        *line.key,
        "correct",
        visit.me,
        visit.store.clock.now(),
        value=value,
        unit=mention.unit,
        why=visit.desk.texts.review.why_placed.format(text=mention.text),
    )
    return keep(visit, note, card, (decision,))


def withdraw(visit: Visit) -> Response:
    """Take a draft out of the queue for good; it stays on file."""
    note, card = note_and_card(visit)
    try:
        visit.store.notes.withdraw(note.id, visit.version(), by=visit.me, why=visit.said("why"))
    except Conflict:
        raise
    except VoicelogError as error:
        return show(visit, note, card, str(error), 422)
    return visit.go("review", told="withdrawn")


def _act(visit: Visit, note: Note) -> Confirmation:
    mine = tuple(decision for decision in note.decisions if decision.by == visit.me)
    return Confirmation(note.id, note.version, mine, reasons(visit))


def reasons(visit: Visit) -> tuple[Resolution, ...]:
    """The signer's reasons for going on in spite of what stands in the way."""
    pairs = zip(visit.form.getlist("block"), visit.form.getlist("reason"), strict=False)
    return tuple(
        Resolution(block, why.strip())
        for block, why in pairs
        if isinstance(block, str) and isinstance(why, str) and why.strip()
    )


def ask_signature(visit: Visit, error: str = "", status: int = 200) -> Response:
    """Exactly what would be signed, and what is in the way."""
    note, card = note_and_card(visit)
    act = _act(visit, note)
    shown = visit.store.records.show(act, by=visit.me)
    return visit.page(
        "sign.html",
        status,
        card=card,
        record=shown.record,
        digest=shown.digest,
        problems=[p for p in shown.problems if not any(b.sentence in p for b in shown.blocks)],
        blocks=shown.blocks,
        resolved=act.resolutions,
        sections=_signed_sections(card, shown.record.proposals, shown.record.decisions),
        where=("review", note.id, "sign"),
        back=f"/review/{note.id}",
        names=names(visit),
        error=error,
    )


def _signed_sections(card: Card, proposals: tuple, decisions: tuple) -> list[sheet.Section]:  # type: ignore[type-arg]
    from voicelog.objects import Draft

    draft = Draft(card.number, card.revision, None, (), proposals)
    return [s for s in sheet.lay_out(card, draft, decisions) if s.touched]


def sign(visit: Visit) -> Response:
    """The deliberate act: the secret again, over the digest that was shown."""
    if visit.said("act") != "sign":
        return ask_signature(visit)
    note, _ = note_and_card(visit)
    try:
        record = visit.store.records.sign(
            _act(visit, note),
            by=visit.me,
            secret=visit.secret("secret"),
            digest=visit.said("digest"),
        )
    except VoicelogError as error:
        return ask_signature(visit, str(error), 409 if isinstance(error, Conflict) else 422)
    return visit.go("records", record.id, told="signed")
