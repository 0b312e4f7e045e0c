"""How long a note waits on a site of two hundred mechanics: a simulation of its queue.

Discrete events, in simulated time: mechanics dictate at random moments (a Poisson process,
slower at night, a rush at the end of a shift), recorders are emptied into the folder at shift
change, and one or more workers hear what is in line in the order in which it came. Live
utterances go before recordings. Service times are drawn from those that were measured, one
for each note, so the long ones are in it as often as in life.

    python -m voicelog.bench.queueing SERVICE_S [SERVICE_S ...]     seconds a note, measured
    python -m voicelog.bench.queueing --measure [N]                 measure N demo notes first
"""

from __future__ import annotations

import heapq
import random
import sys
import time
from collections import deque
from dataclasses import dataclass
from itertools import accumulate
from statistics import mean
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

SHIFT_S = 8 * 3600.0


@dataclass(frozen=True, slots=True)
class Site:
    """Who dictates how much. The figures are assumptions: common practice, no source."""

    mechanics: int = 200
    notes_a_shift: int = 25
    """Spoken live by each mechanic."""
    rush: float = 3.0
    """In the last hour of a shift, notes come so many times as often as before."""
    recorders: int = 20
    """Hand-held recorders that are emptied all at once when the shift ends."""
    notes_a_recorder: int = 25


@dataclass(frozen=True, slots=True)
class Waiting:
    """What one kind of note waited before somebody began to hear it, in seconds."""

    workers: int
    kind: str
    notes: int
    mean_s: float
    median_s: float
    p95_s: float
    longest_s: float
    busy: float
    """Share of the shift that the workers were busy with all kinds of notes."""


def arrivals(site: Site, chance: random.Random) -> list[tuple[float, str]]:
    """(second of the shift, "live" or "recorder") of every note, in order."""
    hours = SHIFT_S / 3600
    a_note = site.mechanics * site.notes_a_shift / (hours - 1 + site.rush)
    found: list[tuple[float, str]] = []
    for hour in range(int(hours)):
        rate = a_note * (site.rush if hour == int(hours) - 1 else 1.0) / 3600
        at = hour * 3600.0
        while (at := at + chance.expovariate(rate)) < (hour + 1) * 3600.0:
            found.append((at, "live"))
    found += [(SHIFT_S, "recorder")] * (site.recorders * site.notes_a_recorder)
    return found


def simulate(
    site: Site, service_s: Sequence[float], workers: int, seed: int = 1
) -> tuple[Waiting, ...]:
    """Waiting times of live notes and of those from recorders with so many workers.

    `service_s` are measured seconds a note on one worker. Raises ValueError without any.
    """
    if not service_s or workers < 1:
        raise ValueError("measured service times and at least one worker are needed")
    chance = random.Random(seed)  # noqa: S311 — a simulation, no secret
    coming = deque(arrivals(site, chance))
    free = workers
    ends: list[float] = []
    lines: dict[str, deque[float]] = {"live": deque(), "recorder": deque()}
    waited: dict[str, list[float]] = {"live": [], "recorder": []}
    worked_s, now = 0.0, 0.0
    while coming or ends or any(lines.values()):
        while free and any(lines.values()):
            kind = "live" if lines["live"] else "recorder"
            waited[kind].append(now - lines[kind].popleft())
            took_s = chance.choice(service_s)
            worked_s += took_s
            heapq.heappush(ends, now + took_s)
            free -= 1
        next_end = ends[0] if ends else float("inf")
        if coming and coming[0][0] <= next_end:
            now, kind = coming.popleft()
            lines[kind].append(now)
        elif ends:
            now = heapq.heappop(ends)
            free += 1
    busy = worked_s / (workers * max(now, SHIFT_S))
    return tuple(_waiting(workers, kind, times, busy) for kind, times in waited.items() if times)


def _waiting(workers: int, kind: str, times: list[float], busy: float) -> Waiting:
    times = sorted(times)

    def share(of: float) -> float:
        return times[min(len(times) - 1, int(of * len(times)))]

    return Waiting(workers, kind, len(times), mean(times), share(0.5), share(0.95), times[-1], busy)


def erlang_wait_s(rate: float, service_s: float, workers: int) -> float:
    """Mean wait with Poisson arrivals and exponential service: Erlang's C formula, the check.

    A. K. Erlang, 1917, as in any textbook on queues (from memory). `rate` a second.
    """
    load = rate * service_s
    if load >= workers:
        return float("inf")
    terms = list(accumulate(range(1, workers + 1), lambda term, n: term * load / n, initial=1.0))
    last = terms[-1] * workers / (workers - load)
    return last / (sum(terms[:-1]) + last) * service_s / (workers - load)


def measured(first: int = 16) -> tuple[float, ...]:
    """Seconds that each of the `first` demo recordings takes on one core, reading included."""
    from voicelog.bench import samples
    from voicelog.errors import NoSpeech
    from voicelog.speech import audio as sound
    from voicelog.work.worker import whisper

    path = samples.shipped()
    cards, chain = samples.cards_for(path), whisper(threads=1)
    times = []
    for index, sample in enumerate((None, *samples.read(path)[:first])):
        each = sample or samples.read(path)[0]  # the first one warms up, and is not counted
        if each.path is None:
            continue
        begin = time.process_time()  # one thread: what a core is busy, whatever else runs
        try:
            chain.note(sound.load(each.path), samples.card_of(each, cards), each.step)
        except NoSpeech:
            continue
        if index:
            times.append(time.process_time() - begin)
    return tuple(times)


def table(service_s: Sequence[float], site: Site | None = None) -> str:
    """The table of the README, in Markdown."""
    lines = [
        "| workers | kind | notes | busy | mean wait | median | 95 % wait less than | longest |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for workers in (1, 2, 3, 4, 6, 8):
        for row in simulate(site or Site(), service_s, workers):
            times = (row.mean_s, row.median_s, row.p95_s, row.longest_s)
            shown = " | ".join(f"{seconds:.1f} s" for seconds in times)
            lines.append(f"| {workers} | {row.kind} | {row.notes} | {row.busy:.0%} | {shown} |")
    return "\n".join(lines)


if __name__ == "__main__":
    words = sys.argv[1:]
    if not words:
        sys.exit(__doc__)
    if words[0] == "--measure":
        seconds = measured(int(words[1]) if len(words) > 1 else 16)
    else:
        seconds = tuple(map(float, words))
    sys.stdout.write(
        f"{len(seconds)} service times, mean {mean(seconds):.2f} s, "
        f"longest {max(seconds):.2f} s\n\n{table(seconds)}\n"
    )
