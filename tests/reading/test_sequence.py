"""Sequences: what is missing, and the fewest items that are out of order."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.objects import Field, Step
from voicelog.reading import sequence

_LATCH = Field("latch", "Latch closed", "check", positions=("1", "2", "3"), position_word="latch")
STEP = Step("1", "Latches", (_LATCH,), sequence=("latch 1", "latch 2", "latch 3"))


def _order(*positions: str) -> sequence.Order:
    return sequence.order(STEP, [(at, _LATCH, place) for at, place in enumerate(positions)])


def test_in_order() -> None:
    assert _order("1", "2", "3").complete


def test_one_missing() -> None:
    assert _order("1", "3").missing == ("latch 2",)


@pytest.mark.parametrize(
    ("said", "out"), [(("3", "1", "2"), ("latch 3",)), (("2", "3", "1"), ("latch 1",))]
)
def test_only_what_would_have_to_move_is_out_of_order(
    said: tuple[str, ...], out: tuple[str, ...]
) -> None:
    assert _order(*said).out_of_order == out


def test_nothing_is_missing_of_what_was_not_begun() -> None:
    assert _order().complete


def test_of_two_that_changed_places_either_may_be_out_of_order() -> None:
    assert _order("1", "3", "2").out_of_order == ("latch 3", "latch 2")


@given(st.lists(st.integers(0, 30), max_size=9, unique=True))
def test_in_place_is_what_every_longest_run_holds(numbers: list[int]) -> None:
    runs = [
        set(chosen)
        for size in range(len(numbers) + 1)
        for chosen in combinations(range(len(numbers)), size)
        if all(numbers[a] < numbers[b] for a, b in pairwise(chosen))
    ]
    longest = max(map(len, runs))
    every = set.intersection(*(run for run in runs if len(run) == longest))
    assert sequence.in_place(numbers) == every
