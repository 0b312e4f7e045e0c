"""A backlog of recordings: which are heard together, and how many such groups side by side.

Windows of the same length are decoded in one go (`engine`), so recordings are put together by
length. A decoder's steps are too small to be shared between cores, so each core hears a group
of its own, over one copy of the weights, and the features of one group are taken while another
one is decoded. What is heard is exactly what would be heard one by one.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, TypeVar

from voicelog.speech import engine

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

T = TypeVar("T")


def lanes(backlog: int, cores: int = 0) -> int:
    """How many groups to hear side by side on this machine (or on `cores` of it)."""
    return max(1, min(backlog, engine.threads(cores)))


def groups(lengths: Sequence[float], side_by_side: int = 1) -> list[list[int]]:
    """Places in `lengths` in groups of about the same length, the longest first.

    Each lane gets at least one group, while there is enough; what is left at the end, when lanes
    fall idle, is short.
    """
    order = sorted(range(len(lengths)), key=lambda at: -lengths[at])
    size = min(engine.TOGETHER, max(1, -(-len(order) // max(1, side_by_side))))
    return [order[first : first + size] for first in range(0, len(order), size)]


def side_by_side(work: Callable[[T], object], items: Sequence[T], lanes: int) -> None:
    """Do `work` on each of `items`, on so many threads. Raises what it raises."""
    if lanes == 1 or len(items) == 1:
        for item in items:
            work(item)
        return
    with ThreadPoolExecutor(lanes, thread_name_prefix="listening") as pool:
        for done in [pool.submit(work, item) for item in items]:
            done.result()
