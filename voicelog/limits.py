"""Tolerance check: arithmetic on what was said, exact and unrounded.

"Within limits" says nothing but that the number lies between the bounds of the card.
A reading that lies exactly on a bound is within (the absolute method of ASTM E29) and is
marked as being at the limit, since half of such readings may truly lie beyond it
(ILAC-G8:09/2019, simple acceptance).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal, localcontext
from fractions import Fraction
from typing import TYPE_CHECKING

from voicelog import units
from voicelog.cards import CONSTANT, FORMULAS
from voicelog.errors import LimitError
from voicelog.objects import Ratio

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from voicelog.objects import Field, LimitVerdict, Step, Value


@dataclass(frozen=True, slots=True)
class Verdict:
    """Where a number lies; `verdict` is None for a field without bounds."""

    verdict: LimitVerdict | None
    at_limit: bool = False


def check(value: Decimal | Fraction, unit: str | None, field: Field) -> Verdict:
    """Compare `value` in `unit` (as spoken) with the inclusive bounds of `field`.

    Raises UnitError when `unit` can't be converted to the field's unit.
    """
    number = in_unit_of(field, value, unit)
    if field.min is None and field.max is None:
        return Verdict(None)
    verdict = side(number, field.min, field.max)
    return Verdict(verdict, at_limit=verdict == "within" and number in (field.min, field.max))


def in_unit_of(field: Field, value: Decimal | Fraction, unit: str | None) -> Decimal | Fraction:
    """`value` in the unit of `field`, exactly; as it is where nothing has to be converted.

    Raises UnitError when `unit` can't be converted to the field's unit.
    """
    if unit is None or field.unit is None or units.same(unit, field.unit):
        return value
    return units.convert(value, unit, field.unit)


def side(number: Decimal | Fraction, low: Decimal | None, high: Decimal | None) -> LimitVerdict:
    """On which side of two inclusive bounds `number` lies; an absent one bounds nothing.

    Decimals compare exactly with each other and with fractions.
    """
    if low is not None and low > number:
        return "below"
    if high is not None and high < number:
        return "above"
    return "within"


def judge(value: Value, unit: str | None, field: Field) -> Verdict:
    """`check` for a value of any type: of a ratio the reading is compared, a text lies nowhere.

    Raises UnitError when `unit` can't be converted to the field's unit.
    """
    match value:
        case Decimal():
            return check(value, unit, field)
        case Ratio(reading, _):
            return check(reading, unit, field)
    return Verdict(None)


# --- computations -----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Amount:
    """An input of a formula: a value as decided, with its unit where it has one."""

    value: Value
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Computed:
    """A result, exact. `unit` is None for a pure number."""

    number: Fraction
    unit: str | None


@dataclass(frozen=True, slots=True)
class Formula:
    """A computation of the trade that needs no chart.

    `arguments` are (name, unit that the input is converted to); the unit None stands for
    an input that is no number with a unit (a ratio, a count, a time). `unit` is the result's.
    """

    name: str
    arguments: tuple[tuple[str, str | None], ...]
    unit: str
    work: Callable[..., Fraction]


def _torque(torque: Fraction, wrench: Fraction, extension: Fraction) -> Fraction:
    if wrench <= 0 or extension < 0:
        raise LimitError("a wrench has a length, and an extension can't be negative")
    return torque * wrench / (wrench + extension)


def _torque_shortened(torque: Fraction, wrench: Fraction, extension: Fraction) -> Fraction:
    if not 0 <= extension < wrench:
        raise LimitError("an adapter that shortens is shorter than the wrench")
    return torque * wrench / (wrench - extension)


def _compression_loss(compression: Ratio) -> Fraction:
    if compression.reference <= 0:
        raise LimitError("the regulated pressure must be above zero")
    lost = Fraction(compression.reference) - Fraction(compression.reading)
    return 100 * lost / Fraction(compression.reference)


def _wear_remaining(measured: Fraction, minimum: Fraction) -> Fraction:
    return measured - minimum


def _wear_fraction(measured: Fraction, minimum: Fraction, new: Fraction) -> Fraction:
    if new <= minimum:
        raise LimitError("the dimension when new must be above the minimum")
    return 100 * (measured - minimum) / (new - minimum)


def _wear_left(wear: Fraction, limit: Fraction) -> Fraction:
    return limit - wear


def _wear_left_fraction(wear: Fraction, limit: Fraction) -> Fraction:
    if limit <= 0:
        raise LimitError("the wear limit must be above zero")
    return 100 * (limit - wear) / limit


def _rate(amount: Fraction, hours: Fraction) -> Fraction:
    if hours <= 0:
        raise LimitError("the time must be above zero")
    return amount / hours


def _leak_rate(drops: Fraction, hours: Fraction, drops_per_volume: Fraction) -> Fraction:
    if drops_per_volume <= 0:
        raise LimitError("the number of drops in a volume must be above zero")
    return _rate(drops / drops_per_volume, hours)


def _moment(value: str) -> datetime | time:
    text = value.strip()
    try:
        return datetime.fromisoformat(text) if len(text) > 5 else time.fromisoformat(text)
    except ValueError as error:
        raise LimitError(f"{value!r} is no time; write 22:40, or a full date and time") from error


def _duration(start: str, finish: str) -> Fraction:
    begin, end = _moment(start), _moment(finish)
    match begin, end:
        case datetime(), datetime():
            return elapsed(begin, end)
        case time(), time() if begin.tzinfo is None and end.tzinfo is None:
            if begin == end:
                raise LimitError("start and finish are the same: no time, or a whole day?")
            day = date(2000, 1, 1)
            later = day + timedelta(days=int(end < begin))
            return Fraction(
                (datetime.combine(later, end) - datetime.combine(day, begin))
                // timedelta(seconds=1),
                3600,
            )
    raise LimitError("give both times in the same way: 22:40, or a full date and time")


def elapsed(start: datetime, finish: datetime) -> Fraction:
    """Hours between two moments, exactly; both need their offset from UTC.

    Raises LimitError when an offset is missing or `finish` comes first.
    """
    if start.tzinfo is None or finish.tzinfo is None:
        raise LimitError("a date and time needs its offset from UTC, such as +01:00")
    if finish < start:
        raise LimitError("the finish is before the start")
    return Fraction((finish - start) // timedelta(microseconds=1), 3_600_000_000)


def _formula(
    name: str, arguments: tuple[str | None, ...], unit: str, work: Callable[..., Fraction]
) -> Formula:
    return Formula(name, tuple(zip(FORMULAS[name], arguments, strict=True)), unit, work)


_LENGTHS = ("mm", "mm")
_FORMULAS = {
    formula.name: formula
    for formula in (
        _formula("torque_wrench_extension", ("N*m", *_LENGTHS), "N*m", _torque),
        _formula("torque_wrench_shortening", ("N*m", *_LENGTHS), "N*m", _torque_shortened),
        _formula("compression_loss", (None,), "percent", _compression_loss),
        _formula("wear_remaining", _LENGTHS, "mm", _wear_remaining),
        _formula("wear_fraction", (*_LENGTHS, "mm"), "percent", _wear_fraction),
        _formula("wear_left", _LENGTHS, "mm", _wear_left),
        _formula("wear_left_fraction", _LENGTHS, "percent", _wear_left_fraction),
        _formula("consumption_rate", ("L", "h"), "L/h", _rate),
        _formula("leak_rate", (None, "h", "1/cm**3"), "cm**3/h", _leak_rate),
        _formula("duration", (None, None), "h", _duration),
    )
}


def formulas() -> Mapping[str, Formula]:
    """Every formula that a card may name, by name.

    torque_wrench_extension   torque, wrench, extension: what the wrench must indicate when an
                              extension in line with it lengthens it, T·L/(L+E); at a right
                              angle the two torques are equal and no formula is needed
    torque_wrench_shortening  the same for an adapter that points back, T·L/(L-E)
    compression_loss          compression (a ratio): (regulated - cylinder)/regulated, percent
    wear_remaining            measured, minimum: measured - minimum
    wear_fraction             measured, minimum, new: (measured - minimum)/(new - minimum), percent
    wear_left                 wear, limit: limit - wear
    wear_left_fraction        wear, limit: (limit - wear)/limit, percent
    consumption_rate          added (a volume), hours (a time): added/hours
    leak_rate                 drops (a count), time, drops_per_volume (about 20/cm³ for oil)
    duration                  start, finish: both "HH:MM" (a finish before the start is the next
                              day; a change of the clocks between them is not seen), or both a
                              date and time with its offset from UTC

    A computed field's `inputs` names for each argument a field of the step, a bound of one
    ("pin.min"), or a constant with its unit ("12 inch"). Units may be any of the dimension;
    the result comes in the field's unit.
    """
    return _FORMULAS


def constant(source: str, step: Step | None) -> Amount | None:
    """The amount that an input fixes by itself: "12 inch" or "pin.min"; None for a field.

    Raises LimitError when the bound that it names does not exist.
    """
    number = CONSTANT.fullmatch(source)
    if number:
        return Amount(Decimal(number[1]), number[2])
    name, dot, bound = source.rpartition(".")
    if not dot or bound not in ("min", "max"):
        return None
    field = step.field(name) if step else None
    value = getattr(field, bound) if field else None
    if field is None or value is None:
        raise LimitError(f"{source}: the step has no such bound")
    return Amount(value, field.unit)


def _argument(formula: Formula, name: str, unit: str | None, amount: Amount) -> object:
    if name == "compression":
        if not isinstance(amount.value, Ratio):
            raise LimitError(f"{formula.name}: {name} must be a ratio such as 74 over 80")
        return amount.value
    if formula.name == "duration":
        if not isinstance(amount.value, str):
            raise LimitError(f"{formula.name}: {name} must be a time such as 22:40")
        return amount.value
    if not isinstance(amount.value, Decimal):
        raise LimitError(f"{formula.name}: {name} must be a number")
    if unit is None:
        if amount.unit is not None:
            raise LimitError(f"{formula.name}: {name} is a plain number, without a unit")
        return Fraction(amount.value)
    if amount.unit is None:
        raise LimitError(f"{formula.name}: {name} needs a unit, such as {unit}")
    return units.convert(amount.value, amount.unit, unit)


def compute(formula: str, inputs: Mapping[str, Amount], unit: str | None = None) -> Computed:
    """The result of `formula`, exact, in `unit` (the formula's own when None).

    Raises LimitError: unknown formula, an input missing, superfluous or of the wrong kind, or
    out of the formula's reach; UnitError: a unit of the wrong dimension.
    """
    known = _FORMULAS.get(formula)
    if known is None:
        raise LimitError(f"no formula {formula!r}; there are: {', '.join(_FORMULAS)}")
    missing = {name for name, _ in known.arguments} ^ set(inputs)
    if missing:
        raise LimitError(
            f"{formula} takes {', '.join(name for name, _ in known.arguments)}; "
            f"missing or not known: {', '.join(sorted(missing))}"
        )
    arguments = [_argument(known, name, to, inputs[name]) for name, to in known.arguments]
    number = known.work(*arguments)
    return Computed(units.convert(number, known.unit, unit or known.unit), unit or known.unit)


def shown(result: Computed, field: Field | None = None) -> Decimal:
    """A result for people: exact where it ends within six significant digits, else rounded.

    With the field it belongs to, as many digits more as it takes for what is shown to lie on
    the same side of the field's bounds: 159.9999996 is not shown as 160 where 160 is needed.
    """
    verdict = check(result.number, result.unit, field) if field else None
    for digits in range(6, 30):
        with localcontext() as context:
            context.prec = digits
            value = Decimal(result.number.numerator) / Decimal(result.number.denominator)
        whole = value == value.to_integral_value()
        value = Decimal(int(value)) if whole else value.normalize()
        if field is None or check(value, result.unit, field) == verdict:
            break
    return value
