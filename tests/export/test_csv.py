"""CSV opened again with csv and pandas says what the store says."""

from __future__ import annotations

import csv
import json
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING

import pytest

from tests.export.scene import HOSTILE, said
from voicelog.export.rows import COLUMNS, Row
from voicelog.export.text import unguarded, visible
from voicelog.objects import Ratio
from voicelog.records import Filter

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.export.scene import Site
    from voicelog.objects import Decision, Value


def read(folder: Path) -> list[dict[str, str]]:
    with (folder / "values.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, strict=True))


def again(row: dict[str, str]) -> Value | None:
    """The value as a reader of the documented header has it back."""
    text = row["value"]
    match row["value_type"]:
        case "":
            return None
        case "number":
            return Decimal(text)
        case "ratio":
            return Ratio(Decimal(text), Decimal(row["reference"]))
        case "date":
            return date.fromisoformat(text)
    return unguarded(text)


def stored(site: Site, **conditions: str) -> list[Decision]:
    wanted = Filter(newest_first=False, **conditions)  # type: ignore[arg-type]
    return [d for record in site.store.records.search(wanted) for d in record.decisions]


def test_values_types_and_units_come_back(worked: Site, exported: Callable[..., Path]) -> None:
    table = read(exported(worked, "csv"))
    decisions = stored(worked)
    assert len(table) == len(decisions) > 40
    for row, decision in zip(table, decisions, strict=True):
        assert again(row) == decision.value
        if isinstance(decision.value, Decimal):
            assert row["value"] == str(decision.value)  # the digits, trailing noughts too
        assert (row["unit"] or None, row["verdict"] or None) == (decision.unit, decision.limit)
        assert datetime.fromisoformat(row["decided_at"]) == decision.at
        assert (row["step"], row["field"], row["position"] or None) == decision.key


def test_pandas_reads_the_same(worked: Site, exported: Callable[..., Path]) -> None:
    pandas = pytest.importorskip("pandas")
    folder = exported(worked, "csv")
    frame = pandas.read_csv(folder / "values.csv", dtype=str, keep_default_na=False)
    assert frame.to_dict("records") == read(folder)
    numbers = frame[frame["value_type"] == "number"]
    assert pandas.to_numeric(numbers["value"]).tolist() == [
        float(d.value) for d in stored(worked) if isinstance(d.value, Decimal)
    ]


def test_rfc_4180(worked: Site, exported: Callable[..., Path]) -> None:
    data = (exported(worked, "csv") / "values.csv").read_bytes()
    text = data.decode("utf-8")
    assert not text.startswith("\ufeff")
    assert text.endswith("\r\n")
    assert text.split("\r\n")[0] == ",".join(Row._fields)
    assert text.count("\r\n") == text.count("\r") == len(list(csv.reader(text.splitlines(True))))


def test_the_header_is_documented_beside_it(worked: Site, exported: Callable[..., Path]) -> None:
    folder = exported(worked, "csv")
    table = json.loads((folder / "columns.json").read_text(encoding="utf-8"))
    assert table["@context"][0] == "http://www.w3.org/ns/csvw"
    assert table["url"] == "values.csv"
    described = table["tableSchema"]["columns"]
    assert [column["name"] for column in described] == list(read(folder)[0])
    assert all(column["dc:description"] for column in described)
    assert {column["datatype"] for column in described} == {"string", "decimal", "dateTimeStamp"}
    assert len(described) == len(COLUMNS)


def test_a_negative_number_is_a_number(site: Site, exported: Callable[..., Path]) -> None:
    cold = said("10", "rigging_temperature", Decimal("-5"), "degC")
    site.confirm("48-2250", cold, card=site.store.cards.get("DM-27-20"))
    (row,) = read(exported(site, "csv"))
    assert (row["value"], row["value_type"]) == ("-5", "number")
    assert row["ucum"] == "Cel"


def test_hostile_text(hostile: Site, exported: Callable[..., Path]) -> None:
    for row, text in zip(read(exported(hostile, "csv")), HOSTILE, strict=True):
        assert unguarded(row["value"]) == visible(text)
        for cell in row.values():
            assert cell.lstrip()[:1] not in ("=", "+", "-", "@", "＝")
