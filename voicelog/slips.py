"""Slips: what a number says, by where it lies, against the way it was heard.

A figure that ran into the number from a place before it, a tenth for a whole, a teen for a ty: the
field's limits and its usual range tell which of these is likelier. They raise a doubt, and never
change a value.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from voicelog import limits
from voicelog.errors import UnitError
from voicelog.objects import Ratio
from voicelog.reading.settings import settings
from voicelog.reading.spoken import lexemes

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.objects import Field, FieldValue, Value

_TENS = re.compile(r"(?<![\d.])[1-9]\.[1-9]0(?!\d)")
"""How "one ninety" may be written as well."""
_WHOLE = 100
_ROW = 2
"""Other values that make a row."""
_OFF = 3
"""How many times as far from a row as the row is wide, or as another reading, is far off."""


def doubts(value: FieldValue, field: Field) -> Iterator[str]:
    """Doubts that the number raises by where it lies."""
    if field.type not in {"measurement", "count", "ratio"}:
        return
    number = _in_field_unit(value.value, value.unit, field)
    if number is None:
        return
    twins = [other for other in value.alternatives if isinstance(other, Ratio)]
    more = _more_than_applied(value.value) and not _are_parts(value.value)
    if more and not all(map(_more_than_applied, twins)):
        yield "teen_or_ty"  # "forty over fifteen" was fourteen, or over fifty
    if field.usual is not None and limits.side(number, *field.usual) != "within":
        yield "unusual"
    if value.limit in {"below", "above"}:
        yield from _outside(value, number, field)
        return
    if _coarse(value, field):
        yield "coarse"
    lone = value.value.reading if isinstance(value.value, Ratio) else value.value
    torn = lone * 100 if isinstance(lone, Decimal) and _TENS.search(value.as_spoken) else None
    if torn is not None and _likely(torn, value.unit, field):
        yield "joined_digits"
        return
    far = value.limit == "within" and not _likely(lone, value.unit, field)
    others = (*_with_position(value, field), *_slips(value, field))
    if far and any(_likely(other, value.unit, field) for other in others):
        yield "joined_digits"


def out_of_row(value: FieldValue, rest: Sequence[FieldValue], field: Field) -> bool:
    """Whether another reading of the words lies among the `rest` of a row, from which the value
    itself stands far off: "one to four sixty millimetres, five is fifteen, six thirteen"."""
    twins = [_in_field_unit(other, value.unit, field) for other in value.alternatives]
    number = _in_field_unit(value.value, value.unit, field) if any(twins) else None
    if field.type != "measurement" or number is None:
        return False
    told = {
        each.as_spoken: _in_field_unit(each.value, each.unit, field)
        for each in rest
        if each.start != value.start
    }
    row = [Fraction(each) for each in told.values() if each is not None]
    if len(row) < _ROW:
        return False
    low, high = min(row), max(row)
    gap = _gap(Fraction(number), low, high)
    near = (_gap(Fraction(twin), low, high) for twin in twins if twin is not None)
    return gap > _OFF * (high - low) and any(_OFF * each < gap for each in near)


def _gap(number: Fraction, low: Fraction, high: Fraction) -> Fraction:
    return max(low - number, number - high, Fraction(0))


def _more_than_applied(value: Value) -> bool:
    """Whether more is said to be left than was put on."""
    return isinstance(value, Ratio) and value.reading > value.reference


def _are_parts(value: Value) -> bool:
    """ "Sixty over forty": two parts of a hundred, of which either may be the larger one."""
    return isinstance(value, Ratio) and value.reading + value.reference == _WHOLE


def _in_field_unit(value: Value, unit: str | None, field: Field) -> Decimal | Fraction | None:
    number = value.reading if isinstance(value, Ratio) else value
    if not isinstance(number, Decimal):
        return None
    try:
        return limits.in_unit_of(field, number, unit)
    except UnitError:
        return None


def _within(value: Value, unit: str | None, field: Field) -> bool:
    number = value.reading if isinstance(value, Ratio) else value
    if not isinstance(number, Decimal) or (field.min is None and field.max is None):
        return False
    try:
        return limits.side(limits.in_unit_of(field, number, unit), field.min, field.max) == "within"
    except UnitError:
        return False


def _likely(value: Value, unit: str | None, field: Field) -> bool:
    """Whether another reading of the words is where readings of this field lie.

    With a bound on one side only, "within" says little: sixteen is no likelier than sixty
    where up to fifty eight is allowed, so it must also lie near that bound.
    """
    number = _in_field_unit(value, unit, field)
    if number is None or not _within(value, unit, field):
        return False
    if field.usual is not None:
        return limits.side(number, *field.usual) == "within"
    ends = [end for end in (field.min, field.max) if end is not None]
    if len(ends) == 2 or not ends[0]:
        return True
    return Fraction(1, 3) <= Fraction(number) / Fraction(ends[0]) <= 3


def _outside(value: FieldValue, number: Decimal | Fraction, field: Field) -> Iterator[str]:
    """Outside the limits: plainly said it stands, but not when a slip explains it better."""
    # "thirteen and a half" is said more than "thirty and a half"
    part = any("fraction" in mention.qualifiers for mention in value.mentions[:1])
    if not part and any(_likely(other, value.unit, field) for other in value.alternatives):
        teen = any("teen" in mention.qualifiers for mention in value.mentions)
        yield "teen_or_ty" if teen else "limits_alternative"
    if any(_likely(other, value.unit, field) for other in _slips(value, field)):
        yield "joined_digits"
    if value.limit == "below" and any(
        _nearer(o, value, field) for o in _with_position(value, field)
    ):
        yield "fused_position"
    factor = Fraction(settings().thresholds["wild_factor"])
    bound = Fraction((field.max if value.limit == "above" else field.min) or 0)
    far = Fraction(number)
    if value.limit == "above" and bound > 0 and far > bound * factor:
        yield "wild"
    if value.limit == "below" and bound > 0 and far * factor < bound and field.type != "count":
        yield "wild"


def _nearer(other: Value, value: FieldValue, field: Field) -> bool:
    """Whether `other` lies nearer to the lowest that is allowed than `value`, which is below it:
    "valve at one seventy bar", where 180 are wanted, is hardly 70 at the first one."""
    ends = [_in_field_unit(each, value.unit, field) for each in (other, value.value)]
    if field.min is None or None in ends:
        return False
    gap, own = (abs(Fraction(end) - Fraction(field.min)) for end in ends if end is not None)
    return gap < own


def _slips(value: FieldValue, field: Field) -> Iterator[Decimal]:
    """Readings without a first figure that is a position and ran into the number.

    The position may be this one or the next that was named ("one and three ninety, two eighty
    seven"), or the "one" of "the right one".
    """
    number = value.value.reading if isinstance(value.value, Ratio) else value.value
    if not isinstance(number, Decimal):
        return
    words = value.as_spoken.lower().split()
    if {"hundred", "thousand"} & set(words) or (words and _is_one_word(words[0])):
        return  # said in full, or "twelve": figures can't have run together
    figures = str(number)
    lone_one = {"1"} if "." not in figures else set()
    near = {*lone_one, *field.positions}
    behind = any(each.kind == "position" and each.start > value.start for each in value.mentions)
    if behind:
        near = lone_one  # "three point one on hinge two"
    elif value.position is not None and value.position.isdigit():
        at = field.positions.index(value.position)
        near = set(field.positions[at : at + 2])
    for position in near:
        rest = figures[len(position) :]
        if position.isdigit() and figures.startswith(position) and rest and rest[0] != "0":
            yield Decimal(f"0{rest}")
            if rest[0] == "." and rest[1:]:
                yield Decimal(rest[1:])


def _is_one_word(word: str) -> bool:
    """Whether two figures are one word: "twelve", "sixteen"."""
    lexeme = lexemes().get((word,))
    return lexeme is not None and lexeme.kind == "teen"


def _with_position(value: FieldValue, field: Field) -> Iterator[Value]:
    """Readings in which a position is the first figure of the number ("exhaust four twenty")."""
    said = str(value.value)
    for other in value.alternatives:
        figures = str(other) if isinstance(other, Decimal) else ""
        if figures.endswith(said) and figures.removesuffix(said) in field.positions:
            yield other


def _coarse(value: FieldValue, field: Field) -> bool:
    """Whether half of the last figure said is more than the distance to a bound."""
    number = value.value.reading if isinstance(value.value, Ratio) else value.value
    if field.type != "measurement" or value.at_limit or not isinstance(number, Decimal):
        return False
    if value.limit is None or value.unit is None:
        return False
    if any("fraction" in mention.qualifiers for mention in value.mentions[:1]):
        return False  # "half an inch" is as exact as the speaker could say it
    exponent = number.as_tuple().exponent
    if not isinstance(exponent, int):
        return False
    half = Decimal(5).scaleb(min(exponent, 0) - 1)
    ends = (number - half, number + half)
    return any(not _within(end, value.unit, field) for end in ends) and number != 0
