"""The bench of a full store makes a home that verifies, and measures real acts on it."""

from __future__ import annotations

from pathlib import Path

from voicelog.bench import store
from voicelog.records import Filter, Store


def test_a_generated_home_is_genuine_and_is_found_in(tmp_path: Path) -> None:
    result = store.run(120, times=3, folder=tmp_path)
    assert result.faults == 0
    assert result.records == 120
    assert {row.what for row in result.rows if row.allowed_ms} >= {
        "confirm (show and sign)",
        "open a record",
        "search by serial number",
        "verify the chain",
    }
    with Store.open(tmp_path / "home") as home:
        assert home.records.count() == 120 + 3
        (found,) = home.records.search(Filter(serial_number="RL-0000077"))
        assert found.id == "R-000077"
        assert len(list(home.records.search(Filter(work_order="W-2")))) == store.PER_ORDER
