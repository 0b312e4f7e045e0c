"""The simulation of a site's queue against Erlang's formula and against what must hold."""

from __future__ import annotations

import random

import pytest

from voicelog.bench.queueing import SHIFT_S, Site, arrivals, erlang_wait_s, simulate, table

EVEN = Site(mechanics=1, notes_a_shift=20_000, rush=1.0, recorders=0)
"""Notes at an even rate, live only."""


@pytest.mark.parametrize("workers", [1, 2, 4])
def test_waits_as_in_the_textbook(workers: int) -> None:
    rate = 20_000 / SHIFT_S
    service_s = 0.7 * workers / rate  # workers are busy seven tenths of the time
    chance = random.Random(5)  # noqa: S311
    times = [chance.expovariate(1 / service_s) for _ in range(4000)]
    expected = erlang_wait_s(rate, sum(times) / len(times), workers)
    runs = [simulate(EVEN, times, workers, seed)[0].mean_s for seed in range(4)]
    assert sum(runs) / len(runs) == pytest.approx(expected, rel=0.15)


def test_erlang_for_one_server_is_the_well_known_form() -> None:
    # M/M/1: wait = load / (1 - load) * service
    assert erlang_wait_s(0.5, 1.0, 1) == pytest.approx(1.0)
    assert erlang_wait_s(2.0, 1.0, 2) == float("inf")


def test_nobody_is_lost_and_more_workers_wait_less() -> None:
    few, many = (simulate(Site(), [2.0], workers) for workers in (2, 6))
    assert [row.notes for row in few] == [row.notes for row in many]
    assert sum(row.notes for row in many if row.kind == "recorder") == 500
    for before, after in zip(few, many, strict=True):
        assert after.mean_s < before.mean_s
        assert after.median_s <= after.p95_s <= after.longest_s


def test_live_goes_before_recorders() -> None:
    live, recorder = simulate(Site(), [2.0], 2)
    assert live.median_s < recorder.median_s


def test_a_rush_comes_at_the_end_of_the_shift() -> None:
    coming = arrivals(Site(), random.Random(1))  # noqa: S311
    at = [second for second, kind in coming if kind == "live"]
    last = sum(second >= SHIFT_S - 3600 for second in at)
    assert 2 < last / (sum(second < 3600 for second in at)) < 4
    assert len(at) == pytest.approx(5000, rel=0.05)


def test_what_makes_no_sense_is_refused() -> None:
    with pytest.raises(ValueError, match="service times"):
        simulate(Site(), [], 1)


def test_the_table_has_a_row_for_each_kind() -> None:
    assert table([1.0]).count("\n") == 13
