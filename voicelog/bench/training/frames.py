"""Free sentences: frames of `frames.txt` with their slots filled from a seed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING

from voicelog.bench.training.figures import (
    ALPHABET,
    ONES,
    below_100,
    draw_date,
    draw_identifier,
    say_digits,
    say_fraction,
    say_number,
    written,
)

if TYPE_CHECKING:
    from random import Random

_SLOT = re.compile(r"\{([nsdrftilh])\}")
_LETTERS = re.compile(r"\b[A-Z](?: [A-Z])+\b")
_TERM = re.compile(r"[a-z]{4,}(?: [a-z]{4,})?")
_COMMON = re.compile(
    r"\b(about|after|again|another|before|behind|between|both|cannot|could|didn't|does|doesn't|"
    r"down|each|every|first|found|from|have|into|just|last|left|like|more|need|needs|next|nothing|"
    r"only|other|over|right|same|second|still|than|that|that's|them|then|there|they|they're|this|"
    r"three|under|until|very|want|wants|with|without|would|your)\b"
)
_PROMPTED = 0.7
"""Share of notes whose prompt holds terms of the note itself."""


@dataclass(frozen=True, slots=True)
class Free:
    """A frame as it was filled: for a voice, and as it is to be written."""

    frame: str
    spoken: str
    written: str


@cache
def every() -> tuple[str, ...]:
    """The frames of `frames.txt`."""
    lines = Path(__file__).with_name("frames.txt").read_text(encoding="utf-8").splitlines()
    return tuple(line for line in lines if line and not line.startswith("#"))


def _whole(rng: Random) -> str:
    """A whole number up to five digits; the shorter, the more often."""
    return str(rng.randint(0, 10 ** rng.choice((2, 2, 2, 3, 3, 3, 3, 4, 4, 5)) - 1))


def _neighbours(rng: Random) -> str:
    """Two to four readings of the same thing, one after the other."""
    first = rng.randint(10, 400)
    values = [first + rng.randint(-9, 9) for _ in range(rng.choice((2, 2, 3, 4)))]
    return ", ".join(say_number(str(value), rng) for value in values)


def _fill(slot: str, rng: Random) -> str:  # noqa: PLR0911  one for each slot
    match slot:
        case "n":
            return say_number(_whole(rng), rng)
        case "s":
            return ONES[rng.randint(0, 19)]
        case "d":
            places = rng.choice((1, 1, 2, 2, 3))
            return say_number(f"{rng.uniform(0, 10 ** rng.choice((0, 1, 2))):.{places}f}", rng)
        case "r":
            return _neighbours(rng)
        case "f":
            return say_fraction(rng)
        case "t":
            return draw_date(rng)
        case "i":
            return draw_identifier(rng)[0]
        case "l":
            return rng.choice((*ALPHABET, *"ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
        case _:
            return f"{below_100(rng.randint(5, 23))} {below_100(rng.randint(10, 59))}"


def draw(rng: Random) -> Free:
    """A frame, filled; a quarter of them without the full stop of a sentence."""
    frame = rng.choice(every())
    parts = _SLOT.split(frame.rstrip(".") if rng.random() < 0.25 else frame)
    values = [_fill(slot, rng) for slot in parts[1::2]]
    # letters of the frame are an abbreviation, those of an identifier are said one by one
    joined = [
        _LETTERS.sub(lambda run: written(run[0]).replace(" ", ""), part) for part in parts[::2]
    ]
    return Free(frame, _woven(parts[::2], values), _woven(joined, values))


def _woven(texts: list[str], values: list[str]) -> str:
    """Texts with the values between them."""
    whole = "".join(part for pair in zip_longest(texts, values, fillvalue="") for part in pair)
    return whole[:1].upper() + whole[1:]


def draw_alone(rng: Random) -> Free:
    """A number, a letter, a word of the spelling alphabet, or a few of them, and no more."""
    way = rng.random()
    if way < 0.35:
        said = say_number(_whole(rng), rng)
    elif way < 0.5:
        said = rng.choice(ALPHABET)
    elif way < 0.6:
        said = rng.choice("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    elif way < 0.8:
        said = say_digits("".join(rng.choices("0123456789", k=rng.randint(1, 8))), rng)
    else:
        said = draw_identifier(rng)[0]
    said = said[:1].upper() + said[1:] + rng.choice((".", ""))
    return Free("", said, said)


def prompt(frame: str, usual: tuple[str, ...], rng: Random) -> tuple[str, ...]:
    """Phrases of a step's prompt: `usual`, and now and then terms that the frame holds."""
    terms = [
        term for term in _TERM.findall(_SLOT.sub(".", frame.lower())) if not _COMMON.search(term)
    ]
    if not terms or rng.random() > _PROMPTED:
        return usual
    phrases = list(usual)
    for term in rng.sample(terms, min(len(terms), rng.randint(1, 4))):
        phrases.insert(rng.randint(0, len(phrases)), f"{term.capitalize()},")
    return tuple(phrases)
