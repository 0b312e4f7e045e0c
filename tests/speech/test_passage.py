"""What is said behind the last word that was written, and is not written itself, is asked about."""

from __future__ import annotations

import numpy as np
import pytest

from voicelog.heard import RATE_HZ, Word
from voicelog.speech import recheck
from voicelog.speech.passage import unwritten
from voicelog.speech.voice import FRAME

FRAME_S = FRAME / RATE_HZ
SAID = (Word("six", 0.0, 0.5, 0.9), Word("four", 0.5, 9.0, 0.9))


def chances(*stretches: tuple[float, float]) -> np.ndarray:
    """The detector's answer for a recording of 9 s, voiced in these stretches (seconds)."""
    voiced = np.zeros(round(9 / FRAME_S), np.float32)
    for start_s, end_s in stretches:
        voiced[round(start_s / FRAME_S) : round(end_s / FRAME_S)] = 1
    return voiced


@pytest.mark.parametrize(
    ("stretches", "asked"),
    [
        ([(0.0, 0.9), (2.1, 2.4)], True),
        ([(0.0, 0.9), (1.2, 1.4), (2.6, 2.9)], True),
        ([(0.0, 0.9), (1.2, 1.6)], False),  # a slow last word
        ([(0.0, 0.9)], False),
        ([(0.0, 0.9), (2.1, 2.15)], False),  # a knock
        ([(2.1, 2.4)], True),
    ],
)
def test_speech_behind_a_rest_behind_the_last_word(
    stretches: list[tuple[float, float]], asked: bool
) -> None:
    found = unwritten(SAID, "six four", chances(*stretches))
    assert [(each.start, each.end, each.why) for each in found] == (
        [(4, 8, recheck.UNWRITTEN)] if asked else []
    )
