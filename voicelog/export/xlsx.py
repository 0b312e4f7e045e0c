"""XLSX with three sheets: records, values, open items. Real numbers, real dates, text as text.

Rows go straight to the disk (constant memory). A number shows the digits that were spoken;
one that a spreadsheet's 15 figures can't hold is written as text, and so is a date before
1900. Times are in UTC, which the header says. A text longer than a cell may be is cut there
and says so; the other formats hold it whole.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from xlsxwriter import Workbook
from xlsxwriter.utility import xl_col_to_name

from voicelog.export.rows import COLUMNS, Cell, Entry, Row, rows
from voicelog.export.text import visible

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from voicelog.records import OpenItem

MOST_ROWS = 1_048_575
"""Data rows of one sheet (2^20 with the header); what is more goes to a further sheet."""

LONGEST_CELL = 32_767
"""Characters that a cell can hold (limit of the file format)."""

_CUT = " … [cut here; {} characters in all, whole in the CSV and JSON Lines exports]"

_DAY_0 = datetime(1899, 12, 30, tzinfo=UTC)
_DAY = timedelta(days=1)
_FIRST_DAY = date(1900, 3, 1)
"""Spreadsheets count days from day 0, and 1900 as a leap year: earlier ones would be wrong."""

_SHORT = 80
"""Texts below this length come again and again: their XML is remembered."""

_ESCAPE = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
"""What a spreadsheet would take for an escaped character (ECMA-376 part 1, 22.9.2.19)."""

VALUES = (
    "work_order", "record", "state", "step", "label", "position", "value", "reference", "unit",
    "ucum", "limit_min", "limit_max", "limit_unit", "verdict", "at_limit", "decision",
    "proposed", "proposed_unit", "doubts", "why", "follow_up", "follow_up_reference",
    "decided_by", "decided_at",
)  # fmt: skip
"""Columns of the sheet of values; what belongs to the whole record stands on the first sheet."""

RECORDS = (
    "record", "state", "work_order", "equipment", "serial_number", "card", "card_title",
    "card_revision", "source", "performed_by", "performed_at", "signature_says", "signed_by",
    "certificate", "signed_at", "inspects", "supersedes", "superseded_by", "signed_sha256",
)  # fmt: skip

_VERDICT = VALUES.index("verdict")
_PROPOSED = VALUES.index("proposed")
_VALUE = tuple(Row._fields.index(name) for name in VALUES)
_RECORD = tuple(Row._fields.index(name) for name in RECORDS)


@dataclass(frozen=True, slots=True)
class _Heading:
    name: str
    width: int
    says: str


def _heading(name: str) -> _Heading:
    column = COLUMNS[name]
    return _Heading(name + (" (UTC)" if column.kind == "time" else ""), column.width, column.says)


OPEN_ITEMS = (
    _Heading("work_order", 16, "Work order"),
    _Heading("kind", 20, "What kind of thing is open"),
    _Heading("sentence", 80, "What is open"),
    _Heading("card", 12, "Number of the task card"),
    _Heading("step", 8, "Number of the step"),
    _Heading("source", 20, "Id of the note or record it comes from"),
    _Heading("blocks", 10, "yes when the work order can't be called complete for it"),
)


class _Sheet:
    """One kind of rows, on as many worksheets as they need."""

    def __init__(self, book: Book, title: str, headings: Sequence[_Heading]) -> None:
        self._book, self._title, self._headings = book, title, headings
        self._columns = [xl_col_to_name(at) for at in range(len(headings))]
        self._number = 0
        self._begin()

    def _begin(self) -> None:
        self._number += 1
        title = self._title if self._number == 1 else f"{self._title} {self._number}"
        self._sheet = self._book.workbook.add_worksheet(title)
        self._sheet.freeze_panes(1, 0)
        self._sheet.set_landscape()
        self._sheet.fit_to_pages(1, 0)
        self._sheet.repeat_rows(0)
        for at, heading in enumerate(self._headings):
            self._sheet.set_column(at, at, heading.width)
            self._sheet.write_string(0, at, heading.name, self._book.bold)
        self._row = 0

    def append(self, cells: Iterable[Cell], mark: int | None = None) -> None:
        """Write one row; the cell number `mark` is set off.

        The row goes to the sheet's file as one piece of XML: cell by cell through the
        library it would take four times as long.
        """
        if self._row == MOST_ROWS:
            self.end()
            self._begin()
        if self._row == 0:
            self._sheet._write_single_row(1)
        self._row += 1
        number = self._row + 1
        written = "".join(
            f'<c r="{column}{number}"{self._book.cell(cell)}'
            if at != mark
            else f'<c r="{column}{number}"{self._book.marked}{self._book.cell(cell)}'
            for at, (column, cell) in enumerate(zip(self._columns, cells, strict=True))
            if cell is not None
        )
        self._sheet.fh.write(f'<row r="{number}">{written}</row>')

    def end(self) -> None:
        last = self._row, len(self._headings) - 1
        if self._row:
            self._sheet._check_dimensions(*last)
            self._sheet.previous_row = self._row
        self._sheet.autofilter(0, 0, max(last[0], 1), last[1])


class Book:
    """A workbook being written; `close` finishes the file."""

    def __init__(self, path: Path) -> None:
        self.workbook = Workbook(str(path), {"constant_memory": True, "tmpdir": str(path.parent)})
        self.bold = self.workbook.add_format({"bold": True, "bottom": 1})
        self.marked = self._style(bold=True, border=2)
        """Attribute of a text that is set off."""
        self._styles: dict[str, str] = {}
        self._last = datetime(2000, 1, 1, tzinfo=UTC)
        self._records = _Sheet(self, "Records", [_heading(name) for name in RECORDS])
        self._values = _Sheet(self, "Values", [_heading(name) for name in VALUES])
        self._open = _Sheet(self, "Open items", OPEN_ITEMS)

    def _style(self, **properties: Any) -> str:
        """The attribute that gives a cell a format."""
        return f' s="{self.workbook.add_format(properties)._get_xf_index()}"'

    def _number(self, pattern: str, number: float) -> str:
        if pattern not in self._styles:
            self._styles[pattern] = self._style(num_format=pattern)
        return f"{self._styles[pattern]}><v>{number!r}</v></c>"

    def cell(self, cell: Cell) -> str:
        """The rest of a cell's XML: as the number, the date or the text that it is."""
        if not isinstance(cell, str):
            match cell:
                case Decimal() if (pattern := number_pattern(str(cell))) is not None:
                    return self._number(pattern, float(cell))
                case datetime():
                    moment = cell if cell.tzinfo else cell.replace(tzinfo=UTC)
                    return self._number("yyyy-mm-dd hh:mm:ss", (moment - _DAY_0) / _DAY)
                case date() if cell >= _FIRST_DAY:
                    return self._number("yyyy-mm-dd", (cell - _DAY_0.date()).days)
            cell = format(cell, "f") if isinstance(cell, Decimal) else str(cell)
        return _short(cell) if len(cell) < _SHORT else _text(cell)

    def add(self, entry: Entry) -> None:
        """One record: a row of the first sheet, and a row of the second for each value."""
        self._last = max(self._last, entry.record.signature.at)
        for at, row in enumerate(rows(entry)):
            if at == 0:
                self._records.append([row[column] for column in _RECORD])
            out = row.verdict in ("below", "above")
            cells = [row[column] for column in _VALUE]
            if row.decision == "accept":  # what was proposed is the value itself
                cells[_PROPOSED] = cells[_PROPOSED + 1] = None
            self._values.append(cells, _VERDICT if out else None)

    def add_open(self, orders: Iterable[tuple[str, tuple[OpenItem, ...]]]) -> None:
        """What is open on work orders: a row each."""
        for number, items in orders:
            for item in items:
                blocks = "yes" if item.blocks else "no"
                self._open.append(
                    (number, item.kind, item.sentence, item.card, item.step, item.source, blocks)
                )

    def close(self) -> None:
        # The last signature, not the clock: the same records give the same bytes.
        self.workbook.set_properties(
            {
                "title": "Maintenance records",
                "comments": "Limits and verdicts are arithmetic, no release.",
                "created": self._last.astimezone(UTC).replace(tzinfo=None, microsecond=0),
            }
        )
        for sheet in (self._records, self._values, self._open):
            sheet.end()
        self.workbook.close()


def _text(text: str) -> str:
    shown = visible(text)
    if len(shown) > LONGEST_CELL:
        note = _CUT.format(len(shown))
        shown = shown[: LONGEST_CELL - len(note)] + note
    keep = ' xml:space="preserve"' if shown != shown.strip() or "\n" in shown else ""
    xml = escape(_ESCAPE.sub("_x005F_", shown))
    return f' t="inlineStr"><is><t{keep}>{xml}</t></is></c>'


_short = lru_cache(maxsize=8192)(_text)


@lru_cache(maxsize=8192)
def number_pattern(digits: str) -> str | None:
    """Number format that shows a number's `digits`; None when a cell can't hold them all.

    By digits, for 101.0 and 101 are equal and don't look it.
    """
    number = Decimal(digits)
    parts = number.as_tuple()
    if not isinstance(parts.exponent, int) or len(parts.digits) > 15:
        return None
    if Decimal(str(float(number))) != number:
        return None
    return "0." + "0" * -parts.exponent if parts.exponent < 0 else "0"
