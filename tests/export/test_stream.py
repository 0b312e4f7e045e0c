"""Big exports: memory stays flat, and two sheets may be printed at once."""

from __future__ import annotations

import tracemalloc
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import pytest

from voicelog import export
from voicelog.bench.export import PER_ORDER, fill
from voicelog.export import pdf
from voicelog.records import Filter, Store

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.export.scene import Site

MANY = 1000


@pytest.fixture(scope="module")
def big(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    home = tmp_path_factory.mktemp("big") / "home"
    fill(home, MANY)
    with Store.open(home) as store:
        yield store


def peak_mib(store: Store, format: export.Format, out: Path, wanted: Filter) -> float:
    tracemalloc.start()
    try:
        export.write(store, wanted, format, out, by="admin")
        return tracemalloc.get_traced_memory()[1] / 2**20
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("format", ["csv", "xlsx"])
def test_memory_does_not_grow_with_the_records(
    format: export.Format, big: Store, tmp_path: Path
) -> None:
    few = Filter(serial_number="QC-0007")
    export.write(big, few, format, tmp_path / "warm", by="admin")  # imports and caches
    some = peak_mib(big, format, tmp_path / "few", few)
    many = peak_mib(big, format, tmp_path / "many", Filter())
    assert len(export.read(tmp_path / "many").records) == MANY
    # What is remembered on purpose (512 records, short cells) is bounded; a list of all rows
    # of this home would be far more.
    assert many < some + 8


def test_every_record_is_exported_once(big: Store, tmp_path: Path) -> None:
    manifest = export.write(big, Filter(), "jsonl", tmp_path / "out", by="admin")
    assert len(set(manifest.records)) == len(manifest.records) == MANY
    assert (tmp_path / "out" / "records.jsonl").read_bytes().count(b"\n") == MANY


def test_a_work_order_has_one_sheet(big: Store, tmp_path: Path) -> None:
    wanted = Filter(work_order="WO-000007")
    manifest = export.write(big, wanted, "pdf", tmp_path / "out", by="admin")
    assert [file.name for file in manifest.files] == ["work-order-WO-000007.pdf"]
    assert len(manifest.records) == PER_ORDER


def test_sheets_printed_at_once_are_the_same_as_one_by_one(worked: Site, tmp_path: Path) -> None:
    def printed(number: int) -> dict[str, bytes]:
        out = tmp_path / str(number)
        export.write(worked.store, Filter(), "pdf", out, by="cleo")
        return {path.name: path.read_bytes() for path in out.glob("*.pdf")}

    alone = printed(0)
    assert pdf.file_name("48-2213") in alone
    with ThreadPoolExecutor(4) as pool:
        assert all(sheets == alone for sheets in pool.map(printed, range(1, 5)))
