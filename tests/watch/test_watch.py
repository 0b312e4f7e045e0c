"""A folder becomes drafts: each recording once, when complete, whatever happens between."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.records.scene import CHEAP
from tests.work.scene import Hears, founded, sound
from voicelog.errors import HomeError
from voicelog.pipeline import Chain
from voicelog.records import Store
from voicelog.watch.folder import Folder
from voicelog.watch.rules import Facts, Rules
from voicelog.watch.service import PutAway, Watch
from voicelog.work.follow import OwnHands

DEFAULTS = Facts(work_order="W-1", card="TB-10", step="20", person="tom")


class Clock:
    """Seconds that pass only when told to."""

    def __init__(self) -> None:
        self.at = 0.0

    def __call__(self) -> float:
        return self.at


class Scene:
    """A folder, its watch and one worker, moved on by hand."""

    def __init__(self, store: Store, path: Path, defaults: Facts = DEFAULTS) -> None:
        self.store, self.path, self.clock, self.defaults = store, path, Clock(), defaults
        self.hears = Hears()
        self.start()

    def start(self) -> None:
        """As after a restart: nothing is remembered."""
        folder = Folder(self.path, 2.0, self.clock)
        self.watch = Watch(self.store, folder, Rules((), self.defaults), patience_s=60.0)
        self.hands = OwnHands(self.store, lambda: Chain(self.hears))

    def drop(self, name: str, data: bytes) -> Path:
        path = self.path / name
        path.write_bytes(data)
        return path

    def look(self, seconds: float = 0.0) -> tuple[PutAway, ...]:
        self.clock.at += seconds
        return self.watch.look()

    def finish(self) -> list[PutAway]:
        """Until everything that is complete was put away."""
        put = [*self.look(), *self.look(3)]
        while self.hands.look():
            pass
        return [*put, *self.look()]

    def files(self) -> set[str]:
        return {str(p.relative_to(self.path)) for p in self.path.rglob("*") if p.is_file()}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(founded(tmp_path / "home"), cost=CHEAP) as store:
        yield store


@pytest.fixture
def scene(store: Store, tmp_path: Path) -> Scene:
    (tmp_path / "in").mkdir()
    return Scene(store, tmp_path / "in")


def test_a_recording_becomes_a_draft_and_is_put_away(scene: Scene) -> None:
    scene.drop("a.wav", sound(1))
    (put,) = scene.finish()
    assert (put.name, put.done) == ("a.wav", True)
    assert scene.files() == {"done/a.wav", "done/a.wav.reason.txt"}
    reason = (scene.path / "done/a.wav.reason.txt").read_text()
    assert "draft N-000001" in reason
    assert scene.store.notes.get("N-000001").work_order == "W-1"
    assert scene.watch.idle()


def test_a_file_that_still_grows_is_left_alone(scene: Scene) -> None:
    data = sound(1)
    path = scene.drop("a.wav", data[:200])
    for end in range(300, len(data) + 100, 100):
        assert scene.look(1) == ()
        path.write_bytes(data[:end])
        os.utime(path, ns=(end, end))
    assert scene.store.jobs.list() == ()
    assert [put.done for put in scene.finish()] == [True]


def test_a_copy_that_stalls_is_given_time(scene: Scene) -> None:
    data = sound(1)
    path = scene.drop("a.wav", data[: len(data) // 2])
    scene.look()
    assert scene.look(30) == ()
    path.write_bytes(data)
    assert [put.done for put in scene.finish()] == [True]
    scene.drop("b.wav", data[: len(data) // 2])
    scene.look()
    (put,) = scene.look(61)
    assert "cut off" in put.reason
    assert scene.files() >= {"failed/b.wav", "failed/b.wav.reason.txt"}


def test_unfinished_names_wait_for_their_rename(scene: Scene) -> None:
    part = scene.drop("a.wav.part", sound(1))
    for name in (".hidden.wav", "b.tmp", "c.wav~"):
        scene.drop(name, sound(2))
    assert scene.finish() == []
    part.rename(scene.path / "a.wav")
    assert [put.name for put in scene.finish()] == ["a.wav"]
    assert len(scene.store.jobs.list()) == 1


def test_a_file_that_is_written_to_after_it_was_taken_is_looked_at_anew(scene: Scene) -> None:
    path = scene.drop("a.wav", sound(1))
    scene.look()
    scene.look(3)
    assert len(scene.store.jobs.list("queued")) == 1
    path.write_bytes(sound(2))
    while scene.hands.look():
        pass
    assert scene.look() == ()
    assert [put.done for put in scene.finish()] == [True]
    assert len(scene.store.jobs.list("done")) == 2


def test_the_same_recording_under_two_names_is_one_draft(scene: Scene) -> None:
    scene.drop("a.wav", sound(1))
    scene.drop("b.wav", sound(1))
    assert [put.done for put in scene.finish()] == [True, True]
    scene.drop("a.wav", sound(1))  # and again, days later
    assert [put.path.name for put in scene.finish()] == ["a-2.wav"]
    assert scene.store.notes.waiting() == 1


def test_the_same_recording_for_another_work_order_is_asked_about(scene: Scene) -> None:
    scene.drop("a.wav", sound(1))
    scene.finish()
    scene.drop("b.wav", sound(1))
    scene.drop("b.json", json.dumps({"work_order": "W-2"}).encode())
    (put,) = scene.finish()
    assert "came before as a.wav for work order W-1" in put.reason
    assert {"failed/b.wav", "failed/b.wav.json", "failed/b.wav.reason.txt"} <= scene.files()
    assert scene.store.notes.waiting() == 1


def test_a_side_car_says_what_it_is_about(scene: Scene) -> None:
    scene.drop("a.wav", sound(1))
    facts = {"work_order": "W-7", "step": "10", "person": "ruth"}
    scene.drop("a.wav.json", json.dumps(facts).encode())
    (put,) = scene.finish()
    assert put.job is not None
    note = scene.store.notes.get(put.job.note or "")
    assert (note.work_order, note.by, note.draft.step) == ("W-7", "ruth", "10")
    assert scene.files() == {"done/a.wav", "done/a.wav.json", "done/a.wav.reason.txt"}


def test_a_spoken_heading_is_used_without_a_side_car(store: Store, tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    scene = Scene(store, tmp_path / "in", Facts(person="tom"))
    scene.hears = Hears(otherwise="Work order W-5, card TB-10, step 10. Cover off.")
    scene.drop("a.wav", sound(1))
    (put,) = scene.finish()
    assert put.job is not None
    note = store.notes.get(put.job.note or "")
    assert (note.work_order, note.draft.card, note.draft.step) == ("W-5", "TB-10", "10")
    assert "announced" in {warning.code for warning in note.draft.warnings}


@pytest.mark.parametrize(
    ("name", "data", "facts", "message"),
    [
        ("x.txt", b"a shopping list", {}, "is a text, not a recording"),
        ("x.wav", b"", {}, "is empty"),
        ("x.wav", sound(1), {"person": "eve"}, "no person 'eve'"),
        ("x.wav", sound(1), {"card": "TB-99"}, "no card TB-99"),
        ("x.wav", sound(1), {"step": "99"}, "has no step 99"),
        ("x.wav", sound(1), {"colour": "red"}, "a side-car is a JSON object"),
    ],
)
def test_what_can_not_be_used_is_put_aside_with_a_reason(
    scene: Scene, name: str, data: bytes, facts: dict[str, str], message: str
) -> None:
    scene.drop(name, data)
    if facts:
        scene.drop("x.json", json.dumps(facts).encode())
    scene.look()
    (put,) = [*scene.look(3), *scene.look(60)]
    assert message in put.reason
    assert (scene.path / "failed" / name).read_bytes() == data
    assert message in (scene.path / "failed" / f"{name}.reason.txt").read_text()
    assert scene.store.jobs.list() == ()


def test_what_failed_may_be_dropped_in_again(scene: Scene) -> None:
    scene.hears = Hears(otherwise="")
    scene.drop("a.wav", sound(1))
    (put,) = scene.finish()
    assert "nobody speaks" in put.reason
    scene.hears = Hears()
    scene.start()
    put.path.rename(scene.path / "a.wav")
    (again,) = scene.finish()
    assert again.done


def test_nothing_is_remembered_and_nothing_is_lost(scene: Scene) -> None:
    scene.drop("a.wav", sound(1))
    scene.look()
    scene.look(3)  # taken
    scene.start()
    while scene.hands.look():
        pass  # heard by somebody
    scene.start()
    assert [put.done for put in scene.finish()] == [True]
    assert scene.store.notes.waiting() == 1


def test_a_folder_that_goes_away_is_waited_for(scene: Scene) -> None:
    scene.drop("a.wav", sound(1))
    scene.path.rename(scene.path.with_name("gone"))
    assert scene.look(3) == ()
    scene.path.with_name("gone").rename(scene.path)
    assert [put.done for put in scene.finish()] == [True]


def test_a_link_is_not_followed(scene: Scene, tmp_path: Path) -> None:
    (tmp_path / "outside.wav").write_bytes(sound(1))
    (scene.path / "a.wav").symlink_to(tmp_path / "outside.wav")
    assert scene.finish() == []


def test_there_must_be_a_folder(tmp_path: Path) -> None:
    with pytest.raises(HomeError, match="no such folder"):
        Folder(tmp_path / "none", 1.0)
