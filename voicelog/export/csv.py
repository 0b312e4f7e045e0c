"""CSV as in RFC 4180: UTF-8, comma, CR LF, one header row, one row a value of a field.

The header is described in `columns.json`, which travels with the file (CSV on the Web, W3C
Recommendation 2015). Text cells are `text.guarded`; numbers and dates are bare.
"""

from __future__ import annotations

import csv
import json
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from voicelog.export.rows import COLUMNS, Cell, Row
from voicelog.export.text import guarded

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import TextIO

_DATATYPES = {"text": "string", "value": "string", "number": "decimal", "time": "dateTimeStamp"}


def _cell(cell: Cell) -> str:
    match cell:
        case str():
            return guarded(cell)
        case None:
            return ""
        case Decimal():
            return format(cell, "f")
        case datetime() | date():
            return cell.isoformat()


def write(file: TextIO, rows: Iterable[Row]) -> None:
    """The header and a line a row; `file` is opened with newline=""."""
    writer = csv.writer(file)
    writer.writerow(Row._fields)
    writer.writerows(map(_cell, row) for row in rows)


def description(file: str) -> dict[str, Any]:
    """What each column of `file` holds, as CSV on the Web metadata."""
    return {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "url": file,
        "dialect": {"encoding": "utf-8", "delimiter": ",", "header": True},
        "rdfs:comment": (
            "One row for each value of a field. A text cell that a spreadsheet could take for a"
            " formula begins with an apostrophe, and so does one that began with an apostrophe:"
            " take one leading apostrophe away from a text cell to have the text as it was. A"
            " number is never quoted so. Control characters and marks that turn the direction"
            " of writing are spelt out, such as ‹U+202E›. Read every column as text first:"
            " serial numbers keep their leading zeros only then."
        ),
        "tableSchema": {
            "columns": [
                {
                    "name": name,
                    "titles": name,
                    "datatype": _DATATYPES[column.kind],
                    "dc:description": column.says,
                }
                for name, column in COLUMNS.items()
            ]
        },
    }


def description_file(file: str) -> bytes:
    """`description` as a JSON file."""
    return (json.dumps(description(file), indent=2, ensure_ascii=False) + "\n").encode()
