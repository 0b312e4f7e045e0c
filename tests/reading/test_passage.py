"""A passage is cut into stretches that nothing has claimed."""

from __future__ import annotations

from voicelog.reading.cues import Cues
from voicelog.reading.passage import Passage


def test_a_cut_before_what_is_claimed_ends_nothing_for_ever() -> None:
    passage = Passage.of("six one six two degrees", Cues())
    passage.claim(2, 3, "positions")
    passage.cuts.add(2)
    assert list(passage.stretches()) == [(0, 2), (3, 5)]
