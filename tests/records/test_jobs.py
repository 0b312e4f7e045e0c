"""The job table: nothing is lost, nothing is done twice, whoever stops or comes late."""

from __future__ import annotations

import threading
from dataclasses import replace

import pytest
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from tests.records.scene import CARD, CHEAP, STEP_10, StandingClock, draft, people
from voicelog.errors import CardError, Conflict, Denied, NotFound, RecordError
from voicelog.objects import Draft
from voicelog.records import Job, Request, Store, backup, restore, verify
from voicelog.records.jobs import LEASE_S, MAX_TRIES


def request(store: Store, sound: bytes = b"sound", **more: object) -> Request:
    kept = store.audio.keep(sound)
    made = Request(audio=kept, name="a.wav", by="tom", work_order="W-1", card="TB-10")
    return replace(made, **more)  # type: ignore[arg-type]


def heard(job: Job) -> Draft:
    return draft(*STEP_10, audio=job.request.audio)


def test_the_same_request_is_the_same_job(store: Store) -> None:
    first = store.jobs.queue(request(store, step="10"))
    assert store.jobs.queue(request(store, step="10", name="copy of a.wav")) == first
    assert store.jobs.queue(request(store, step="20")).id != first.id
    assert store.jobs.queue(request(store, b"other", step="10")).id != first.id
    assert store.jobs.counts() == {"queued": 3, "leased": 0, "done": 0, "failed": 0}


@pytest.mark.parametrize(
    ("more", "error", "message"),
    [
        ({"by": "eve"}, NotFound, "no person 'eve'"),
        ({"by": "cleo"}, Denied, "is no mechanic or reviewer"),
        ({"card": "TB-99"}, NotFound, "no card TB-99"),
        ({"step": "99"}, CardError, "has no step 99"),
        ({"work_order": " "}, RecordError, "work order and card are needed"),
        ({"card": ""}, RecordError, "work order and card are needed"),
        ({"audio": "ab" * 32}, RecordError, "keep it first"),
    ],
)
def test_what_could_never_become_a_draft_is_refused_at_once(
    store: Store, more: dict[str, object], error: type[Exception], message: str
) -> None:
    with pytest.raises(error, match=message):
        store.jobs.queue(request(store, **more))
    assert store.jobs.list() == ()


def test_from_queued_to_done(store: Store) -> None:
    queued = store.jobs.queue(request(store))
    (job,) = store.jobs.lease("bench", 5)
    assert (job.id, job.state, job.tries, job.fence, job.worker) == (
        queued.id, "leased", 1, 1, "bench",
    )  # fmt: skip
    assert store.jobs.lease("other") == ()
    note = store.jobs.finish(job, heard(job))
    ended = store.jobs.get(job.id)
    assert (ended.state, ended.note, ended.lease_until) == ("done", note.id, None)
    assert store.jobs.queue(request(store)) == ended, "what is done is not done again"
    assert store.jobs.lease("bench") == ()


def test_a_job_survives_a_restart(store: Store, clock: StandingClock) -> None:
    job = store.jobs.queue(request(store, recorded_at=clock.now(), announced=True))
    with Store.open(store.home, clock=clock, cost=CHEAP) as other:
        assert other.jobs.list() == (job,)


def test_who_lost_the_lease_changes_nothing(store: Store, clock: StandingClock) -> None:
    store.jobs.queue(request(store))
    (slow,) = store.jobs.lease("slow")
    clock.forward(seconds=LEASE_S + 1)
    (quick,) = store.jobs.lease("quick")
    assert (quick.id, quick.fence, quick.tries) == (slow.id, slow.fence + 1, 2)
    acts = (
        lambda: store.jobs.finish(slow, heard(slow)),
        lambda: store.jobs.fail(slow, "no"),
        lambda: store.jobs.hand_back(slow),
    )
    for act in acts:
        with pytest.raises(Conflict, match="taken over by another worker"):
            act()
    assert store.jobs.beat((slow, quick)) == (quick,)
    assert store.notes.waiting() == 0
    note = store.jobs.finish(quick, heard(quick))
    with pytest.raises(Conflict):
        store.jobs.finish(slow, heard(slow))
    assert store.jobs.get(slow.id).note == note.id
    assert store.notes.waiting() == 1


def test_a_heartbeat_keeps_the_lease(store: Store, clock: StandingClock) -> None:
    store.jobs.queue(request(store))
    (job,) = store.jobs.lease("steady")
    for _ in range(5):
        clock.forward(seconds=LEASE_S - 1)
        assert store.jobs.beat((job,)) == (job,)
        assert store.jobs.lease("other") == ()


def test_a_recording_that_stops_every_worker_is_given_up(
    store: Store, clock: StandingClock
) -> None:
    store.jobs.queue(request(store))
    for _ in range(MAX_TRIES):
        assert len(store.jobs.lease("victim")) == 1
        clock.forward(seconds=LEASE_S + 1)
    assert store.jobs.lease("victim") == ()
    (job,) = store.jobs.list("failed")
    assert "stopped 3 times" in job.reason
    assert store.jobs.retry()[0].state == "queued"
    assert store.jobs.lease("braver")[0].tries == 1


def test_a_draft_that_is_refused_leaves_the_job_leased(store: Store) -> None:
    store.jobs.queue(request(store))
    (job,) = store.jobs.lease("bench")
    with pytest.raises(RecordError, match="keep it first"):
        store.jobs.finish(job, draft(*STEP_10, audio="cd" * 32))
    assert store.jobs.get(job.id).state == "leased"
    assert store.notes.waiting() == 0


