"""JSON Lines: valid against the published schema, and exact."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import pytest

from tests.export.scene import HOSTILE
from voicelog import wire
from voicelog.export import jsonl
from voicelog.objects import Ratio
from voicelog.records import Filter

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.export.scene import Site

jsonschema = pytest.importorskip("jsonschema")


def read(folder: Path) -> list[dict[str, Any]]:
    lines = (folder / "records.jsonl").read_bytes().split(b"\n")
    assert lines.pop() == b""
    return [json.loads(line, parse_float=Decimal) for line in lines]


@pytest.fixture(scope="module")
def validator() -> Any:
    schema = json.loads(jsonl.SCHEMA.read_text(encoding="utf-8"))
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    kind = jsonschema.Draft202012Validator
    kind.check_schema(schema)
    return kind(schema, format_checker=kind.FORMAT_CHECKER)


@pytest.mark.parametrize("state", ["current", "superseded", "all"])
def test_every_line_is_valid(
    state: str, worked: Site, exported: Callable[..., Path], validator: Any
) -> None:
    folder = exported(worked, "jsonl", state=state)
    text = (folder / "records.jsonl").read_text(encoding="utf-8")
    for line in text.splitlines():
        validator.validate(json.loads(line))
    assert (folder / "record.schema.json").read_bytes() == jsonl.SCHEMA.read_bytes()


def test_the_schema_refuses_what_is_wrong(worked: Site, validator: Any) -> None:
    record = next(iter(worked.store.records.search(Filter())))
    good = json.loads(jsonl.line(jsonl.Entry(record)))
    validator.validate(good)
    for wrong in (
        {"form": "voicelog-record/2"},
        {"state": "draft"},
        {"values": [{"step": "30"}]},
        {"signature": good["signature"] | {"sha256": "nought"}},
        {"performed_at": 5},
        {"extra": 1},
    ):
        assert list(validator.iter_errors(good | wrong)), wrong
    for name in good:
        assert list(validator.iter_errors({k: v for k, v in good.items() if k != name})), name


def test_every_property_is_described_or_plain(validator: Any) -> None:
    described = [
        name for name, part in validator.schema["properties"].items() if "description" in part
    ]
    assert len(described) > len(validator.schema["properties"]) / 2


def test_values_come_back_exactly(worked: Site, exported: Callable[..., Path]) -> None:
    records = list(worked.store.records.search(Filter(newest_first=False)))
    plain = read(exported(worked, "jsonl"))
    assert [one["id"] for one in plain] == [record.id for record in records]
    for one, record in zip(plain, records, strict=True):
        assert one["signature"]["sha256"] == record.signature.digest
        assert len(one["values"]) == len(record.decisions)
        for value, decision in zip(one["values"], record.decisions, strict=True):
            match decision.value:
                case Decimal():
                    assert Decimal(value["value"]) == decision.value
                    assert value["digits"] == str(decision.value)
                case Ratio(reading, reference):
                    assert value["value"] == {"reading": reading, "reference": reference}
                case _:
                    assert value["value"] == wire.plain_value(decision.value)
            assert (value["unit"], value["verdict"]) == (decision.unit, decision.limit)


def test_ucum_stands_beside_the_unit_as_spoken(worked: Site, exported: Callable[..., Path]) -> None:
    values = [v for one in read(exported(worked, "jsonl")) for v in one["values"]]
    final = next(v for v in values if v["field"] == "final_torque")
    assert (final["unit"], final["ucum"]) == ("N*m", "N.m")
    assert final["limits"] == {
        "min": 150, "max": 170, "unit": "ft*lbf", "ucum": "[ft_i].[lbf_av]",
    }  # fmt: skip
    assert all(v["ucum"] for v in values if v["unit"])


def test_the_proposal_stands_beside_the_decision(
    worked: Site, exported: Callable[..., Path]
) -> None:
    values = [v for one in read(exported(worked, "jsonl")) for v in one["values"]]
    fitted = next(v for v in values if v["field"] == "brake_on")
    assert (fitted["value"], fitted["decision"]) == ("BK-0130", "correct")
    assert fitted["proposal"]["value"] == "BK-0113"
    assert fitted["proposal"]["doubts"]
    assert (fitted["proposal"]["start_s"], fitted["proposal"]["take"]) == (Decimal("1.25"), 0)


def test_hostile_text_stays_as_it_was(
    hostile: Site, exported: Callable[..., Path], validator: Any
) -> None:
    for one, text in zip(read(exported(hostile, "jsonl")), HOSTILE, strict=True):
        validator.validate(one)
        assert one["values"][0]["value"] == text
