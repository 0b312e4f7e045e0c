"""What keeps a work order open: worked out from its cards, notes and records.

Pure functions over what the store holds. A work order is complete when nothing here blocks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from voicelog.records.decisions import STANDING, failing, place

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from voicelog.objects import Card, Decision, Note, Record, Step

Kind = Literal[
    "note not decided",
    "step not done",
    "step incomplete",
    "not restored",
    "leak check missing",
    "not inspected",
    "inspection disagrees",
    "follow-up open",
    "deferred",
]


@dataclass(frozen=True, slots=True)
class OpenItem:
    """One thing that is open."""

    kind: Kind
    sentence: str
    card: str | None = None
    step: str | None = None
    source: str | None = None
    """Id of the note or record that it comes from."""
    blocks: bool = True
    """Whether the work order can't be called complete for it."""


@dataclass(frozen=True, slots=True)
class _Standing:
    """The decision that stands for one field, and where it was signed."""

    decision: Decision
    record: Record
    turn: int
    """Order of signing; a superseding record keeps the turn of the one it replaces."""


class _CardState:
    """One card of a work order with everything recorded against it."""

    def __init__(self, card: Card, records: Iterable[tuple[int, Record]]) -> None:
        self.card = card
        self.standing: dict[tuple[str, str, str | None], _Standing] = {}
        self.touched: dict[str, int] = {}
        self.by_step: dict[str, dict[str, Record]] = {}
        for turn, record in records:
            if record.step is not None:
                self._touch(record.step, turn, record)
            for decision in record.decisions:
                if decision.kind == "reject":
                    continue
                self.standing[decision.key] = _Standing(decision, record, turn)
                if decision.kind in STANDING:
                    self._touch(decision.step, turn, record)

    def _touch(self, step: str, turn: int, record: Record) -> None:
        self.touched[step] = max(turn, self.touched.get(step, turn))
        self.by_step.setdefault(step, {})[record.id] = record

    def missing(self, step: Step) -> tuple[str, ...]:
        """Required fields of `step` for which no decision stands."""
        keys = [
            (step.number, field.name, position)
            for field in step.fields
            if field.required
            for position in field.places
        ]
        return tuple(place(self.card, key) for key in keys if key not in self.standing)

    def turn_done(self, step: Step) -> int | None:
        """When `step` was done with nothing failing in it; None when it was not."""
        ours = [s for key, s in self.standing.items() if key[0] == step.number]
        if self.missing(step) or any(failing(s.decision) for s in ours):
            return None
        turns = [s.turn for s in ours if s.decision.kind in STANDING]
        if not step.fields and step.number in self.touched:
            turns.append(self.touched[step.number])
        return max(turns, default=None)

    def not_applicable(self, step: Step) -> bool:
        """Every required field of `step` was declared not applicable."""
        ours = [s.decision.kind for key, s in self.standing.items() if key[0] == step.number]
        return bool(ours) and not self.missing(step) and set(ours) == {"not applicable"}


def _name(card: Card, step: Step) -> str:
    return f"card {card.number} step {step.number} ({step.title})"


def _undone(state: _CardState) -> Iterable[OpenItem]:
    for step in state.card.steps:
        name, missing = _name(state.card, step), state.missing(step)
        here = (state.card.number, step.number)
        recorded = step.number in state.touched or any(
            key[0] == step.number for key in state.standing
        )
        if not recorded:
            yield OpenItem("step not done", f"{name} is not recorded", *here)
        elif missing:
            yield OpenItem("step incomplete", f"{name} lacks {'; '.join(missing)}", *here)


def _unrestored(state: _CardState) -> Iterable[OpenItem]:
    for step in state.card.steps:
        if step.number not in state.touched or state.not_applicable(step):
            continue
        here = (state.card.number, step.number)
        if step.opens:
            later = [s for s in state.card.steps if s.restores == step.number]
            turns = [state.turn_done(s) for s in later]
            if not any(turn is not None and turn >= state.touched[step.number] for turn in turns):
                how = " or ".join(f"step {s.number}" for s in later)
                yield OpenItem(
                    "not restored",
                    f"{_name(state.card, step)} left open: {step.opens}; "
                    + (f"{how} restores it" if how else "no step of the card restores it"),
                    *here,
                )
        check = state.card.step(step.leak_check) if step.leak_check else None
        if check is not None:
            turn = state.turn_done(check)
            if turn is None or turn < state.touched[step.number]:
                yield OpenItem(
                    "leak check missing",
                    f"{_name(state.card, step)} needs the leak check of step {check.number}",
                    *here,
                )


def _uninspected(
    state: _CardState, inspections: Mapping[str, tuple[Record, ...]]
) -> Iterable[OpenItem]:
    for step in state.card.steps:
        if not step.independent_inspection:
            continue
        for record in state.by_step.get(step.number, {}).values():
            here = (state.card.number, step.number, record.id)
            theirs = inspections.get(record.id, ())
            if not theirs:
                yield OpenItem(
                    "not inspected",
                    f"{_name(state.card, step)}: record {record.id} waits for an independent "
                    "inspection",
                    *here,
                )
                continue
            against = [
                d
                for d in theirs[-1].decisions
                if d.step == step.number and d.kind in ("correct", "reject")
            ]
            if against:
                what = "; ".join(place(state.card, d.key) for d in against)
                yield OpenItem(
                    "inspection disagrees",
                    f"{_name(state.card, step)}: the inspection {theirs[-1].id} of record "
                    f"{record.id} differs in {what}",
                    *here,
                )


def _following(state: _CardState) -> Iterable[OpenItem]:
    for key, standing in state.standing.items():
        decision = standing.decision
        here = (state.card.number, key[0], standing.record.id)
        name = f"card {state.card.number} {place(state.card, key)}"
        if decision.follow_up == "deferred" and decision.reference:
            yield OpenItem("deferred", f"{name} is deferred, {decision.reference}", *here, False)
        elif decision.follow_up is not None:
            reference = f", {decision.reference}" if decision.reference else ""
            yield OpenItem("follow-up open", f"{name}: {decision.follow_up}{reference}", *here)
        elif failing(decision):
            yield OpenItem("follow-up open", f"{name} failed and nothing follows from it", *here)


def open_items(
    cards: Iterable[Card], notes: Iterable[Note], records: Iterable[Record]
) -> tuple[OpenItem, ...]:
    """Everything open on a work order.

    `cards` are those of the order in the revision last used, `notes` its open notes,
    `records` all of its records in the order of signing, superseded ones included.
    """
    records = tuple(records)
    replaced = {record.supersedes for record in records if record.supersedes}
    turns: dict[str, int] = {}
    work: dict[str, list[tuple[int, Record]]] = {}
    inspections: dict[str, tuple[Record, ...]] = {}
    for number, record in enumerate(records):
        turns[record.id] = turns.get(record.supersedes or "", number)
        if record.inspects:
            inspections[record.inspects] = (*inspections.get(record.inspects, ()), record)
        elif record.id not in replaced:
            work.setdefault(record.card, []).append((turns[record.id], record))
    items = [
        OpenItem(
            "note not decided",
            f"note {note.id} by {note.by} waits for a reviewer",
            note.draft.card,
            note.draft.step,
            note.id,
        )
        for note in notes
    ]
    for card in cards:
        ordered = sorted(work.get(card.number, ()), key=lambda pair: pair[0])
        state = _CardState(card, ordered)
        for part in (_undone(state), _unrestored(state), _following(state)):
            items += part
        items += _uninspected(state, inspections)
    return tuple(items)
