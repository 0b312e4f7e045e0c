"""What stands on a record sheet: one work order, for whoever files or audits it.

In the order in which questions are asked: which job, on what, by which data; does anything
need attention; then each record, step by step: value, limits, verdict, what was corrected,
who did, confirmed and inspected it, and how to prove that the sheet shows what was signed.
"""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

from reportlab.lib import colors
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer, Table

from voicelog import wire
from voicelog.export.fonts import BOLD, CODE, CODE_BOLD, TEXT, marked_up
from voicelog.export.line import LONG, Line, Order, failed, limits_text, lines, moment, result
from voicelog.export.line import struck_out as struck
from voicelog.export.paper import INNER, RULE, TINT, QrCode, para, rich
from voicelog.export.ucum import printed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.export.rows import Entry
    from voicelog.records import OpenItem

_COLUMNS = (58 * mm, 32 * mm, 22 * mm, 34 * mm, INNER - 146 * mm)
_HEADS = ("Field", "Value", "Unit", "Limits", "Result")

_PLAIN: list[tuple[Any, ...]] = [
    ("FONTNAME", (0, 0), (-1, -1), TEXT),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 3),
    ("RIGHTPADDING", (0, 0), (-1, -1), 3),
    ("TOPPADDING", (0, 0), (-1, -1), 1.6),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2.4),
]
_HEADED = [*_PLAIN, ("LINEBELOW", (0, 0), (-1, 0), 0.8, colors.black)]


def _code(text: str) -> str:
    return f'<font face="{CODE}">{marked_up(text)}</font>'


def _grouped(digest: str) -> str:
    """A digest in groups of eight, which can be compared by eye."""
    return " ".join(digest[at : at + 8] for at in range(0, len(digest), 8))


# --- values -------------------------------------------------------------------------


def _heads() -> list[Flowable]:
    return [para(head, "right label" if head == "Value" else "label") for head in _HEADS]


def _value(line: Line, *, superseded: bool) -> Flowable:
    """The value that stands, below what was struck out; a text may be as wide as the row.

    Figures of an identifier have a slashed zero; a number has none, it can't hold an O.
    """
    if line.long:
        return para("see below", "label")
    light, bold = (TEXT, BOLD) if line.is_number else (CODE, CODE_BOLD)
    parts = [f'<font face="{light}">{earlier}</font>' for earlier in line.struck()]
    if line.value and superseded:
        parts.append(f'<font face="{light}">{struck(line.value)}</font>')
    elif line.value:
        parts.append(f'<font face="{bold}">{marked_up(line.value)}</font>')
    return rich("<br/>".join(parts), "number" if line.is_number else "value")


def _cells(line: Line, *, superseded: bool) -> list[Any]:
    words, inverse = result(line.decision, line.of_card)
    return [
        para(line.label),
        _value(line, superseded=superseded),
        para(printed(line.decision.unit) if line.value else ""),
        para(limits_text(line.of_card)),
        para(words, "inverse" if inverse and not superseded else "text"),
    ]


def _row_style(line: Line, at: int, *, superseded: bool) -> Iterator[tuple[Any, ...]]:
    out = failed(line.decision) and not superseded
    if line.struck():
        yield "VALIGN", (2, at), (-1, at), "BOTTOM"
    if not line.is_number:
        yield "SPAN", (1, at), (3 if result(line.decision, line.of_card)[0] else -1, at)
    if out:
        yield "BACKGROUND", (4, at), (4, at), colors.black
        yield "BOX", (1, at), (2 if line.is_number else 3, at), 1.4, colors.black


def _table(step: list[Line], *, superseded: bool) -> Iterator[Flowable]:
    """The values of one step; a long text interrupts the table and runs over the full width."""
    data: list[list[Any]] = [_heads()]
    style: list[tuple[Any, ...]] = list(_HEADED)
    heads = 1
    for line in step:
        at = len(data)
        data.append(_cells(line, superseded=superseded))
        style += _row_style(line, at, superseded=superseded)
        notes = "<br/>".join(line.notes())
        long = len(notes) > 4 * LONG
        if notes and not long:
            data.append([rich(notes, "small"), "", "", "", ""])
            style += [
                ("SPAN", (0, at + 1), (-1, at + 1)),
                ("LEFTPADDING", (0, at + 1), (0, at + 1), 4 * mm),
                ("TOPPADDING", (0, at + 1), (-1, at + 1), 0),
                ("NOSPLIT", (0, at), (0, at + 1)),
            ]
        end = len(data) - 1
        style.append(("LINEBELOW", (0, end), (-1, end), 0.3, RULE))
        if line.long or long:
            yield _values_table(data, style, heads)
            if line.long:
                yield rich(struck(line.value) if superseded else marked_up(line.value))
            if long:
                yield rich(notes, "small")
            yield Spacer(0, 2 * mm)
            data, style, heads = [], list(_PLAIN), 0
    if len(data) > heads:
        yield _values_table(data, style, heads)


