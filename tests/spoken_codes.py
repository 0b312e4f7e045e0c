"""How codes and dates are said, as `spoken.py` puts them into notes."""

from __future__ import annotations

import re
from calendar import month_name
from datetime import date
from itertools import groupby
from string import ascii_uppercase
from typing import TYPE_CHECKING

from num2words import num2words

from voicelog.mapping import roles

if TYPE_CHECKING:
    import random
    from collections.abc import Sequence

    from voicelog.objects import Field, Step

_LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"
_SPOKEN_SIGNS = {"-": ("dash", "hyphen"), "/": ("slash", "stroke")}
_PART = re.compile(r"(\[A-Z\]|\[0-9\]|[A-Z0-9/-])(?:\{([0-9])(?:,[0-9])?\})?(\?)?")
"""A piece of the patterns that are made here."""
_SHORTEST, _LONGEST = 2, 3
_PAIRS = 4


def code(rng: random.Random, pattern: str | None) -> str | None:
    """An identifier that fits `pattern`, or any; None where it is no simple one."""
    if pattern is None:
        letters = rng.choices(_LETTERS, k=rng.choice((1, 2, 2, 3)))
        sign = rng.choice(("", "", "", "-", "/"))
        return "".join(letters) + sign + _figures(rng, rng.choice((2, 3, 4, 5)))
    parts = [*_PART.finditer(pattern)]
    if "".join(part[0] for part in parts) != pattern:
        return None
    made = ""
    for part in parts:
        if part[3] and rng.random() < 0.5:
            continue
        count = int(part[2] or 1)
        if part[1] == "[A-Z]":
            made += "".join(rng.choices(_LETTERS, k=count))
        else:
            made += _figures(rng, count) if part[1] == "[0-9]" else part[1]
    return made


def _figures(rng: random.Random, count: int) -> str:
    return "".join(rng.choices("0123456789", k=count))


def other(rng: random.Random, value: str) -> str:
    """`value` with one figure changed: another part of the same make."""
    at = rng.choice([at for at, char in enumerate(value) if char.isdigit()])
    figure = rng.choice([each for each in "0123456789" if each != value[at]])
    return value[:at] + figure + value[at + 1 :]


def said(rng: random.Random, value: str, alphabet: Sequence[str]) -> str:
    """`value` as it is said, or as a recogniser writes that."""
    runs = ["".join(run) for _, run in groupby(value, key=_kind)]
    way = rng.choice(("written", "parted", "singly", "apart", "spelt", "spelt", "pairs"))
    if way == "written":
        return value
    if way == "parted":
        return " ".join(runs) if not re.search(r"[/-]", value) else value
    signs = {run: rng.choice(_SPOKEN_SIGNS[run]) for run in runs if run in _SPOKEN_SIGNS}
    names = dict(zip(ascii_uppercase, alphabet, strict=True))
    pieces: list[str] = []
    for run in runs:
        if run in signs:
            pieces.append(signs[run])
        elif run.isdigit():
            pieces += [*run] if way in ("singly", "apart") else _words(rng, run, way)
        elif way == "singly":
            pieces.append(run)
        else:
            pieces += [*run] if way == "apart" else [names[each] for each in run]
    return " ".join(pieces)


def _kind(char: str) -> str:
    return "digit" if char.isdigit() else "letter" if char.isalpha() else char


def _words(rng: random.Random, figures: str, way: str) -> list[str]:
    """Figures in words: singly, with "double" for two alike, or in pairs."""
    oh = rng.choice(("oh", "zero"))
    if way == "pairs" and len(figures) == _PAIRS and figures[0] != "0":
        first, second = figures[:2], figures[2:]
        last = "hundred" if second == "00" else _pair(second)
        return [_pair(first), last]
    if way == "pairs" and len(figures) == _LONGEST and figures[0] != "0" and figures[1:] != "00":
        return [num2words(int(figures)).replace("-", " ")]
    told = []
    for figure, run in groupby(figures):
        count = len([*run])
        word = oh if figure == "0" else num2words(int(figure))
        doubled = count == _SHORTEST and rng.random() < 0.5
        told += [f"double {word}"] if doubled else [word] * count
    return told


def _pair(figures: str) -> str:
    whole = num2words(int(figures)).replace("-", " ")
    return f"oh {whole}" if figures[0] == "0" else whole


def swapped(step: Step) -> tuple[Field, Field] | None:
    """The fields of the part that came off and the one that went on, where a step has just one
    such pair."""
    found = [each for each in step.fields if each.type == "identifier" and not each.positions]
    by_role = {role: [f for f in found if roles.of_field(f) == role] for role in ("off", "on")}
    if any(len(each) != 1 for each in by_role.values()):
        return None
    off, on = by_role["off"][0], by_role["on"][0]
    return (off, on) if roles.part_of(off) & roles.part_of(on) else None


def part(off: Field, on: Field) -> str:
    """What the part is called in both of their labels."""
    both = roles.part_of(off) & roles.part_of(on)
    return " ".join(word for word in off.label.lower().split() if word in both)


def day(rng: random.Random, when: date) -> str:
    """A date with its month by name."""
    month, year = month_name[when.month], str(when.year)
    if rng.random() < 0.4:
        year = f"twenty {num2words(when.year - 2000).replace('-', ' ')}"
    ordinal = num2words(when.day, to="ordinal").replace("-", " ")
    short = num2words(when.day, to="ordinal_num")
    return rng.choice((
        f"{when.day} {month} {year}", f"{ordinal} of {month} {year}",
        f"the {ordinal} of {month} {year}", f"{short} of {month} {year}",
        f"the {short} {month} {year}",
        f"{month} {when.day} {year}",
        f"{month} {short}, {year}", f"{month} the {ordinal} {year}", f"{month} {ordinal} {year}",
    ))  # fmt: skip
