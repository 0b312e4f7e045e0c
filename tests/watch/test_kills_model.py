"""Real recordings, the real recogniser, the real command, killed on the way."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.records.scene import CHEAP, people
from voicelog import cards, config
from voicelog.records import Store, verify

ROOT = Path(__file__).resolve().parent.parent.parent
COUNT = 4


def command(home: Path, folder: Path) -> subprocess.Popen[bytes]:
    words = ("watch", folder, "--card", "DM-32-10", "--work-order", "W-1", "--by", "tom", "--once")
    return subprocess.Popen(
        [sys.executable, "-c", "from voicelog.cli import main; main()",
         "--home", home, *words, "--settle", "0.1", "--fast"],
        env=os.environ | {"PYTHONPATH": str(ROOT)}, stdout=subprocess.DEVNULL,
    )  # fmt: skip


@pytest.mark.model
@pytest.mark.slow
def test_the_command_is_killed_and_started_again(tmp_path: Path) -> None:
    home, folder = tmp_path / "home", tmp_path / "in"
    folder.mkdir()
    shipped = config.shipped("sample_audio")
    for path in sorted(shipped.glob("wheel-*.flac"))[:COUNT]:
        shutil.copy(path, folder)
    with Store.open(home, cost=CHEAP) as store:
        people(store)
        card = next(
            path
            for path in (config.config_dir() / "cards").glob("*.yaml")
            if cards.load(path).number == "DM-32-10"
        )
        store.cards.add(card.read_bytes(), card.name, by="ada")
        process = command(home, folder)
        while not (store.jobs.list("leased") or store.jobs.counts()["done"]):
            assert process.poll() is None
            time.sleep(0.05)
        process.send_signal(signal.SIGKILL)
        process.wait()
        assert command(home, folder).wait(timeout=120) == 0
        assert store.jobs.counts() == {"queued": 0, "leased": 0, "done": COUNT, "failed": 0}
        assert store.notes.waiting() == COUNT
    assert len(list((folder / "done").glob("*.flac"))) == COUNT
    assert list(verify(home)) == []
