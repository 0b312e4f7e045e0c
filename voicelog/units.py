"""Units of measurement: the only module that imports Pint.

Pint is never given spoken text (it reads "Nm" as a textile number and "amps" as attometre
per second): what was said is looked up in the allow-list `models_config/units.toml`, and
only canonical expressions such as "ft*lbf" come here. Numbers are exact fractions, so a
value is compared with a bound without any rounding.

Angle, percent and what is counted (landings, drops, cycles) are dimensions of their own
here: for Pint they are pure numbers, so that 5 degrees would convert to 9 percent and
60 rpm to 6.3 Hz.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicelog.errors import UnitError

if TYPE_CHECKING:
    from decimal import Decimal

    import pint

_DEFINITIONS = (
    "radian = [angle] = rad",
    "turn = 360 * degree = _ = revolution = rev",
    "tenth_thou = inch / 10000",  # a machinist's tenth
    "flat = turn / 6",  # of a hexagon nut
    "revolutions_per_minute = revolution / minute = rpm",
    "percent = [proportion] = %",
    "ppm = percent / 10000",
    "cycle = [operation] = cyc",
    "landing = [landing]",
    "start = [start]",
    "stroke = [stroke]",
    "drop = [drop]",
    "foot_candle = lumen / foot ** 2",
    "micron_Hg = millimeter_Hg / 1000",
    # hardness scales don't convert into each other
    "shore_A = [hardness_shore_a]",
    "shore_D = [hardness_shore_d]",
    "HRC = [hardness_rockwell_c]",
    "HRB = [hardness_rockwell_b]",
    "HBW = [hardness_brinell] = _ = HB",
    "HV = [hardness_vickers]",
    "barcol = [hardness_barcol]",
    "IRHD = [hardness_irhd]",
    # as shops write them on cards
    "megohm = 1e6 * ohm",
    "psig = psi",
    "psia = psi",
    "psid = psi",
)

_TRAPS = {
    "Nm": "N*m",  # Pint's Nm is a yarn number
    "nM": "N*m",
    "amps": "A",  # attometre per second
    "Amps": "A",
    "mil": "thou or mm",  # a thousandth in one shop, a millimetre in another
    "mils": "thou or mm",
    "lbs": "lb or lbf",
    "ftlb": "ft*lbf",
    "inlb": "in*lbf",
    "ft*lb": "ft*lbf",  # a foot times a mass
    "in*lb": "in*lbf",
    "kg*m": "kgf*m",
}
"""What a card may write in good faith and Pint takes for something else."""
_SIDE_BY_SIDE = re.compile(r"\w\s+\w")
"""Pint multiplies what stands side by side: "foot pounds" would be a foot times a mass."""


@cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(
        None, non_int_type=Fraction, on_redefinition="ignore", cache_folder=None
    )
    registry.load_definitions(Path(pint.__file__).with_name("default_en.txt"))
    for definition in _DEFINITIONS:
        registry.define(definition)
    return registry


@cache
def _unit(unit: str) -> Any:
    if unit in _TRAPS:
        raise UnitError(f"unit {unit!r} is open to misreading; write {_TRAPS[unit]}")
    if _SIDE_BY_SIDE.search(unit):
        raise UnitError(
            f"unknown unit {unit!r}; write it as a Pint expression, such as N*m or ft*lbf"
        )
    try:
        return _registry().Unit(unit)
    except Exception as error:  # Pint raises errors of many modules for a bad expression
        raise UnitError(
            f"unknown unit {unit!r}; write it as a Pint expression, such as N*m or ft*lbf"
        ) from error


def known(unit: str) -> bool:
    """Whether `unit` is an expression that can be converted at all."""
    try:
        dimension(unit)
    except UnitError:
        return False
    return True


@cache
def dimension(unit: str) -> frozenset[tuple[str, Fraction]]:
    """Base dimensions of `unit` with their exponents; empty for a pure number."""
    import pint

    try:
        dimensions = _unit(unit).dimensionality
    except pint.UndefinedUnitError as error:  # a level on a logarithmic scale in a product
        raise UnitError(f"unit {unit!r} has no dimension that can be converted") from error
    return frozenset((base, Fraction(exponent)) for base, exponent in dimensions.items())


def compatible(unit: str, other: str) -> bool:
    """Whether a value in `unit` can be converted to `other`."""
    return dimension(unit) == dimension(other)


@cache
def _line(unit: str, to: str) -> tuple[Fraction, Fraction]:
    """Slope and offset of the conversion, exactly."""
    if not compatible(unit, to):
        raise UnitError(f"{unit} can't be converted to {to}: they measure different things")
    import pint

    registry = _registry()
    try:
        zero = Fraction(registry.Quantity(Fraction(0), _unit(unit)).to(_unit(to)).magnitude)
        one = Fraction(registry.Quantity(Fraction(1), _unit(unit)).to(_unit(to)).magnitude)
    except pint.PintError as error:
        raise UnitError(
            f"{unit} can't be converted to {to}: one is a temperature, the other a difference"
        ) from error
    except TypeError as error:  # Pint takes the logarithm of a float only
        raise UnitError(
            f"{unit} can't be converted to {to}: one is a level on a logarithmic scale"
        ) from error
    return one - zero, zero


@cache
def same(unit: str, to: str) -> bool:
    """Whether a number means the same in both units, in whichever way they are written.

    Raises UnitError when a unit is unknown or the two measure different things.
    """
    if unit == to:
        return True
    slope, offset = _line(unit, to)
    return slope == 1 and offset == 0


def convert(value: Decimal | Fraction, unit: str, to: str) -> Fraction:
    """`value` in `unit` as an exact number of `to`.

    Raises UnitError when a unit is unknown or the two measure different things.
    """
    if unit == to:
        return Fraction(value)
    slope, offset = _line(unit, to)
    return Fraction(value) * slope + offset
