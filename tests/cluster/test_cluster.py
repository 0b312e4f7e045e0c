"""A cluster does the same as one machine, whoever dies on the way."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.cluster.scene import OLDER, PRETEND, ROOT, Site
from tests.records.scene import CARD, CHEAP
from tests.work.scene import SAID, chain, founded, sound
from voicelog import __version__, cards, wire
from voicelog.cluster import connection, remote
from voicelog.errors import ClusterError, ModelError
from voicelog.records import Store, verify
from voicelog.work.intake import Heading, take
from voicelog.work.task import Task

HEADING = Heading("tom", "W-1", "TB-10", "1", "20")


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Callable[..., Site]]:
    made: list[Site] = []

    def make(*, tls: bool) -> Site:
        made.append(Site(tmp_path, tls=tls))
        return made[-1]

    yield make
    for each in made:
        each.close()


def home_with(tmp_path: Path, count: int) -> Path:
    home = founded(tmp_path / "home")
    with Store.open(home, cost=CHEAP) as store:
        for number in range(count):
            take(store, sound(number), f"{number}.wav", HEADING)
    return home


def done(home: Path) -> int:
    with Store.open(home, cost=CHEAP) as store:
        return store.jobs.counts()["done"]


def wait_for(home: Path, count: int, process: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + 90
    while done(home) < count:
        assert process.poll() is None, said(process)
        assert time.monotonic() < until, f"{done(home)} done"
        time.sleep(0.1)


def said(process: subprocess.Popen[bytes]) -> str:
    return process.stderr.read().decode() if process.stderr else ""


def whole(home: Path, count: int) -> None:
    with Store.open(home, cost=CHEAP) as store:
        assert store.jobs.counts() == {"queued": 0, "leased": 0, "done": count, "failed": 0}
        heard = {note.draft.takes[0].audio_sha256 for note in store.notes.list()}
        assert (store.notes.waiting(), len(heard)) == (count, count)
    assert list(verify(home)) == []


@pytest.mark.slow
def test_over_tls_with_a_worker_and_the_scheduler_killed(
    tmp_path: Path, site: Callable[..., Site]
) -> None:
    count = 300
    home, cluster = home_with(tmp_path, count), site(tls=True)
    scheduler = cluster.scheduler()
    first, _ = cluster.worker(), cluster.worker()
    sender = cluster.dispatch(home)
    wait_for(home, 40, sender)
    first.kill()
    wait_for(home, 100, sender)
    scheduler.kill()
    scheduler.wait()
    cluster.scheduler()
    cluster.worker()
    assert sender.wait(timeout=120) == 0, said(sender)
    whole(home, count)


@pytest.mark.slow
def test_a_worker_of_another_version_is_not_used(tmp_path: Path, site: Callable[..., Site]) -> None:
    home, cluster = home_with(tmp_path, 20), site(tls=False)
    cluster.scheduler()
    old = cluster.worker(OLDER)
    alone = cluster.dispatch(home)
    assert alone.wait(timeout=90) == 1
    assert "no worker can be used" in (error := said(alone))
    assert "runs voicelog 0.0.1, not" in error
    assert done(home) == 0
    cluster.worker(PRETEND)
    assert cluster.dispatch(home).wait(timeout=90) == 0
    whole(home, 20)
    assert old.poll() is None


LOCAL = """
import sys
from distributed import LocalCluster
if __name__ == "__main__":
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None,
                      preload=[sys.argv[1]], local_directory=sys.argv[2]) as cluster:
        print(cluster.scheduler_address, flush=True)
        sys.stdin.read()
