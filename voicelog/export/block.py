"""One record on the sheet: its values step by step, who stands for them, and the proof."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from reportlab.lib import colors
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer, Table

from voicelog.export.fonts import CODE, marked_up
from voicelog.export.line import Order, lines, moment
from voicelog.export.paper import INNER, PLAIN, RULE, TINT, QrCode, para, rich
from voicelog.export.rows import worded
from voicelog.export.values import table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.export.rows import Entry

_TOGETHER = 12
_LITTLE = 1500
"""A record of so many values and characters of text is not broken over pages."""
_TAKES = 12
"""Recordings that are named; the other formats name all."""


def _code(text: str) -> str:
    return f'<font face="{CODE}">{marked_up(text)}</font>'


def _grouped(digest: str) -> str:
    """A digest in groups of eight, which can be compared by eye."""
    return " ".join(digest[at : at + 8] for at in range(0, len(digest), 8))


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
        *PLAIN,
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
        [[left, right]],
        colWidths=(INNER * 0.56, INNER * 0.44),
        style=style,
        hAlign="LEFT",
        splitInRow=1,
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
        *PLAIN,
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
    return Table(
        [cells],
        colWidths=[INNER / len(cells)] * len(cells),
        style=style,
        hAlign="LEFT",
        splitInRow=1,
    )


def _proof(entry: Entry) -> Flowable:
    """Id and digest as text and as a QR code, and where the record comes from."""
    record = entry.record
    digest = record.signature.digest
    said = [
        f"Record {_code(record.id)}",
        f"SHA-256 of the signed content {_code(_grouped(digest))}",
    ]
    if record.audio:
        takes = ", ".join(sha256[:16] for sha256 in record.audio[:_TAKES])
        if len(record.audio) > _TAKES:
            takes += f" and {len(record.audio) - _TAKES} more"
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
        style=[*PLAIN, ("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("ALIGN", (1, 0), (1, 0), "RIGHT")],
        hAlign="LEFT",
        splitInRow=1,
    )


def record_block(entry: Entry, order: Order) -> Iterator[Flowable]:
    """A record; a short one stays on one page, values and signatures together."""
    values, end = list(_values(entry, order)), list(_end(entry, order))
    record = entry.record
    texts = [record.transcript, *(worded(d.value) + d.why for d in record.decisions)]
    if len(record.decisions) <= _TOGETHER and sum(map(len, texts)) <= _LITTLE:
        yield KeepTogether([*values, *end])
    else:
        yield CondPageBreak(58 * mm)
        yield from values
        yield KeepTogether(end)
    yield Spacer(0, 5 * mm)


def _values(entry: Entry, order: Order) -> Iterator[Flowable]:
    """Which record, and its values step by step; then the sentences about all of it."""
    record = entry.record
    card = f"Task card {record.card}, {record.title}, revision {record.revision}; {record.source}"
    top: list[Flowable] = [_heading(entry), Spacer(0, 1 * mm), para(card, "small")]
    superseded = entry.superseded_by is not None
    for number, group in groupby(lines(entry, order), key=lambda line: line.decision.step):
        step = entry.step(number)
        title = f"Step {number}" + (f" · {step.title}" if step else "")
        body = list(table(list(group), superseded=superseded))
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


def _end(entry: Entry, order: Order) -> Iterator[Flowable]:
    """Who did, signed and inspected it; and how to prove it."""
    yield Spacer(0, 2 * mm)
    yield _signatures(entry, order)
    yield Spacer(0, 1 * mm)
    yield _proof(entry)
