"""review: decide every proposed value in the terminal, then sign exactly what was shown."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated

import typer

from voicelog.cli import shared, tables
from voicelog.cli.shared import Home
from voicelog.errors import EntryError, Incomplete, UnitError

if TYPE_CHECKING:
    from collections.abc import Callable

    from voicelog.objects import Card, Decision, Field, FieldValue, FollowUp, Note
    from voicelog.records import Act, Resolution, Store

    Key = tuple[str, str, str | None]

KINDS = {"a": "accept", "c": "correct", "r": "reject", "n": "not applicable"}
FOLLOW_UPS: dict[str, FollowUp] = {
    "w": "rework",
    "d": "deferred",
    "p": "rejected part",
    "e": "engineering asked",
}


def add_to(app: typer.Typer) -> None:
    """Register the commands of this file."""
    app.command()(review)
    app.command()(inspect)


def review(
    context: typer.Context,
    draft: Annotated[
        str | None, typer.Argument(help="Number of the draft; left out: list those that wait.")
    ] = None,
    by: Annotated[str | None, typer.Option("--by", help="Who decides and signs.")] = None,
    home: Home = None,
) -> None:
    """Confirm, correct or reject each value of a draft; without one, list what waits."""
    from voicelog.records import Confirmation

    with shared.opened(context, home) as store:
        if draft is None:
            _list_queue(store)
            return
        person = by or str(typer.prompt("Who decides and signs", err=True))
        note = store.notes.get(draft)
        card = store.cards.get(note.draft.card, note.draft.revision)
        tables.print_draft(note.draft, card, title=f"Draft {note.id}, work order {note.work_order}")
        desk = _Desk(store, card, person, note.draft.values)
        decisions = desk.decide(_keys(note, card), kept=note.decisions)
        if decisions != note.decisions:
            note = store.notes.decide(note.id, note.version, decisions, by=person)
        _sign(
            store,
            person,
            lambda resolutions: Confirmation(note.id, note.version, decisions, resolutions),
        )


def inspect(
    context: typer.Context,
    record: Annotated[
        str | None, typer.Argument(help="Number of the record; left out: list those that wait.")
    ] = None,
    by: Annotated[str | None, typer.Option("--by", help="Who inspects and signs.")] = None,
    home: Home = None,
) -> None:
    """Inspect independently: a second person decides anew about what a record says."""
    from voicelog.records import Inspection

    with shared.opened(context, home) as store:
        if record is None:
            waiting = [
                {"record": found.id, "work order": found.work_order, "card": found.card}
                for found in store.records.awaiting_inspection()
            ]
            shared.print_rows(waiting, as_json=False)
            return
        person = by or str(typer.prompt("Who inspects and signs", err=True))
        first = store.records.get(record)
        card = store.cards.get(first.card, first.revision)
        asked = {step.number for step in card.steps if step.independent_inspection}
        values = tuple(value for value in first.proposals if value.step in asked)
        keys = tuple(d.key for d in first.decisions if d.step in asked)
        decisions = _Desk(store, card, person, values).decide(keys)
        _sign(store, person, lambda resolutions: Inspection(first.id, decisions, resolutions))


def _list_queue(store: Store) -> None:
    rows = [
        {
            "draft": entry.id,
            "work order": entry.work_order,
            "card": entry.card,
            "step": entry.step or "",
            "by": entry.by,
            "said": f"{entry.created_at:%Y-%m-%d %H:%M}",
            "to look at": str(entry.doubt),
        }
        for entry in store.notes.queue()
    ]
    shared.print_rows(rows, as_json=False)
    if rows:
        typer.echo(f"Decide the first with: voicelog review {rows[0]['draft']} --by PERSON")


def _keys(note: Note, card: Card) -> tuple[Key, ...]:
    """Every field that was proposed or is missing, in the order of the card."""
    wanted = {value.key for value in note.draft.values} | set(note.draft.missing)
    return tuple(
        (step.number, field.name, position)
        for step in card.steps
        for field in step.fields
        for position in field.places
        if (step.number, field.name, position) in wanted
    )


@dataclass(frozen=True, slots=True)
class _Desk:
    """One person going through the fields."""

    store: Store
    card: Card
    person: str
    values: tuple[FieldValue, ...]

    def decide(
        self, keys: tuple[Key, ...], kept: tuple[Decision, ...] = ()
    ) -> tuple[Decision, ...]:
        """One decision a field; decisions of an earlier sitting by the same person stay."""
        before = {decision.key: decision for decision in kept if decision.by == self.person}
        found = [before.get(key) or self._one(key) for key in keys]
        return tuple(decision for decision in found if decision is not None)

    def _one(self, key: Key) -> Decision | None:
        from voicelog.objects import Decision

        step = self.card.step(key[0])
        field = step.field(key[1]) if step else None
        proposed = [value for value in self.values if value.key == key]
        if field is None or (field.type == "computed" and not proposed):
            return None
        self._show(key, field, proposed)
        kind = self._kind(proposed)
        if kind == "":
            return None
        decision = Decision(*key, KINDS[kind], self.person, self.store.clock.now())  # type: ignore[arg-type]
        if kind == "a":
            chosen = proposed[0] if len(proposed) == 1 else _choose(proposed)
            decision = replace(decision, value=chosen.value, unit=chosen.unit)
        elif kind == "c":
            decision = _typed(decision, field)
        if kind in ("c", "n"):
            decision = replace(decision, why=_ask("  Why"))
        return self._acknowledged(decision, field)

    def _show(self, key: Key, field: Field, proposed: list[FieldValue]) -> None:
        place = f"{key[0]} {field.label}" + (
            f", {field.position_word or 'position'} {key[2]}" if key[2] else ""
        )
        typer.echo(f"\n{place}   {tables.limit_text(field)}".rstrip())
        for value in proposed:
            spoken = f'  said: "{value.as_spoken}"' if value.as_spoken else ""
            shown = tables.value_text(value.value, value.unit)
            typer.echo(f"  {shown}  {tables.verdict_text(value)}{spoken}")
            for reason in value.reasons:
                typer.echo(f"  check: {reason.sentence}")
        if not proposed:
            typer.echo("  nothing was said")

    @staticmethod
    def _kind(proposed: list[FieldValue]) -> str:
        """The key of the decision; Enter accepts only what raises no question."""
        plain = len(proposed) == 1 and not proposed[0].needs_check and not _outside(proposed[0])
        if proposed:
            prompt = "  [a]ccept, [c]orrect, [r]eject, [n]ot applicable"
            default, allowed = ("a" if plain else None), "acrn"
        else:
            prompt, default, allowed = (
                "  [c] enter a value, [n]ot applicable, Enter: open",
                "",
                "cn",
            )
        while True:
            answer = str(
                typer.prompt(prompt, default=default, show_default=plain, err=True)
            ).lower()
            if answer == "" or answer in tuple(allowed):
                return answer

    @staticmethod
    def _acknowledged(decision: Decision, field: Field) -> Decision:
        """`decision` with what follows, when the value that stands is outside its limits."""
        from voicelog import limits

        if decision.kind not in ("accept", "correct") or decision.value is None:
            return decision
        verdict = limits.judge(decision.value, decision.unit, field).verdict
        if verdict not in ("below", "above") and decision.value != "fail":
            return decision
        typer.echo(f"  {tables.VERDICTS.get(verdict or '', 'FAIL')}: what follows?")
        prompt = "  re[w]ork, [d]eferred, rejected [p]art, [e]ngineering asked"
        answer = ""
        while answer not in FOLLOW_UPS:
            answer = _ask(prompt).lower()
        decision = replace(decision, follow_up=FOLLOW_UPS[answer])
        if answer in ("d", "e"):
            decision = replace(decision, reference=_ask("  Reference"))
        return decision


def _outside(value: FieldValue) -> bool:
    return value.limit in ("below", "above") or value.value == "fail"


def _ask(prompt: str) -> str:
    return str(typer.prompt(prompt, err=True)).strip()


def _choose(proposed: list[FieldValue]) -> FieldValue:
    for number, value in enumerate(proposed, 1):
        typer.echo(f"  {number}: {tables.value_text(value.value, value.unit)}")
    number = typer.prompt("  Which one", type=typer_range(1, len(proposed)), err=True)
    return proposed[int(number) - 1]


def typer_range(low: int, high: int) -> Callable[[str], int]:
    """A parser for `typer.prompt` that takes whole numbers from `low` to `high`."""

    def parse(text: str) -> int:
        number = int(text)
        if not low <= number <= high:
            raise ValueError(f"from {low} to {high}")
        return number

    return parse


def _typed(decision: Decision, field: Field) -> Decision:
    from voicelog import entry

    while True:
        try:
            found = entry.parse(field, _ask(f"  Value ({entry.hint(field)})"))
        except (EntryError, UnitError) as error:
            typer.echo(f"  {error}")
        else:
            return replace(decision, value=found.value, unit=found.unit)


def _sign(store: Store, person: str, act: Callable[[tuple[Resolution, ...]], Act]) -> None:
    """Show exactly what would be signed, resolve what blocks, ask for the secret, sign."""
    from voicelog.records import Resolution

    shown = store.records.show(act(()), by=person)
    resolutions = []
    for block in shown.blocks:
        typer.echo(f"\nBlocked: {block.sentence}")
        resolutions.append(Resolution(block.key, _ask("  Why go on in spite of it")))
    final = act(tuple(resolutions))
    if resolutions:
        shown = store.records.show(final, by=person)
    if shown.problems:
        raise Incomplete(
            "not signed; your decisions are kept. " + " ".join(f"- {p}" for p in shown.problems)
        )
    typer.echo(f"\nYou sign, as {person}:")
    for decision in shown.record.decisions:
        value = tables.value_text(decision.value, decision.unit)
        follow = (
            f", {decision.follow_up} {decision.reference}".rstrip() if decision.follow_up else ""
        )
        place = f"{decision.step} {decision.field} {decision.position or ''}".rstrip()
        typer.echo(f"  {place}: {decision.kind} {value}{follow}")
    typer.echo(f"  digest {shown.digest}")
    typer.echo("  Limits are arithmetic; approved data, local rules and licensed staff decide.")
    secret = shared.ask_secret(f"Secret of {person}")
    record = store.records.sign(final, by=person, secret=secret, digest=shown.digest)
    typer.echo(f"Record {record.id} is kept.")
