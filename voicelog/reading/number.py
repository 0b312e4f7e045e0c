"""One number as it was read: its value, its other readings, and how it was said."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fractions import Fraction

    from voicelog.objects import Value
    from voicelog.reading.cardinals import Whole


@dataclass(frozen=True, slots=True)
class Number:
    """One number over the atoms `first`..`last` (exclusive)."""

    first: int
    last: int
    value: Decimal
    alternatives: tuple[Value, ...] = ()
    qualifiers: frozenset[str] = frozenset()
    doubts: tuple[str, ...] = ()
    digits: str = ""
    """The figures as said, leading zeros included; "" when it isn't a plain whole number."""

    def with_doubt(self, code: str, *alternatives: Value) -> Number:
        """The same number with one more doubt and further readings."""
        codes = self.doubts if code in self.doubts else (*self.doubts, code)
        return replace(self, doubts=codes, alternatives=(*self.alternatives, *alternatives))


def twin_of(digits: str) -> str | None:
    """`digits` with the last pair as its sound-alike: 15 and 50, 213 and 230; else None."""
    tail = digits[-2:]
    if len(tail) < 2 or tail[0] == "0":
        return None
    if tail[0] == "1" and tail[1] in "3456789":
        return digits[:-2] + tail[1] + "0"
    if tail[1] == "0" and tail[0] in "3456789":
        return digits[:-2] + "1" + tail[0]
    return None


def of_ordinal(first: int, last: int, value: int) -> Number:
    return Number(first, last, Decimal(value), qualifiers=frozenset({"ordinal"}))


def scaled(value: Decimal, exponent: int) -> Decimal:
    scaled = value.scaleb(exponent)
    return scaled if scaled != scaled.to_integral_value() else scaled.quantize(Decimal(1))


def of_fraction(first: int, last: int, value: Fraction) -> Number:
    """Exact where the decimal ends; else to nine places, and in doubt."""
    rest = value.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    number = Decimal(value.numerator) / Decimal(value.denominator)
    if rest != 1:
        return Number(first, last, number.quantize(Decimal("1e-9")), doubts=("rounded_fraction",))
    if number == number.to_integral_value():
        number = number.quantize(Decimal(1))
    return Number(first, last, number, qualifiers=frozenset({"fraction"}))


def of_whole(first: int, whole: Whole) -> Number:
    value = Decimal(int(whole.digits))
    alternatives: list[Value] = list(whole.alternatives)
    qualifiers: set[str] = set()
    twin = twin_of(whole.digits) if whole.twin else None
    if twin is not None:
        alternatives.append(Decimal(int(twin)))
        qualifiers.add("teen")
    if whole.form == "singly":
        qualifiers.add("digits")
    if whole.form == "oh":
        qualifiers |= {"digits", "clock-like"}
        alternatives.append(Decimal(f"{whole.digits[0]}.{whole.digits[1:]}"))
    if whole.form == "clock":
        qualifiers.add("clock-like")
    return Number(
        first,
        whole.last,
        value,
        tuple(alternatives),
        frozenset(qualifiers),
        whole.doubts,
        whole.digits,
    )
