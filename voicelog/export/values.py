"""The values of one step as a table: field, value, unit, limits, result; notes below each."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reportlab.lib import colors
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer, Table

from voicelog.export.fonts import BOLD, CODE, CODE_BOLD, TEXT, marked_up
from voicelog.export.line import LONG, Line, failed, limits_text, result
from voicelog.export.line import struck_out as struck
from voicelog.export.paper import INNER, PLAIN, RULE, para, rich
from voicelog.export.ucum import printed

if TYPE_CHECKING:
    from collections.abc import Iterator

_COLUMNS = (58 * mm, 32 * mm, 22 * mm, 34 * mm, INNER - 146 * mm)
_HEADS = ("Field", "Value", "Unit", "Limits", "Result")
_HEADED = [*PLAIN, ("LINEBELOW", (0, 0), (-1, 0), 0.8, colors.black)]


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


def table(step: list[Line], *, superseded: bool) -> Iterator[Flowable]:
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
            yield _finished(data, style, heads)
            if line.long:
                text = struck(line.value) if superseded else marked_up(line.value)
                yield rich(f'<font face="{CODE}">{text}</font>', "long text")
            if long:
                yield rich(notes, "long note")
            yield Spacer(0, 2 * mm)
            data, style, heads = [], list(PLAIN), 0
    if len(data) > heads:
        yield _finished(data, style, heads)


def _finished(data: list[list[Any]], style: list[tuple[Any, ...]], heads: int) -> Flowable:
    return Table(
        data, colWidths=_COLUMNS, style=style, repeatRows=heads, hAlign="LEFT", splitInRow=1
    )
