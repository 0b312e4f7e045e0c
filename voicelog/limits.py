"""Tolerance check: arithmetic on what was said, exact and unrounded.

"Within limits" says nothing but that the number lies between the bounds of the card.
A reading that lies exactly on a bound is within (the absolute method of ASTM E29) and is
marked as being at the limit, since half of such readings may truly lie beyond it
(ILAC-G8:09/2019, simple acceptance).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from voicelog import units

if TYPE_CHECKING:
    from decimal import Decimal

    from voicelog.objects import Field, LimitVerdict


@dataclass(frozen=True, slots=True)
class Verdict:
    """Where a number lies; `verdict` is None for a field without bounds."""

    verdict: LimitVerdict | None
    at_limit: bool = False


def check(value: Decimal | Fraction, unit: str | None, field: Field) -> Verdict:
    """Compare `value` in `unit` (as spoken) with the inclusive bounds of `field`.

    Raises UnitError when `unit` can't be converted to the field's unit.
    """
    number = Fraction(value)
    if unit is not None and field.unit is not None:
        number = units.convert(number, unit, field.unit)
    if field.min is None and field.max is None:
        return Verdict(None)
    if field.min is not None and number < Fraction(field.min):
        return Verdict("below")
    if field.max is not None and number > Fraction(field.max):
        return Verdict("above")
    bounds = [Fraction(bound) for bound in (field.min, field.max) if bound is not None]
    return Verdict("within", at_limit=number in bounds)
