"""What was proposed beside what was to be expected: the one scorer of every bench and test.

A value is right when it is the same quantity (trailing zeros don't matter, units are
converted exactly), the same identifier letter by letter, or, for text, much the same words.
A text field that was not to be filled is free to hold words of the note, and a computed one
is arithmetic on values that are scored themselves. Everything else that fills a field is
wrong, and a wrong value that nobody is asked to check is a silent error, whether the field
was to be filled at all or not.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from math import sqrt
from typing import TYPE_CHECKING, Any, Literal

from voicelog import units
from voicelog.alignment import met
from voicelog.errors import CardError, UnitError
from voicelog.objects import Card, FieldType, FieldValue, Interval, Ratio, Value

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

Key = tuple[str, str, str | None]
"""Step, field, position."""

Verdict = Literal["right", "wrong", "missed", "unexpected", "asked"]

_NEGATIONS = frozenset(("no", "not", "nil", "none", "never", "without", "nothing", "neither"))
_TEXT_SHARE = 0.6
"""Share of the expected words that a text must hold, in order. How far a remark reaches is a
matter of taste and a recogniser misspells; a negation more or less is another remark."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One value of one field, expected or proposed.

    `value` is None where speech leaves it so open that no value can be named.
    """

    key: Key
    value: Value | None
    unit: str | None = None
    flagged: bool = False
    confidence: float = 1.0
    why: tuple[str, ...] = ()

    @classmethod
    def of_contract(cls, data: Mapping[str, Any], step: str | None = None) -> Entry:
        """From one object of "fields" in the JSON contract; `step` stands in for a missing one."""
        position = data.get("position")
        return cls(
            (
                str(data.get("step") or step or ""),
                data["field"],
                None if position is None else str(position),
            ),
            _value(data["value"]),
            data.get("unit"),
            bool(data.get("needs_check", False)),
            float(data.get("confidence", 1.0)),
            tuple(data.get("reasons", ())),
        )

    @classmethod
    def of_value(cls, value: FieldValue) -> Entry:
        """From a proposal of a draft."""
        return cls(
            value.key,
            value.value,
            value.unit,
            value.needs_check,
            value.confidence,
            tuple(reason.sentence for reason in value.reasons),
        )


def _value(data: Any) -> Value | None:
    match data:
        case None:
            return None
        case bool():
            raise ValueError(f"not a value: {data!r}")
        case int() | float():
            return Decimal(str(data))
        case {"reading": reading, "reference": reference}:
            return Ratio(Decimal(str(reading)), Decimal(str(reference)))
        case {"low": low, "high": high}:
            return Interval(
                None if low is None else Decimal(str(low)),
                None if high is None else Decimal(str(high)),
            )
        case str() | Decimal() | date() | Ratio() | Interval():
            return data
    raise ValueError(f"not a value: {data!r}")


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one expected value, or of one proposal that nobody expected.

    "asked" is a proposal for a field where the speech itself leaves the value open: it is
    as it should be when it is flagged, and a silent error when it isn't.
    """

    verdict: Verdict
    expected: Entry | None = None
    proposed: Entry | None = None

    @property
    def key(self) -> Key:
        entry = self.expected or self.proposed
        assert entry is not None  # noqa: S101 - an outcome is of something
        return entry.key

    @property
    def flagged(self) -> bool:
        return self.proposed is not None and self.proposed.flagged

    @property
    def silent(self) -> bool:
        """A wrong value is there, and nobody was warned."""
        wrong = self.verdict in ("wrong", "unexpected", "asked")
        return wrong and self.proposed is not None and not self.flagged


# --- is it the same? --------------------------------------------------------------


def _same_number(a: Decimal, unit_a: str | None, b: Decimal, unit_b: str | None) -> bool:
    if (unit_a or None) == (unit_b or None):
        return a == b
    if not unit_a or not unit_b or not (units.known(unit_a) and units.known(unit_b)):
        return False
    try:
        return units.compatible(unit_a, unit_b) and units.convert(a, unit_a, unit_b) == b
    except UnitError:
        return False  # a temperature is no difference of temperatures


def _words(text: str) -> list[str]:
    return re.findall(r"[a-z0-9']+", text.casefold().replace("’", "'"))


def _negations(words: list[str]) -> int:
    return sum(word in _NEGATIONS or word.endswith("n't") for word in words)


def _holds(text: str, wanted: str) -> bool:
    """Whether `text` says what `wanted` says, perhaps among other things."""
    a, b = _words(wanted), _words(text)
    pairs = met(a, b)
    if not pairs:
        return not a
    within = b[max(pairs[0][1] - 1, 0) : pairs[-1][1] + 1]
    if _negations(within) != _negations(a):
        return False
    return len(pairs) >= _TEXT_SHARE * len(a)


def same(expected: Entry, proposed: Entry, kind: FieldType) -> bool:
    """Whether `proposed` is the value that was expected, in a field of type `kind`."""
    match expected.value, proposed.value:
        case Decimal() as a, Decimal() as b:
            return _same_number(a, expected.unit, b, proposed.unit)
        case Ratio() as a, Ratio() as b:
            return all(
                _same_number(x, expected.unit, y, proposed.unit)
                for x, y in ((a.reading, b.reading), (a.reference, b.reference))
            )
        case (str() | date()) as a, (str() | date()) as b:
            first, second = (v.isoformat() if isinstance(v, date) else v for v in (a, b))
            if kind == "text":
                return _holds(second, first)
            if kind == "identifier":
                first, second = ("".join(v.upper().split()) for v in (first, second))
            return first.casefold() == second.casefold()
    return expected.value == proposed.value and expected.unit == proposed.unit


