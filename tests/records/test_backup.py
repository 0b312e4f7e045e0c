"""Backup while others work; restored elsewhere it is the same home."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.records.scene import CHEAP, SECRET, STEP_10, STEP_20, accept, draft
from voicelog.errors import HomeError, RecordError
from voicelog.objects import Record
from voicelog.records import Confirmation, Store, backup, restore, verify

Confirm = Callable[..., Record]


@pytest.fixture
def copied(store: Store, confirm: Confirm, tmp_path: Path) -> Path:
    store.notes.add(draft(*STEP_10, audio=store.audio.keep(b"a recording")), "W-1", "tom")
    confirm(*STEP_20)
    return backup(store, tmp_path / "copy", by="ada")


def test_a_restored_home_is_the_same_and_goes_on(
    store: Store, copied: Path, tmp_path: Path
) -> None:
    assert verify(copied) == ()
    restore(copied, tmp_path / "elsewhere" / "home")
    with Store.open(tmp_path / "elsewhere" / "home", cost=CHEAP) as other:
        assert other.site == store.site
        assert list(other.notes.list()) == list(store.notes.list())
        assert list(other.records.search()) == list(store.records.search())
        assert list(other.audio.digests()) == list(store.audio.digests())
        act = Confirmation("N-000001", 1, accept(STEP_10, "ruth"))
        digest = other.records.show(act, by="ruth").digest
        other.records.sign(act, by="ruth", secret=SECRET, digest=digest)
    assert verify(tmp_path / "elsewhere" / "home") == ()


def test_a_dictation_that_goes_on_is_in_the_backup(store: Store, tmp_path: Path) -> None:
    going_on = store.home / "dictations" / "0123456789abcdef"
    going_on.mkdir(parents=True)
    (going_on / "sound.pcm").write_bytes(b"what was acknowledged")
    restore(backup(store, tmp_path / "copy"), tmp_path / "elsewhere")
    brought = tmp_path / "elsewhere" / "dictations" / going_on.name / "sound.pcm"
    assert brought.read_bytes() == b"what was acknowledged"


def test_a_backup_is_a_line_of_the_ledger(store: Store, copied: Path) -> None:
    line = next(store.ledger.lines(kind="backup"))
    assert (line.act, line.by) == ("backup made", "ada")


def test_nothing_is_overwritten(store: Store, copied: Path) -> None:
    with pytest.raises(HomeError, match="not empty"):
        backup(store, copied)
    with pytest.raises(HomeError, match="not empty"):
        restore(copied, store.home)
    (copied.parent / "file").write_text("x")
    with pytest.raises(HomeError, match="not empty"):
        backup(store, copied.parent / "file")


def test_a_damaged_backup_is_not_restored(copied: Path, tmp_path: Path) -> None:
    recording = next(path for path in (copied / "audio").rglob("*") if path.is_file())
    recording.write_bytes(b"other")
    with pytest.raises(RecordError, match=r"(?s)the backup has 1 fault.*was changed"):
        restore(copied, tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_a_home_with_a_fault_gives_no_backup(store: Store, tmp_path: Path) -> None:
    sha256 = store.audio.keep(b"a recording")
    store.notes.add(draft(*STEP_10, audio=sha256), "W-1", "tom")
    store.audio.path(sha256).write_bytes(b"other")
    with pytest.raises(RecordError, match="run: voicelog verify"):
        backup(store, tmp_path / "copy")
    assert [path.name for path in tmp_path.iterdir()] == ["home"]


def test_what_an_interrupted_backup_left_does_not_matter(store: Store, tmp_path: Path) -> None:
    left = tmp_path / ".copy.partial"
    left.mkdir()
    (left / "voicelog.db").write_bytes(b"half")
    backup(store, tmp_path / "copy")
    assert verify(tmp_path / "copy") == ()
    assert not left.exists()


def test_a_backup_is_of_one_moment_while_others_write(store: Store, tmp_path: Path) -> None:
    stop = threading.Event()

    def work() -> None:
        number = 0
        while not stop.is_set():
            sha256 = store.audio.keep(f"recording {number}".encode())
            store.notes.add(draft(*STEP_10, audio=sha256), "W-1", "tom")
            if number % 5 == 0:
                store.ledger.signed_head()
            number += 1

    thread = threading.Thread(target=work)
    thread.start()
    try:
        for number in range(4):
            backup(store, tmp_path / f"copy{number}")
    finally:
        stop.set()
        thread.join()
    for number in range(4):
        assert verify(tmp_path / f"copy{number}") == ()


def test_a_backup_may_be_copied_on(copied: Path, tmp_path: Path) -> None:
    shutil.copytree(copied, tmp_path / "stick")
    shutil.rmtree(copied)
    restore(tmp_path / "stick", tmp_path / "new")
    assert verify(tmp_path / "new") == ()
