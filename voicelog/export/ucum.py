"""Units for others: UCUM codes for data, signs for paper, beside the units as spoken."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from voicelog import config


@dataclass(frozen=True, slots=True)
class _Unit:
    code: str | None = None
    sign: str | None = None


@dataclass(frozen=True, slots=True)
class _Units:
    units: dict[str, _Unit]


_PART = re.compile(r"\s*(?:(?P<name>[^\W\d]\w*)(?:\s*\*\*\s*(?P<power>\d))?|(?P<sign>[*/]))\s*")
"""A name with its power, or the sign between two names."""

_RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")


@cache
def _units() -> dict[str, _Unit]:
    return config.load(_Units, "ucum.toml").units


def _parts(unit: str) -> list[re.Match[str]] | None:
    """Names and signs of the expression in turns; None when it is not of that form."""
    parts: list[re.Match[str]] = []
    at = 0
    while at < len(unit):
        part = _PART.match(unit, at)
        if part is None or bool(part["name"]) == bool(len(parts) % 2):
            return None
        parts.append(part)
        at = part.end()
    return parts if len(parts) % 2 else None


@cache
def code(unit: str | None) -> str | None:
    """The UCUM code of a unit in Pint's notation; None when it has none or no unit applies."""
    parts = _parts(unit) if unit else None
    if parts is None:
        return None
    found = ""
    for part in parts:
        if part["sign"]:
            found += "." if part["sign"] == "*" else "/"
            continue
        known = _units().get(part["name"])
        if known is None or known.code is None:
            return None
        found += known.code + (part["power"] or "")
    return found


@cache
def printed(unit: str | None) -> str:
    """A unit in Pint's notation as a person writes it: ft·lbf, kgf/cm², °C."""
    if not unit:
        return ""
    parts = _parts(unit)
    if parts is None:
        return unit
    found = ""
    for part in parts:
        if part["sign"]:
            found += "·" if part["sign"] == "*" else "/"
        else:
            known = _units().get(part["name"], _Unit())
            found += (known.sign or part["name"]) + (part["power"] or "").translate(_RAISED)
    return found
