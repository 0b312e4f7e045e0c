"""Read-back: figures one by one, letters by the alphabet, units in full."""

from __future__ import annotations

import io
import shutil
import wave
from datetime import date
from decimal import Decimal

import pytest

from tests.web.scene import CARD
from voicelog import cards
from voicelog.objects import FieldValue, Interval, Ratio, Value
from voicelog.web import readback, site

TEXTS = site.texts()
HUB = cards.parse(CARD, "hub.yaml")


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        # ICAO Annex 10 vol. II 5.2.1.4: figures singly; CAP 413: fife, niner, decimal
        (Decimal(95), "N*m", "niner fife newton metres"),
        (Decimal(15), "N*m", "one fife newton metres"),
        (Decimal(50), "N*m", "fife zero newton metres"),
        (Decimal("0.50"), "mm", "zero decimal fife zero millimetres"),
        (Decimal("-3"), "degC", "minus three degrees celsius"),
        (Ratio(Decimal(74), Decimal(80)), "psi", "seven four over eight zero P S I"),
        (Interval(Decimal(20), None), "mm", "two zero to open millimetres"),
        (date(2026, 11, 30), None, "three zero November two zero two six"),
        ("pass", None, "pass"),
        (Decimal(3), "furlong*fortnight", "three furlong fortnight"),
    ],
)
def test_values(value: Value, unit: str | None, said: str) -> None:
    assert readback.value_words(value, unit, TEXTS) == said


def test_identifiers_are_spelt() -> None:
    assert readback.spelt("HT66-902") == "hotel tango six six dash niner zero two"


def test_a_value_beyond_its_limit_says_the_limit() -> None:
    value = FieldValue("10", "bolt", "2", Decimal(94), "N*m", limit="below")
    assert readback.sentence(value, HUB, TEXTS) == (
        "Bolt torque two: niner four newton metres. Below the limit of niner fife newton metres."
    )


def test_a_serial_number_is_spelt_in_its_sentence() -> None:
    value = FieldValue("10", "serial", None, "KT-15")
    assert readback.sentence(value, HUB, TEXTS) == "Hub fitted: kilo tango dash one fife."


@pytest.mark.parametrize("name", ["espeak", "hibari"])
def test_each_voice_makes_sound(name: str) -> None:
    settings = site.ReadBack(voice=name)  # type: ignore[arg-type]
    if readback.voice(settings) is None:
        assert readback.speak("one", settings) is None
        pytest.skip(f"{name} is not installed")
    sound = readback.speak("Bolt two: niner four newton metres.", settings)
    assert sound is not None
    with wave.open(io.BytesIO(sound)) as file:
        assert file.getnframes() / file.getframerate() > 0.8


def test_no_voice_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda _: None)
    settings = site.ReadBack(voice="espeak")
    assert readback.voice(settings) is None
    assert readback.speak("one", settings) is None
    assert readback.voice(site.ReadBack(voice="off")) is None
