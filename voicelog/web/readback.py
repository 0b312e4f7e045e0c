"""Saying values back so that they can't be misheard, and the voice that says them.

Figures are said one by one (ICAO Annex 10 vol. II, 5.2.1.4; "fife" and "niner" against
five/nine), letters by the ITU alphabet, units in full. The voice is a program beside this
one: espeak-ng, or hibari where it is installed; with neither the page shows large letters.
"""

from __future__ import annotations

import io
import re
import shutil
import subprocess
import wave
from datetime import date
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from voicelog.objects import Card, Field, FieldValue, Interval, Ratio, Value

if TYPE_CHECKING:
    from voicelog.web.site import ReadBack, Texts

_FIGURES = ["zero", "one", "two", "three", "four", "fife", "six", "seven", "eight", "niner"]
_ALPHABET = [
    "alpha",
    "bravo",
    "charlie",
    "delta",
    "echo",
    "foxtrot",
    "golf",
    "hotel",
    "india",
    "juliet",
    "kilo",
    "lima",
    "mike",
    "november",
    "oscar",
    "papa",
    "quebec",
    "romeo",
    "sierra",
    "tango",
    "uniform",
    "victor",
    "whiskey",
    "x-ray",
    "yankee",
    "zulu",
]
_SIGNS = {".": "decimal", "-": "dash", "/": "slash", "+": "plus", " ": ""}
SPEECH_TIMEOUT_S = 20


def spelt(text: str) -> str:
    """Letters, figures and signs of an identifier one by one."""
    said = []
    for sign in text.upper():
        if sign.isascii() and sign.isdigit():
            said.append(_FIGURES[int(sign)])
        elif "A" <= sign <= "Z":
            said.append(_ALPHABET[ord(sign) - ord("A")])
        else:
            said.append(_SIGNS.get(sign, sign))
    return " ".join(filter(None, said))


def figures(number: Decimal) -> str:
    """A number figure by figure: 102.5 -> "one zero two decimal fife"."""
    text = format(number, "f")
    minus = "minus " if text.startswith("-") else ""
    return minus + spelt(text.removeprefix("-"))


def value_words(value: Value, unit: str | None, words: Texts) -> str:
    """A value with its unit, as it is said back."""
    match value:
        case Decimal():
            said = figures(value)
        case Ratio(reading, reference):
            said = f"{figures(reading)} {words.spoken.over} {figures(reference)}"
        case Interval(low, high):
            ends = (words.spoken.open_end if end is None else figures(end) for end in (low, high))
            said = f" {words.spoken.to} ".join(ends)
        case date():
            day, month = figures(Decimal(value.day)), words.months[value.month - 1]
            said = f"{day} {month} {spelt(str(value.year))}"
        case _:
            said = str(value)
    return f"{said} {unit_words(unit, words)}".strip()


def unit_words(unit: str | None, words: Texts) -> str:
    """A unit in full: "N*m" -> "newton metres"."""
    if not unit:
        return ""
    return str(words.spoken.units.plain().get(unit, unit.replace("*", " ").replace("/", " per ")))


def sentence(value: FieldValue, card: Card, words: Texts) -> str:
    """One value as it is said back, with its limit when it lies beyond it."""
    step = card.step(value.step)
    field = step.field(value.field) if step else None
    label = field.label if field else value.field
    place = f" {_place(value.position)}" if value.position else ""
    is_name = field is not None and field.type == "identifier"
    said = spelt(str(value.value)) if is_name else value_words(value.value, value.unit, words)
    return f"{label}{place}: {said}. {_limit(value, field, words)}".strip()


def _place(position: str) -> str:
    return spelt(position) if re.search(r"\d", position) else position


def _limit(value: FieldValue, field: Field | None, words: Texts) -> str:
    if field is None or value.limit not in ("below", "above"):
        return ""
    bound = field.min if value.limit == "below" else field.max
    if bound is None:
        return ""
    return f"{words.spoken[value.limit]} {figures(bound)} {unit_words(field.unit, words)}.".replace(
        " .", "."
    )


def voice(settings: ReadBack) -> str | None:
    """Which voice speaks: "hibari", "espeak", or None."""
    if settings.voice in ("auto", "hibari") and _hibari() is not None:
        return "hibari"
    if settings.voice in ("auto", "espeak") and shutil.which("espeak-ng"):
        return "espeak"
    return None


def speak(text: str, settings: ReadBack) -> bytes | None:
    """`text` as a WAV file; None when there is no voice."""
    name = voice(settings)
    if name == "hibari":
        model = _hibari()
        samples = model(text, speed=settings.words_per_minute / 170, seed=1)
        return _wav(np.asarray(samples), model.sample_rate)
    if name == "espeak":
        return _espeak(text, settings.words_per_minute)
    return None


@cache
def _hibari() -> Any:
    try:
        import hibari
    except ImportError:
        return None
    return hibari.Hibari()


def _wav(samples: np.ndarray, rate_hz: int) -> bytes:
    target = io.BytesIO()
    with wave.open(target, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(rate_hz)
        out.writeframes(np.round(np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    return target.getvalue()


def _espeak(text: str, words_per_minute: int) -> bytes | None:
    try:
        done = subprocess.run(
            ["espeak-ng", "-v", "en-gb", "-s", str(words_per_minute), "--stdout", "--stdin"],
            input=text.encode(),
            capture_output=True,
            timeout=SPEECH_TIMEOUT_S,
            check=True,
        )
    except (OSError, subprocess.SubprocessError):
        return None
    return done.stdout or None
