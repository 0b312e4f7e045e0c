"""Workers: a job becomes a draft once, whatever breaks on the way."""

from __future__ import annotations

import os
import signal
import time
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from tests.records.scene import SECRET
from tests.work.scene import Hears, chain, sound
from voicelog.errors import AudioError, ModelError
from voicelog.pipeline import Chain
from voicelog.records import Job, Person, Store
from voicelog.work.crew import Crew, fair_batch
from voicelog.work.follow import CrewHands, OwnHands, until_ended
from voicelog.work.intake import Heading, take
from voicelog.work.worker import Worker, bury

HEADING = Heading("tom", "W-1", "TB-10", "1", "20")


def put(store: Store, count: int = 1, heading: Heading = HEADING) -> list[Job]:
    return [take(store, sound(n), f"{n}.wav", heading) for n in range(count)]


def work(store: Store, recogniser: Hears | None = None) -> list[Job]:
    ids = [job.id for job in store.jobs.list("queued")]
    made = Chain(recogniser or Hears())
    return list(until_ended(store, ids, OwnHands(store, lambda: made)))


def test_recordings_become_drafts(store: Store) -> None:
    put(store, 20)
    ended = work(store)
    assert {job.state for job in ended} == {"done"}
    notes = list(store.notes.list())
    assert len(notes) == 20
    (value,) = notes[0].draft.values
    assert (value.field, value.position, value.value) == ("torque", "1", Decimal(98))


def test_what_is_no_recording_leaves_nothing_behind(store: Store) -> None:
    for data in (b"", b"a text", sound()[:60]):
        with pytest.raises(AudioError):
            take(store, data, "x.wav", HEADING)
    assert store.jobs.list() == ()
    assert list(store.audio.digests()) == []


def test_silence_fails_with_a_reason_and_is_kept(store: Store) -> None:
    put(store)
    (job,) = work(store, Hears(otherwise=""))
    assert job.state == "failed"
    assert "nobody speaks" in job.reason
    assert store.audio.has(job.request.audio)


def test_a_heading_is_used_and_doubted(store: Store) -> None:
    at = datetime(2026, 11, 20, 8, 0, tzinfo=UTC)
    put(store, heading=Heading("tom", announced=True, recorded_at=at))
    said = "Work order W-9, card TB-10, step 20. Bolt one, ninety eight newton metres."
    (job,) = work(store, Hears(otherwise=said))
    note = store.notes.get(job.note or "")
    assert (note.work_order, note.draft.card, note.draft.step) == ("W-9", "TB-10", "20")
    assert [v.value for v in note.draft.values] == [Decimal(98)]
    assert note.draft.takes[0].transcript.text == "Bolt one, ninety eight newton metres."
    assert note.draft.takes[0].recorded_at == at
    assert any("taken from what was said" in w.sentence for w in note.draft.warnings)
    assert any("no work order W-9 was known" in w.sentence for w in note.draft.warnings)


def test_what_is_known_wins_over_the_heading_and_the_reviewer_is_told(store: Store) -> None:
    put(store, heading=Heading("tom", "W-1", "TB-10", "1", "20", announced=True))
    (job,) = work(store, Hears(otherwise=f"Work order W-9, card TB-10, step 20. {'Cover off.'}"))
    note = store.notes.get(job.note or "")
    assert note.work_order == "W-1"
    assert [w.sentence for w in note.draft.warnings if w.code == "announced"] == [
        "the recording says work order W-9; it was filed under work order W-1"
    ]


@pytest.mark.parametrize(
    ("said", "message"),
    [
        ("Bolt one, ninety eight newton metres.", "no card is said at the start"),
        ("Work order 19, card X-99. Cover off.", "card 'X-99', which is not known"),
        ("Card TB-10. Cover off.", "no work order was given"),
    ],
)
def test_without_a_heading_there_is_a_reason(store: Store, said: str, message: str) -> None:
    put(store, heading=Heading("tom", announced=True))
    (job,) = work(store, Hears(otherwise=said))
    assert job.state == "failed"
    assert message in job.reason


def test_who_left_meanwhile_or_an_order_that_was_closed_is_said(store: Store) -> None:
    store.people.add(Person("may", "May Elder", ("mechanic",)), SECRET, by="ada")
    put(store, heading=Heading("may", "W-1", "TB-10", "1"))
    store.people.update(Person("may", "May Elder", ("mechanic",), active=False), by="ada")
    (job,) = work(store)
    assert "no longer active" in job.reason


class Breaks(Hears):
    """A recogniser that falls over one recording."""

    def __init__(self, sha256: str) -> None:
        super().__init__()
        self.sha256 = sha256

    def transcribe(self, audio, vocabulary=None):  # type: ignore[no-untyped-def]
        if audio.sha256 == self.sha256:
            raise ZeroDivisionError("a fault in a library")
        return super().transcribe(audio, vocabulary)


def test_a_recording_that_breaks_the_recogniser_harms_no_other(store: Store) -> None:
    jobs = put(store, 6)
    ended = work(store, Breaks(jobs[2].request.audio))
    by_id = {job.id: job for job in ended}
    assert [by_id[job.id].state for job in jobs] == ["done"] * 2 + ["failed"] + ["done"] * 3
    assert "a fault in a library" in by_id[jobs[2].id].reason
    assert by_id[jobs[2].id].tries == 3


def test_a_missing_model_costs_no_try(store: Store) -> None:
    put(store)

    def missing() -> Chain:
        raise ModelError("no model")

    with pytest.raises(ModelError):
        Worker(store, missing).step()
    (job,) = store.jobs.list("queued")
    assert job.tries == 0


def test_what_a_dead_process_held_is_free_at_once(store: Store) -> None:
    put(store, 2)
    child = os.fork()
    if child == 0:  # the child dies with its lease
        with Store.open(store.home) as own:
            Worker(own, chain)._store.jobs.lease(f"{os.uname().nodename}:{os.getpid()}", 2)
        os._exit(0)
    os.waitpid(child, 0)
    assert store.jobs.lease("other") == ()
    assert bury(store) == 2
    assert [job.state for job in work_all(store)] == ["done", "done"]


def work_all(store: Store) -> list[Job]:
    ids = [job.id for job in store.jobs.list()]
    return list(until_ended(store, ids, OwnHands(store, chain)))


def test_a_crew_loses_a_worker_and_finishes(store: Store) -> None:
    ids = [job.id for job in put(store, 24)]
    hands = CrewHands(store, chain, 2, only=ids, backlog=4)
    crew = hands._crew
    killed = []
    for job in until_ended(store, ids, hands):
        assert job.state == "done"
        if not killed:
            killed.append(crew._processes[0].pid)
            os.kill(killed[0] or 0, signal.SIGKILL)
    assert store.notes.waiting() == 24
    assert killed


def never() -> Chain:
    os._exit(3)


def test_workers_that_all_die_are_not_replaced_for_ever(store: Store) -> None:
    put(store, 3)

    def watch(crew: Crew) -> None:
        while True:
            time.sleep(0.05)
            crew.look()

    with Crew(store, never, 1) as crew, pytest.raises(ModelError, match="stop as soon as"):
        watch(crew)
    assert store.jobs.counts()["done"] == 0
    assert len(store.jobs.list()) == 3, "they are kept"


def test_a_batch_is_shared_out() -> None:
    assert [fair_batch(n, 2) for n in (0, 1, 8, 40, 1000)] == [1, 1, 2, 10, 32]
