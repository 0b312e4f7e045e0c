"""XLSX opened again with openpyxl and pandas says what the store says."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import pytest

from tests.export.scene import HOSTILE, remark, said
from voicelog.export import xlsx
from voicelog.export.text import visible
from voicelog.objects import Ratio
from voicelog.records import Filter

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.export.scene import Site

openpyxl = pytest.importorskip("openpyxl")


def book(folder: Path) -> Any:
    return openpyxl.load_workbook(folder / "records.xlsx")


def table(sheet: Any) -> list[dict[str, Any]]:
    names, *rows = sheet.iter_rows(values_only=True)
    return [dict(zip(names, row, strict=True)) for row in rows]


def test_three_sheets_with_frozen_headers_filters_and_widths(
    worked: Site, exported: Callable[..., Path]
) -> None:
    workbook = book(exported(worked, "xlsx"))
    assert workbook.sheetnames == ["Records", "Values", "Open items"]
    for sheet in workbook:
        assert sheet.freeze_panes == "A2"
        last = sheet.cell(sheet.max_row, sheet.max_column).coordinate
        assert sheet.auto_filter.ref == f"A1:{last}"
        assert all(cell.font.bold for cell in sheet[1])
        assert all(column.width >= 6 for column in sheet.column_dimensions.values())
        assert sheet.max_row > 1


def test_values_types_and_units_come_back(worked: Site, exported: Callable[..., Path]) -> None:
    values = table(book(exported(worked, "xlsx"))["Values"])
    decisions = [
        (record, decision)
        for record in worked.store.records.search(Filter(newest_first=False))
        for decision in record.decisions
    ]
    assert len(values) == len(decisions)
    for row, (record, decision) in zip(values, decisions, strict=True):
        assert row["record"] == record.id
        match decision.value:
            case Decimal():
                assert isinstance(row["value"], (int, float))
                assert Decimal(str(row["value"])) == decision.value
            case Ratio(reading, reference):
                assert (row["value"], row["reference"]) == (reading, reference)
            case date():
                assert row["value"] == datetime.combine(decision.value, datetime.min.time())
            case _:
                assert row["value"] == decision.value
        assert (row["unit"], row["verdict"]) == (decision.unit, decision.limit)
        assert row["decided_at (UTC)"] == decision.at.astimezone(UTC).replace(tzinfo=None)


def test_a_number_shows_the_digits_that_were_spoken(
    worked: Site, exported: Callable[..., Path]
) -> None:
    sheet = book(exported(worked, "xlsx"))["Values"]
    column = [cell.value for cell in sheet[1]].index("value")
    shown = {row[column].value: row[column].number_format for row in sheet.iter_rows(min_row=2)}
    assert shown[101] == "0.0"
    assert shown[0.25] == "0.00"
    assert shown[98] == "0"


def test_equal_numbers_that_look_different(site: Site, exported: Callable[..., Path]) -> None:
    spoken = ("100", "100.0", "100.00")
    site.confirm(
        "W",
        *(said("30", "bolt_torque", Decimal(n), "N*m", str(at)) for at, n in enumerate(spoken, 1)),
    )
    sheet = book(exported(site, "xlsx"))["Values"]
    column = [cell.value for cell in sheet[1]].index("value")
    formats = [row[column].number_format for row in sheet.iter_rows(min_row=2)]
    assert formats == ["0", "0.0", "0.00"]


def test_pandas_reads_the_same(worked: Site, exported: Callable[..., Path]) -> None:
    pandas = pytest.importorskip("pandas")
    folder = exported(worked, "xlsx")
    frames = pandas.read_excel(folder / "records.xlsx", sheet_name=None)
    assert list(frames) == ["Records", "Values", "Open items"]
    values = frames["Values"]
    bolts = values[(values["label"] == "Bolt torque") & (values["record"] == "R-000005")]
    assert bolts["value"].tolist() == [98, 101.0, 102, 96, 99, 105, 97.5, 100]
    assert set(bolts["unit"]) == {"N*m"}
    assert set(bolts["ucum"]) == {"N.m"}
    signed = pandas.to_datetime(frames["Records"]["signed_at (UTC)"])
    assert signed.iloc[0] == datetime(2026, 11, 20, 8, 21)  # noqa: DTZ001 — the header says UTC


def test_open_items(worked: Site, exported: Callable[..., Path]) -> None:
    rows = table(book(exported(worked, "xlsx"))["Open items"])
    for number in ("48-2213", "48-2230"):
        mine = [row["sentence"] for row in rows if row["work_order"] == number]
        assert mine == [item.sentence for item in worked.store.orders.status(number).items]


def test_one_work_order_is_looked_at_once(
    worked: Site, exported: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicelog.export._BEHIND", 0)
    rows = table(book(exported(worked, "xlsx"))["Open items"])
    assert len(rows) == sum(
        len(worked.store.orders.status(number).items) for number in ("48-2213", "48-2230")
    )


def test_nothing_is_a_formula(hostile: Site, exported: Callable[..., Path]) -> None:
    workbook = book(exported(hostile, "xlsx"))
    assert not [
        cell for sheet in workbook for row in sheet for cell in row if cell.data_type == "f"
    ]
    for row, text in zip(table(workbook["Values"]), HOSTILE, strict=True):
        shown = row["value"].replace("_x005F_x0041_", "_x0041_")  # openpyxl leaves the escape
        assert shown == visible(text)


def test_a_text_longer_than_a_cell_is_cut_and_says_so(
    site: Site, exported: Callable[..., Path]
) -> None:
    remark(site, "long " * 8000)
    value = table(book(exported(site, "xlsx"))["Values"])[0]["value"]
    assert len(value) == xlsx.LONGEST_CELL
    assert re.search(r"cut here; \d{5} characters in all", value)


@pytest.mark.parametrize(
    ("number", "pattern"),
    [
        ("98", "0"),
        ("-5", "0"),
        ("0.50", "0.00"),
        ("1E+3", "0"),
        ("123456789012345", "0"),
        ("1234567890123456", None),
        ("0.1234567890123456", None),
        ("1E+400", None),
        ("1E-400", None),
    ],
)
def test_numbers_that_a_cell_can_hold(number: str, pattern: str | None) -> None:
    assert xlsx.number_pattern(number) == pattern


def test_a_number_too_fine_for_a_cell_is_text(site: Site, exported: Callable[..., Path]) -> None:
    fine = Decimal("100.00000000000000001")
    site.confirm("W", said("30", "bolt_torque", fine, "N*m", "1"))
    assert table(book(exported(site, "xlsx"))["Values"])[0]["value"] == str(fine)


def test_a_date_before_the_spreadsheet_s_calendar_is_text(
    site: Site, exported: Callable[..., Path]
) -> None:
    site.confirm("W", said("30", "cal_due", date(1899, 5, 1)), said("30", "wrench", "TW-1"))
    assert "1899-05-01" in [row["value"] for row in table(book(exported(site, "xlsx"))["Values"])]


def test_more_rows_than_a_sheet_holds_go_to_the_next(
    worked: Site, exported: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = table(book(exported(worked, "xlsx"))["Values"])
    monkeypatch.setattr(xlsx, "MOST_ROWS", 20)
    workbook = book(exported(worked, "xlsx"))
    parts = [sheet for sheet in workbook if sheet.title.startswith("Values")]
    assert [part.title for part in parts] == ["Values", "Values 2", "Values 3"]
    assert [row for part in parts for row in table(part)] == whole
    assert all(part.freeze_panes == "A2" and part.auto_filter.ref for part in parts)


def test_a_value_outside_its_limits_is_set_off(worked: Site, exported: Callable[..., Path]) -> None:
    sheet = book(exported(worked, "xlsx"))["Values"]
    column = [cell.value for cell in sheet[1]].index("verdict")
    verdicts = [row[column] for row in sheet.iter_rows(min_row=2)]
    bold = {cell.value for cell in verdicts if cell.font.bold}
    assert bold == {"below", "above"}
