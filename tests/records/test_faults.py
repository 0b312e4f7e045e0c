"""Killed, disk full, disk read-only, eight at once: short; `voicelog bench faults` is longer."""

from __future__ import annotations

from pathlib import Path

import pytest

from voicelog.bench import faults


def test_kills_at_random_moments_lose_nothing_and_double_nothing(tmp_path: Path) -> None:
    rows = faults.kills(30, tmp_path, seed=7)
    assert [row for row in rows if not row.good] == []
    assert sum(row.times for row in rows) == 30
    assert {row.trouble: row.acknowledged for row in rows}["killed while: confirm"] > 0


def test_a_disk_that_is_full_and_one_that_can_not_be_written(tmp_path: Path) -> None:
    if not faults.mounting_allowed(tmp_path):
        pytest.skip("mounting a small disk is not allowed here")
    rows = faults.disks(tmp_path)
    assert [row.trouble for row in rows] == ["disk full", "disk read-only"]
    assert [row for row in rows if not row.good] == []
    assert rows[0].acknowledged > 0


def test_a_file_that_may_not_grow(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(faults, "mounting_allowed", lambda _: False)
    (row,) = faults.disks(tmp_path)
    assert row.good, row
    assert row.acknowledged > 0


def test_eight_processes_at_once(tmp_path: Path) -> None:
    row = faults.together(tmp_path, processes=8, seconds=1.5)
    assert row.good, row
    assert row.acknowledged > 50


def test_a_home_that_does_lose_something_is_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The check can fail: recordings written in place, without the rename, are caught."""
    from voicelog.records.audio import AudioShelf

    def careless(self: AudioShelf, data: bytes) -> str:
        import hashlib
        import time

        sha256 = hashlib.sha256(data).hexdigest()
        path = self.folder / sha256[:2] / sha256[2:]
        path.parent.mkdir(exist_ok=True)
        with path.open("wb") as file:
            for start in range(0, len(data), 1000):
                file.write(data[start : start + 1000])
                file.flush()
                time.sleep(0.05)
        return sha256

    monkeypatch.setattr(AudioShelf, "keep", careless)
    monkeypatch.setattr(faults, "LONGEST_S", {"add": 0.8})
    rows = faults.kills(4, tmp_path, seed=3)
    assert any("was changed" in fault for row in rows for fault in row.faults)
