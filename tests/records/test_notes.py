"""Notes: never lost, never doubled, never changed behind somebody's back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from tests.records.scene import CHEAP, STEP_10, STEP_20, StandingClock, accept, draft, value
from voicelog.errors import Conflict, Denied, NotFound, RecordError
from voicelog.objects import Note
from voicelog.records import Store

Noted = Callable[..., Note]


def test_a_note_survives_a_restart(store: Store, noted: Noted, clock: StandingClock) -> None:
    note = noted(*STEP_20)
    with Store.open(store.home, clock=clock, cost=CHEAP) as other:
        assert other.notes.get(note.id) == note
        assert other.notes.queue()[0].id == note.id


def test_the_same_token_gives_the_same_note(store: Store) -> None:
    first = store.notes.add(draft(*STEP_10), "W-1", "tom", token="file 7")
    again = store.notes.add(draft(*STEP_10), "W-1", "tom", token="file 7")
    other = store.notes.add(draft(*STEP_10), "W-1", "tom", token="file 8")
    assert again == first
    assert other.id != first.id
    assert store.notes.waiting() == 2


def test_an_act_on_an_older_version_is_a_conflict_and_loses_nothing(
    store: Store, noted: Noted
) -> None:
    note = noted(*STEP_10)
    mine = replace(note.draft, values=STEP_20)
    store.notes.update(note.id, 1, mine, by="ruth")
    for act in (
        lambda: store.notes.update(note.id, 1, note.draft, by="tom"),
        lambda: store.notes.decide(note.id, 1, (), by="ruth"),
        lambda: store.notes.withdraw(note.id, 1, by="tom", why="w"),
    ):
        with pytest.raises(Conflict, match="at version 2, yours is 1"):
            act()
    assert store.notes.get(note.id).draft == mine


def test_a_take_is_added_and_never_dropped(store: Store) -> None:
    kept = store.audio.keep(b"first")
    note = store.notes.add(draft(*STEP_10, audio=kept), "W-1", "tom")
    second = store.audio.keep(b"second")
    longer = draft(*STEP_10, audio=second).takes
    grown = replace(note.draft, takes=(*note.draft.takes, *longer))
    assert store.notes.update(note.id, 1, grown, by="tom").version == 2
    for takes in ((), grown.takes[:1], grown.takes[::-1]):
        with pytest.raises(RecordError, match="can't be dropped or changed"):
            store.notes.update(note.id, 2, replace(grown, takes=takes), by="tom")


def test_a_recording_must_be_on_the_shelf_first(store: Store) -> None:
    with pytest.raises(RecordError, match="keep it first"):
        store.notes.add(draft(*STEP_10, audio="ab" * 32), "W-1", "tom")
    assert store.notes.waiting() == 0
    with pytest.raises(NotFound):
        store.orders.get("W-1")


@pytest.mark.parametrize("by", ["cleo", "ada"])
def test_only_mechanics_and_reviewers_dictate(store: Store, by: str) -> None:
    with pytest.raises(Denied, match="is no mechanic or reviewer"):
        store.notes.add(draft(*STEP_10), "W-1", by)


def test_an_unknown_person_or_card_is_named(store: Store) -> None:
    with pytest.raises(NotFound, match="no person 'eve'"):
        store.notes.add(draft(*STEP_10), "W-1", "eve")
    with pytest.raises(NotFound, match="no card TB-10 revision 9"):
        store.notes.add(replace(draft(*STEP_10), revision="9"), "W-1", "tom")


def test_a_review_that_was_begun_is_kept(store: Store, noted: Noted) -> None:
    note = noted(*STEP_20)
    begun = accept(STEP_20[:2], "ruth")
    with pytest.raises(Denied):
        store.notes.decide(note.id, 1, begun, by="tom")
    kept = store.notes.decide(note.id, 1, begun, by="ruth")
    assert store.notes.get(note.id).decisions == begun
    # read anew: the decision on the value that changed is dropped, the other one stays
    changed = (value("20", "torque", "1", Decimal(89), "N*m"), *STEP_20[1:])
    newer = store.notes.update(note.id, kept.version, replace(note.draft, values=changed), by="tom")
    assert newer.decisions == begun[1:]


def test_the_queue_goes_by_doubt_and_age(store: Store, noted: Noted) -> None:
    plain, doubtful = noted(*STEP_10), noted(value("10", "cover", None, "pass", doubt="noise"))
    more = noted(
        value("10", "cover", None, "pass", doubt="noise"),
        value("30", "locked", None, "pass", doubt="noise"),
    )
    older_plain = noted(*STEP_10)
    queue = store.notes.queue()
    assert [e.id for e in queue] == [more.id, doubtful.id, plain.id, older_plain.id]
    assert [e.doubt for e in queue] == [2, 1, 0, 0]
    assert [e.id for e in store.notes.queue(limit=2, offset=1)] == [doubtful.id, plain.id]


def test_what_was_affirmed_by_voice_counts_half_in_the_queue(store: Store, noted: Noted) -> None:
    doubtful = value("10", "cover", None, "pass", doubt="noise")
    affirmed = noted(replace(doubtful, affirmed=True))
    sure_and_affirmed = noted(replace(value("10", "cover", None, "pass"), affirmed=True))
    open_ = noted(doubtful)
    two_affirmed = noted(
        *(
            replace(v, affirmed=True)
            for v in (doubtful, value("30", "locked", None, "pass", doubt="noise"))
        )
    )
    queue = store.notes.queue()
    assert [e.id for e in queue] == [open_.id, two_affirmed.id, affirmed.id, sure_and_affirmed.id]
    assert [(e.doubt, e.affirmed) for e in queue] == [(1, 0), (2, 2), (1, 1), (0, 0)]


def test_the_queue_is_read_from_its_index(store: Store) -> None:
    plan = store.connections.db.execute(
        "EXPLAIN QUERY PLAN SELECT id FROM notes WHERE state = 'open'"
        " ORDER BY 2 * doubt - affirmed DESC, seq LIMIT 50"
    ).fetchall()
    assert [row[3] for row in plan] == ["SEARCH notes USING INDEX notes_queue (state=?)"]


def test_withdrawing_needs_a_why_and_the_right_person(store: Store, noted: Noted) -> None:
    note, other = noted(*STEP_10), noted(*STEP_10, by="ruth")
    with pytest.raises(RecordError, match="say why"):
        store.notes.withdraw(note.id, 1, by="tom", why=" ")
    with pytest.raises(Denied):
        store.notes.withdraw(other.id, 1, by="tom", why="not mine")
    store.notes.withdraw(note.id, 1, by="tom", why="dictated twice")
    assert store.notes.get(note.id).state == "withdrawn"
    assert [e.id for e in store.notes.queue()] == [other.id]
    with pytest.raises(Conflict, match="is withdrawn already"):
        store.notes.update(note.id, 2, note.draft, by="tom")


def test_notes_of_a_work_order(store: Store, noted: Noted) -> None:
    for number in range(3):
        noted(*STEP_10, work_order=f"W-{number % 2}")
    assert [n.id for n in store.notes.list(work_order="W-0")] == ["N-000001", "N-000003"]
    assert len(list(store.notes.list(state="open"))) == 3


def test_an_unknown_note(store: Store) -> None:
    with pytest.raises(NotFound, match="no note 'N-9'"):
        store.notes.get("N-9")
