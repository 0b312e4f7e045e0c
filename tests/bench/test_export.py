"""The measuring of exports measures real ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.bench.export import PER_ORDER, fill, measure
from voicelog.records import Filter

if TYPE_CHECKING:
    from pathlib import Path


def test_an_export_is_measured(tmp_path: Path) -> None:
    fill(tmp_path / "home", 4 * PER_ORDER)
    found = measure(tmp_path / "home", tmp_path / "out", "csv", Filter())
    assert (found.format, found.records, found.values) == ("csv", 20, 80)
    assert found.seconds > 0
    assert found.cpu_s > 0
    assert 10 < found.peak_mib < 300
    assert found.mib > 0
