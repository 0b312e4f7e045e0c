"""Unit factors against exact values and against scipy.constants."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from voicelog import units
from voicelog.errors import UnitError

INCH, POUND, GRAVITY = Fraction("0.0254"), Fraction("0.45359237"), Fraction("9.80665")
LBF = POUND * GRAVITY

EXACT = [
    # from in = 25.4 mm, lb = 0.453 592 37 kg, g = 9.806 65 m/s², all exact by definition
    ("ft*lbf", "N*m", 12 * INCH * LBF),
    ("in*lbf", "N*m", INCH * LBF),
    ("in*ozf", "N*m", INCH * LBF / 16),
    ("kgf*m", "N*m", GRAVITY),
    ("psi", "Pa", LBF / INCH**2),
    ("kgf/cm**2", "Pa", Fraction("98066.5")),
    ("atm", "Pa", Fraction(101325)),
    ("thou", "mm", Fraction("0.0254")),
    ("um", "thou", Fraction(10, 254)),
    ("lb", "kg", POUND),
    ("oz", "g", Fraction("28.349523125")),
    ("lbf", "N", Fraction("4.4482216152605")),
    ("gallon", "L", Fraction("3.785411784")),
    ("quart", "L", Fraction("0.946352946")),
    ("pint", "L", Fraction("0.473176473")),
    ("imperial_gallon", "L", Fraction("4.54609")),
    ("imperial_quart", "L", Fraction("1.1365225")),
    ("imperial_pint", "L", Fraction("0.56826125")),
    ("in**3", "cm**3", Fraction("16.387064")),
    ("gallon/min", "L/min", Fraction("3.785411784")),
    ("in/s", "mm/s", Fraction("25.4")),
    ("hp", "W", 550 * 12 * INCH * LBF),
    ("A*hour", "C", Fraction(3600)),
    ("delta_degF", "delta_degC", Fraction(5, 9)),
    ("minute", "hour", Fraction(1, 60)),
    ("degree", "arcminute", Fraction(60)),
    ("turn", "degree", Fraction(360)),
    ("drop/min", "drop/hour", Fraction(60)),
    ("Gohm", "Mohm", Fraction(1000)),
    ("tenth_thou", "in", Fraction(1, 10_000)),
    ("psig", "psi", Fraction(1)),
    ("megohm", "ohm", Fraction(10**6)),
]


@pytest.mark.parametrize(("unit", "to", "factor"), EXACT)
def test_exact_factor(unit: str, to: str, factor: Fraction) -> None:
    assert units.convert(Fraction(1), unit, to) == factor
    assert units.convert(factor, to, unit) == 1


PUBLISHED = [
    # NIST SP 811 B.8, to the digits printed
    ("ft*lbf", "N*m", "1.3558179483314004"),
    ("in*lbf", "N*m", "0.1129848290276167"),
    ("in*ozf", "N*m", "0.00706155181422604375"),
    ("psi", "Pa", "6894.757293168361"),
    ("bar", "psi", "14.503773773"),
    ("inHg", "Pa", "3386.388640341"),
    ("hp", "W", "745.69987158227022"),
]


@pytest.mark.parametrize(("unit", "to", "printed"), PUBLISHED)
def test_published_value(unit: str, to: str, printed: str) -> None:
    digits = Decimal(printed)
    tolerance = Fraction(digits) * Fraction(1, 10**9)
    assert abs(units.convert(Fraction(1), unit, to) - Fraction(digits)) < tolerance


@pytest.mark.parametrize(
    ("unit", "to", "factor"),
    [
        ("psi", "Pa", constants.psi), ("atm", "Pa", constants.atm), ("torr", "Pa", constants.torr),
        ("bar", "Pa", constants.bar), ("lb", "kg", constants.pound), ("lbf", "N", constants.lbf),
        ("kgf", "N", constants.kgf), ("in", "m", constants.inch), ("ft", "m", constants.foot),
        ("mile/hour", "m/s", constants.mph), ("knot", "m/s", constants.knot),
        ("hp", "W", constants.hp), ("gallon", "m**3", constants.gallon),
        ("imperial_gallon", "m**3", constants.gallon_imp),
        ("fluid_ounce", "m**3", constants.fluid_ounce),
        ("arcminute", "degree", constants.arcmin / constants.degree),
        ("short_ton", "kg", constants.short_ton), ("long_ton", "kg", constants.long_ton),
        ("hour", "second", constants.hour),
        ("hectare", "m**2", constants.hectare), ("nmi", "m", constants.nautical_mile),
    ],
)  # fmt: skip
def test_factor_of_scipy(unit: str, to: str, factor: float) -> None:
    assert float(units.convert(Fraction(1), unit, to)) == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [("-40", "-40"), ("0", "32"), ("100", "212"), ("37", "98.6")]
)
def test_temperature(celsius: str, fahrenheit: str) -> None:
    assert units.convert(Decimal(fahrenheit), "degF", "degC") == Fraction(celsius)
    assert units.convert(Decimal(celsius), "degC", "degF") == Fraction(fahrenheit)


def test_a_difference_has_no_offset() -> None:
    assert units.convert(Decimal(100), "delta_degF", "K") == Fraction(500, 9)
    assert round(units.convert(Decimal(245), "degF", "degC"), 2) == Fraction("118.33")


@pytest.mark.parametrize(
    ("unit", "other"),
    [("degree", "percent"), ("rpm", "Hz"), ("landing", "cycle"), ("drop/min", "mL/min"),
     ("N*m", "N"), ("lb", "lbf"), ("shore_A", "HRC"), ("percent", "rpm"), ("", "percent")],
)  # fmt: skip
def test_what_measures_different_things_never_converts(unit: str, other: str) -> None:
    assert not units.compatible(unit, other)
    with pytest.raises(UnitError, match="different things"):
        units.convert(Decimal(1), unit, other)


@pytest.mark.parametrize("unit", ["nonsense", "N**", "foot pounds", "P S I", "newton metres"])
def test_spoken_text_is_no_unit(unit: str) -> None:
    assert not units.known(unit)
    with pytest.raises(UnitError, match="Pint expression"):
        units.convert(Decimal(1), unit, "m")


@pytest.mark.parametrize("unit", ["Nm", "amps", "mils", "ft*lb", "lbs"])
def test_what_pint_misreads_is_refused_with_advice(unit: str) -> None:
    assert not units.known(unit)
    with pytest.raises(UnitError, match="write"):
        units.dimension(unit)


@given(st.decimals(min_value=-10_000, max_value=10_000, places=4))
def test_there_and_back_is_exact(value: Decimal) -> None:
    for unit, to, _ in EXACT:
        assert units.convert(units.convert(value, unit, to), to, unit) == Fraction(value)


def test_a_level_is_no_plain_number() -> None:
    with pytest.raises(UnitError, match="logarithmic"):
        units.convert(Decimal(1), "decibel", "dimensionless")


def test_a_level_in_a_product_is_no_unit() -> None:
    assert not units.known("decibel/second")
    with pytest.raises(UnitError, match="no dimension"):
        units.dimension("decibel/second")
