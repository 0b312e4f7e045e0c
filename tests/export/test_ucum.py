"""UCUM codes, checked with ucumvert: each is valid and means the same unit."""

from __future__ import annotations

import re
import tomllib
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest

from voicelog import cards, units
from voicelog.config import config_dir
from voicelog.export.ucum import code, printed

if TYPE_CHECKING:
    from collections.abc import Iterator

HARDNESS = {"shore_A", "shore_D", "HRC", "HRB", "HBW", "HV", "barcol", "IRHD"}
"""UCUM has no codes for hardness scales."""

BASES = (
    "m", "mm", "kg", "N", "N*m", "Pa", "J", "W", "s", "L", "m/s", "m/s**2", "m**2", "m**3/s",
    "kg/m**3", "kg/s", "N/m", "V", "A", "ohm", "F", "S", "Hz", "A*s", "V*A", "radian",
    "radian/s", "K", "m/m", "lux", "lumen", "candela", "W/m**2", "m**2/s", "percent",
    "H", "Pa*s", "S/m", "kg/m**2", "ohm*m",
)  # fmt: skip

ONLY_VALID = {"arcminute", "arcsecond", "dB"}
"""A decibel is no multiple of a unit.

ucumvert 0.3.2 reads ' and '' as minute and second of time; UCUM (table 28) has the angle.
"""

BY_DEFINITION = {"acre": 1e-5, "inHg": 3e-3, "mmHg": 1e-5, "inH2O": 1e-3, "mmH2O": 1e-3,
                 "micron_Hg": 1e-5, "atm": 0, "torr": 1e-9}  # fmt: skip
"""Relative differences of the definitions: columns of mercury and water at other densities
(UCUM: 133.322 kPa and 9.80665 kPa for a metre; ucumvert 0.3.2 takes the inch at 60 °F), and
the US survey foot in the acre."""


def allowed() -> Iterator[str]:
    """Every unit of the allow-list and of the demo's cards."""
    with (config_dir() / "units.toml").open("rb") as file:
        for dimension in tomllib.load(file)["dimension"].values():
            yield from dimension.get("units", {})
            yield from dimension.get("symbols", {})
            for open_unit in dimension.get("open", ()):
                yield from open_unit["units"]
    for card in cards.shipped().values():
        for step in card.steps:
            yield from (field.unit for field in step.fields if field.unit)


UNITS = sorted(set(allowed()))


@pytest.fixture(scope="module")
def ucum() -> Any:
    ucumvert = pytest.importorskip("ucumvert")
    return ucumvert.PintUcumRegistry()


def test_every_unit_that_can_be_said_has_a_code() -> None:
    assert {unit for unit in UNITS if code(unit) is None} == HARDNESS


@pytest.mark.parametrize("unit", [unit for unit in UNITS if unit not in HARDNESS])
def test_the_code_means_the_same_unit(unit: str, ucum: Any) -> None:
    written = code(unit)
    assert written is not None
    theirs = ucum.from_ucum(written)  # raises when it is no UCUM code
    if "{" in written or unit in ONLY_VALID:  # an annotation has no value to compare
        return
    base = next((base for base in BASES if units.compatible(unit, base)), None)
    assert base is not None, "BASES lacks an SI unit of this dimension"
    ours = float(units.convert(Fraction(1), unit, base))
    offset = float(units.convert(Fraction(0), unit, base))
    si = ucum.from_ucum(str(code(base)))
    got = (1 * theirs if offset == 0 else ucum.Quantity(1, theirs.units)).to(si.units)
    scale = float(got.magnitude) / (float(si.magnitude) if offset == 0 else 1.0)
    assert scale == pytest.approx(ours, rel=max(BY_DEFINITION.get(_atom(unit), 0), 1e-9))


def _atom(unit: str) -> str:
    return re.split(r"[*/]", unit)[0]


@pytest.mark.parametrize(
    ("unit", "expected"),
    [
        ("N*m", "N.m"),
        ("ft*lbf", "[ft_i].[lbf_av]"),
        ("in*lbf", "[in_i].[lbf_av]"),
        ("psi", "[psi]"),
        ("psig", "[psi]{gauge}"),
        ("degC", "Cel"),
        ("kgf/cm**2", "kgf/cm2"),
        ("m/s**2", "m/s2"),
        ("thou", "[mil_i]"),
        ("N * m", "N.m"),
        ("furlong", None),
        ("N*", None),
        ("*N", None),
        ("N m", None),
        ("2*N", None),
        ("", None),
        (None, None),
    ],
)
def test_codes(unit: str | None, expected: str | None) -> None:
    assert code(unit) == expected


@pytest.mark.parametrize(
    ("unit", "sign"),
    [
        ("N*m", "N·m"),
        ("kgf/cm**2", "kgf/cm²"),
        ("degC", "°C"),
        ("um", "µm"),
        ("ohm", "Ω"),
        ("uW/cm**2", "µW/cm²"),
        ("furlong", "furlong"),
        ("2*N", "2*N"),
        (None, ""),
    ],
)
def test_signs(unit: str | None, sign: str) -> None:
    assert printed(unit) == sign
