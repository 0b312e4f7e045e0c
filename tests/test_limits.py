"""Tolerance check and small computations against published worked values."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog import cards, limits, units
from voicelog.errors import LimitError, UnitError
from voicelog.limits import Amount, Computed, Verdict, compute, constant, elapsed, judge, shown
from voicelog.objects import Field, Interval, Ratio, Step

INCH_POUNDS = Field("t", "Torque", "measurement", "inch*lbf", Decimal(160), Decimal(190))


@pytest.mark.parametrize(
    ("value", "unit", "verdict"),
    [
        # 160-190 lbf·in (AC 43.13-1B table 7-1): 18.1 N·m = 160.198, in; 18.07 N·m = 159.933
        # shows as "160" and is out. Exact conversion, compared unrounded.
        ("18.1", "N*m", Verdict("within")),
        ("18.07", "N*m", Verdict("below")),
        ("160", "inch*lbf", Verdict("within", at_limit=True)),
        ("190", None, Verdict("within", at_limit=True)),
        ("190.0000001", "inch*lbf", Verdict("above")),
        ("159.9999999", "inch*lbf", Verdict("below")),
        ("175", "inch*lbf", Verdict("within")),
    ],
)
def test_bounds_are_inclusive_exact_and_unrounded(
    value: str, unit: str | None, verdict: Verdict
) -> None:
    assert limits.check(Decimal(value), unit, INCH_POUNDS) == verdict


def test_a_field_without_bounds_has_no_verdict() -> None:
    assert limits.check(Decimal(5), None, Field("n", "N", "count")) == Verdict(None)


def test_a_unit_of_another_dimension_is_no_verdict_but_an_error() -> None:
    with pytest.raises(UnitError):
        limits.check(Decimal(5), "mm", INCH_POUNDS)


@pytest.mark.parametrize(
    ("value", "verdict"),
    [
        (Ratio(Decimal(74), Decimal(80)), "within"),
        (Ratio(Decimal(59), Decimal(80)), "below"),
        ("pass", None),
        (Interval(Decimal(1), None), None),
    ],
)
def test_values_of_other_types(value: object, verdict: str | None) -> None:
    field = Field("c", "Compression", "ratio", "psi", min=Decimal(60))
    assert judge(value, "psi", field).verdict == verdict  # type: ignore[arg-type]


@given(st.decimals(min_value=-1000, max_value=1000, places=4), st.sampled_from(["N*m", "ft*lbf"]))
def test_verdict_agrees_with_comparing_fractions(value: Decimal, unit: str) -> None:
    number = units.convert(value, unit, "inch*lbf")
    verdict = limits.check(value, unit, INCH_POUNDS).verdict
    assert verdict == ("below" if number < 160 else "above" if number > 190 else "within")


def n(value: str, unit: str | None = None) -> Amount:
    return Amount(Decimal(value), unit)


def ratio(reading: int, reference: int) -> Amount:
    return Amount(Ratio(Decimal(reading), Decimal(reference)), "psi")


IN_LB, QT_H = "inch*lbf", "US_liquid_quart/hour"

WORKED = [
    # S = T·L/(L+E): 100·12/18 = 66.7 lbf·in (Navy training manual)
    ("torque_wrench_extension", IN_LB, "66.7",
     {"torque": n("100", IN_LB), "wrench": n("12", "inch"), "extension": n("6", "inch")}),
    # 300·10/14 = 214 (TM 1-1500-204-23-9)
    ("torque_wrench_extension", IN_LB, "214",
     {"torque": n("300", IN_LB), "wrench": n("10", "inch"), "extension": n("4", "inch")}),
    # shortening: 135·10/8.5 = 158.8
    ("torque_wrench_shortening", IN_LB, "158.8",
     {"torque": n("135", IN_LB), "wrench": n("10", "inch"), "extension": n("1.5", "inch")}),
    # AC 43.13-1B 8-14b: 74/80 loses 7.5 %, 60/80 25 %, 59/80 26.25 %
    ("compression_loss", "percent", "7.5", {"compression": ratio(74, 80)}),
    ("compression_loss", "percent", "25", {"compression": ratio(60, 80)}),
    ("compression_loss", "percent", "26.25", {"compression": ratio(59, 80)}),
    # wear form: limit 1.6 in, wear 1.35 -> 0.25 in left, 15.6 % (computed with exact fractions)
    ("wear_left", "inch", "0.25", {"wear": n("1.35", "inch"), "limit": n("1.6", "inch")}),
    ("wear_left_fraction", "percent", "15.6",
     {"wear": n("1.35", "inch"), "limit": n("1.6", "inch")}),
    # pin: remaining = measured - minimum, of what there was when new (arithmetic of our own)
    ("wear_remaining", "mm", "4.5", {"measured": n("6", "mm"), "minimum": n("1.5", "mm")}),
    ("wear_fraction", "percent", "45",
     {"measured": n("6", "mm"), "minimum": n("1.5", "mm"), "new": n("11.5", "mm")}),
    # 2 qt in 9.5 h = 0.2105 qt/h (computed with exact fractions)
    ("consumption_rate", QT_H, "0.2105",
     {"added": n("2", "US_liquid_quart"), "hours": n("9.5", "hour")}),
    # 5 drops/min / 20 x 60 = 15 cm³/h = 0.915 in³/h
    ("leak_rate", "cm**3/hour", "15",
     {"drops": n("5"), "time": n("1", "minute"), "drops_per_volume": n("20", "1/cm**3")}),
    ("leak_rate", "inch**3/hour", "0.915",
     {"drops": n("5"), "time": n("1", "minute"), "drops_per_volume": n("20", "1/cm**3")}),
    # 22:40 -> 01:15 = 2 h 35 min = 2.583 h
    ("duration", "hour", "2.583", {"start": Amount("22:40"), "finish": Amount("01:15")}),
]  # fmt: skip


@pytest.mark.parametrize(("formula", "unit", "published", "inputs"), WORKED)
def test_published_worked_values(
    formula: str, unit: str, published: str, inputs: dict[str, Amount]
) -> None:
    result = compute(formula, inputs, unit)
    assert result.unit == unit
    assert round(result.number, len(published.partition(".")[2])) == Fraction(published)


def test_every_formula_has_a_worked_value() -> None:
    assert {formula for formula, *_ in WORKED} == set(limits.formulas()) == set(cards.FORMULAS)


def test_25_percent_is_not_in_excess_of_25_percent() -> None:
    field = Field("loss", "Loss", "computed", "percent", max=Decimal(25))
    verdicts = [
        limits.check(compute("compression_loss", {"compression": r}).number, "percent", field)
        for r in (ratio(60, 80), ratio(59, 80))
    ]
    assert [v.verdict for v in verdicts] == ["within", "above"]


def test_inputs_may_come_in_any_unit_of_their_dimension() -> None:
    mixed = {
        "torque": n("100", "N*m"),
        "wrench": n("12", "inch"),
        "extension": n("152.4", "mm"),
    }
    assert compute("torque_wrench_extension", mixed) == Computed(Fraction(200, 3), "N*m")


@pytest.mark.parametrize(
    ("formula", "inputs", "error"),
    [
        ("tension_by_chart", {}, "no formula"),
        ("wear_left", {"wear": n("1", "mm")}, "limit"),
        ("wear_left", {"wear": n("1", "mm"), "limit": n("2", "mm"),
                       "more": n("2", "mm")}, "more"),
        ("wear_left", {"wear": n("1"), "limit": n("2", "mm")}, "needs a unit"),
        ("wear_left", {"wear": Amount("1", "mm"), "limit": n("2", "mm")}, "must be a number"),
        ("wear_left_fraction", {"wear": n("1", "mm"), "limit": n("0", "mm")}, "above zero"),
        ("wear_fraction", {"measured": n("1", "mm"), "minimum": n("3", "mm"),
                           "new": n("3", "mm")}, "above the minimum"),
        ("consumption_rate", {"added": n("1", "L"), "hours": n("0", "hour")}, "above zero"),
        ("leak_rate", {"drops": n("1", "mm"), "time": n("1", "hour"),
                       "drops_per_volume": n("20", "1/cm**3")}, "plain number"),
        ("leak_rate", {"drops": n("1"), "time": n("1", "hour"),
                       "drops_per_volume": n("0", "1/cm**3")}, "above zero"),
        ("compression_loss", {"compression": n("74", "psi")}, "ratio"),
        ("compression_loss", {"compression": ratio(74, 0)}, "above zero"),
        ("torque_wrench_extension", {"torque": n("1", "N*m"), "wrench": n("0", "mm"),
                                     "extension": n("1", "mm")}, "length"),
        ("torque_wrench_shortening", {"torque": n("1", "N*m"), "wrench": n("10", "mm"),
                                      "extension": n("10", "mm")}, "shorter"),
        ("duration", {"start": Amount("22:40"), "finish": Amount("22:40")}, "whole day"),
        ("duration", {"start": Amount("25:00"), "finish": Amount("22:40")}, "no time"),
        ("duration", {"start": n("22"), "finish": Amount("22:40")}, "time"),
        ("duration", {"start": Amount("2026-11-20T22:40"), "finish": Amount("2026-11-21T01:15")},
         "offset"),
        ("duration", {"start": Amount("22:40"), "finish": Amount("2026-11-21T01:15+01:00")},
         "same way"),
    ],
)  # fmt: skip
def test_what_a_formula_refuses(formula: str, inputs: dict[str, Amount], error: str) -> None:
    with pytest.raises(LimitError, match=error):
        compute(formula, inputs)


def test_a_unit_of_the_wrong_dimension_is_refused() -> None:
    with pytest.raises(UnitError):
        compute("wear_left", {"wear": n("1", "N*m"), "limit": n("2", "mm")})


def test_elapsed_time_is_worked_out_in_utc() -> None:
    winter, summer = (timezone(timedelta(hours=hours)) for hours in (1, 2))
    # the clocks go forward between the two: 01:30+01:00 -> 03:30+02:00 is one hour
    start = datetime(2026, 3, 29, 1, 30, tzinfo=winter)
    assert elapsed(start, datetime(2026, 3, 29, 3, 30, tzinfo=summer)) == 1
    with pytest.raises(LimitError, match="before"):
        elapsed(start, start - timedelta(seconds=1))


def test_constants_and_bounds_as_inputs() -> None:
    pin = Field("pin", "Pin", "measurement", "mm", min=Decimal("1.5"))
    step = Step("10", "Wear", (pin,))
    assert constant("12 inch", step) == n("12", "inch")
    assert constant("20", step) == n("20")
    assert constant("pin.min", step) == n("1.5", "mm")
    assert constant("pin", step) is None
    with pytest.raises(LimitError, match="no such bound"):
        constant("pin.max", step)


@pytest.mark.parametrize(
    ("exact", "text"),
    [
        (Fraction(200, 3), "66.6667"),
        (Fraction(15), "15"),
        (Fraction(1500), "1500"),
        (Fraction(1_234_567_890), "1234570000"),
        (Fraction(1, 4), "0.25"),
        (Fraction(159_999_999, 1_000_000), "160.000"),
        (Fraction(0), "0"),
    ],
)
def test_results_are_shown_with_six_digits(exact: Fraction, text: str) -> None:
    assert shown(Computed(exact, None)) == Decimal(text)


def test_a_result_beyond_a_bound_is_not_shown_on_it() -> None:
    field = Field("t", "Torque", "computed", "inch*lbf", min=Decimal(160))
    beyond = Computed(Fraction(1_599_999_996, 10_000_000), "inch*lbf")
    assert shown(beyond) == 160
    assert str(shown(beyond, field)) == "159.9999996"
