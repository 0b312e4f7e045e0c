"""The scorer: what counts as right, wrong, silent, and the statistics over it."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.bench.score import (
    Entry,
    Outcome,
    Tally,
    calibration_error,
    reliability,
    same,
    score,
    wilson,
)
from voicelog.errors import CardError
from voicelog.objects import Card, Field, FieldValue, Ratio, Reason, Step

CARD = Card(
    "T-1",
    "Test",
    "1",
    date(2026, 1, 1),
    "invented",
    (
        Step(
            "10",
            "All kinds",
            (
                Field("torque", "Torque", "measurement", "N*m", positions=("1", "2")),
                Field("wires", "Broken wires", "count"),
                Field("compression", "Compression", "ratio", "psi"),
                Field("serial", "Serial", "identifier", kind="serial number"),
                Field("pin", "Pin", "check"),
                Field("due", "Due", "date"),
                Field("remarks", "Remarks", "text"),
            ),
        ),
    ),
)


def entry(field, value, unit=None, position=None, **more):
    return Entry.of_contract(
        {"field": field, "value": value, "unit": unit, "position": position, **more}, step="10"
    )


@pytest.mark.parametrize(
    ("kind", "a", "b", "equal"),
    [
        ("measurement", (95, "N*m"), ("95.0", "N*m"), True),
        ("measurement", ("25.4", "mm"), (1, "inch"), True),
        ("measurement", (10, "ft*lbf"), (120, "inch*lbf"), True),
        ("measurement", (95, "N*m"), (95, "ft*lbf"), False),
        ("measurement", (95, "N*m"), (95, None), False),
        ("measurement", (95, None), (95, "N*m"), False),
        ("measurement", (95, "N*m"), (95, "mm"), False),
        ("count", (3, None), (3, ""), True),
        ("count", (3, None), (4, None), False),
        ("identifier", ("HT66-902", None), ("ht66 -902", None), True),
        ("identifier", ("HT66-902", None), ("HT66902", None), False),
        ("identifier", ("0042", None), ("42", None), False),
        ("identifier", ("42", None), (42, None), False),
        ("check", ("pass", None), ("fail", None), False),
        ("date", ("2027-03-01", None), ("2027-03-01", None), True),
        ("date", ("2027-03-01", None), ("2027-01-03", None), False),
        ("text", ("light scoring on the drum", None), ("Light scoring, on the drum.", None), True),
        ("text", ("left one is tight", None), ("fail, left one is tight, no leaks", None), True),
        ("text", ("no scoring on the drum", None), ("scoring on the drum", None), False),
        ("text", ("light scoring on the drum", None), ("grease renewed", None), False),
    ],
)
def test_same(kind, a, b, equal):
    first, second = (entry("x", Decimal(v) if kind == "measurement" else v, u) for v, u in (a, b))
    assert same(first, second, kind) is equal
    if kind != "text":
        assert same(second, first, kind) is equal


def test_a_ratio_is_never_divided_out():
    said = entry("compression", {"reading": 74, "reference": 80}, "psi")
    assert same(said, entry("compression", {"reading": 74.0, "reference": 80}, "psi"), "ratio")
    assert not same(said, entry("compression", {"reading": 37, "reference": 40}, "psi"), "ratio")
    assert not same(said, entry("compression", 0.925, "psi"), "ratio")


def test_every_outcome_once():
    expected = [
        entry("torque", 98, "N*m", "1"),
        entry("torque", 99, "N*m", "2"),
        entry("wires", 2),
        entry("serial", "HT66"),
        entry("pin", "pass"),
    ]
    proposed = [
        entry("torque", 98, "N*m", 1),
        entry("torque", 9, "N*m", "2"),
        entry("serial", "HD66", needs_check=True),
        entry("pin", "pass", needs_check=True),
        entry("due", "2027-01-01"),
        entry("remarks", "a text field is free to hold words of the note"),
    ]
    outcomes = score(CARD, expected, proposed)
    assert Tally.of(outcomes) == Tally(
        expected=5, right=2, right_unflagged=1, silent=2, caught=1, missed=1
    )
    assert Tally.of(outcomes).right_flagged == 1
    assert [o.key[1] for o in outcomes if o.silent] == ["torque", "due"]


def test_an_open_value_must_be_asked():
    key = ("10", "wires", None)
    flagged, bare = entry("wires", 15, needs_check=True), entry("wires", 15)
    assert Tally.of(score(CARD, [], [flagged], [key])) == Tally(asked=1)
    assert Tally.of(score(CARD, [], [bare], [key])) == Tally(asked=1, silent=1)
    assert Tally.of(score(CARD, [bare], [flagged], [key])) == Tally(asked=1)
    assert Tally.of(score(CARD, [bare], [bare], [key])).silent == 1
    # left empty: nothing is in the record, so nothing is silently wrong
    assert Tally.of(score(CARD, [bare], [], [key])) == Tally(asked=1)


def test_a_second_value_for_one_field_is_unexpected():
    outcomes = score(CARD, [entry("wires", 2)], [entry("wires", 3), entry("wires", 2)])
    assert [o.verdict for o in outcomes] == ["right", "unexpected"]
    assert Tally.of(outcomes).silent == 1


def test_a_field_that_the_card_lacks_is_refused():
    with pytest.raises(CardError, match="no field 'axle'"):
        score(CARD, [entry("axle", 1)], [])
    with pytest.raises(CardError, match="no field 'axle'"):
        score(CARD, [], [entry("axle", 1)])


def test_a_draft_value_counts_as_its_contract_form():
    value = FieldValue(
        "10", "compression", None, Ratio(Decimal("74"), Decimal("80")), "psi",
        confidence=0.5, reasons=(Reason("x", "why"),),
    )  # fmt: skip
    assert Entry.of_value(value) == entry(
        "compression",
        {"reading": 74, "reference": 80},
        "psi",
        needs_check=True,
        confidence=0.5,
        reasons=["why"],
    )


@pytest.mark.parametrize("value", [True, [], {"low": 1}])
def test_what_is_no_value_is_refused(value):
    with pytest.raises(ValueError, match="not a value"):
        entry("wires", value)


def test_wilson_against_published_figures():
    # R. G. Newcombe, Statistics in Medicine 17 (1998) 857, table I, method 3
    for hits, of, low, high in [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ]:
        assert wilson(hits, of) == pytest.approx((low, high), abs=5e-5)
    assert wilson(0, 0) == (0.0, 1.0)


@given(st.integers(0, 500), st.integers(1, 500))
def test_wilson_holds_the_share(hits, more):
    low, high = wilson(hits, hits + more)
    assert 0 <= low <= hits / (hits + more) <= high <= 1


def outcome(right, confidence):
    return Outcome(
        "right" if right else "wrong", entry("wires", 1), entry("wires", 1, confidence=confidence)
    )


def test_calibration_error():
    perfect = [outcome(True, 1.0)] * 3
    assert calibration_error(perfect) == 0
    assert calibration_error([outcome(False, 1.0)]) == 1
    half = [outcome(True, 0.75), outcome(False, 0.75)]
    assert calibration_error(half) == pytest.approx(0.25)
    assert calibration_error(perfect + half) == pytest.approx(0.25 * 2 / 5)
    assert calibration_error([]) == 0
    assert [(b.low, b.count, b.right) for b in reliability(perfect + half)] == [
        (0.7, 2, 1),
        (0.9, 3, 3),
    ]


@given(st.lists(st.tuples(st.booleans(), st.floats(0, 1)), max_size=50))
def test_calibration_error_is_a_share(pairs):
    outcomes = [outcome(*pair) for pair in pairs]
    assert 0 <= calibration_error(outcomes) <= 1
    assert sum(b.count for b in reliability(outcomes)) == len(pairs)
