"""Invented notes of the trade from a seed: what is said, and how it should be written.

Cards and steps are drawn as well, so that no prompt is learnt by heart. Figures are written
as digits, a place and its value apart ("Bolt 4, 94 newton metres."); a spelt identifier stays
spelt, one digit at a time, so its zeros are kept and nothing runs together.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicelog.bench.training.figures import (
    ONES,
    below_100,
    draw_date,
    draw_identifier,
    say_number,
    say_whole,
)
from voicelog.bench.training.trade import draw_card, draw_unit, draw_value
from voicelog.speech import vocabulary

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.objects import Card, Field

_GOOD = ("pass", "okay", "serviceable", "good", "checked, pass", "within limits", "secure, pass")
_BAD = ("fail", "unserviceable", "not okay", "failed", "not within limits", "not good, fail")
_FAULTS = ("leaks", "cracks", "corrosion", "play", "damage", "chafing", "scoring", "debris")
_IDLE = (
    "Mind your head there.", "Give me the other spanner.", "Where did that rag go?",
    "Right, moving on.", "Just a second, wiping this off.", "Can you shine a light in here?",
    "Okay, next one.", "It is noisy in here today.", "Wait, let me read the gauge again.",
    "The ladder is in the way.", "Somebody is calling me.", "Let me get closer.",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Note:
    """`spoken` goes to a voice, `written` is the transcript wanted, `phrases` the prompt."""

    name: str
    spoken: str
    written: str
    phrases: tuple[str, ...]
    card: Card
    expect: tuple[tuple[str, str | None, str], ...]
    """(field, position, value) of every value said, repairs done."""


@dataclass(frozen=True, slots=True)
class _Said:
    """One utterance: spoken, written, and the values in it."""

    spoken: str
    written: str
    values: tuple[tuple[str, str | None, str], ...] = ()


def _place_said(field: Field, place: str) -> str:
    said = ONES[int(place)] if place.isdigit() else place
    return f"{field.position_word} {said}" if field.position_word else said


def _place_written(field: Field, place: str) -> str:
    return f"{field.position_word} {place}" if field.position_word else place


def _stretch(field: Field, rng: random.Random) -> _Said:
    """One value for a row of numbered places."""
    first = rng.randrange(len(field.positions) - 2)
    last = rng.randrange(first + 1, len(field.positions))
    value, unit = draw_value(field, rng)
    a, b = field.positions[first], field.positions[last]
    head = f"{field.position_word}s"
    return _Said(
        f"{head} {ONES[int(a)]} to {ONES[int(b)]}, {say_number(value, rng)} {unit}",
        f"{head} {a} to {b}, {value} {unit}",
        tuple((field.name, place, value) for place in field.positions[first : last + 1]),
    )


def _several(field: Field, rng: random.Random) -> _Said:
    """Neighbouring places with a value each; the unit each time, or once at the end."""
    first, each = rng.randrange(len(field.positions) - 1), rng.random() < 0.5
    chosen = field.positions[first : first + rng.choice((2, 2, 3))]
    spoken, written, values = [], [], []
    for place in chosen:
        value, unit = draw_value(field, rng)
        tail = f" {unit}" if each or place == chosen[-1] else ""
        spoken.append(f"{_place_said(field, place)}, {say_number(value, rng)}{tail}")
        written.append(f"{_place_written(field, place)}, {value}{tail}")
        values.append((field.name, place, value))
    return _Said(", ".join(spoken), ", ".join(written), tuple(values))


def _measured(field: Field, rng: random.Random) -> _Said:
    if field.position_word and len(field.positions) > 3 and rng.random() < 0.3:
        return _stretch(field, rng)
    if field.positions and rng.random() < 0.5:
        return _several(field, rng)
    place = rng.choice(field.positions) if field.positions else None
    spoken = written = field.say[0]
    if place is not None and field.position_word:
        spoken, written = _place_said(field, place), _place_written(field, place)
    elif place is not None:
        spoken = written = f"{place} {field.say[0]}"
    value, unit = draw_value(field, rng)
    number, values = say_number(value, rng), ((field.name, place, value),)
    way = rng.random()
    if way < 0.12:
        other, _ = draw_value(field, rng)
        repair = rng.choice(("correction", "correction", "no, correction"))
        return _Said(
            f"{spoken}, {say_number(other, rng)} {unit}, {repair}, {number} {unit}",
            f"{written}, {other} {unit}, {repair}, {value} {unit}",
            values,
        )
    if way < 0.2:
        return _Said(
            f"{spoken} {number} {unit}, I say again, {number} {unit}",
            f"{written}, {value} {unit}, I say again, {value} {unit}",
            values,
        )
    link = rng.choice((", ", ", ", " ", " is ", " reads "))
    shown = link if link.strip(" ,") else ", "
    return _Said(f"{spoken}{link}{number} {unit}", f"{written}{shown}{value} {unit}", values)


def _checked(field: Field, rng: random.Random) -> _Said:
    cue, good = field.say[0], rng.random() < 0.55
    verdict = "pass" if good else "fail"
    way = rng.random()
    if way < 0.25:
        fault = rng.choice(_FAULTS)
        none = rng.choice(("no", "nil"))
        text = f"{cue}, {none} {fault}, pass" if good else f"{cue}, {fault} found, fail"
    else:
        text = f"{cue}{rng.choice((', ', ' '))}{rng.choice(_GOOD if good else _BAD)}"
    return _Said(text, text, ((field.name, None, verdict),))


def _dated(rng: random.Random) -> _Said:
    cue = rng.choice(("calibration due", "next due", "expires"))
    spoken, written = draw_date(rng)
    return _Said(f"{cue} {spoken}", f"{cue} {written}")


def _aside(rng: random.Random) -> _Said:
    way = rng.random()
    if way < 0.5:
        text = rng.choice(_IDLE).rstrip(".")
        return _Said(text, text)
    low, unit = rng.randint(3, 90), draw_unit(rng)
    if way < 0.75:
        return _Said(f"limit is {below_100(low)} {unit}", f"limit is {low} {unit}")
    high = low + rng.randint(2, 30)
    return _Said(
        f"should be between {below_100(low)} and {say_whole(high, rng)} {unit}",
        f"should be between {low} and {high} {unit}",
    )


def _finding(field: Field, rng: random.Random) -> _Said:
    cue = field.say[0]
    match field.type:
        case "measurement":
            return _measured(field, rng)
        case "check":
            return _checked(field, rng)
        case "ratio":
            place, value = rng.choice(field.positions), rng.randint(52, 79)
            return _Said(
                f"{_place_said(field, place)}, {below_100(value)} over eighty",
                f"{_place_written(field, place)}, {value} over 80",
                ((field.name, place, f"{value}/80"),),
            )
        case "identifier":
            spoken, written, drawn = draw_identifier(rng)
            return _Said(f"{cue}, {spoken}", f"{cue}, {written}", ((field.name, None, drawn),))
        case _:
            count = rng.choice((0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 12, 15, 17, 30, 50))
            return _Said(
                f"{cue}, {below_100(count)}", f"{cue}, {count}", ((field.name, None, str(count)),)
            )


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:] + ("" if text[-1] in ".?" else ".")


def notes(seed: int, count: int) -> Iterator[Note]:
    """`count` notes; the same seed gives the same notes."""
    rng = random.Random(seed)  # noqa: S311  repeatable, not secret
    for number in range(count):
        card = draw_card(rng, number)
        fields = list(card.steps[0].fields)
        said = [
            _finding(f, rng) for f in rng.sample(fields, min(len(fields), rng.choice((1, 1, 2, 3))))
        ]
        if rng.random() < 0.1:
            said.append(_dated(rng))
        if rng.random() < 0.12:
            said.insert(rng.randrange(len(said) + 1), _aside(rng))
        yield Note(
            f"t{seed}-{number:05d}",
            " ".join(_sentence(part.spoken) for part in said),
            " ".join(_sentence(part.written) for part in said),
            vocabulary.of(card, "1").phrases,
            card,
            tuple(value for part in said for value in part.values),
        )
