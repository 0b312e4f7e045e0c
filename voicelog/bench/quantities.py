"""Numbers in notes as text, beside a bare quantity parser: what is found, and how fast.

Which field a number belongs to is left aside, so that a parser that knows of no card can be
compared at all.
"""

from __future__ import annotations

import time
from collections import Counter
from dataclasses import asdict, dataclass, replace
from itertools import cycle
from typing import TYPE_CHECKING, Any

from voicelog import units
from voicelog.bench.systems import numbers
from voicelog.errors import ConfigError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from voicelog.bench.samples import Sample
    from voicelog.bench.systems import Quantity


@dataclass(frozen=True, slots=True)
class NumberRow:
    """Numbers found in notes as text, wherever they may belong."""

    system: str
    notes: int
    expected: int
    right: int
    """Value and unit."""
    number_right: int
    """The value alone, whatever the unit."""
    surplus: int
    """Numbers read that are none of the expected ones."""
    notes_per_s: float
    dictation_words: int = 0
    dictation_s: float | None = None
    """Time for the notes of one card as one long dictation; None where that was not asked for."""

    def plain(self) -> dict[str, Any]:
        """As JSON."""
        return asdict(self)


def dictation(samples: Sequence[Sample], words: int) -> Sample:
    """One text of about `words` words: the notes of the card that has most, over and over.

    Raises ConfigError when there is no note to make it of.
    """
    counts = Counter(sample.card for sample in samples)
    if not counts:
        raise ConfigError("there are no notes to make a long dictation of")
    (card, _), *_ = counts.most_common(1)
    own = [sample for sample in samples if sample.card == card]
    said: list[str] = []
    for sample in cycle(own):
        said += f"{sample.text.rstrip('. ')}.".split()
        if len(said) >= words:
            break
    return replace(own[0], text=" ".join(said[:words]), step=None, expect=(), ask=())


def _time_of(system: Callable[[Sample], object], sample: Sample) -> float:
    begin = time.perf_counter()
    system(sample)
    return time.perf_counter() - begin


def _agree(a: Quantity, b: Quantity) -> bool:
    if not a.unit or not b.unit:
        return a.value == b.value and (a.unit or None) == (b.unit or None)
    if not (units.known(a.unit) and units.known(b.unit)):
        return False
    return units.compatible(a.unit, b.unit) and units.convert(a.value, a.unit, b.unit) == b.value


def compare_numbers(
    samples: Sequence[Sample],
    systems: Mapping[str, Callable[[Sample], tuple[Quantity, ...]]],
    words: int = 0,
) -> tuple[NumberRow, ...]:
    """Each system's numbers against the expected ones; which field they belong to is left aside.

    A system reads one note of every card before the clock starts: what is derived from a card once
    is loading. With `words` a long dictation is timed as well.

    A number that stands for several places counts once a note, so a parser that knows of no
    places isn't blamed for that. Values that speech left open are not counted. `surplus`
    holds positions and quoted limits, too, where a system takes them for values.
    """
    out = []
    first_of = {sample.card: sample for sample in reversed(samples)}
    for name, system in systems.items():
        for sample in first_of.values():
            system(sample)
        expected = right = number_right = surplus = 0
        took_s = 0.0
        for sample in samples:
            begin = time.perf_counter()
            found = set(system(sample))
            took_s += time.perf_counter() - begin
            wanted = set(numbers(e for e in sample.expect if e.key not in sample.ask))
            unsure = {q.value for q in numbers(e for e in sample.expect if e.key in sample.ask)}
            values = {quantity.value for quantity in found}
            expected += len(wanted)
            right += sum(any(_agree(one, other) for other in found) for one in wanted)
            number_right += sum(one.value in values for one in wanted)
            surplus += len(values - unsure - {one.value for one in wanted})
        speed = len(samples) / took_s if took_s else 0.0
        long_s = _time_of(system, dictation(samples, words)) if words else None
        out.append(
            NumberRow(
                name, len(samples), expected, right, number_right, surplus, speed, words, long_s
            )
        )
    return tuple(out)
