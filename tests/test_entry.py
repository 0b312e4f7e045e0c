"""Typed values: one form a type, checked against the field."""

from __future__ import annotations

import contextlib
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog import entry, units
from voicelog.errors import EntryError, UnitError, VoicelogError
from voicelog.objects import Field, Ratio

TORQUE = Field("torque", "Torque", "measurement", unit="N*m")
FIELDS = {
    "measurement": TORQUE,
    "count": Field("wires", "Broken wires", "count"),
    "ratio": Field("cylinder", "Compression", "ratio", unit="psi"),
    "identifier": Field("serial", "Serial", "identifier", pattern=r"[A-Z]{2}\d{3}"),
    "check": Field("pin", "Cotter pin", "check"),
    "choice": Field("state", "State", "choice", options=("New", "Worn")),
    "date": Field("due", "Due", "date"),
    "text": Field("remarks", "Remarks", "text"),
}


@pytest.mark.parametrize(
    ("type", "text", "value", "unit"),
    [
        ("measurement", "98.50", Decimal("98.50"), "N*m"),
        ("measurement", " 72  ft*lbf ", Decimal(72), "ft*lbf"),
        ("measurement", "-3", Decimal(-3), "N*m"),
        ("count", "0", Decimal(0), None),
        ("ratio", "74 / 80", Ratio(Decimal(74), Decimal(80)), "psi"),
        ("identifier", "ht066", "HT066", None),
        ("check", "Pass", "pass", None),
        ("choice", "worn", "Worn", None),
        ("date", "2026-11-30", date(2026, 11, 30), None),
        ("text", "light  score", "light score", None),
    ],
)
def test_what_fits_is_taken(type: str, text: str, value: object, unit: str | None) -> None:
    assert entry.parse(FIELDS[type], text) == entry.Entry(value, unit)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("type", "text"),
    [
        ("measurement", ""),
        ("measurement", "about 98"),
        ("measurement", "98 Nm"),  # to Pint a textile number: another dimension
        ("measurement", "98 psi"),
        ("measurement", "9,8"),
        ("count", "2.5"),
        ("count", "-1"),
        ("ratio", "74"),
        ("identifier", "HT66"),
        ("check", "ok"),
        ("choice", "broken"),
        ("date", "30/11/2026"),
        ("date", "2026-02-30"),
        ("text", "  "),
    ],
)
def test_what_does_not_fit_is_refused_with_what_to_type(type: str, text: str) -> None:
    with pytest.raises((EntryError, UnitError)):
        entry.parse(FIELDS[type], text)


@given(st.sampled_from(sorted(FIELDS)), st.text())
def test_no_text_gives_a_traceback(type: str, text: str) -> None:
    with contextlib.suppress(VoicelogError):
        entry.parse(FIELDS[type], text)


@given(st.decimals(-9999, 9999, places=3))
def test_a_number_keeps_its_digits(number: Decimal) -> None:
    found = entry.parse(TORQUE, f"{number} ft*lbf")
    assert str(found.value) == str(number)
    assert found.unit is not None
    assert isinstance(found.value, Decimal)
    assert units.convert(found.value, found.unit, "N*m") == Fraction(number) * units.convert(
        Decimal(1), "ft*lbf", "N*m"
    )
