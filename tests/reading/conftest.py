"""A task card, invented, with every kind of position, and readers of notes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from voicelog import cards
from voicelog.heard import Transcript
from voicelog.objects import Mention
from voicelog.reading import Reader

if TYPE_CHECKING:
    from collections.abc import Callable

    from voicelog.objects import Card

CARD = rb"""
card: RT-10
title: Invented for tests of reading
revision: "1"
revision_date: 2026-01-01
source: invented
steps:
  - step: "30"
    title: Wheel and engine
    fields:
      - {name: bolt_torque, label: Bolt torque, type: measurement, unit: N*m, min: 95, max: 105, positions: ["1", "2", "3", "4", "5", "6", "7", "8"], position_word: bolt, say: [bolt, bolts, bolt torque]}
      - {name: compression, label: Compression, type: ratio, unit: psi, positions: ["1", "2", "3", "4"], position_word: cylinder, say: [cylinder, compression]}
      - {name: tyre, label: Tyre pressure, type: measurement, unit: psi, min: 90, max: 110, positions: [left, right], say: [tyre pressure]}
      - {name: wear, label: Pin wear, type: measurement, unit: mm, positions: ["1", "2", "3", "4"], position_word: pin}
      - {name: n1, label: N1, type: measurement, unit: percent, say: [N one]}
      - {name: wheel_on, label: Fitted wheel, type: identifier, kind: serial number, pattern: 'HT\d{2}-\d{3}', say: [fitted wheel]}
      - {name: cal_due, label: Calibration due, type: date, say: [cal due]}
      - {name: insulation, label: Insulation, type: measurement, unit: megaohm, min: 100, positions: [U, V, W], position_word: phase, say: [insulation]}
      - {name: backlash, label: Backlash, type: measurement, unit: mm, min: 0.8, max: 2.4, positions: ["12", "3", "6", "9"], position_word: clock, say: [backlash]}
      - {name: bearing, label: Bearing temperature, type: measurement, unit: degC, max: 90, positions: [drive end, non-drive end], say: [bearing]}
  - step: "40"
    title: Close up
    fields:
      - {name: remarks, label: Remarks, type: text, required: false}
"""  # noqa: E501

NUMERIC = {"quantity", "count", "ratio", "range", "identifier", "date", "time", "position", "step"}


@pytest.fixture(scope="session")
def card() -> Card:
    return cards.parse(CARD, "RT-10.yaml")


@pytest.fixture(scope="session")
def read(card: Card) -> Callable[[str], tuple[Mention, ...]]:
    """Mentions of numbers, identifiers, dates, positions and steps, read with the card."""
    reader = Reader(card)

    def of(text: str) -> tuple[Mention, ...]:
        mentions = reader.read(Transcript.of_text(text), "30").mentions
        return tuple(mention for mention in mentions if mention.kind in NUMERIC)

    return of


@pytest.fixture(scope="session")
def read_plain() -> Callable[[str], tuple[Mention, ...]]:
    """The same without a card."""
    reader = Reader(None)

    def of(text: str) -> tuple[Mention, ...]:
        mentions = reader.read(Transcript.of_text(text)).mentions
        return tuple(mention for mention in mentions if mention.kind in NUMERIC)

    return of
