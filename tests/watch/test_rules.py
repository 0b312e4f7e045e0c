"""What names and side-cars say; what is wrong with them is said, with the file and the key."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import pytest

from voicelog.errors import ConfigError, RecordError
from voicelog.watch.rules import Facts, Rules

RULES = r"""
[[rules]]
file = '(?P<work_order>W-\d+)_(?P<step>\d+)_(?P<time>\d{8}-\d{6})\.wav'
card = "TB-10"
person = "tom"
time = "%Y%m%d-%H%M%S"

[[rules]]
file = 'crane-.*'
card = "TB-11"
person = "ruth"
sidecar = "required"
"""


@pytest.fixture
def rules(tmp_path: Path) -> Rules:
    path = tmp_path / "rules.toml"
    path.write_text(RULES, encoding="utf-8")
    return Rules.load(path, Facts(work_order="W-0"))


def sidecar(tmp_path: Path, content: object) -> Path:
    path = tmp_path / "note.json"
    path.write_text(content if isinstance(content, str) else json.dumps(content), encoding="utf-8")
    return path


def test_a_name_is_read(rules: Rules) -> None:
    said = rules.heading("W-12_20_20261120-081500.wav", None)
    assert (said.work_order, said.card, said.step, said.by) == ("W-12", "TB-10", "20", "tom")
    assert said.recorded_at == datetime(2026, 11, 20, 8, 15).astimezone()
    assert said.announced


def test_the_side_car_wins_over_the_name_and_the_name_over_the_command_line(
    rules: Rules, tmp_path: Path
) -> None:
    facts = {"work_order": "W-99", "step": 30, "time": "2026-11-20T09:00:00+01:00"}
    said = rules.heading("W-12_20_20261120-081500.wav", sidecar(tmp_path, facts))
    assert (said.work_order, said.card, said.step) == ("W-99", "TB-10", "30")
    assert said.recorded_at == datetime.fromisoformat("2026-11-20T09:00:00+01:00")
    assert rules.heading("crane-1.wav", None).work_order == "W-0"


def test_a_side_car_may_be_required(rules: Rules) -> None:
    assert rules.wants_sidecar("crane-1.wav")
    assert not rules.wants_sidecar("W-12_20_20261120-081500.wav")
    assert not rules.wants_sidecar("other.wav")


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("W-12_20_20269920-081500.wav", None, "is no time in the form"),
        ("other.wav", None, "no rule is for a file of this name"),
        ("other.wav", {"card": "TB-10"}, "nothing says who dictated it"),
        ("crane-1.wav", "{", "is no side-car that can be read"),
        ("crane-1.wav", ["TB-10"], "a JSON object with any of the keys work_order, card"),
        ("crane-1.wav", {"cards": "TB-10"}, "a JSON object with any of the keys"),
        ("crane-1.wav", {"card": None}, "card has to be a text"),
        ("crane-1.wav", {"time": "yesterday"}, "is no time"),
    ],
)
def test_what_can_not_be_used_is_said(
    rules: Rules, tmp_path: Path, name: str, content: object, message: str
) -> None:
    beside = None if content is None else sidecar(tmp_path, content)
    with pytest.raises(RecordError, match=message):
        rules.heading(name, beside)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[[rules]]\nfile = '('", "rules.1.file"),
        ("[[rules]]\nfile = '(?P<order>.)'", "no group can be called order"),
        ("[[rules]]\nfile = '(?P<time>.)'", "go together"),
        ("[[rules]]\nfile = 'x'\ncart = 'TB-10'", "cart"),
        ("[[rules]]\nfile = 'x'\nsidecar = 'maybe'", "rules"),
        ("rules = 1", "rules.toml"),
        ("x", "rules.toml"),
    ],
)
def test_a_wrong_file_is_refused(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "rules.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ConfigError, match=message):
        Rules.load(path)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="can't be read"):
        Rules.load(tmp_path / "none.toml")
