"""A value that a person types: strict, checked against the field, never guessed.

What is spoken goes through reading; what is typed in review has to be exactly right, so it
has one form for each type of field:

    measurement, computed   "98.5 N*m"; without a unit, the field's own
    ratio                   "74/80"
    count                   "3"
    date                    "2026-11-30"
    check                   "pass" or "fail"
    choice                  one of the options
    identifier              as it stands on the part; must match the field's pattern
    text                    anything but nothing
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog import units
from voicelog.errors import EntryError
from voicelog.objects import Ratio

if TYPE_CHECKING:
    from collections.abc import Callable

    from voicelog.objects import Field, Value

_NUMBER = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*(.*)")
_PAIR = re.compile(r"(\d+(?:\.\d+)?)\s*/\s*(\d+(?:\.\d+)?)\s*(.*)")

HINTS = {
    "measurement": "a number, and its unit if it is not {unit}",
    "computed": "a number, and its unit if it is not {unit}",
    "ratio": "two numbers with a stroke between, such as 74/80",
    "count": "a whole number",
    "date": "a date such as 2026-11-30",
    "check": "pass or fail",
    "choice": "one of: {options}",
    "identifier": "the number as it stands on the part",
    "text": "what there is to say",
}


@dataclass(frozen=True, slots=True)
class Entry:
    """A typed value and its unit, as typed."""

    value: Value
    unit: str | None = None


def hint(field: Field) -> str:
    """What to type for `field`, in plain words."""
    return HINTS[field.type].format(unit=field.unit, options=", ".join(field.options))


def parse(field: Field, text: str) -> Entry:
    """What `text` says for `field`. Raises EntryError, and UnitError for a wrong unit."""
    text = " ".join(text.split())
    found = _FORMS[field.type](field, text) if text else None
    if found is None:
        raise EntryError(f"{field.label}: {text!r} can't stand here; type {hint(field)}")
    return found


def _measurement(field: Field, text: str) -> Entry | None:
    found = _NUMBER.fullmatch(text)
    return Entry(Decimal(found[1]), _unit(field, found[2])) if found else None


def _ratio(field: Field, text: str) -> Entry | None:
    found = _PAIR.fullmatch(text)
    if not found:
        return None
    return Entry(Ratio(Decimal(found[1]), Decimal(found[2])), _unit(field, found[3]))


def _count(_: Field, text: str) -> Entry | None:
    return Entry(Decimal(text)) if text.isdecimal() else None


def _date(_: Field, text: str) -> Entry | None:
    try:
        return Entry(date.fromisoformat(text))
    except ValueError:
        return None


def _check(_: Field, text: str) -> Entry | None:
    return Entry(text.lower()) if text.lower() in ("pass", "fail") else None


def _choice(field: Field, text: str) -> Entry | None:
    return next((Entry(o) for o in field.options if o.lower() == text.lower()), None)


def _identifier(field: Field, text: str) -> Entry | None:
    number = text.upper()
    fits = field.pattern is None or re.fullmatch(field.pattern, number)
    return Entry(number) if fits else None


def _text(_: Field, text: str) -> Entry | None:
    return Entry(text)


_FORMS: dict[str, Callable[[Field, str], Entry | None]] = {
    "measurement": _measurement,
    "computed": _measurement,
    "ratio": _ratio,
    "count": _count,
    "date": _date,
    "check": _check,
    "choice": _choice,
    "identifier": _identifier,
    "text": _text,
}


def _unit(field: Field, typed: str) -> str | None:
    typed = typed.strip()
    if not typed or field.unit is None:
        if typed:
            raise EntryError(f"{field.label} has no unit, so {typed!r} can't stand behind it")
        return field.unit
    units.convert(Decimal(0), typed, field.unit)
    return typed
