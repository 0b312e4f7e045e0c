"""Drafts in the terminal: one table a note, so narrow that it fits 100 columns."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.objects import Interval, Ratio

if TYPE_CHECKING:
    from voicelog.objects import Card, Draft, Field, FieldValue, Mention, Value

VERDICTS = {"within": "within limits", "below": "BELOW LIMIT", "above": "ABOVE LIMIT"}


def value_text(value: Value | None, unit: str | None = None) -> str:
    """A value as a person reads it, with its unit as spoken."""
    match value:
        case None:
            text = "-"
        case Ratio(reading, reference):
            text = f"{reading}/{reference}"
        case Interval(low, high):
            text = f"{'' if low is None else low} to {'' if high is None else high}"
        case _:
            text = str(value)
    return f"{text} {unit}" if unit else text


def limit_text(field: Field | None) -> str:
    """The bounds of a field: "95 to 105 N*m", "max 5", or nothing."""
    if field is None or (field.min is None and field.max is None):
        return ""
    if field.min is not None and field.max is not None:
        text = f"{field.min} to {field.max}"
    else:
        text = f"max {field.max}" if field.min is None else f"min {field.min}"
    return f"{text} {field.unit}" if field.unit else text


def verdict_text(value: FieldValue) -> str:
    """The verdict in words, so that nothing depends on colour."""
    if value.limit is None:
        return "FAIL" if value.value == "fail" else ""
    return "at the limit" if value.at_limit else VERDICTS[value.limit]


def place_text(card: Card, value: FieldValue) -> str:
    """ "30 Bolt torque, bolt 4"."""
    field = _field(card, value)
    label = field.label if field else value.field
    if value.position is None:
        return f"{value.step} {label}"
    word = (field.position_word if field else None) or "position"
    return f"{value.step} {label}, {word} {value.position}"


def _field(card: Card, value: FieldValue) -> Field | None:
    step = card.step(value.step)
    return step.field(value.field) if step else None


def seconds_text(value: FieldValue) -> str:
    """The seconds of audio that say the value, or nothing for typed text."""
    if value.start_s is None or value.end_s is None:
        return ""
    return f"{value.start_s:.1f}-{value.end_s:.1f}"


def unplaced_text(mention: Mention) -> str:
    """A mention that found no field."""
    return f"{mention.kind} {mention.text!r}"


def print_draft(draft: Draft, card: Card, title: str | None = None) -> None:
    """Print one note: text, fields against their limits, doubts, and what found no field."""
    from rich import box
    from rich.console import Console
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    if title:
        console.print(Text(title, style="bold"))
    said = " / ".join(take.transcript.text for take in draft.takes)
    console.print(Padding(Text(said, style="italic"), (0, 0, 0, 2)))
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 2, 0, 0))
    for head in ("Field", "Value", "Limit", "Verdict", "Seconds", ""):
        table.add_column(head, overflow="fold")
    for value in draft.values:
        shown = value_text(value.value, value.unit)
        if value.as_found is not None:
            shown += f" (found {value_text(value.as_found)})"
        cells = (
            place_text(card, value),
            shown,
            limit_text(_field(card, value)),
            verdict_text(value),
            seconds_text(value),
            "?" if value.needs_check else "",
        )
        table.add_row(*(Text(cell) for cell in cells))
    remarks = [
        f"? {place_text(card, value)}: {'; '.join(reason.sentence for reason in value.reasons)}"
        for value in draft.values
        if value.needs_check
    ]
    remarks += [f"No field for: {unplaced_text(mention)}" for mention in draft.unplaced]
    remarks += [f"Note: {warning.sentence}" for warning in draft.warnings]
    console.print(table if draft.values else "  No value for any field.")
    for remark in remarks:
        console.print(Padding(Text(remark), (0, 0, 0, 2)))
    console.print()
