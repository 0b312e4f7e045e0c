"""A thousand notes through a watch that is killed three times: a thousand drafts."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.records.scene import CHEAP
from tests.work.scene import founded, sound
from voicelog.records import Store, verify

ROOT = Path(__file__).resolve().parent.parent.parent
PROGRAM = """
import sys
from pathlib import Path
from tests.records.scene import CHEAP
from tests.work.scene import chain
from voicelog.records import Store
from voicelog.watch.folder import Folder
from voicelog.watch.rules import Facts, Rules
from voicelog.watch.service import Watch, run
from voicelog.work.follow import CrewHands, OwnHands
with Store.open(Path(sys.argv[1]), cost=CHEAP) as store:
    watch = Watch(store, Folder(Path(sys.argv[2]), 0.2), Rules((), Facts("W-1", "TB-10", "20", "tom")))
    hands = OwnHands(store, chain) if sys.argv[3] == "1" else CrewHands(store, chain, int(sys.argv[3]))
    for put in run(watch, hands, once=True):
        pass
"""  # noqa: E501


def start(home: Path, folder: Path, workers: int) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", PROGRAM, home, folder, str(workers)],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )


def drafts(home: Path) -> int:
    with Store.open(home, cost=CHEAP) as store:
        return store.notes.waiting()


@pytest.mark.slow
@pytest.mark.parametrize(("count", "workers"), [(1000, 1), (60, 2)])
def test_killed_three_times(tmp_path: Path, count: int, workers: int) -> None:
    chance = random.Random(count)  # noqa: S311 — moments to kill at, no secret
    home, folder = founded(tmp_path / "home"), tmp_path / "in"
    folder.mkdir()
    for number in range(count):
        (folder / f"{number:04d}.wav").write_bytes(sound(number))
    marks = sorted(chance.randrange(count // 10, count - count // 10) for _ in range(3))
    for mark in marks:
        process = start(home, folder, workers)
        while drafts(home) < mark:
            assert process.poll() is None
            time.sleep(0.05)
        time.sleep(chance.uniform(0, 0.1))
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert start(home, folder, workers).wait(timeout=120) == 0
    with Store.open(home, cost=CHEAP) as store:
        assert store.jobs.counts() == {"queued": 0, "leased": 0, "done": count, "failed": 0}
        heard = {note.draft.takes[0].audio_sha256 for note in store.notes.list()}
        assert (store.notes.waiting(), len(heard)) == (count, count)
    assert len(list((folder / "done").glob("*.wav"))) == count
    assert not list(folder.glob("*.wav"))
    assert list(verify(home)) == []