# --- one note ---------------------------------------------------------------------


def _kind(card: Card, key: Key) -> FieldType:
    step = card.step(key[0])
    field = step.field(key[1]) if step else None
    if field is None:
        raise CardError(f"card {card.number} has no field {key[1]!r} in step {key[0]!r}")
    return field.type


def score(
    card: Card,
    expected: Iterable[Entry],
    proposed: Iterable[Entry],
    ask: Iterable[Key] = (),
) -> tuple[Outcome, ...]:
    """The outcomes of one note on `card`; `ask` names the fields that speech left open.

    Raises CardError when an expected or proposed field is not on the card.
    """
    offers: dict[Key, list[Entry]] = defaultdict(list)
    for entry in proposed:
        offers[entry.key].append(entry)
    asked = set(ask)
    outcomes: list[Outcome] = []
    for entry in expected:
        kind = _kind(card, entry.key)
        rivals = offers.pop(entry.key, [])
        if not rivals:
            outcomes.append(Outcome("asked" if entry.key in asked else "missed", entry))
            continue
        best = next((rival for rival in rivals if same(entry, rival, kind)), None)
        if entry.key in asked:
            outcomes += [Outcome("asked", entry, rival) for rival in rivals]
            continue
        outcomes.append(Outcome("right" if best else "wrong", entry, best or rivals[0]))
        rest = [rival for rival in rivals if rival is not (best or rivals[0])]
        outcomes += [Outcome("unexpected", None, rival) for rival in rest]
    for key, rivals in offers.items():
        if _kind(card, key) in ("text", "computed") and key not in asked:
            continue
        verdict: Verdict = "asked" if key in asked else "unexpected"
        outcomes += [Outcome(verdict, None, rival) for rival in rivals]
    return tuple(outcomes)


# --- many notes -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Tally:
    """Counts over outcomes.

    `expected` = `right` + wrong values in fields to be filled + `missed`; fields that speech
    left open are counted in `asked` alone (and in `silent` when nobody was asked).
    """

    expected: int = 0
    right: int = 0
    right_unflagged: int = 0
    silent: int = 0
    caught: int = 0
    """Wrong or not expected, and flagged."""
    missed: int = 0
    asked: int = 0

    @property
    def right_flagged(self) -> int:
        """Flagged though right: the price of caution."""
        return self.right - self.right_unflagged

    @classmethod
    def of(cls, outcomes: Iterable[Outcome]) -> Tally:
        many = tuple(outcomes)
        verdicts = Counter(outcome.verdict for outcome in many)
        return cls(
            expected=verdicts["right"] + verdicts["wrong"] + verdicts["missed"],
            right=verdicts["right"],
            right_unflagged=sum(o.verdict == "right" and not o.flagged for o in many),
            silent=sum(o.silent for o in many),
            caught=sum(o.verdict in ("wrong", "unexpected") and o.flagged for o in many),
            missed=verdicts["missed"],
            asked=verdicts["asked"],
        )


def wilson(hits: int, of: int, z: float = 1.959964) -> tuple[float, float]:
    """Confidence interval of a share, 95 % by default; (0, 1) when nothing was counted.

    Wilson's score interval (E. B. Wilson, J. Am. Stat. Assoc. 22, 1927, p. 209): sound for
    small counts and for shares near 0 and 1.
    """
    if of <= 0:
        return 0.0, 1.0
    share, spread = hits / of, z * z / of
    middle = share + spread / 2
    half = z * sqrt(share * (1 - share) / of + spread / (4 * of))
    low, high = (middle - half) / (1 + spread), (middle + half) / (1 + spread)
    return (0.0 if hits == 0 else max(0.0, low)), (1.0 if hits == of else min(1.0, high))


@dataclass(frozen=True, slots=True)
class Bin:
    """Proposals whose confidence lies between `low` and `high`."""

    low: float
    high: float
    count: int
    right: int
    confidence: float
    """Their mean confidence."""


def reliability(outcomes: Iterable[Outcome], bins: int = 10) -> tuple[Bin, ...]:
    """Stated confidence against the share that was right, in `bins` of equal width; no empty ones.

    Fields that speech left open are not counted: nothing there is right or wrong.
    """
    groups: dict[int, list[tuple[float, bool]]] = defaultdict(list)
    for outcome in outcomes:
        if outcome.proposed is not None and outcome.verdict != "asked":
            confidence = outcome.proposed.confidence
            place = min(int(confidence * bins), bins - 1)
            groups[place].append((confidence, outcome.verdict == "right"))
    return tuple(
        Bin(
            place / bins,
            (place + 1) / bins,
            len(pairs),
            sum(right for _, right in pairs),
            sum(confidence for confidence, _ in pairs) / len(pairs),
        )
        for place, pairs in sorted(groups.items())
    )


def calibration_error(outcomes: Iterable[Outcome], bins: int = 10) -> float:
    """Expected calibration error: mean distance of confidence from accuracy, weighted by count.

    Guo et al., "On Calibration of Modern Neural Networks", ICML 2017, eq. 3.
    """
    groups = reliability(outcomes, bins)
    total = sum(group.count for group in groups)
    if not total:
        return 0.0
    return sum(abs(g.right / g.count - g.confidence) * g.count for g in groups) / total
