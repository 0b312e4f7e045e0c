"""XLSX with three sheets: records, values, open items. Real numbers, real dates, text as text.

Rows go straight to the disk (constant memory). A number shows the digits that were spoken;
one that a spreadsheet's 15 figures can't hold is written as text, and so is a date before
1900. Times are in UTC, which the header says. A text longer than a cell may be is cut there
and says so; the other formats hold it whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

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

_FIRST_DAY = date(1900, 3, 1)
"""Spreadsheets count 1900 as a leap year: earlier days would be shown wrong."""

VALUES = (
    "record", "state", "work_order", "equipment", "serial_number", "card", "card_revision",
    "step", "step_title", "field", "label", "position", "decision", "value", "reference",
    "unit", "ucum", "limit_min", "limit_max", "limit_unit", "verdict", "at_limit", "proposed",
    "proposed_unit", "as_spoken", "doubts", "why", "follow_up", "follow_up_reference",
    "decided_by", "decided_at",
)  # fmt: skip
"""Columns of the sheet of values; what belongs to the whole record stands on the first sheet."""

RECORDS = (
    "record", "state", "work_order", "equipment", "serial_number", "card", "card_title",
    "card_revision", "source", "performed_by", "performed_at", "signature_says", "signed_by",
    "certificate", "signed_at", "inspects", "supersedes", "superseded_by", "record_sha256",
)  # fmt: skip

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
        """Write one row; the cell number `mark` is set off."""
        if self._row == MOST_ROWS:
            self.end()
            self._begin()
        self._row += 1
        for at, cell in enumerate(cells):
            if cell is not None:
                self._book.put(self._sheet, self._row, at, cell, marked=at == mark)

    def end(self) -> None:
        self._sheet.autofilter(0, 0, max(self._row, 1), len(self._headings) - 1)


class Book:
    """A workbook being written; `close` finishes the file."""

    def __init__(self, path: Path) -> None:
        import xlsxwriter

        self.workbook = xlsxwriter.Workbook(
            str(path),
            {
                "constant_memory": True,
                "tmpdir": str(path.parent),
                "strings_to_formulas": False,
                "strings_to_numbers": False,
                "strings_to_urls": False,
            },
        )
        self.bold = self.workbook.add_format({"bold": True, "bottom": 1})
        self._marked = self.workbook.add_format({"bold": True, "border": 2})
        self._formats: dict[str, Any] = {}
        self._last = datetime(2000, 1, 1, tzinfo=UTC)
        self._records = _Sheet(self, "Records", [_heading(name) for name in RECORDS])
        self._values = _Sheet(self, "Values", [_heading(name) for name in VALUES])
        self._open = _Sheet(self, "Open items", OPEN_ITEMS)

    def _format(self, pattern: str) -> Any:
        if pattern not in self._formats:
            self._formats[pattern] = self.workbook.add_format({"num_format": pattern})
        return self._formats[pattern]

    def put(self, sheet: Any, row: int, at: int, cell: Cell, *, marked: bool = False) -> None:
        """Write one cell as what it is."""
        match cell:
            case str():
                sheet.write_string(row, at, _fitted(cell), self._marked if marked else None)
            case Decimal():
                pattern = number_pattern(cell)
                if pattern is None:
                    sheet.write_string(row, at, format(cell, "f"))
                else:
                    sheet.write_number(row, at, float(cell), self._format(pattern))
            case datetime():
                moment = cell.astimezone(UTC).replace(tzinfo=None)
                sheet.write_datetime(row, at, moment, self._format("yyyy-mm-dd hh:mm:ss"))
            case date() if cell >= _FIRST_DAY:
                sheet.write_datetime(row, at, cell, self._format("yyyy-mm-dd"))
            case date():
                sheet.write_string(row, at, cell.isoformat())

    def add(self, entry: Entry) -> None:
        """One record: a row of the first sheet, and a row of the second for each value."""
        self._last = max(self._last, entry.record.signature.at)
        for at, row in enumerate(rows(entry)):
            if at == 0:
                self._records.append([row[column] for column in _RECORD])
            out = row.verdict in ("below", "above")
            self._values.append([row[column] for column in _VALUE], _VERDICT if out else None)

    def add_open(self, work_order: str, items: Iterable[OpenItem]) -> None:
        """What is open on a work order."""
        for item in items:
            blocks = "yes" if item.blocks else "no"
            self._open.append(
                (work_order, item.kind, item.sentence, item.card, item.step, item.source, blocks)
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


_VERDICT = VALUES.index("verdict")


def _fitted(text: str) -> str:
    shown = visible(text)
    if len(shown) <= LONGEST_CELL:
        return shown
    note = _CUT.format(len(shown))
    return shown[: LONGEST_CELL - len(note)] + note


def number_pattern(number: Decimal) -> str | None:
    """Number format that shows the digits of `number`; None when a cell can't hold them all."""
    digits, exponent = number.as_tuple().digits, number.as_tuple().exponent
    if not isinstance(exponent, int) or len(digits) > 15 or Decimal(str(float(number))) != number:
        return None
    return "0." + "0" * -exponent if exponent < 0 else "0"