def test_failing_handing_back_and_trying_again(store: Store) -> None:
    store.jobs.queue(request(store))
    (job,) = store.jobs.lease("bench")
    assert store.jobs.hand_back(job).tries == 0, "being asked to stop is no try"
    for tries in range(1, MAX_TRIES + 1):
        (job,) = store.jobs.lease("bench")
        put = store.jobs.hand_back(job, "out of memory")
        assert (put.tries, put.reason) == (tries, "out of memory")
    assert put.state == "failed"
    with pytest.raises(NotFound, match="voicelog jobs"):
        store.jobs.retry("J-9")
    store.jobs.retry(job.id)
    with pytest.raises(Conflict, match="is queued"):
        store.jobs.retry(job.id)
    (job,) = store.jobs.lease("bench")
    assert store.jobs.fail(job, "nobody speaks").state == "failed"


def test_only_the_jobs_asked_for_are_leased(store: Store) -> None:
    jobs = [store.jobs.queue(request(store, bytes([n]) * 9)) for n in range(4)]
    taken = store.jobs.lease("bench", 9, only=(jobs[1].id, jobs[3].id))
    assert [job.id for job in taken] == [jobs[1].id, jobs[3].id]
    assert [job.id for job in store.jobs.lease("bench", 1)] == [jobs[0].id]


def test_an_announced_work_order_is_filed_as_heard(store: Store) -> None:
    kept = store.audio.keep(b"sound")
    store.jobs.queue(Request(kept, "a.wav", "tom", announced=True))
    (job,) = store.jobs.lease("bench")
    assert store.jobs.finish(job, heard(job), "W-9").work_order == "W-9"
    # the same recording added by hand under the same heading is the same draft
    store.jobs.queue(request(store, work_order="W-9"))
    (again,) = store.jobs.lease("bench")
    assert store.jobs.finish(again, heard(again)).id == store.jobs.get(job.id).note
    assert [found.state for found in store.jobs.of_audio(kept)] == ["done", "done"]


def test_many_workers_share_without_overlap(store: Store) -> None:
    for n in range(40):
        store.jobs.queue(request(store, b"%d" % n))
    got: list[str] = []

    def work(name: str) -> None:
        while jobs := store.jobs.lease(name, 3):
            got.extend(job.id for job in jobs)
            for job in jobs:
                store.jobs.finish(job, heard(job))

    threads = [threading.Thread(target=work, args=(f"w{n}",)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(got) == [f"J-{n:06d}" for n in range(1, 41)]
    assert store.notes.waiting() == 40


def test_a_backup_holds_recordings_that_are_not_heard_yet(store: Store) -> None:
    job = store.jobs.queue(request(store, b"not heard yet"))
    copy = backup(store, store.home.parent / "copy")
    restore(copy, store.home.parent / "new")
    assert verify(store.home.parent / "new") == ()
    with Store.open(store.home.parent / "new", cost=CHEAP) as other:
        assert other.jobs.get(job.id) == job
        assert other.audio.read(job.request.audio) == b"not heard yet"


class Workers(RuleBasedStateMachine):
    """Workers lease, stall, finish, fail and come late in any order."""

    def __init__(self) -> None:
        super().__init__()
        import tempfile
        from pathlib import Path

        self.folder = tempfile.TemporaryDirectory()
        self.clock = StandingClock()
        self.store = Store.open(Path(self.folder.name) / "home", clock=self.clock, cost=CHEAP)
        people(self.store)
        self.store.cards.add(CARD, "bearing.yaml", by="ada")
        self.held: list[Job] = []
        self.fences: dict[str, int] = {}

    def teardown(self) -> None:
        self.store.close()
        self.folder.cleanup()

    @rule(sound=st.integers(0, 5))
    def queue(self, sound: int) -> None:
        self.store.jobs.queue(request(self.store, b"%d" % sound))

    @rule(count=st.integers(1, 3))
    def lease(self, count: int) -> None:
        for job in self.store.jobs.lease("w", count):
            assert job.fence > self.fences.get(job.id, 0)
            self.fences[job.id] = job.fence
            self.held.append(job)

    @precondition(lambda self: self.held)
    @rule(data=st.data(), act=st.sampled_from(["finish", "fail", "hand_back", "beat"]))
    def act(self, data: st.DataObject, act: str) -> None:
        job = data.draw(st.sampled_from(self.held))
        rightful = self.store.jobs.get(job.id).state == "leased" and (
            self.fences[job.id] == job.fence
        )
        if act == "beat":
            assert bool(self.store.jobs.beat((job,))) == rightful
            return
        try:
            if act == "finish":
                self.store.jobs.finish(job, heard(job))
            elif act == "fail":
                self.store.jobs.fail(job, "no")
            else:
                self.store.jobs.hand_back(job, "later")
        except Conflict:
            assert not rightful
        else:
            assert rightful

    @rule(seconds=st.sampled_from([1, 61]))
    def wait(self, seconds: int) -> None:
        self.clock.forward(seconds=seconds)

    @rule()
    def retry(self) -> None:
        self.store.jobs.retry()

    @invariant()
    def every_job_that_is_done_has_its_own_draft(self) -> None:
        jobs = self.store.jobs.list()
        notes = [job.note for job in jobs if job.state == "done"]
        assert len(set(notes)) == len(notes) == self.store.notes.waiting()
        assert len({job.request.audio for job in jobs}) == len(jobs)


TestWorkers = Workers.TestCase
TestWorkers.settings = hypothesis_settings(max_examples=20, stateful_step_count=20, deadline=None)
