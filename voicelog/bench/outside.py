"""Reading against published test cases, where a folder of them is at hand.

The files are those of two open projects: the inverse text normalisation tests of NVIDIA
NeMo ("spoken~written", three of them "written~spoken") and quantulum3's quantities.json.
A case that means nothing in a maintenance record is listed with the reason instead of
being counted; a case that we ask about on purpose counts as not applicable too.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from voicelog import units
from voicelog.heard import Transcript
from voicelog.objects import Interval, Mention
from voicelog.reading import Reader
from voicelog.reading.atoms import atomise
from voicelog.reading.numerals import Numerals

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class Report:
    """How one file went."""

    name: str
    passed: int
    total: int
    """Applicable cases."""
    failed: tuple[str, ...]
    not_applicable: tuple[tuple[str, str], ...]
    """(case, why it says nothing about a shop's notes)."""


class _NotForUs(Exception):
    """The case doesn't apply; says why."""


def _read(text: str) -> tuple[Mention, ...]:
    return tuple(
        mention
        for mention in Reader(None).read(Transcript.of_text(text)).mentions
        if mention.kind not in ("term", "remark", "procedure")
    )


def _only(text: str) -> Mention | None:
    found = _read(text)
    return found[0] if len(found) == 1 else None


_POWERS = {"thousand": 3, "million": 6, "billion": 9, "trillion": 12, "quadrillion": 15}


def _number(written: str) -> Decimal:
    figures, _, power = written.replace("zero", "0").partition(" ")
    return Decimal(figures.replace(",", "")).scaleb(_POWERS.get(power, 0))


def _cardinal(spoken: str, written: str) -> bool:
    mention = _only(spoken)
    return mention is not None and mention.value == _number(written)


def _ordinal(spoken: str, written: str) -> bool:
    atoms = atomise(spoken)
    number = Numerals(atoms).ordinal(0)
    expected = Decimal(re.sub(r"\D", "", written))
    return number is not None and number.last == len(atoms) and number.value == expected


def _fraction(written: str, spoken: str) -> bool:
    figures = re.sub(r"(?i)(st|nd|rd|th)$", "", written)
    whole, _, part = figures.rpartition(" ") if "/ " not in figures else ("", "", figures)
    top, bottom = (int(side) for side in part.split("/"))
    if bottom > 1000 or (bottom == 1 and top > 1):
        raise _NotForUs("nobody reads such a fraction off an instrument")
    if top > bottom and whole:
        raise _NotForUs("a mixed number with more than one whole in its fraction is a slip")
    atoms = atomise(spoken)
    expected = Fraction(top, bottom) + int(whole or 0)
    number = Numerals(atoms).number(0)
    if number is None or number.last != len(atoms):
        return False
    return abs(Fraction(number.value) - expected) < Fraction(1, 10**8)


_UNITS = {
    "m": "m", "kg": "kg", "h": "hour", "g": "g", "ml": "mL", "kl": "kL", "sq ft": "ft**2",
    "sq mi": "mi**2", "cc": "cm**3", "μm": "um", "km²": "km**2", "mph": "mile/hour", "ft": "ft",
    "m²": "m**2", "m³": "m**3", "dm³": "dm**3", "oz": "oz", "km": "km", "%": "percent",
    "ha": "hectare", "mhz": "MHz", "nm": "nm", "hp": "hp", "kW": "kW", "kWh": "kW*hour",
    "gWh": "GW*hour", "km/h": "km/hour", "kgf/cm²": "kgf/cm**2", "mv": "mV", "lm": "lumen",
    "khz": "kHz", "mi": "mi", "v": "V", "mm": "mm", "cm": "cm", "mW": "MW", "ms": "MS",
}  # fmt: skip
_NO_SHOP_UNITS = {
    "pb": "storage", "gb": "storage", "kb": "storage", "au": "astronomy",
    "/km²": "a count per area", "/m²": "a count per area",
}  # fmt: skip


def _measure(spoken: str, written: str) -> bool:
    figures, _, symbol = written.partition(" ")
    if symbol in _NO_SHOP_UNITS:
        raise _NotForUs(f"{_NO_SHOP_UNITS[symbol]} is not measured in a shop")
    mention = _only(spoken)
    return (
        mention is not None
        and mention.kind == "quantity"
        and mention.value == Decimal(figures)
        and _same_unit(mention.unit, _UNITS[symbol])
    )


def _same_unit(unit: str | None, expected: str) -> bool:
    if unit is None or not units.compatible(unit, expected):
        return False
    return units.convert(Fraction(1), unit, expected) == 1


_MONTHS = "january february march april may june july august september october november december"


def _date(spoken: str, written: str) -> bool:
    parts = written.split()
    day_first = re.fullmatch(r"(\d+) ([a-z]+) (\d{4})", written)
    month_first = re.fullmatch(r"([a-z]+) (\d+) (\d{4})", written)
    if day_first:
        day, month, year = parts
    elif month_first:
        month, day, year = parts
    else:
        raise _NotForUs("a record's date has a day, a month and a year; a part of it is asked for")
    iso = f"{year}-{_MONTHS.split().index(month) + 1:02d}-{int(day):02d}"
    mention = _only(spoken)
    return mention is not None and str(mention.value) == iso


def _time(spoken: str, written: str) -> bool:
    match = re.fullmatch(r"(\d\d):(\d\d)(?: ([ap])\.m\.)?(?: (\w+))?", written)
    if match is None:
        raise _NotForUs("no time of day")
    hour, minute, half, zone = int(match[1]), int(match[2]), match[3], match[4]
    if zone and zone != "gmt":
        raise _NotForUs("zones other than universal time are asked about")
    if half is None and not re.search(r"past|quarter|o'?clock", spoken):
        raise _NotForUs("a bare pair is a number or a time: it stays a number, and is asked about")
    if half == "p" and hour < 12:
        hour += 12
    if half == "a":
        hour %= 12
    return any(m.kind == "time" and m.value == f"{hour:02d}:{minute:02d}" for m in _read(spoken))


def _range(written: str, spoken: str) -> bool:
    if re.search(r"[$+x]|\d0s|[ap]m\b", written):
        raise _NotForUs("money, decades, sums and areas are no range of a measurement")
    figures = re.findall(r"\d+", written)
    low, high = sorted(Decimal(each) for each in figures)
    if len(figures[0]) > len(figures[1]) and len(figures[1]) < 3:
        raise _NotForUs("a range of years, or an identifier")
    mention = _only(spoken)
    return mention is not None and mention.value == Interval(low, high)


def _serial(written: str, spoken: str) -> bool:
    if not re.fullmatch(r"[A-Za-z0-9]+(?:[-/][A-Za-z0-9]+)*", written):
        raise _NotForUs("signs that no part or serial number has")
    if re.search(r"[a-z]{3,}", written) or re.search(r"[A-Z]{3}", written):
        raise _NotForUs("holds a word that isn't spelt")
    if re.search(r"\w-\w", spoken):
        raise _NotForUs("a hyphen inside spelling is the recogniser's; a separator is said")
    if len(re.sub(r"\W", "", written)) < 3:
        raise _NotForUs("too short for an identifier")
    if not re.search(r"[A-Za-z]", written):
        raise _NotForUs("without letters it is a ratio or a date where no cue stands before it")
    found = _read(f"serial number {spoken}")
    return any(m.kind == "identifier" and m.value == written.upper() for m in found)


_FILES: dict[str, Callable[[str, str], bool]] = {
    "cardinal": _cardinal,
    "decimal": _cardinal,
    "ordinal": _ordinal,
    "fraction": _fraction,
    "measure": _measure,
    "date": _date,
    "time": _time,
    "range": _range,
    "serial": _serial,
}


def _run(name: str, cases: list[tuple[str, Callable[[], bool]]]) -> Report:
    failed: list[str] = []
    excused: list[tuple[str, str]] = []
    passed = 0
    for case, check in cases:
        try:
            good = check()
        except _NotForUs as why:
            excused.append((case, str(why)))
            continue
        passed += good
        if not good:
            failed.append(case)
    return Report(name, passed, passed + len(failed), tuple(failed), tuple(excused))


def _nemo(folder: Path) -> Iterator[Report]:
    for kind, check in _FILES.items():
        path = folder / f"test_cases_{kind}.txt"
        if not path.is_file():
            continue
        lines = [line for line in path.read_text(encoding="utf-8").splitlines() if "~" in line]
        pairs = [tuple(line.split("~", 1)) for line in lines]
        yield _run(
            path.name,
            [
                (line, lambda pair=pair, check=check: check(*pair))  # type: ignore[misc]
                for line, pair in zip(lines, pairs, strict=True)
            ],
        )


_QUANTULUM_UNITS = {
    "metre": "m", "kilometre": "km", "inch": "in", "kilogram": "kg", "hour": "hour",
    "degree Celsius": "degC", "degree fahrenheit": "degF", "percentage": "percent",
    "litre": "L", "centilitre": "cL", "cubic centimetre": "cm**3", "square kilometre": "km**2",
    "kilometre per hour": "km/hour", "mile": "mi", "square mile": "mi**2", "day": "day",
    "week": "week", "month": "month", "year": "year", "milligram": "mg", "nanometre": "nm",
    "gigahertz": "GHz", "tonne": "metric_ton", "watt hour": "W*hour", "kelvin": "K",
    "gallon": "gallon", "pound-mass": "lb",
}  # fmt: skip


def _quantulum_case(text: str, result: dict[str, object]) -> bool:
    unit = str(result["unit"])
    if unit == "dimensionless":
        raise _NotForUs("bare numbers in prose (years, names) are no findings")
    if unit not in _QUANTULUM_UNITS:
        raise _NotForUs(f"{unit} is not on the shop's list of units")
    if "uncertainty" in result:
        raise _NotForUs("a range or a tolerance is asked about, not averaged")
    if re.search(r"\d\s*[x×e]\s*\d|10[\^−-]|[£$€]", str(result["surface"])):
        raise _NotForUs("scientific notation and money are not dictated")
    value = Decimal(str(result["value"]))
    return any(
        mention.kind == "quantity"
        and isinstance(mention.value, Decimal)
        and abs(mention.value - value) <= abs(value) * Decimal("1e-9")
        and _same_unit(mention.unit, _QUANTULUM_UNITS[unit])
        for mention in _read(text)
    )


def _quantulum(path: Path) -> Report:
    cases: list[tuple[str, Callable[[], bool]]] = []
    for case in json.loads(path.read_text(encoding="utf-8")):
        for result in case["res"]:
            label = f"{result['surface']} ~ {result['value']} {result['unit']}"
            cases.append(
                (label, lambda t=case["req"], r=result: _quantulum_case(t, r))  # type: ignore[misc]
            )
    return _run(path.name, cases)


def reports(folder: Path) -> tuple[Report, ...]:
    """One report for each known file below `folder`; empty when there is none."""
    found = list(_nemo(folder / "nemo_itn"))
    quantities = folder / "quantulum3" / "quantities.json"
    if quantities.is_file():
        found.append(_quantulum(quantities))
    return tuple(found)
