"""Work orders: what is open is said, and nothing open is called complete."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from tests.records.scene import (
    CARD,
    SECRET,
    STEP_10,
    STEP_20,
    STEP_30,
    STEP_40,
    StandingClock,
    accept,
    changed,
    draft,
    value,
)
from voicelog.errors import Conflict, Denied, Incomplete, NotFound, RecordError
from voicelog.objects import FieldValue, Note, Record
from voicelog.records import Confirmation, Correction, Inspection, Store, WorkOrder
from voicelog.records.acts import Act

Noted = Callable[..., Note]
Confirm = Callable[..., Record]
TORQUE = ("20", "torque", "1")


def sign(store: Store, act: Act, by: str) -> Record:
    digest = store.records.show(act, by=by).digest
    return store.records.sign(act, by=by, secret=SECRET, digest=digest)


def kinds(store: Store) -> list[tuple[str, str | None]]:
    return [(item.kind, item.step) for item in store.orders.status("W-1").items if item.blocks]


def whole_card(store: Store, confirm: Confirm) -> Record:
    confirm(*STEP_10)
    confirm(*STEP_20)
    fitted = confirm(*STEP_30)
    sign(store, Inspection(fitted.id, accept(STEP_30, "ivo")), "ivo")
    confirm(*STEP_40)
    return fitted


def test_a_whole_card_is_complete(store: Store, confirm: Confirm) -> None:
    whole_card(store, confirm)
    assert kinds(store) == []
    assert store.orders.complete("W-1", by="ruth").state == "complete"


def test_a_step_at_a_time(store: Store, noted: Noted, confirm: Confirm) -> None:
    noted(*STEP_10)
    assert kinds(store)[0] == ("note not decided", None)
    store.notes.withdraw("N-000001", 1, by="tom", why="test")
    confirm(*STEP_10)
    assert kinds(store) == [
        ("step not done", "20"),
        ("step not done", "30"),
        ("step not done", "40"),
        ("not restored", "10"),
        ("leak check missing", "10"),
    ]
    confirm(*STEP_20)
    confirm(*STEP_30)
    assert kinds(store) == [
        ("step not done", "40"),
        ("leak check missing", "10"),
        ("not inspected", "30"),
    ]


def test_what_is_open_can_not_be_called_complete(store: Store, confirm: Confirm) -> None:
    confirm(*STEP_10)
    with pytest.raises(Incomplete, match=r"step 10 .*left open: cover; step 30 restores it"):
        store.orders.complete("W-1", by="ruth")
    assert store.orders.get("W-1").state == "open"
    with pytest.raises(Denied):
        store.orders.complete("W-1", by="tom")


def test_a_missing_required_field_leaves_the_step_open(store: Store, confirm: Confirm) -> None:
    confirm(*STEP_20[1:])
    item = store.orders.status("W-1").items[1]
    assert (item.kind, item.step) == ("step incomplete", "20")
    assert "lacks step 20 Bolt torque, bolt 1" in item.sentence
    confirm(STEP_20[0])
    assert ("step incomplete", "20") not in kinds(store)


def test_a_rejected_value_leaves_the_step_open(store: Store, noted: Noted) -> None:
    note = noted(*STEP_20)
    decisions = changed(accept(STEP_20, "ruth"), TORQUE, kind="reject")
    sign(store, Confirmation(note.id, 1, decisions), "ruth")
    assert ("step incomplete", "20") in kinds(store)


def test_a_step_declared_not_applicable_is_done_and_opens_nothing(
    store: Store, noted: Noted
) -> None:
    note = noted(*STEP_10)
    decisions = changed(
        accept(STEP_10, "ruth"), ("10", "cover", None), kind="not applicable", why="no cover"
    )
    sign(store, Confirmation(note.id, 1, decisions), "ruth")
    assert not {kind for kind, step in kinds(store) if step == "10"}


def failing(store: Store, noted: Noted, follow_up: str, reference: str = "") -> Record:
    low = (value(*TORQUE, Decimal(94), "N*m"), *STEP_20[1:])
    note = noted(*low)
    decisions = changed(accept(low, "ruth"), TORQUE, follow_up=follow_up, reference=reference)
    return sign(store, Confirmation(note.id, 1, decisions), "ruth")


@pytest.mark.parametrize(
    ("follow_up", "reference"),
    [("rework", ""), ("rejected part", ""), ("engineering asked", "E-9")],
)
def test_what_follows_from_a_failing_value_stays_open_until_it_is_within(
    store: Store, noted: Noted, confirm: Confirm, follow_up: str, reference: str
) -> None:
    failing(store, noted, follow_up, reference)
    assert ("follow-up open", "20") in kinds(store)
    confirm(STEP_20[0])
    assert ("follow-up open", "20") not in kinds(store)


def test_a_deferral_with_reference_is_listed_and_does_not_block(store: Store, noted: Noted) -> None:
    failing(store, noted, "deferred", "DD-7")
    deferred = [item for item in store.orders.status("W-1").items if item.kind == "deferred"]
    assert [(item.blocks, "DD-7" in item.sentence) for item in deferred] == [(False, True)]


def test_opened_again_after_it_was_restored(store: Store, confirm: Confirm) -> None:
    whole_card(store, confirm)
    confirm(*STEP_10)
    assert kinds(store) == [("not restored", "10"), ("leak check missing", "10")]


def test_a_failed_restoration_is_none(store: Store, noted: Noted, confirm: Confirm) -> None:
    confirm(*STEP_10)
    failed = (value("30", "locked", None, "fail"), STEP_30[1])
    note = noted(*failed)
    decisions = changed(
        accept(failed, "ruth"), ("30", "locked", None), follow_up="deferred", reference="DD-1"
    )
    sign(store, Confirmation(note.id, 1, decisions), "ruth")
    assert ("not restored", "10") in kinds(store)


def test_a_failed_leak_check_is_none(store: Store, noted: Noted, confirm: Confirm) -> None:
    whole_card(store, confirm)
    failed = (value("40", "leaks", None, "fail"),)
    note = noted(*failed)
    decisions = changed(accept(failed, "ruth"), ("40", "leaks", None), follow_up="rework")
    sign(store, Confirmation(note.id, 1, decisions), "ruth")
    assert set(kinds(store)) == {("leak check missing", "10"), ("follow-up open", "40")}


def test_a_correction_does_not_open_anything_again(store: Store, confirm: Confirm) -> None:
    opened = confirm(*STEP_10)
    confirm(*STEP_20)
    fitted = confirm(*STEP_30)
    sign(store, Inspection(fitted.id, accept(STEP_30, "ivo")), "ivo")
    confirm(*STEP_40)
    fix = changed(
        accept(STEP_10, "ruth"), ("10", "cover", None), kind="correct", value="pass", why="wording"
    )
    sign(store, Correction(opened.id, fix, "audit"), "ruth")
    assert kinds(store) == []


def test_an_inspection_that_disagrees_stays_open_until_it_is_settled(
    store: Store, confirm: Confirm
) -> None:
    confirm(*STEP_10)
    confirm(*STEP_20)
    fitted = confirm(*STEP_30)
    confirm(*STEP_40)
    other = changed(
        accept(STEP_30, "ivo"), ("30", "serial", None), kind="correct", value="HT66-903", why="read"
    )
    sign(store, Inspection(fitted.id, other), "ivo")
    assert kinds(store) == [("inspection disagrees", "30")]
    fix = changed(
        accept(STEP_30[1:], "ruth"),
        ("30", "serial", None),
        kind="correct",
        value="HT66-903",
        why="x",
    )
    newer = sign(store, Correction(fitted.id, fix, "inspection"), "ruth")
    assert kinds(store) == [("not inspected", "30")]
    theirs = changed(accept(STEP_30, "ivo"), ("30", "serial", None), value="HT66-903")
    sign(store, Inspection(newer.id, theirs), "ivo")
    assert kinds(store) == []


def test_a_completed_work_order_takes_no_more_notes(
    store: Store, noted: Noted, confirm: Confirm
) -> None:
    whole_card(store, confirm)
    store.orders.complete("W-1", by="ruth")
    with pytest.raises(Conflict, match="was called complete; open it again first"):
        noted(*STEP_10)
    with pytest.raises(RecordError, match="say why"):
        store.orders.reopen("W-1", by="ruth", why="")
    store.orders.reopen("W-1", by="ruth", why="bolt 2 to be checked")
    noted(*STEP_20)


def test_planned_cards_are_open_before_anything_is_said(store: Store) -> None:
    store.orders.open(WorkOrder("W-2", "stand 2", "S-7", cards=("TB-10",)), by="tom")
    status = store.orders.status("W-2")
    assert [item.step for item in status.items] == ["10", "20", "30", "40"]
    assert not status.complete
    with pytest.raises(Conflict, match="already"):
        store.orders.open(WorkOrder("W-2"), by="tom")
    with pytest.raises(NotFound, match="no card XX"):
        store.orders.open(WorkOrder("W-3", cards=("XX",)), by="tom")


def test_an_empty_work_order_is_not_complete(store: Store) -> None:
    store.orders.open(WorkOrder("W-2"), by="tom")
    assert not store.orders.status("W-2").complete
    with pytest.raises(NotFound):
        store.orders.status("W-9")


def test_a_step_that_nothing_restores_stays_open(store: Store, noted: Noted) -> None:
    card = CARD.replace(b'    restores: "10"\n', b"").replace(b'revision: "1"', b'revision: "2"')
    store.cards.add(card, "other.yaml", by="ada")
    note = store.notes.add(replace(draft(*STEP_10), revision="2"), "W-1", "tom")
    sign(store, Confirmation(note.id, 1, accept(STEP_10, "ruth")), "ruth")
    sentences = [item.sentence for item in store.orders.status("W-1").items]
    assert any("no step of the card restores it" in sentence for sentence in sentences)


def test_the_equipment_of_the_order_is_that_of_its_records(store: Store, confirm: Confirm) -> None:
    first = confirm(*STEP_10)
    store.orders.describe("W-1", by="ruth", equipment="stand 2", serial_number="S-7")
    second = confirm(*STEP_20)
    assert (first.equipment, second.equipment, second.serial_number) == ("", "stand 2", "S-7")
    assert [o.number for o in store.orders.list(state="open")] == ["W-1"]
    assert store.orders.list(state="complete") == ()


def test_handover_says_what_is_open_who_did_what_and_where_it_stopped(
    store: Store, confirm: Confirm, clock: StandingClock
) -> None:
    confirm(*STEP_10)
    confirm(*STEP_20)
    clock.forward(hours=1)
    spoken = draft(*STEP_30, step="30", text="lock wire in place cover hotel tango six")
    store.notes.add(spoken, "W-1", "tom")
    handover = store.orders.handover("W-1")
    assert [(d.card, d.step, d.performed_by, d.signed_by) for d in handover.done] == [
        ("TB-10", "10", "tom", "ruth"),
        ("TB-10", "20", "tom", "ruth"),
    ]
    assert handover.last is not None
    assert (handover.last.by, handover.last.step, handover.last.at) == ("tom", "30", clock.at)
    assert handover.last.text == "lock wire in place cover hotel tango six"
    assert not handover.status.complete


@pytest.mark.parametrize("number", ["", " ", " W-1", "W-1\n"])
def test_numbers_that_are_none(store: Store, number: str) -> None:
    with pytest.raises(RecordError, match="needs a number"):
        store.orders.open(WorkOrder(number), by="tom")


def test_a_value_may_come_from_several_notes(store: Store, confirm: Confirm) -> None:
    parts: tuple[tuple[FieldValue, ...], ...] = (STEP_20[:1], STEP_20[1:2], STEP_20[2:])
    for part in parts:
        confirm(*part)
    assert not {kind for kind, step in kinds(store) if step == "20"}
