"""Invented notes of the trade from a seed: what is said, and how it should be written.

Cards and steps are drawn as well, so that no prompt is learnt by heart. What should be written
is what was said, word for word: "two four five foot pounds" stays three words, for a
recogniser that writes "245" has already decided what the reading should weigh. Commas stand
where the voice rests.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicelog.bench.training import frames, remarks
from voicelog.bench.training.figures import (
    below_100,
    draw_date,
    draw_identifier,
    say_fraction,
    say_number,
    written,
)
from voicelog.bench.training.trade import draw_card, draw_unit, draw_value
from voicelog.speech import vocabulary

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.objects import Card, Field

_REPAIRS = (
    "correction",
    "correction",
    "no, correction",
    "sorry, correction",
    "I mean",
    "make that",
)
_LINKS = (
    ", ",
    ", ",
    " ",
    " ",
    " is ",
    " reads ",
    " at ",
    " came out at ",
    " measured ",
    ", that's ",
)
_WAS = (
    "was {old}, adjusted to {new}", "as found {old}, as left {new}", "was {old}, now {new}",
    "found at {old}, reset to {new}", "was {old}, topped up to {new}",
    "came in at {old}, set to {new}",
    "was {old}, retorqued to {new}",
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
    """(field, position, value) of every value said that the card has a field for, repairs done."""


@dataclass(frozen=True, slots=True)
class _Said:
    """One utterance and the values in it."""

    spoken: str
    values: tuple[tuple[str, str | None, str], ...] = ()


def _place(field: Field, place: str, rng: random.Random) -> str:
    said = below_100(int(place)) if place.isdigit() else place
    if not field.position_word:
        return said
    number = "number " if rng.random() < 0.08 else ""
    return f"{field.position_word} {number}{said}"


def _stretch(field: Field, rng: random.Random) -> _Said:
    """One value for a row of numbered places, or for all of them."""
    value, unit = draw_value(field, rng)
    number, word = say_number(value, rng), f"{field.position_word}s"
    if rng.random() < 0.25:
        head = rng.choice((f"all {below_100(len(field.positions))} {word}", f"all {word}"))
        values = tuple((field.name, place, value) for place in field.positions)
        return _Said(f"{head}{rng.choice((', ', ' '))}{number} {unit}", values)
    first = rng.randrange(len(field.positions) - 2)
    last = rng.randrange(first + 1, len(field.positions))
    a, b = (below_100(int(field.positions[at])) for at in (first, last))
    row = rng.choice((f"{a} to {b}", f"{a} to {b}", f"{a} through {b}"))
    values = tuple((field.name, place, value) for place in field.positions[first : last + 1])
    return _Said(f"{word} {row}{rng.choice((', ', ', ', ' all '))}{number} {unit}", values)


def _several(field: Field, rng: random.Random) -> _Said:
    """Neighbouring places with a value each; the unit each time, or once at the end."""
    first, each = rng.randrange(len(field.positions) - 1), rng.random() < 0.5
    chosen = field.positions[first : first + rng.choice((2, 2, 3, 4))]
    bare = bool(field.position_word) and rng.random() < 0.3
    join, mark = rng.choice((", ", ", ", ", and ", "; ", ". ")), rng.choice((", ", " ", " at "))
    spoken, values = [], []
    for place in chosen:
        value, unit = draw_value(field, rng)
        tail = f" {unit}" if each or place == chosen[-1] else ""
        named = below_100(int(place)) if bare and place != chosen[0] else _place(field, place, rng)
        between = ", " if bare or join == ". " else mark
        spoken.append(f"{named}{between}{say_number(value, rng)}{tail}")
        values.append((field.name, place, value))
    if join == ". ":
        spoken = [remarks.capital(part) for part in spoken]
    return _Said(join.join(spoken), tuple(values))


def _measured(field: Field, rng: random.Random) -> _Said:  # noqa: PLR0911  one for each way
    if field.position_word and len(field.positions) > 3 and rng.random() < 0.3:
        return _stretch(field, rng)
    if field.positions and rng.random() < 0.5:
        return _several(field, rng)
    place = rng.choice(field.positions) if field.positions else None
    head = field.say[0]
    if place is not None and field.position_word:
        head = _place(field, place, rng)
    elif place is not None:
        head = f"{place} {field.say[0]}"
    value, unit = draw_value(field, rng)
    number, values = say_number(value, rng), ((field.name, place, value),)
    other, _ = draw_value(field, rng)
    old, way = say_number(other, rng), rng.random()
    if way < 0.1:
        return _Said(f"{head}, {old} {unit}, {rng.choice(_REPAIRS)}, {number} {unit}", values)
    if way < 0.16:
        return _Said(f"{head} {number} {unit}, I say again, {number} {unit}", values)
    if way < 0.24:
        change = rng.choice(_WAS).format(old=old, new=number)
        return _Said(f"{head} {change} {unit}", values)
    if way < 0.28 and "." in value:
        return _Said(f"{head}, {say_fraction(rng)} {unit}")
    if way < 0.32:
        return _Said(f"{head}, {number}")
    verdict = rng.choice(
        ("", "", "", "", ", pass", ", within limits", ", that's too much", ", okay")
    )
    return _Said(f"{head}{rng.choice(_LINKS)}{number} {unit}{verdict}", values)


def _counted(field: Field, rng: random.Random) -> _Said:
    count = rng.choice((0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 12, 15, 17, 30, 50))
    place = rng.choice(field.positions) if field.positions else None
    said = below_100(count)
    if place is not None:
        return _Said(f"{_place(field, place, rng)}, {said} {field.say[0]}")
    if rng.random() < 0.3:
        return _Said(f"{said} {field.say[0]}", ((field.name, None, str(count)),))
    return _Said(f"{field.say[0]}, {said}", ((field.name, None, str(count)),))


def _compared(field: Field, rng: random.Random) -> _Said:
    """Seventy-four over eighty, for one cylinder or one after the other."""
    first = rng.randrange(len(field.positions))
    spoken, values = [], []
    for place in field.positions[first : first + rng.choice((1, 1, 2, 4))]:
        value = rng.randint(52, 79)
        spoken.append(f"{_place(field, place, rng)}, {below_100(value)} over eighty")
        values.append((field.name, place, f"{value}/80"))
    return _Said(rng.choice((", ", ". ")).join(map(remarks.capital, spoken)), tuple(values))


def _aside(rng: random.Random) -> _Said:
    """Talk that is no finding: idle, a limit quoted, a plan, a word of procedure."""
    way = rng.random()
    if way < 0.45:
        return _Said(remarks.draw_idle(rng))
    if way < 0.6:
        return _Said(remarks.draw_procedure(rng))
    low, unit = rng.randint(3, 68), draw_unit(rng)
    high = low + rng.randint(2, 30)
    a, b = below_100(low), below_100(high)
    return _Said(
        rng.choice((
            f"limit is {a} {unit}", f"the limit is {a}", f"should be between {a} and {b} {unit}",
            f"book says {a} to {b} {unit}", f"minimum {a} {unit}",
            f"I will torque it to {b} {unit} later",
            f"plus or minus {a} {unit}", f"not more than {b} {unit}",
        ))
    )  # fmt: skip


def _finding(field: Field, rng: random.Random) -> _Said:  # noqa: PLR0911  one for each type
    cue = field.say[0]
    match field.type:
        case "measurement":
            return _measured(field, rng)
        case "check":
            text, verdict = remarks.draw_check(cue, rng)
            return _Said(text, ((field.name, None, verdict),) if verdict else ())
        case "ratio":
            return _compared(field, rng)
        case "identifier":
            spoken, drawn = draw_identifier(rng)
            link = rng.choice((", ", ", ", " ", " number ", ", serial ", " is "))
            if field.kind != "serial number" and link == ", serial ":
                link = ", "
            return _Said(f"{cue}{link}{spoken}", ((field.name, None, drawn),))
        case "date":
            return _Said(f"{cue}{rng.choice((' ', ', '))}{draw_date(rng)}")
        case "choice":
            return _Said(f"{cue}{rng.choice((', ', ' '))}{rng.choice(field.options)}")
        case _:
            return _counted(field, rng)


def _sentence(text: str) -> str:
    return remarks.capital(text) + ("" if text[-1] in ".?" else ".")


def _styled(parts: list[str], rng: random.Random) -> str:
    """Sentences, or clauses in one breath with commas."""
    if rng.random() < 0.8 or len(parts) == 1:
        return " ".join(map(_sentence, parts))
    return _sentence(", ".join(part.rstrip(".?") for part in parts))


_FREE = 0.55
"""Share of notes in free sentences."""
ALONE = 0.06
"""Share of notes of one word or a few letters and digits, if nothing else is asked for."""


def notes(seed: int, count: int, alone: float = ALONE) -> Iterator[Note]:
    """`count` notes, a share of them `alone`; the same seed gives the same notes."""
    rng = random.Random(seed)  # noqa: S311  repeatable, not secret
    for number in range(count):
        card, name = draw_card(rng, number), f"t{seed}-{number:05d}"
        prompt = vocabulary.of(card, "1").phrases
        way = rng.random()
        if way < _FREE + alone:
            free = frames.draw(rng) if way < _FREE else frames.draw_alone(rng)
            phrases = frames.prompt(free.frame, prompt, rng)
            yield Note(name, free.spoken, written(free.written), phrases, card, ())
            continue
        fields = list(card.steps[0].fields)
        chosen = rng.sample(fields, min(len(fields), rng.choice((1, 1, 1, 2, 2, 3))))
        said = [_finding(field, rng) for field in chosen]
        way = rng.random()
        if way < 0.14:
            said.append(_Said(remarks.draw_remark(rng)))
        elif way < 0.28:
            said.insert(rng.randrange(len(said) + 1), _aside(rng))
        elif way < 0.32:
            said = [_aside(rng)]
        elif way < 0.36:
            step = below_100(rng.randint(2, 60))
            said.insert(
                0, _Said(rng.choice((f"step {step}", f"on step {step}", f"step {step} done")))
            )
        spoken = _styled([part.spoken for part in said], rng)
        values = tuple(value for part in said for value in part.values)
        yield Note(name, spoken, written(spoken), prompt, card, values)
