"""Rows: the documented header and what stands under it."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING

import pytest

from voicelog.export.rows import COLUMNS, Entry, Row, at_limit, rows, worded
from voicelog.objects import Field, Interval, Ratio
from voicelog.records import Filter

if TYPE_CHECKING:
    from tests.export.scene import Site
    from voicelog.objects import Value


def test_every_column_is_documented_in_order() -> None:
    assert tuple(COLUMNS) == Row._fields
    assert all(column.says and column.width > 0 for column in COLUMNS.values())


def test_a_row_holds_what_its_column_says(worked: Site) -> None:
    kinds = {
        "text": (str,),
        "number": (Decimal,),
        "time": (datetime,),
        "value": (str, Decimal, date),
    }
    for record in worked.store.records.search(Filter(state="all")):
        card = worked.store.cards.get(record.card, record.revision)
        made = list(rows(Entry(record, card)))
        assert len(made) == len(record.decisions)
        for row in made:
            for name, cell in row._asdict().items():
                assert cell is None or isinstance(cell, kinds[COLUMNS[name].kind]), name


def test_the_value_is_never_converted_and_keeps_its_digits(worked: Site) -> None:
    record = next(iter(worked.store.records.search(Filter(work_order="48-2213"))))
    made = {
        (r.field, r.position): r for r in rows(Entry(record, worked.store.cards.get(record.card)))
    }
    final = made["final_torque", None]
    assert (final.value, final.unit, final.ucum) == (Decimal("220"), "N*m", "N.m")
    assert (final.limit_min, final.limit_max, final.limit_unit) == (150, 170, "ft*lbf")
    assert final.verdict == "within"
    assert str(made["bolt_torque", "2"].value) == "101.0"
    assert made["bolt_torque", "6"].at_limit == "yes"
    assert made["cal_due", None].value == date(2027, 1, 31)


def test_without_the_card_the_rest_stands(worked: Site) -> None:
    record = next(iter(worked.store.records.search(Filter(work_order="48-2230"))))
    row = next(rows(Entry(record)))
    assert (row.value, row.reference, row.value_type) == (74, 80, "ratio")
    assert (row.label, row.limit_min, row.field_type, row.step_title) == (None,) * 4


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (None, ""),
        (Decimal("0.50"), "0.50"),
        (Decimal("1E+3"), "1000"),
        (Decimal("-40"), "-40"),
        (Ratio(Decimal(74), Decimal(80)), "74 over 80"),
        (Interval(Decimal(20), Decimal("25.0")), "from 20 to 25.0"),
        (Interval(Decimal(95), None), "from 95"),
        (Interval(None, Decimal(5)), "to 5"),
        (date(2026, 11, 30), "2026-11-30"),
        ("007", "007"),
    ],
)
def test_values_in_words(value: Value | None, words: str) -> None:
    assert worded(value) == words


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (Decimal("95"), "N*m", True),
        (Decimal("95.00"), "N*m", True),
        (Decimal("95.1"), "N*m", False),
        (Decimal("95000"), "N*mm", True),
        (Decimal("95"), "mm", False),
        ("pass", None, False),
    ],
)
def test_at_the_limit(value: Value, unit: str | None, expected: bool) -> None:
    field = Field("torque", "Torque", "measurement", "N*m", Decimal(95), Decimal(105))
    assert at_limit(value, unit, field) is expected