def _values_table(data: list[list[Any]], style: list[tuple[Any, ...]], heads: int) -> Flowable:
    return Table(
        data, colWidths=_COLUMNS, style=style, repeatRows=heads, hAlign="LEFT", splitInRow=1
    )


# --- one record ---------------------------------------------------------------------


def _heading(entry: Entry) -> Flowable:
    record = entry.record
    words = "Record"
    says = []
    if record.inspects:
        words = "Independent inspection"
        says.append(f"of record {record.inspects}")
    if record.supersedes:
        says.append(f"corrects record {record.supersedes}")
    left = rich(f"{words}&nbsp; {_code(record.id)}", "heading")
    style = [
        *_PLAIN,
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LINEABOVE", (0, 0), (-1, 0), 1.6, colors.black),
        ("BACKGROUND", (0, 0), (-1, 0), TINT),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
    ]
    if entry.superseded_by:
        right = para(f"SUPERSEDED by record {entry.superseded_by}", "inverse")
        style.append(("BACKGROUND", (1, 0), (1, 0), colors.black))
    else:
        right = para("; ".join(says), "right")
    return Table(
        [[left, right]], colWidths=(INNER * 0.56, INNER * 0.44), style=style, hAlign="LEFT"
    )


def _inspection(entry: Entry, order: Order) -> tuple[str, bool]:
    """Mark-up on the independent inspection of a record; and whether it is still missing."""
    record = entry.record
    done = [other.record for other in order.entries if other.record.inspects == record.id]
    if done:
        return "<br/>".join(
            f"<b>{marked_up(other.signature.name)}</b> ({marked_up(other.signature.by)})<br/>"
            f"{marked_up(other.signature.certificate)}<br/>"
            f"{moment(other.signature.at)}<br/>record {_code(other.id)}"
            for other in done
        ), False
    if record.to_inspect:
        return f"NOT YET DONE<br/>step {marked_up(', '.join(record.to_inspect))} asks for it", True
    return "not asked for by the card", False


def _signatures(entry: Entry, order: Order) -> Flowable:
    record, signature = entry.record, entry.record.signature
    boxes = [
        (
            "Work done by" if record.inspects else "Measured and dictated by",
            f"<b>{marked_up(order.person(record.performed_by))}</b><br/>"
            f"{moment(record.performed_at)}",
        ),
        (
            f"Signed: {signature.meaning}",
            f"<b>{marked_up(signature.name)}</b> ({marked_up(signature.by)})<br/>"
            f"{marked_up(signature.certificate) or 'no certificate registered'}<br/>"
            f"{moment(signature.at)}",
        ),
    ]
    style = [
        *_PLAIN,
        ("BOX", (0, 0), (-1, -1), 0.8, colors.black),
        ("INNERGRID", (0, 0), (-1, -1), 0.3, RULE),
        ("TOPPADDING", (0, 0), (-1, -1), 3),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
    ]
    missing = False
    if not record.inspects:
        words, missing = _inspection(entry, order)
        boxes.append(("Inspected independently by", words))
        if missing:
            style.append(("BACKGROUND", (2, 0), (2, 0), colors.black))
    cells = [[para(head, "label"), rich(words)] for head, words in boxes]
    if missing:
        cells[2] = [para(boxes[2][0], "inverse"), rich(boxes[2][1], "inverse")]
    return Table([cells], colWidths=[INNER / len(cells)] * len(cells), style=style, hAlign="LEFT")


