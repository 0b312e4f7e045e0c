"""Asides: talk that is no finding, and how far it reaches. Common practice, no source."""

from __future__ import annotations

import pytest

from voicelog.heard import Transcript
from voicelog.reading import Reader
from voicelog.reading.asides import KINDS


def _asides(text: str) -> list[tuple[str, str]]:
    reading = Reader().read(Transcript.of_text(text))
    return [
        (str(mention.value), mention.text)
        for mention in reading.mentions
        if mention.kind == "procedure" and mention.value in KINDS
    ]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("limit is three millimetres", "limit"),
        ("the limits are 95 to 105", "limit"),
        ("limits forty to fifty", "limit"),
        ("should be between forty and fifty psi", "limit"),
        ("must be at least 40 psi", "limit"),
        ("the book says 60 psi", "limit"),
        ("maximum is 105", "limit"),
        ("Maximum wind speed for this is nine metres per second", "limit"),
        ("not to exceed 90 psi", "limit"),
        ("will torque to 98 newton metres", "plan"),
        ("I'll set it to 60 psi", "plan"),
        ("going to add two quarts", "plan"),
        ("tighten the screws to 22 inch pounds", "plan"),
        ("what is the pressure, 60 psi", "question"),
        ("did you get 60 psi", "question"),
        ("is it 60 psi?", "question"),
        ("hang on", "filler"),
        ("pass me that torch", "talk"),
        ("set the wrench to 98 newton metres", "setting"),
        ("wrench set at 98 newton metres", "setting"),
    ],
)
def test_what_kind_of_aside(text: str, kind: str) -> None:
    assert kind in [found for found, _ in _asides(text)]


@pytest.mark.parametrize(
    "text",
    [
        "oil pressure 60 psi, within limits",
        "worn to limit",
        "pressure was 60 psi",
        "torqued to 98 newton metres",
        "it passed",
        "electrolyte got to 31 degrees",
    ],
)
def test_a_finding_is_no_aside(text: str) -> None:
    assert _asides(text) == []


def test_a_quoted_limit_takes_its_figures_and_no_more() -> None:
    assert _asides("limit is 95 to 105, bolt three 98 newton metres") == [
        ("limit", "limit is 95 to 105")
    ]


def test_talk_ends_with_the_clause() -> None:
    assert _asides("pass me the 10 mm socket, pressure 60 psi") == [
        ("talk", "pass me the 10 mm socket")
    ]
