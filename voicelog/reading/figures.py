"""Numbers that a pause or a recogniser cut in two: "two, four, five foot pounds", "4 62 degrees".

A recogniser writes a comma at every pause. What can only be the rest of a number is put to it,
and asked about.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.left_out import leaves_out
from voicelog.reading.number import Number
from voicelog.reading.spoken import by_ear, lexemes
from voicelog.reading.thousandths import Measure

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.reading.passage import Passage

_FEWEST = 3
"""Figures without a unit that are taken for one number."""
_NEAR = 24
"""Characters behind a list of places within which its values begin."""
_ZEROS = frozenset({"oh", "o"})


def joined(
    passage: Passage,
    items: Sequence[Measure],
    lists: Sequence[int],
    counted: Mapping[int, int],
) -> list[Measure]:
    """`items` with such rows as one number; `lists` holds where lists of places end, `counted`
    where the names of what is counted begin and end."""
    found: list[Measure] = []
    index = 0
    while index < len(items):
        row = _row(passage, items, index)
        if len(row) > 1 and _is_number(passage, row, lists):
            found.append(_number(passage, row))
            index += len(row)
            continue
        whole = _cut(passage, items[index], items[index + 1]) if index + 1 < len(items) else None
        following = items[index + 1] if index + 1 < len(items) else None
        of_count = following is not None and passage.atoms[following.last - 1].start in counted
        if whole is None and following is not None and not of_count:  # "26.2, one flat"
            whole = _last_decimal(passage, items[index], following, lists)
        if whole is None:
            whole = _torn(passage, items, index) or _paired(passage, items, index)
        found.append(items[index] if whole is None else whole)
        index += 1 if whole is None else 2
    return found


# --- what stands before a unit -----------------------------------------------------


def cut_short(passage: Passage, measure: Measure, stop: int) -> Measure:
    """ "9 to bar", "five point to bar": before the unit, a figure was written as a word.

    And "point one eight in cruise", where "in" is no unit: who writes figures out as words
    doesn't shorten the inch.
    """
    if measure.value.is_nan():
        return measure
    at = measure.last
    if measure.unit is not None:
        spoken = passage.atoms[at - 1].text == "in" and passage.atoms[measure.number.first].shape
        behind = passage.atoms[at : at + 1]  # a place of the card may stand there, past `stop`
        if spoken == "word" and behind and behind[0].shape == "word":
            return replace(measure, last=at - 1, unit=None)
        return measure
    pointed = at < stop and passage.atoms[at].text in ("point", "decimal", ".")
    at += pointed
    if at >= stop or passage.atoms[at].text not in by_ear():
        return measure
    unit = unit_words.find(passage.atoms, at + 1, stop)
    if unit is None or len(passage.atoms[at + 1].text) < 2 or passage.atoms[at + 1].text == "in":
        return measure  # "5 to a", "to in"
    doubts = (*measure.doubts, "ambiguous_number")
    if not pointed or measure.value != measure.value.to_integral_value():
        return replace(measure, doubts=doubts)
    value = Decimal(f"{int(measure.value)}.{by_ear()[passage.atoms[at].text]}")
    others = (*measure.number.alternatives, measure.value)
    number = replace(measure.number, last=at + 1, value=value, alternatives=others, digits="")
    return replace(measure, number=number, last=unit[1], unit=unit[0], doubts=doubts)


def behind_place(
    passage: Passage, at: int, stop: int, counted: Mapping[int, int]
) -> Measure | None:
    """ "Black to thou, white three": between a place and a unit, a figure was written as a word;
    and so between a place and what is counted there ("right to broken wires", "shims to under the
    red"). `counted` holds where the names of what is counted begin and end."""
    figure = by_ear().get(passage.atoms[at].text)
    if figure is None or not at or at + 1 >= stop:
        return None
    number = Number(at, at + 1, Decimal(figure))
    before, behind = passage.atoms[at - 1], passage.atoms[at + 1]
    placed = passage.claims[at - 1] == "positions"
    if placed:
        unit = unit_words.find(passage.atoms, at + 1, stop)
        leaves_out = unit is not None and _leaves_out(passage, at + 1)
        if unit is not None and len(behind.text) > 1 and behind.text != "in" and not leaves_out:
            return Measure(at, unit[1], number, unit[0], doubts=("ambiguous_number",))
    named = before.end in counted.values() or (placed and _before(counted, at, passage))
    if (placed and behind.start in counted) or (named and _at_a_place(passage, at + 1)):
        return Measure(at, at + 1, number, doubts=("ambiguous_number",))
    return None


def _leaves_out(passage: Passage, at: int) -> bool:
    """ "All pulleys free bar the tail one": an exception, with the place that it leaves out."""
    behind = at + 1
    while behind < len(passage.atoms) and passage.atoms[behind].text in _LEADS_TO_PLACE:
        behind += 1
    named = behind < len(passage.atoms) and passage.claims[behind] == "positions"
    return named and leaves_out(passage.atoms[at].text)


_LEADS_TO_PLACE = frozenset({"the", "number", "no", "for"})


def _before(counted: Mapping[int, int], at: int, passage: Passage) -> bool:
    """Whether what is counted was named before `at`."""
    return any(end <= passage.atoms[at].start for end in counted.values())


_UNDER = frozenset({"at", "behind", "in", "on", "under"})


def _at_a_place(passage: Passage, at: int) -> bool:
    """Whether a place of the card stands at `at`, behind "under the" and its like."""
    if passage.atoms[at].text not in _UNDER:
        return False
    at += 1 + (at + 1 < len(passage.atoms) and passage.atoms[at + 1].text == "the")
    return at < len(passage.atoms) and passage.claims[at] == "positions"


# --- figures said one by one --------------------------------------------------------


def _row(passage: Passage, items: Sequence[Measure], first: int) -> Sequence[Measure]:
    last = first
    while last < len(items) and len(items[last].number.digits) == 1 and _plain(items[last]):
        last += 1
        ended = last == len(items) or items[last - 1].unit is not None
        if ended or _pause(passage, items[last - 1], items[last]) is None:
            break
    return items[first:last]


def _plain(item: Measure) -> bool:
    return item.first == item.number.first and not item.doubts


def _between(passage: Passage, one: Measure, other: Measure) -> list[str]:
    return [atom.text for atom in passage.atoms[one.last : other.first]]


def _pause(passage: Passage, one: Measure, other: Measure) -> str | None:
    """What is said between two figures besides the pause: nothing, or zeros ("two, oh, five");
    None when it is something else."""
    between = _between(passage, one, other)
    zeros = between[1:-1:2]
    if between[::2] != [","] * (len(zeros) + 1) or not set(zeros) <= _ZEROS:
        return None
    return "0" * len(zeros)


def _is_number(passage: Passage, row: Sequence[Measure], lists: Sequence[int]) -> bool:
    if (row[-1].unit is None and len(row) < _FEWEST) or row[0].number.digits == "0":
        return False  # "0, 1, 0, 3" are four counts
    start = passage.atoms[row[0].first].start
    if any(0 <= start - end <= _NEAR for end in lists):
        return False
    step = passage.step_at(row[0].first)
    sizes = {len(group.positions) for group in passage.cues.groups if step in group.steps}
    return len(row) not in sizes


def _number(passage: Passage, row: Sequence[Measure]) -> Measure:
    first, last = row[0], row[-1]
    digits = first.number.digits
    for one, other in pairwise(row):
        digits += (_pause(passage, one, other) or "") + other.number.digits
    return _joined(first, last, Decimal(int(digits)), digits)


# --- two parts of one number --------------------------------------------------------


def _cut(passage: Passage, one: Measure, other: Measure) -> Measure | None:
    """One number of two parts, where the second can only be the rest of the first."""
    if one.unit is not None or not _plain(one) or one.value.is_nan() or other.value.is_nan():
        return None
    if other.first != other.number.first or one.value != one.value.to_integral_value():
        return None
    between = _between(passage, one, other)
    value = _total(passage, between, one, other)
    return None if value is None else _joined(one, other, value, "")


def _last_decimal(
    passage: Passage, one: Measure, other: Measure, lists: Sequence[int]
) -> Measure | None:
    """ "Zero point eight, five millimetres": a pause before the last figure, where no row of values
    of several places is being said."""
    atoms = passage.atoms
    words = passage.texts[one.number.first : one.number.last]
    single = len(other.number.digits) == 1 and atoms[other.number.first].shape == "word"
    if one.unit is not None or other.unit is None or not single or "point" not in words:
        return None
    if not _plain(one) or not _plain(other) or _between(passage, one, other) != [","]:
        return None
    if any(0 <= atoms[one.first].start - end <= _NEAR for end in lists):
        return None
    return _joined(one, other, Decimal(f"{one.value}{other.number.digits}"), "")


def _torn(passage: Passage, items: Sequence[Measure], index: int) -> Measure | None:
    """ "4 62 degrees" and "52 003": a recogniser put a space between the figures of a number.

    A figure before two of them, or thousands; three numerals in a row are a list.
    """
    near = items[max(0, index - 1) : index + 3]
    if index + 1 >= len(items):
        return None
    one, other = items[index : index + 2]
    settled = replace(
        other, doubts=tuple(code for code in other.doubts if code != "ambiguous_unit")
    )
    if not _plain(one) or not _plain(settled):
        return None
    if sum(left.last == right.first for left, right in pairwise(near)) != 1:
        return None
    if one.unit is not None or one.last != other.first:
        return None
    whole = [_figures(passage, item) for item in (one, other)]
    if not all(whole) or whole[0].startswith("0"):
        return None
    if (len(whole[0]), len(whole[1])) != (1, 2) and (len(whole[0]) > 3 or len(whole[1]) != 3):
        return None
    return _joined(one, other, Decimal("".join(whole)), "".join(whole))


def _paired(passage: Passage, items: Sequence[Measure], index: int) -> Measure | None:
    """ "Bolt two, 13, 10": the two halves of a number said in pairs, behind a place at which one
    of them alone can't be a value."""
    pair = items[index : index + 2]
    if len(pair) < 2 or _between(passage, *pair) != [","] or pair[0].unit is not None:
        return None
    halves = [_figures(passage, item) for item in pair]
    if not all(_plain(item) for item in pair) or any(len(half) != 2 for half in halves):
        return None
    at = pair[0].first - (passage.atoms[pair[0].first - 1].text == ",")
    after = items[index + 2] if index + 2 < len(items) else None
    listed = after is not None and _between(passage, pair[1], after) == [","]
    if at < 1 or listed or passage.claims[at - 1] != "positions" or halves[0].startswith("0"):
        return None
    value = Decimal("".join(halves))
    step = passage.step_at(at)
    groups = [group for group in passage.cues.groups if step in group.steps and group.numbers]
    if not any(g.plausible(value) and g.plausible(pair[0].value) is False for g in groups):
        return None
    return _joined(pair[0], pair[1], value, "".join(halves))


def _figures(passage: Passage, item: Measure) -> str:
    """The digits of a whole number that stands in digits; else ""."""
    single = item.number.last == item.number.first + 1
    written = single and passage.atoms[item.number.first].shape == "digits"
    return item.number.digits if written else ""


def _total(passage: Passage, between: list[str], one: Measure, other: Measure) -> Decimal | None:
    first, rest = one.value, other.value
    if between == ["."] and other.unit is not None and _figures(passage, one):
        figures = _figures(passage, other)  # "7. 5 bar"
        return Decimal(f"{int(first)}.{figures}") if 0 < len(figures) < 3 else None
    if between in (["point", ","], ["decimal", ","], [",", "point", ","]):
        figures = other.number.digits
        return Decimal(f"{int(first)}.{figures}") if figures else None
    opening = passage.atoms[other.number.first].text
    if between == [","] and opening in ("point", "decimal") and 0 <= rest < 1:
        return first + rest
    told = passage.texts[other.last : other.last + 1] in (["is"], ["was"])
    if told and between[:1] == [","]:
        return None  # "68 over 80, five is 72 over 80"
    if between == [","] and _is_tens(first) and 0 < rest < 10 and other.number.digits != "0":
        return first + rest  # "ninety, eight"; "twenty, four point five"
    if between in (["and", ","], [",", "and"], [",", "and", ","]) and first % 100 == 0 and first:
        return first + rest if 0 < rest < 100 else None
    if between == [",", "and"] and "fraction" in other.qualifiers and 0 < rest < 1:
        return first + rest  # "forty six, and a half"
    lexeme = lexemes().get((opening,))
    if between == [","] and lexeme is not None and lexeme.kind == "power" and first < 100:
        power = Decimal(10) ** lexeme.value
        return first * power + rest - power if power <= rest < 2 * power else None
    return None


def _is_tens(value: Decimal) -> bool:
    return value % 10 == 0 and 20 <= value % 100 <= 90


def _joined(first: Measure, last: Measure, value: Decimal, digits: str) -> Measure:
    others = (last.value, *((first.value,) if first.value != last.value else ()))
    number = replace(
        last.number, first=first.number.first, value=value, alternatives=others, digits=digits
    )
    doubts = tuple(dict.fromkeys((*last.doubts, "joined_digits")))
    return replace(last, first=first.first, number=number, doubts=doubts)
