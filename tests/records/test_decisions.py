"""Every rule of deciding, and somebody who tries to get round it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest

from tests.records.scene import AT, CARD, STEP_10, STEP_20, STEP_30, accept, changed, value
from voicelog import cards
from voicelog.objects import Decision, FieldValue, Interval, Ratio
from voicelog.records import accept_undoubted
from voicelog.records.decisions import settle

TEST_STAND = cards.parse(CARD, "bearing.yaml")
TORQUE = ("20", "torque", "1")
WIRES = ("20", "wires", None)
COVER = ("10", "cover", None)


def settled(
    proposals: tuple[FieldValue, ...], decisions: tuple[Decision, ...], **more: Any
) -> tuple[dict[Any, Decision], tuple[str, ...]]:
    found, problems = settle(TEST_STAND, proposals, decisions, by="ruth", **more)
    return {decision.key: decision for decision in found}, problems


def test_all_accepted_with_verdicts_worked_out_anew() -> None:
    lying = changed(accept(STEP_20, "ruth"), TORQUE, limit="above")
    found, problems = settled(STEP_20, lying)
    assert problems == ()
    assert found[TORQUE].limit == "within"
    assert found[("20", "wrench", None)].limit is None


def test_every_proposed_value_needs_a_decision() -> None:
    _, problems = settled(STEP_20, accept(STEP_20[1:], "ruth"))
    assert problems == ("step 20 Bolt torque, bolt 1: not decided",)


@pytest.mark.parametrize(
    ("key", "changes", "problem"),
    [
        # who signs decides
        (TORQUE, {"by": "tom"}, "decided by tom; whoever signs must decide it themselves"),
        # an acceptance can't smuggle in another value or unit
        (TORQUE, {"value": Decimal(99)}, "another value than the proposed one is a correction"),
        (TORQUE, {"unit": "ft*lbf"}, "another value than the proposed one is a correction"),
        (TORQUE, {"value": Decimal("98.0"), "unit": None}, "is a correction"),
        # a correction needs a value and a why
        (TORQUE, {"kind": "correct", "why": "heard again", "value": None}, "needs a value"),
        (TORQUE, {"kind": "correct"}, "say why it is corrected"),
        (TORQUE, {"kind": "correct", "why": "  "}, "say why it is corrected"),
        (TORQUE, {"kind": "not applicable"}, "say why it is not applicable"),
        # no corrected value may be of the wrong kind
        (TORQUE, {"kind": "correct", "why": "w", "unit": None}, "needs a unit"),
        (TORQUE, {"kind": "correct", "why": "w", "unit": "mm"}, "measures something else"),
        (TORQUE, {"kind": "correct", "why": "w", "unit": "Nm of"}, "unknown unit"),
        (TORQUE, {"kind": "correct", "why": "w", "value": "98"}, "needs one number"),
        (TORQUE, {"kind": "correct", "why": "w", "value": Decimal("NaN")}, "needs one number"),
        (TORQUE, {"kind": "correct", "why": "w",
                  "value": Interval(Decimal(95), Decimal(99))}, "needs one number"),
        (WIRES, {"kind": "correct", "why": "w", "value": Decimal("2.5")}, "needs a whole number"),
        (WIRES, {"kind": "correct", "why": "w", "value": Decimal(-1)}, "needs a whole number"),
        (WIRES, {"kind": "correct", "why": "w", "unit": "mm"}, "a count has no unit"),
        (("20", "wrench", None), {"kind": "correct", "why": "w", "value": " "}, "needs a text"),
        # outside the limits: acknowledged one by one, with what follows and its reference
        (TORQUE, {"kind": "correct", "why": "w", "value": Decimal(94)},
         "below the limit; acknowledge it with what follows"),
        (TORQUE, {"kind": "correct", "why": "w", "value": Decimal("105.0001")}, "above the limit"),
        (TORQUE, {"kind": "correct", "why": "w", "value": Decimal(80), "unit": "ft*lbf"},
         "above the limit"),
        (WIRES, {"kind": "correct", "why": "w", "value": Decimal(6)}, "above the limit"),
        (TORQUE, {"kind": "correct", "why": "w", "value": Decimal(94), "follow_up": "deferred"},
         "deferred needs a reference"),
        (TORQUE, {"kind": "correct", "why": "w", "value": Decimal(94),
                  "follow_up": "engineering asked", "reference": " "}, "needs a reference"),
    ],
)  # fmt: skip
def test_what_a_decision_can_not_do(key: Any, changes: dict[str, Any], problem: str) -> None:
    _, problems = settled(STEP_20, changed(accept(STEP_20, "ruth"), key, **changes))
    assert len(problems) == 1
    assert problem in problems[0]


@pytest.mark.parametrize(
    ("follow_up", "reference"),
    [("rework", ""), ("rejected part", ""), ("deferred", "DD-7"), ("engineering asked", "E-9")],
)
def test_an_acknowledged_value_outside_its_limits_stands(follow_up: str, reference: str) -> None:
    low = (value("20", "torque", "1", Decimal(94), "N*m"),)
    decisions = changed(accept(low, "ruth"), TORQUE, follow_up=follow_up, reference=reference)
    found, problems = settled(low, decisions)
    assert problems == ()
    assert (found[TORQUE].value, found[TORQUE].limit) == (Decimal(94), "below")


def test_a_failed_check_needs_what_follows() -> None:
    failed = (value("10", "cover", None, "fail"),)
    _, problems = settled(failed, accept(failed, "ruth"))
    assert "a failed check; acknowledge it" in problems[0]
    found, problems = settled(failed, changed(accept(failed, "ruth"), COVER, follow_up="rework"))
    assert problems == ()
    assert found[COVER].follow_up == "rework"


@pytest.mark.parametrize(
    "proposal",
    [
        value("20", "torque", "1", Decimal(98)),  # the unit was not heard
        value("20", "torque", "1", Decimal(98), "mm"),
        value("20", "torque", "1", Interval(Decimal(96), Decimal(99)), "N*m"),
        value("10", "cover", None, "not done"),
    ],
)
def test_a_proposal_that_is_no_value_of_its_field_can_not_be_accepted(proposal: FieldValue) -> None:
    _, problems = settled((proposal,), accept((proposal,), "ruth"))
    assert len(problems) == 1
    assert problems[0].endswith("; correct or reject it")
    rejected = changed(accept((proposal,), "ruth"), proposal.key, kind="reject")
    assert settled((proposal,), rejected)[1] == ()


def test_a_rejected_value_leaves_nothing_behind() -> None:
    decisions = changed(
        accept(STEP_10, "ruth"), COVER, kind="reject", follow_up="deferred", reference="x"
    )
    found, _ = settled(STEP_10, decisions)
    rejected = found[COVER]
    assert (rejected.value, rejected.unit, rejected.follow_up, rejected.reference) == (
        None,
        None,
        None,
        "",
    )


def test_a_field_is_decided_once() -> None:
    decisions = (*accept(STEP_10, "ruth"), *accept(STEP_10, "ruth"))
    assert settled(STEP_10, decisions)[1] == ("step 10 Cover off: decided twice",)


@pytest.mark.parametrize(
    "key", [("99", "cover", None), ("10", "lid", None), ("20", "torque", "3"), ("10", "cover", "1")]
)
def test_a_field_that_the_card_lacks_can_not_be_decided(key: Any) -> None:
    stray = Decision(*key, "correct", "ruth", AT, "pass", why="w")
    _, problems = settled((), (stray,))
    assert "card TB-10 has no such field" in problems[0]


def test_two_values_for_one_field_ask_which_one_stands() -> None:
    two = (value(*TORQUE, Decimal(98), "N*m"), value(*TORQUE, Decimal(101), "N*m"))
    unsaid = (Decision(*TORQUE, "accept", "ruth", AT),)
    assert "say which one stands" in settled(two, unsaid)[1][0]
    said = (Decision(*TORQUE, "accept", "ruth", AT, Decimal(101), "N*m"),)
    found, problems = settled(two, said)
    assert problems == ()
    assert found[TORQUE].value == 101


def test_a_value_that_nobody_proposed_is_a_correction() -> None:
    missed = Decision(*TORQUE, "accept", "ruth", AT, Decimal(98), "N*m")
    assert "nothing was proposed" in settled((), (missed,))[1][0]
    typed = replace(missed, kind="correct", why="read from the worksheet")
    assert settled((), (typed,))[1] == ()


def test_every_problem_is_named_at_once() -> None:
    _, problems = settled((*STEP_10, *STEP_20, *STEP_30), ())
    assert len(problems) == 7


def test_only_values_that_raise_no_question_are_accepted_in_bulk() -> None:
    values = (
        STEP_20[0],
        value("20", "torque", "2", Decimal(15), "N*m", doubt="fifteen or fifty"),
        replace(value("20", "wires", None, Decimal(7)), limit="above"),
        value("10", "cover", None, "fail"),
        value("30", "serial", None, "A1"),
        value("30", "serial", None, "A2"),
    )
    assert [d.key for d in accept_undoubted(values, by="ruth", at=AT)] == [TORQUE]


COMPUTED = cards.parse(
    b"""\