def _proof(entry: Entry) -> Flowable:
    """Id and digest as text and as a QR code, and where the record comes from."""
    record = entry.record
    digest = wire.digest(record)
    said = [
        f"Record {_code(record.id)}",
        f"SHA-256 {_code(_grouped(digest))}",
        f"Signed content, SHA-256 {_code(_grouped(record.signature.digest))}",
    ]
    if record.audio:
        takes = ", ".join(sha256[:16] for sha256 in record.audio)
        said.append(f"Recordings, first 16 digits of SHA-256: {_code(takes)}")
    said.append(f"Transcript by {marked_up(record.model)}" if record.model else "")
    if record.keep_until:
        said.append(f"To be kept until {record.keep_until.isoformat()}")
    size = 25 * mm
    text = rich("<br/>".join(filter(None, said)), "small")
    code = QrCode(f"voicelog record {record.id} sha256 {digest}", size)
    return Table(
        [[text, code]],
        colWidths=(INNER - size - 6, size + 6),
        style=[*_PLAIN, ("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("ALIGN", (1, 0), (1, 0), "RIGHT")],
        hAlign="LEFT",
    )


def _record(entry: Entry, order: Order) -> Iterator[Flowable]:
    record = entry.record
    card = f"Task card {record.card}, {record.title}, revision {record.revision}; {record.source}"
    top: list[Flowable] = [_heading(entry), Spacer(0, 1 * mm), para(card, "small")]
    superseded = entry.superseded_by is not None
    for number, group in groupby(lines(entry, order), key=lambda line: line.decision.step):
        step = entry.step(number)
        title = f"Step {number}" + (f" · {step.title}" if step else "")
        body = list(_table(list(group), superseded=superseded))
        yield CondPageBreak(58 * mm)
        yield from top
        yield Spacer(0, 2.2 * mm)
        yield para(title, "step")
        yield from body
        top = []
    yield from top
    yield Spacer(0, 1.5 * mm)
    if record.why:
        yield rich(f"<b>Why it was corrected:</b> {marked_up(record.why)}", "small")
    for reason in record.warnings:
        yield rich(f"<b>Doubt about the dictation:</b> {marked_up(reason.sentence)}", "small")
    for sentence in record.resolutions:
        yield rich(f"<b>Resolved before signing:</b> {marked_up(sentence)}", "small")
    if record.unplaced:
        texts = "; ".join(f"“{mention.text}”" for mention in record.unplaced)
        yield rich(f"<b>Said, and placed in no field:</b> {marked_up(texts)}", "small")
    if record.transcript:
        yield rich(f"<b>As heard:</b> {marked_up(record.transcript)}", "small")
    yield Spacer(0, 2 * mm)
    yield KeepTogether([_signatures(entry, order), Spacer(0, 1 * mm), _proof(entry)])
    yield Spacer(0, 5 * mm)


# --- the whole sheet ----------------------------------------------------------------


def _distinct(texts: list[str]) -> str:
    return "\n".join(dict.fromkeys(text for text in texts if text))


def _facts(order: Order) -> Flowable:
    records = [entry.record for entry in order.entries]
    done = sorted(record.performed_at for record in records)
    signed = sorted(record.signature.at for record in records)
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
            *_PLAIN,
            ("LINEBELOW", (0, 0), (-1, -1), 0.3, RULE),
            ("LINEABOVE", (0, 0), (-1, 0), 0.8, colors.black),
        ],
        hAlign="LEFT",
        splitInRow=1,
    )


def _span(first: str, last: str) -> str:
    return first if first == last else f"{first}\nto {last}"


def _tally(order: Order) -> Flowable:
    """Five counts that tell at a glance whether anything needs a look."""
    current = [entry for entry in order.entries if not entry.superseded_by]
    every = [line for entry in current for line in lines(entry, order)]
    outside = sum(line.decision.limit in ("below", "above") for line in every)
    bad = sum(failed(line.decision) for line in every) - outside
    counts = (
        (len(current), "records" if len(current) != 1 else "record", False),
        (sum(line.value != "" for line in every), "values", False),
        (outside, "outside limits", True),
        (bad, "failed checks" if bad != 1 else "failed check", True),
        (sum(bool(line.struck()) for line in every), "corrected", False),
        (len(order.open_items), "open items" if len(order.open_items) != 1 else "open item", True),
    )
    style = [*_PLAIN, ("INNERGRID", (0, 0), (-1, -1), 0.3, RULE),
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
    return Table([cells], colWidths=[INNER / len(cells)] * len(cells), style=style, hAlign="LEFT")


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
            record.performed_at,
            record.signature.at,
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
        para(order.number, "title"),
        *([para(order.title, "text")] if order.title else []),
        Spacer(0, 3 * mm),
        _facts(order),
        Spacer(0, 3 * mm),
        _tally(order),
        Spacer(0, 4 * mm),
        *_open_items(order.open_items),
        Spacer(0, 5 * mm),
        *(flowable for entry in _in_order(order) for flowable in _record(entry, order)),
    ]
