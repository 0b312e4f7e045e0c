"""Objects as JSON and back: the exact form that is stored, hashed and sent between machines.

`canonical` is what a signature covers: keys sorted, no spaces, UTF-8, numbers exactly as
spoken (a `Decimal` travels as {"number": "0.50"}, so 0.5 and 0.50 stay different).
The form that `voicelog extract --json` prints is `contract_field`.
"""

from __future__ import annotations

import hashlib
import json
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from typing import Any, TypeVar

import cattrs

from voicelog.objects import FieldValue, Interval, Mention, Ratio, Value

T = TypeVar("T")


def _value_out(value: Value | None) -> Any:
    match value:
        case None | str():
            return value
        case Decimal():
            return {"number": str(value)}
        case Ratio(reading, reference):
            return {"reading": str(reading), "reference": str(reference)}
        case Interval(low, high):
            return {
                "low": None if low is None else str(low),
                "high": None if high is None else str(high),
            }
        case date():
            return {"date": value.isoformat()}


def _value_in(data: Any, _: Any = None) -> Value | None:
    match data:
        case None | str():
            return data
        case {"number": number}:
            return Decimal(number)
        case {"reading": reading, "reference": reference}:
            return Ratio(Decimal(reading), Decimal(reference))
        case {"low": low, "high": high}:
            return Interval(
                None if low is None else Decimal(low), None if high is None else Decimal(high)
            )
        case {"date": day}:
            return date.fromisoformat(day)
    raise ValueError(f"not a value: {data!r}")


@cache
def _converter() -> cattrs.Converter:
    converter = cattrs.Converter(forbid_extra_keys=True, omit_if_default=True)
    for shape in (Value, Value | None):
        converter.register_unstructure_hook(shape, _value_out)
        converter.register_structure_hook(shape, _value_in)
    converter.register_unstructure_hook(Decimal, str)
    converter.register_structure_hook(Decimal, lambda data, _: Decimal(data))
    converter.register_unstructure_hook(date, date.isoformat)
    converter.register_structure_hook(date, lambda data, _: date.fromisoformat(data))
    converter.register_unstructure_hook(datetime, datetime.isoformat)
    converter.register_structure_hook(datetime, lambda data, _: datetime.fromisoformat(data))
    converter.register_unstructure_hook_func(lambda shape: shape == frozenset[str], sorted)
    return converter


def to_plain(thing: Any) -> Any:
    """A travelling object as dicts, lists and strings; what equals its default is left out."""
    return _converter().unstructure(thing)


def from_plain(shape: type[T], data: Any) -> T:
    """The inverse of `to_plain`. Raises ValueError when `data` is not a `shape`."""
    try:
        return _converter().structure(data, shape)
    except cattrs.BaseValidationError as error:
        raise ValueError("; ".join(cattrs.transform_error(error))) from error
    except (AttributeError, KeyError, TypeError) as error:
        raise ValueError(f"not a {shape.__name__}: {error}") from error


def canonical(thing: Any) -> bytes:
    """The one byte string that stands for `thing`: what is hashed, signed and stored."""
    return json.dumps(
        to_plain(thing), sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    ).encode()


def digest(thing: Any) -> str:
    """SHA-256 of `canonical(thing)`, hex."""
    return hashlib.sha256(canonical(thing)).hexdigest()


def _number(value: Decimal) -> int | float:
    return int(value) if value == value.to_integral_value() else float(value)


def plain_value(value: Value | None) -> Any:
    """A value as the JSON contract shows it: a number, a string, or an object for a pair."""
    match value:
        case Decimal():
            return _number(value)
        case Ratio(reading, reference):
            return {"reading": _number(reading), "reference": _number(reference)}
        case Interval(low, high):
            return {
                "low": None if low is None else _number(low),
                "high": None if high is None else _number(high),
            }
        case date():
            return value.isoformat()
    return value


def contract_field(value: FieldValue) -> dict[str, Any]:
    """One entry of "fields" in the JSON contract of `extract` and `preview`."""
    entry: dict[str, Any] = {
        "step": value.step,
        "field": value.field,
        "position": value.position,
        "value": plain_value(value.value),
        "unit": value.unit,
        "as_spoken": value.as_spoken,
        "limit": value.limit,
        "needs_check": value.needs_check,
        "reasons": [reason.sentence for reason in value.reasons],
        "confidence": round(value.confidence, 4),
        "start": value.start,
        "end": value.end,
    }
    if value.as_found is not None:
        entry["as_found"] = plain_value(value.as_found)
    if value.qualifiers:
        entry["qualifiers"] = sorted(value.qualifiers)
    if value.start_s is not None:
        entry |= {"start_s": value.start_s, "end_s": value.end_s}
    return entry


def contract_mention(mention: Mention) -> dict[str, Any]:
    """One entry of "unplaced" in the JSON contract."""
    return {
        "kind": mention.kind,
        "text": mention.text,
        "value": plain_value(mention.value),
        "unit": mention.unit,
    }
