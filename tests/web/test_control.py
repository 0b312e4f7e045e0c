"""Spoken control: whole phrases between pauses, never half a remark."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.web.control import Command, commands


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Stand by.", [("stand_by", True)]),
        ("Standby", [("stand_by", True)]),
        ("Resume.", [("resume", True)]),
        ("Resume bolt four, ninety eight newton metres.", [("resume", False)]),
        ("Resume, bolt four ninety eight.", [("resume", False)]),
        ("Bolt four 98 newton metres. Stand by.", [("stand_by", False)]),
        ("Next step.", [("next_step", True)]),
        ("Read back.", [("read_back", True)]),
        ("A firm.", [("affirm", True)]),
        ("Affirmative!", [("affirm", True)]),
        ("Negative.", [("negative", True)]),
        ("Disregard.", [("disregard", True)]),
        ("Affirm. Next step.", [("affirm", True), ("next_step", True)]),
        ("Finish dictation.", [("finish", True)]),
        # remarks that hold the same words
        ("Engine on stand by power.", []),
        ("The standby pump leaks.", []),
        ("Negative pressure of two psi.", []),
        ("Finish the dictation later.", []),
        ("Work will resume tomorrow.", []),
        ("", []),
        ("...", []),
    ],
)
def test_commands(text: str, expected: list[tuple[str, bool]]) -> None:
    assert list(commands(text)) == [Command(*each) for each in expected]


@given(st.text())
def test_any_text_is_read(text: str) -> None:
    assert all(command.name for command in commands(text))
