"""The measure of lost sound notices what it is there to notice."""

from __future__ import annotations

import numpy as np
import pytest

from tests.browser.speech import RATE_HZ, missing_s

PLAYED = np.random.default_rng(5).normal(0, 0.1, 14 * RATE_HZ)
FRAME = RATE_HZ // 10


@pytest.mark.parametrize(
    ("recorded", "faults"),
    [
        (PLAYED[1000:], 0),
        (np.concatenate((PLAYED[: 7 * RATE_HZ], PLAYED[7 * RATE_HZ + FRAME :])), 5),
        (np.concatenate((PLAYED[: 7 * RATE_HZ], PLAYED[7 * RATE_HZ - FRAME :])), 5),
        (np.concatenate((PLAYED[: 7 * RATE_HZ], np.zeros(RATE_HZ), PLAYED[8 * RATE_HZ :])), 1),
    ],
    ids=["late but whole", "a frame lost", "a frame twice", "a second of silence instead"],
)
def test_missing(recorded: np.ndarray, faults: int) -> None:
    assert len(missing_s(recorded, PLAYED)) >= faults
    assert faults or missing_s(recorded, PLAYED) == []
