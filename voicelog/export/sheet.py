"""What stands on a record sheet: one work order, for whoever files or audits it.

In the order in which questions are asked: which job, on what, by which data; does anything
need attention; then each record, step by step: value, limits, verdict, what was corrected,
who did, confirmed and inspected it, and how to prove that the sheet shows what was signed.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from reportlab.lib import colors
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer, Table

from voicelog.export.block import record_block
from voicelog.export.line import Order, failed, lines, moment
from voicelog.export.paper import INNER, PLAIN, RULE, para

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.export.rows import Entry
    from voicelog.records import OpenItem

_WIDE = 30
"""Characters of a work order that are set in the size of a title."""


def _distinct(texts: list[str]) -> str:
    return "\n".join(dict.fromkeys(text for text in texts if text))


def _facts(order: Order) -> Flowable:
    records = [entry.record for entry in order.entries]
    done = sorted((record.performed_at for record in records), key=datetime.timestamp)
    signed = sorted((record.signature.at for record in records), key=datetime.timestamp)
    kept = [record.keep_until for record in records if record.keep_until]
    people = [order.person(record.performed_by) for record in records]
    facts = (
        ("Equipment", _distinct([record.equipment for record in records]) or "not stated"),
        ("Serial number", _distinct([record.serial_number for record in records]) or "not stated"),
        ("Task card", _distinct(
            [f"{record.card} rev {record.revision}, {record.title}" for record in records])),
        ("Approved source", _distinct([record.source for record in records])),
        ("Work done", _span(moment(done[0]), moment(done[-1]))),
        ("Signed", _span(moment(signed[0]), moment(signed[-1]))),
        ("Done by", _distinct(people)),
        ("Work order", "called complete" if order.complete else "open"),
        ("Records kept until", _distinct([max(kept).isoformat()]) if kept else "no date set"),
        ("Signed by", _distinct([
            f"{record.signature.name}, {record.signature.certificate}".rstrip(", ")
            for record in records])),
    )  # fmt: skip
    cells = [[para(name, "label"), para(text, "bold")] for name, text in facts]
    half = len(cells) // 2 * 2
    data = [[*cells[at], *cells[at + 1]] for at in range(0, half, 2)]
    label = 25 * mm
    return Table(
        data,
        colWidths=(label, INNER / 2 - label) * 2,
        style=[
            *PLAIN,
            ("LINEBELOW", (0, 0), (-1, -1), 0.3, RULE),
            ("LINEABOVE", (0, 0), (-1, 0), 0.8, colors.black),
        ],
        hAlign="LEFT",
        splitInRow=1,
    )


def _span(first: str, last: str) -> str:
    return first if first == last else f"{first}\nto {last}"


def _tally(order: Order) -> Flowable:
    """Counts that tell at a glance whether anything needs a look.

    Values are those of the work; what an inspector decided anew counts where it alarms.
    """
    current = [entry for entry in order.entries if not entry.superseded_by]
    every = [line for entry in current for line in lines(entry, order)]
    work = [line for line in every if line.value and not line.entry.record.inspects]
    outside = sum(line.decision.limit in ("below", "above") for line in every)
    bad = sum(failed(line.decision) for line in every) - outside
    counts = (
        (len(current), "records" if len(current) != 1 else "record", False),
        (len(work), "values", False),
        (outside, "outside limits", True),
        (bad, "failed checks" if bad != 1 else "failed check", True),
        (sum(bool(line.struck()) for line in work), "corrected", False),
        (len(order.open_items), "open items" if len(order.open_items) != 1 else "open item", True),
    )
    style = [*PLAIN, ("INNERGRID", (0, 0), (-1, -1), 0.3, RULE),
             ("BOX", (0, 0), (-1, -1), 0.8, colors.black)]  # fmt: skip
    cells = []
    for at, (count, words, alarming) in enumerate(counts):
        alarm = alarming and count > 0
        cells.append(
            [para(str(count), "tally inverse" if alarm else "tally"),
             para(words, "tally label inverse" if alarm else "tally label")]
        )  # fmt: skip
        if alarm:
            style.append(("BACKGROUND", (at, 0), (at, 0), colors.black))
    return Table(
        [cells],
        colWidths=[INNER / len(cells)] * len(cells),
        style=style,
        hAlign="LEFT",
        splitInRow=1,
    )


def _open_items(items: tuple[OpenItem, ...]) -> Iterator[Flowable]:
    yield para("Open items", "heading")
    if not items:
        yield para("None: every step that the cards of this work order ask for is recorded.")
        return
    for number, item in enumerate(items, 1):
        closing = "" if item.blocks else " (does not keep the work order open)"
        yield para(f"{number}. {item.sentence}{closing}")


def _in_order(order: Order) -> list[Entry]:
    """By card and step; an inspection follows what it inspects, an old record its correction."""
    by_id = {entry.record.id: entry for entry in order.entries}
    for entry in order.entries:  # what a record took the place of may not be on the sheet
        if entry.record.supersedes:
            by_id.setdefault(entry.record.supersedes, entry)

    def place(entry: Entry) -> tuple[Any, ...]:
        record = entry.record
        steps = [step.number for step in entry.card.steps] if entry.card else []
        first = record.decisions[0].step if record.decisions else ""
        return (
            record.card,
            record.revision,
            steps.index(first) if first in steps else len(steps),
            record.performed_at.timestamp(),
            record.signature.at.timestamp(),
            record.id,
        )

    def root(entry: Entry) -> Entry:
        seen = set()
        while entry.record.id not in seen:
            seen.add(entry.record.id)
            above = by_id.get(entry.superseded_by or entry.record.inspects or "")
            if above is None:
                break
            entry = above
        return entry

    def key(entry: Entry) -> tuple[Any, ...]:
        depth = 0 if root(entry) is entry else 1 if entry.record.inspects else 2
        return (place(root(entry)), depth, *place(entry))

    return sorted(order.entries, key=key)


def story(order: Order) -> list[Flowable]:
    """All flowables of the sheet."""
    return [
        para("Maintenance record of work order", "label"),
        para(order.number, "title" if len(order.number) <= _WIDE else "heading code"),
        *([para(order.title, "text")] if order.title else []),
        Spacer(0, 3 * mm),
        _facts(order),
        Spacer(0, 3 * mm),
        _tally(order),
        Spacer(0, 4 * mm),
        *_open_items(order.open_items),
        Spacer(0, 5 * mm),
        *(flowable for entry in _in_order(order) for flowable in record_block(entry, order)),
    ]
