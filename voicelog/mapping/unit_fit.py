"""Unit fit: whether a unit that was said can stand in a field, and which one a bare word meant.

The field's dimension settles what "pounds" are in a torque field; it never overrules a unit that
was said.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

from voicelog import units
from voicelog.errors import UnitError

if TYPE_CHECKING:
    from voicelog.mapping.row import Said
    from voicelog.objects import Field, Mention


def settled(mention: Mention, field: Field) -> tuple[str | None, tuple[str, ...]]:
    """Unit and remaining doubts, once the field has helped with a unit left open."""
    candidates = [
        name.removeprefix("unit:") for name in mention.qualifiers if name.startswith("unit:")
    ]
    if "mil" in mention.doubts and field.unit and not compatible(mention.unit or "", field.unit):
        meant = [name for name in candidates if compatible(name, field.unit)]
        return (meant[0] if meant else mention.unit), mention.doubts
    if "ambiguous_unit" not in mention.doubts or not candidates or field.unit is None:
        return mention.unit, mention.doubts
    alike = sorted(name for name in candidates if compatible(name, field.unit))
    own = [name for name in alike if units.convert(Fraction(1), name, field.unit) == 1]
    if own:
        alike = [field.unit] if field.unit in own else own[:1]
    if len(alike) > 1:
        return (mention.unit if mention.unit in alike else alike[0]), mention.doubts
    if not alike:
        return mention.unit, mention.doubts
    return alike[0], tuple(code for code in mention.doubts if code != "ambiguous_unit")


def settled_unit(candidates: tuple[str, ...], field: Field) -> str:
    """The unit among `candidates` that the field's dimension settles; else the likeliest."""
    alike = [name for name in candidates if field.unit and compatible(name, field.unit)]
    own = [name for name in alike if units.convert(Fraction(1), name, field.unit or name) == 1]
    return (own or alike or list(candidates))[0]


OTHER_SIZE = 1000
"""How many times as large a unit is in which things of quite another size are measured."""
_APART = 100_000
"""How many times as large a unit is that nobody takes for the other."""


@cache
def compatible(unit: str, other: str) -> bool:
    """Whether a value in `unit` can stand in a field of unit `other`."""
    try:
        units.convert(Fraction(0), unit, other)
    except UnitError:
        return False
    return True


@cache
def far_apart(unit: str, other: str, times: int = _APART) -> bool:
    """Whether one unit is so many `times` the other that nobody reads in it what is wanted in the
    other: ohms where a card wants megohms. Common practice, no source."""
    factor = abs(Fraction(units.convert(Fraction(1), unit, other)))
    return not Fraction(1, times) < factor < times


def alike(one: Said, other: Said) -> bool:
    """Whether the units of two numbers, as far as they were said, are of one kind."""
    units = one.mention.unit, other.mention.unit
    return None in units or compatible(units[0] or "", units[1] or "")