"""


@pytest.mark.slow
def test_a_local_cluster(tmp_path: Path, site: Callable[..., Site]) -> None:
    home, cluster = home_with(tmp_path, 60), site(tls=False)
    (tmp_path / "pretend.py").write_text(PRETEND, encoding="utf-8")
    (tmp_path / "local.py").write_text(LOCAL, encoding="utf-8")
    local = subprocess.Popen(
        [sys.executable, tmp_path / "local.py", tmp_path / "pretend.py", tmp_path],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, text=True,
    )  # fmt: skip
    assert local.stdout is not None
    cluster.url = local.stdout.readline().strip()
    assert cluster.dispatch(home).wait(timeout=120) == 0
    assert cluster.live() == SAID
    local.communicate("")
    whole(home, 60)


@pytest.mark.slow
def test_nobody_there_is_said_and_the_jobs_are_kept(
    tmp_path: Path, site: Callable[..., Site]
) -> None:
    home, cluster = home_with(tmp_path, 2), site(tls=True)
    sender = cluster.dispatch(home)
    assert sender.wait(timeout=60) == 1
    assert "can't be reached" in (error := said(sender))
    assert "Traceback" not in error
    with Store.open(home, cost=CHEAP) as store:
        assert store.jobs.counts()["queued"] == 2


@pytest.mark.parametrize("url", ["", "8786", "http://a:1", "tcp://", "tls://host", "tcp://h:x"])
def test_a_wrong_address_is_refused(url: str) -> None:
    with pytest.raises(ClusterError, match="name it like tls://HOST:8786"):
        connection.check(url)


def test_tls_needs_certificates() -> None:
    with pytest.raises(ClusterError, match="needs certificates"):
        connection.connect("tls://127.0.0.1:9", timeout_s=1)


def test_an_open_connection_to_another_machine_is_warned_of(
    caplog: pytest.LogCaptureFixture,
) -> None:
    connection.check("tcp://127.0.0.1:8786")
    assert not caplog.records
    connection.check("tcp://cluster.example:8786")
    assert "use tls://" in caplog.text


# --- what a worker answers ---------------------------------------------------------


@pytest.fixture
def terms(monkeypatch: pytest.MonkeyPatch) -> remote.Terms:
    monkeypatch.setattr(remote, "model_digest", lambda _: "0" * 64)
    monkeypatch.setattr(remote, "make_chain", lambda *_: chain())
    return remote.Terms(__version__, remote.settings_digest(), "pretend", "0" * 64, "standard")


def order(terms: remote.Terms) -> dict[str, object]:
    card = cards.parse(CARD, "bearing.yaml")
    task = Task("a.wav", (card,), "TB-10", "W-1", step="20")
    return {"terms": wire.to_plain(terms), "tasks": [wire.to_plain(task)] * 2}


def test_an_answer_is_the_same_draft_as_here(terms: remote.Terms) -> None:
    good, bad = remote.results_of(remote.hear(json.dumps(order(terms)), [sound(1), b"x"]))
    assert good.draft is not None
    assert good.draft.takes[0].transcript.text == SAID
    assert good.work_order == "W-1"
    assert (bad.draft, "no known recording" in bad.error or "text" in bad.error) == (None, True)


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"version": "9.9"}, f"runs voicelog {__version__}, not 9.9"),
        ({"settings": "x"}, "has other settings"),
        ({"model_sha256": "1" * 64}, "has another model by the name pretend"),
    ],
)
def test_a_worker_that_differs_says_so(
    terms: remote.Terms, changed: dict[str, str], why: str
) -> None:
    plain = order(terms)
    plain["terms"] = wire.to_plain(terms) | changed
    assert why in json.loads(remote.hear(json.dumps(plain), [sound(1), sound(2)]))["unfit"]


def test_a_worker_without_the_model_says_so(
    terms: remote.Terms, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing(name: str) -> str:
        raise ModelError(f"no model {name}")

    monkeypatch.setattr(remote, "model_digest", missing)
    assert remote.unfit(terms) == "no model pretend"


def test_a_live_utterance(terms: remote.Terms) -> None:
    import numpy as np

    plain = {"terms": wire.to_plain(terms), "sha256": "ab" * 32, "card": None, "step": None}
    samples = np.full(8000, 0.1, "<f4")
    heard = remote.take_of(remote.hear_live(json.dumps(plain), samples.tobytes()))
    assert (heard.transcript.text, heard.audio_sha256) == (SAID, "ab" * 32)
