"""Signing: exactly what was shown, by somebody who may, once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from tests.records.scene import (
    SECRET,
    STEP_10,
    STEP_20,
    STEP_30,
    StandingClock,
    accept,
    changed,
    value,
)
from voicelog import wire
from voicelog.errors import Conflict, Denied, Incomplete, NotFound
from voicelog.objects import Note, Record
from voicelog.records import (
    Authorisation,
    Confirmation,
    Correction,
    Inspection,
    Resolution,
    Store,
    verify,
)
from voicelog.records.acts import Act
from voicelog.records.settings import load
from voicelog.records.signing import content_digest

Noted = Callable[..., Note]
Confirm = Callable[..., Record]


def sign(store: Store, act: Act, by: str, secret: str = SECRET) -> Record:
    return store.records.sign(
        act, by=by, secret=secret, digest=store.records.show(act, by=by).digest
    )


def test_a_record_holds_proposals_decisions_and_who_did_what(
    store: Store, noted: Noted, clock: StandingClock
) -> None:
    note = noted(*STEP_20)
    clock.forward(hours=2)
    decisions = changed(
        accept(STEP_20, "ruth"), ("20", "wires", None),
        kind="correct", value=Decimal(3), why="heard again",
    )  # fmt: skip
    record = sign(store, Confirmation(note.id, note.version, decisions), "ruth")
    assert record == store.records.get("R-000001")
    assert record.proposals == STEP_20
    assert {d.key: d.value for d in record.decisions}["20", "wires", None] == 3
    assert (record.performed_by, record.performed_at) == ("tom", note.created_at)
    assert (record.signature.by, record.signature.name) == ("ruth", "Ruth Hazel")
    assert (record.signature.certificate, record.signature.at) == ("B1 C-77", clock.at)
    assert (record.card, record.revision, record.source) == (
        "TB-10",
        "1",
        "test stand manual, section 10",
    )
    assert record.keep_until == date(2029, 11, 20)
    assert record.signature.digest == content_digest(wire.to_plain(record))
    assert store.notes.get(note.id).state == "confirmed"


def test_a_leap_day_is_kept_until_the_first_of_march() -> None:
    assert load().keep_until("X", date(2028, 2, 29)) == date(2031, 3, 1)


# --- what must not be signed ----------------------------------------------------------


def test_problems_are_refused_and_nothing_is_written(store: Store, noted: Noted) -> None:
    note = noted(*STEP_20)
    act = Confirmation(note.id, note.version, accept(STEP_20[1:], "ruth"))
    shown = store.records.show(act, by="ruth")
    assert len(shown.problems) == 1
    with pytest.raises(Incomplete, match="bolt 1: not decided"):
        store.records.sign(act, by="ruth", secret=SECRET, digest=shown.digest)
    assert store.notes.get(note.id) == note
    assert store.records.count() == 0


def test_nothing_decided_is_no_record(store: Store, noted: Noted) -> None:
    note = noted()
    assert (
        "nothing is decided"
        in store.records.show(Confirmation(note.id, 1, ()), by="ruth").problems[0]
    )


def test_another_content_than_the_one_shown_is_a_conflict(store: Store, noted: Noted) -> None:
    note = noted(*STEP_10)
    shown = store.records.show(Confirmation(note.id, 1, accept(STEP_10, "ruth")), by="ruth")
    failed = changed(
        accept(STEP_10, "ruth"), ("10", "cover", None),
        kind="correct", value="fail", why="w", follow_up="rework",
    )  # fmt: skip
    with pytest.raises(Conflict, match="what was shown is not what would be signed"):
        store.records.sign(
            Confirmation(note.id, 1, failed), by="ruth", secret=SECRET, digest=shown.digest
        )
    assert store.records.count() == 0


def test_somebody_elses_edit_makes_the_signature_void(store: Store, noted: Noted) -> None:
    note = noted(*STEP_10)
    act = Confirmation(note.id, 1, accept(STEP_10, "ruth"))
    shown = store.records.show(act, by="ruth")
    other = replace(note.draft, values=(value("10", "cover", None, "fail"),))
    store.notes.update(note.id, 1, other, by="tom")
    with pytest.raises(Conflict, match="changed by somebody else"):
        store.records.sign(act, by="ruth", secret=SECRET, digest=shown.digest)
    assert store.notes.get(note.id).draft == other


def test_the_work_order_changing_meanwhile_makes_it_void_too(store: Store, noted: Noted) -> None:
    note = noted(*STEP_10)
    act = Confirmation(note.id, 1, accept(STEP_10, "ruth"))
    shown = store.records.show(act, by="ruth")
    store.orders.describe("W-1", by="ruth", equipment="stand 2", serial_number="7")
    with pytest.raises(Conflict):
        store.records.sign(act, by="ruth", secret=SECRET, digest=shown.digest)


def test_a_note_becomes_one_record(store: Store, noted: Noted) -> None:
    note = noted(*STEP_10)
    act = Confirmation(note.id, 1, accept(STEP_10, "ruth"))
    digest = store.records.show(act, by="ruth").digest
    store.records.sign(act, by="ruth", secret=SECRET, digest=digest)
    with pytest.raises(Conflict, match="is confirmed already"):
        store.records.sign(act, by="ruth", secret=SECRET, digest=digest)
    assert store.records.count() == 1


@pytest.mark.parametrize(
    ("by", "secret", "message"),
    [
        ("ruth", "wrong secret", "id or secret is wrong"),
        ("tom", SECRET, "is no reviewer"),
        ("cleo", SECRET, "is no reviewer"),
        ("ada", SECRET, "is no reviewer"),
    ],
)
def test_only_a_reviewer_with_the_secret_signs(
    store: Store, noted: Noted, by: str, secret: str, message: str
) -> None:
    note = noted(*STEP_10)
    act = Confirmation(note.id, 1, accept(STEP_10, by))
    digest = store.records.show(Confirmation(note.id, 1, accept(STEP_10, "ruth")), by="ruth").digest
    with pytest.raises(Denied, match=message):
        store.records.sign(act, by=by, secret=secret, digest=digest)
    assert store.records.count() == 0


@pytest.mark.parametrize(
    ("authorisation", "may"),
    [
        (Authorisation("TB-10"), True),
        (Authorisation("TB-11"), False),
        (Authorisation("TB-10", steps=("10",)), True),
        (Authorisation("TB-10", steps=("20",)), False),
        (Authorisation("TB-10", until=date(2026, 11, 20)), True),
        (Authorisation("TB-10", until=date(2026, 11, 19)), False),
    ],
)
def test_authorisations_have_a_scope_and_an_end(
    store: Store, noted: Noted, authorisation: Authorisation, may: bool
) -> None:
    ruth = store.people.get("ruth")
    store.people.update(replace(ruth, authorisations=(authorisation,)), by="ada")
    note = noted(*STEP_10)
    act = Confirmation(note.id, 1, accept(STEP_10, "ruth"))
    if may:
        assert sign(store, act, "ruth").id == "R-000001"
    else:
        with pytest.raises(Denied, match="not authorised to confirm step 10 of card TB-10"):
            store.records.show(act, by="ruth")


def test_who_left_signs_nothing(store: Store, noted: Noted) -> None:
    store.people.update(replace(store.people.get("ruth"), active=False), by="ada")
    note = noted(*STEP_10)
    with pytest.raises(Denied, match="no longer active"):
        sign(store, Confirmation(note.id, 1, accept(STEP_10, "ruth")), "ruth")


# --- independent inspection -----------------------------------------------------------


def test_a_second_person_decides_anew(store: Store, confirm: Confirm) -> None:
    record = confirm(*STEP_30)
    assert record.to_inspect == ("30",)
    assert [r.id for r in store.records.awaiting_inspection()] == [record.id]
    found = sign(store, Inspection(record.id, accept(STEP_30, "ivo")), "ivo")
    assert (found.inspects, found.signature.meaning) == (record.id, "inspected independently")
    assert store.records.inspections(record.id) == (found,)
    assert store.records.awaiting_inspection() == ()


def test_the_inspector_must_decide_every_value_of_the_step(store: Store, confirm: Confirm) -> None:
    record = confirm(*STEP_30)
    for decisions in ((), accept(STEP_30[:1], "ivo")):
        with pytest.raises(Incomplete, match="Cover fitted: not decided"):
            sign(store, Inspection(record.id, decisions), "ivo")


def test_nobody_inspects_their_own_work_or_confirmation(store: Store, confirm: Confirm) -> None:
    both = replace(store.people.get("ruth"), authorisations=(Authorisation("*", inspect=True),))
    store.people.update(both, by="ada")
    record = confirm(*STEP_30)
    with pytest.raises(Denied, match="an independent inspection is for somebody else"):
        store.records.show(Inspection(record.id, accept(STEP_30, "ruth")), by="ruth")
    tom = replace(
        store.people.get("tom"),
        roles=("mechanic", "reviewer"),
        authorisations=(Authorisation("*", inspect=True),),
    )
    store.people.update(tom, by="ada")
    with pytest.raises(Denied, match="for somebody else"):
        store.records.show(Inspection(record.id, accept(STEP_30, "tom")), by="tom")


def test_correcting_a_record_does_not_make_its_corrector_independent(
    store: Store, confirm: Confirm
) -> None:
    record = confirm(*STEP_30)
    fix = changed(
        accept(STEP_30[1:], "ivo"),
        ("30", "serial", None),
        kind="correct",
        value="HT66-903",
        why="w",
    )
    newer = sign(store, Correction(record.id, fix, "misread"), "ivo")
    with pytest.raises(Denied, match="for somebody else"):
        store.records.show(Inspection(newer.id, accept(STEP_30, "ivo")), by="ivo")


def test_confirming_is_no_authorisation_to_inspect(store: Store, confirm: Confirm) -> None:
    record = confirm(*STEP_30)
    cleo = replace(
        store.people.get("cleo"), roles=("reviewer",), authorisations=(Authorisation("*"),)
    )
    store.people.update(cleo, by="ada")
    with pytest.raises(Denied, match="not authorised to inspect"):
        store.records.show(Inspection(record.id, accept(STEP_30, "cleo")), by="cleo")


def test_what_needs_no_inspection_gets_none(store: Store, confirm: Confirm) -> None:
    record = confirm(*STEP_10)
    with pytest.raises(Conflict, match="asks for no independent inspection"):
        store.records.show(Inspection(record.id, accept(STEP_10, "ivo")), by="ivo")


def test_an_inspector_can_not_decide_other_steps(store: Store, confirm: Confirm) -> None:
    record = confirm(*STEP_10, *STEP_30)
    decisions = accept((*STEP_10, *STEP_30), "ivo")
    problems = store.records.show(Inspection(record.id, decisions), by="ivo").problems
    assert any("step 10" in problem for problem in problems)


def test_a_value_declared_not_applicable_is_inspected_too(store: Store, noted: Noted) -> None:
    note = noted(*STEP_30)
    decisions = changed(
        accept(STEP_30, "ruth"), ("30", "locked", None), kind="not applicable", why="no holes"
    )
    record = sign(store, Confirmation(note.id, 1, decisions), "ruth")
    with pytest.raises(Incomplete, match="Lock wire: not decided"):
        sign(store, Inspection(record.id, accept(STEP_30[1:], "ivo")), "ivo")


# --- correction -------------------------------------------------------------------------


def test_a_correction_supersedes_and_keeps_both(store: Store, confirm: Confirm) -> None:
    record = confirm(*STEP_20)
    fix = changed(
        accept(STEP_20[:1], "ivo"), ("20", "torque", "1"),
        kind="correct", value=Decimal(99), why="worksheet says 99",
    )  # fmt: skip
    newer = sign(store, Correction(record.id, fix, "typing error found at audit"), "ivo")
    assert newer.supersedes == record.id
    assert newer.why == "typing error found at audit"
    values = {d.key: (d.value, d.by) for d in newer.decisions}
    assert values["20", "torque", "1"] == (99, "ivo")
    assert values["20", "torque", "2"] == (Decimal("101.5"), "ruth")
    assert store.records.get(record.id) == record
    assert store.records.history(record.id) == store.records.history(newer.id) == (record, newer)
    with pytest.raises(Conflict, match=f"superseded by {newer.id}"):
        store.records.show(Correction(record.id, fix, "again"), by="ivo")


def test_a_correction_needs_a_change_and_a_why(store: Store, confirm: Confirm) -> None:
    record = confirm(*STEP_20)
    problems = store.records.show(Correction(record.id, (), " "), by="ruth").problems
    assert problems == (
        "a correction changes at least one decision",
        "say why the record is corrected",
    )


def test_a_corrected_record_waits_for_inspection_again(store: Store, confirm: Confirm) -> None:
    record = confirm(*STEP_30)
    inspection = sign(store, Inspection(record.id, accept(STEP_30, "ivo")), "ivo")
    fix = changed(
        accept(STEP_30[1:], "ruth"), ("30", "serial", None), kind="correct", value="A-1", why="w"
    )
    newer = sign(store, Correction(record.id, fix, "misread"), "ruth")
    assert [r.id for r in store.records.awaiting_inspection()] == [newer.id]
    with pytest.raises(Conflict, match="is an inspection"):
        store.records.show(Correction(inspection.id, fix, "w"), by="ruth")


def test_unknown_records_and_notes(store: Store) -> None:
    with pytest.raises(NotFound, match="R-9"):
        store.records.get("R-9")
    with pytest.raises(NotFound, match="N-9"):
        store.records.show(Confirmation("N-9", 1, ()), by="ruth")


def test_a_new_key_keeps_old_signatures_verifiable(store: Store, confirm: Confirm) -> None:
    first = confirm(*STEP_10)
    store.people.set_secret("ruth", "another secret", by="ada")
    with pytest.raises(Denied):
        confirm(*STEP_20)
    note = store.notes.get("N-000002")
    second = sign(
        store, Confirmation(note.id, 1, accept(STEP_20, "ruth")), "ruth", "another secret"
    )
    assert first.signature.key != second.signature.key
    assert verify(store.home) == ()


def test_a_resolution_of_nothing_is_refused(store: Store, noted: Noted) -> None:
    note = noted(*STEP_10)
    act = Confirmation(note.id, 1, accept(STEP_10, "ruth"), (Resolution("tool X", "because"),))
    assert "nothing of the kind stands in the way" in store.records.show(act, by="ruth").problems[0]