card: TB-20
title: Compression
revision: "1"
revision_date: 2026-01-05
source: test stand manual
steps:
  - step: "10"
    title: Measure
    fields:
      - {name: cylinder, label: Cylinder, type: ratio, unit: psi, positions: ["1", "2"],
         position_word: cylinder}
      - {name: loss, label: Loss, type: computed, unit: percent, max: 25, positions: ["1", "2"],
         position_word: cylinder, formula: compression_loss, inputs: {compression: cylinder}}
      - {name: day, label: Day, type: date, required: false}
      - {name: state, label: State, type: choice, options: [new, worn], required: false}
""",
    "compression.yaml",
)
CYLINDER, LOSS = ("10", "cylinder", "1"), ("10", "loss", "1")


def measured(reading: int) -> FieldValue:
    return value(*CYLINDER, Ratio(Decimal(reading), Decimal(80)), "psi")


def test_computed_fields_are_worked_out_from_what_was_decided() -> None:
    found, problems = settle(COMPUTED, (measured(74),), accept((measured(74),), "ruth"), by="ruth")
    loss = {d.key: d for d in found}[LOSS]
    assert problems == ()
    assert (loss.value, loss.unit, loss.limit) == (Decimal("7.5"), "percent", "within")
    assert "compression_loss" in loss.why


def test_a_computed_value_can_not_be_given_by_hand() -> None:
    proposals = (measured(59), value(*LOSS, Decimal(5), "percent"))
    decisions = changed(accept(proposals, "ruth"), LOSS, value=Decimal(1))
    _, problems = settle(COMPUTED, proposals, decisions, by="ruth")
    assert problems == (
        "step 10 Loss, cylinder 1: above the limit; acknowledge it with what follows: "
        "rework, deferred, rejected part, engineering asked",
    )
    found, problems = settle(
        COMPUTED, proposals, changed(decisions, LOSS, follow_up="rework"), by="ruth"
    )
    loss = {d.key: d for d in found}[LOSS]
    assert problems == ()
    assert (loss.kind, loss.value) == ("correct", Decimal("26.25"))


def test_a_computed_value_without_its_inputs_can_not_stand() -> None:
    proposals = (value(*LOSS, Decimal(5), "percent"),)
    _, problems = settle(COMPUTED, proposals, accept(proposals, "ruth"), by="ruth")
    assert "not all of its inputs are decided" in problems[0]


@pytest.mark.parametrize(
    ("field", "good", "bad"),
    [
        ("cylinder", Ratio(Decimal(70), Decimal(80)), Decimal(70)),
        ("cylinder", Ratio(Decimal(70), Decimal(80)), Ratio(Decimal(70), Decimal(0))),
        ("day", date(2026, 11, 20), "2026-11-20"),
        ("day", date(2026, 11, 20), datetime(2026, 11, 20)),  # noqa: DTZ001
        ("state", "worn", "rusty"),
    ],
)
def test_values_of_the_other_types(field: str, good: Any, bad: Any) -> None:
    position, unit = ("1", "psi") if field == "cylinder" else (None, None)
    for what, fine in ((good, True), (bad, False)):
        decision = Decision("10", field, position, "correct", "ruth", AT, what, unit, "typed")
        _, problems = settle(COMPUTED, (), (decision,), by="ruth")
        assert (problems == ()) is fine


def test_a_value_computed_anew_in_a_correction_is_the_correctors() -> None:
    low = changed(
        accept((measured(59), value(*LOSS, Decimal("26.25"), "percent")), "ivo"),
        LOSS, follow_up="deferred", reference="DD-1",
    )  # fmt: skip
    old, problems = settle(
        COMPUTED, (measured(59), value(*LOSS, Decimal("26.25"), "percent")), low, by="ivo"
    )
    assert problems == ()
    fix = Decision(*CYLINDER, "correct", "ruth", AT, measured(58).value, "psi", "misread")
    _, problems = settle(COMPUTED, (measured(59),), (fix,), by="ruth", carried=old)
    assert "acknowledge it with what follows" in problems[0], "the old deferral was of 26.25 %"
    fix = replace(fix, value=measured(74).value)
    found, problems = settle(COMPUTED, (measured(59),), (fix,), by="ruth", carried=old)
    loss = {d.key: d for d in found}[LOSS]
    assert problems == ()
    assert (loss.value, loss.by, loss.follow_up) == (Decimal("7.5"), "ruth", None)


def test_a_correction_elsewhere_leaves_a_computed_value_with_its_signer() -> None:
    old, _ = settle(COMPUTED, (measured(74),), accept((measured(74),), "ivo"), by="ivo")
    state = Decision("10", "state", None, "correct", "ruth", AT, "worn", why="seen")
    found, problems = settle(COMPUTED, (measured(74),), (state,), by="ruth", carried=old)
    assert problems == ()
    assert {d.key: d.by for d in found}[LOSS] == "ivo"
