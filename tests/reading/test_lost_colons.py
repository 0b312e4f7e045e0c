"""A full stop behind a row of places is read as a comma only where their values stand behind it."""

from __future__ import annotations

import pytest

from voicelog.reading.lost_colons import mended

PLACES = (
    "Hinge pin clearance, one to five. One point two, one point four, one point three, two, three.",
    "Blades one to three in millimetres. Six point two, six point one, six.",
    "Cups one to five. One hundred and thirty five degrees except four.",
    "Nozzles one to four. 3.2, 3.4, 3.3 and 3.5 litres a minute.",
)
OTHERS = (
    "No access to bolts one to three. Four, 24 newton metres.",
    "Bolts one to three cleaned. Four, 24 newton metres.",
    "Torque 22 newton metres on bolts one to four. Five, 24 newton metres.",
    "Gap 7 mm on blades one to four. Five 6 mm.",
    "Test pressure went from two to four. Five bar in the end.",
    "Lamps one to four. Two lamps dead.",
)


@pytest.mark.parametrize("text", PLACES)
def test_what_stands_behind_a_row_of_places_are_their_values(text: str) -> None:
    assert mended(text) == text.replace(".", ",", 1)


@pytest.mark.parametrize("text", OTHERS)
def test_what_goes_on_with_the_next_place_is_left(text: str) -> None:
    assert mended(text) == text
