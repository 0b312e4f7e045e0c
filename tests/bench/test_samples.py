"""A manifest is read line by line, its faults are named, and it can be made again."""

import json
import shutil
from decimal import Decimal

import pytest

from voicelog import cards
from voicelog.bench import samples
from voicelog.config import config_dir
from voicelog.errors import AudioError, ConfigError

ROW = {
    "file": "a.flac",
    "text": "Nil leaks.",
    "card": "DM-32-10",
    "step": "40",
    "expect": [{"field": "leaks", "value": "pass"}],
    "ask": [{"field": "tyre_pressure"}],
    "voice": "flite-slt",
    "noise": "20 dB",
}


def write(folder, *lines):
    path = folder / "manifest.jsonl"
    path.write_text("\n".join(x if isinstance(x, str) else json.dumps(x) for x in lines))
    return path


def test_a_line_is_a_sample(tmp_path):
    (sample,) = samples.read(write(tmp_path, "# explained here", "", ROW))
    assert sample.expect[0].key == ("40", "leaks", None)
    assert sample.ask == (("40", "tyre_pressure", None),)
    assert sample.path == tmp_path / "a.flac"
    assert sample.noise == "20 dB"


def test_a_note_as_text_has_an_id_and_no_file(tmp_path):
    entry = {"step": "30", "field": "x", "position": 2, "value": 0.5, "unit": "mm"}
    row = {"id": "n1", "card": "X", "step": 40, "text": "t", "expect": [entry]}
    (sample,) = samples.read(write(tmp_path, row))
    assert (sample.name, sample.path, sample.step) == ("n1", None, "40")
    assert sample.expect[0].key == ("30", "x", "2")
    assert sample.expect[0].value == Decimal("0.5")


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("{", "line 1: not JSON"),
        ("[]", "line 1: expected an object"),
        ({k: v for k, v in ROW.items() if k != "text"}, "line 1: lacks 'text'"),
        ({k: v for k, v in ROW.items() if k != "expect"}, "line 1: lacks 'expect'"),
        (ROW | {"expect": [{"field": "leaks", "value": None}]}, "line 1: .* is not asked"),
        (ROW | {"expect": [{"field": "leaks", "value": True}]}, "line 1: not a value"),
        (ROW | {"ask": [7]}, "line 1: "),
        (ROW | {"expect": ["leaks"]}, "line 1: "),
        ("# nothing", "holds no samples"),
    ],
)
def test_a_fault_is_named(tmp_path, line, fault):
    with pytest.raises(ConfigError, match=fault):
        samples.read(write(tmp_path, line))


def test_a_missing_manifest_is_named(tmp_path):
    with pytest.raises(ConfigError, match="can't be read"):
        samples.read(tmp_path / "none.jsonl")


def test_cards_are_found_by_number(tmp_path):
    known = samples.cards_for(samples.shipped())
    assert known == cards.shipped()
    (by_number,) = samples.read(write(tmp_path, ROW))
    assert samples.card_of(by_number, known).number == "DM-32-10"
    (unknown,) = samples.read(write(tmp_path, ROW | {"card": "X-1"}))
    with pytest.raises(ConfigError, match=r"a.flac: no card 'X-1'"):
        samples.card_of(unknown, known)
    (tmp_path / "cards").mkdir()
    own = (config_dir() / "cards" / "wheel_brake.yaml").read_text(encoding="utf-8")
    (tmp_path / "cards" / "own.yaml").write_text(own.replace("DM-32-10", "X-1"), encoding="utf-8")
    assert samples.card_of(unknown, samples.cards_for(tmp_path / "m.jsonl")).number == "X-1"


def test_open_values_may_be_named_by_index(tmp_path):
    row = ROW | {"expect": [{"field": "tyre_pressure", "value": None}], "ask": [0]}
    (sample,) = samples.read(write(tmp_path, row))
    assert sample.ask == (("40", "tyre_pressure", None),)
    assert sample.expect[0].value is None


@pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")
def test_recordings_can_be_made_again(tmp_path):
    ticks = []
    out = tmp_path / "new"
    assert samples.remake(out, write(tmp_path, ROW), tick=lambda: ticks.append(1)) == 1
    assert ticks == [1]
    (sample,) = samples.read(out / "manifest.jsonl")
    samples.verify((sample,))
    before = sample.sha256
    samples.remake(out, out / "manifest.jsonl")
    assert samples.read(out / "manifest.jsonl")[0].sha256 == before
    sample.path.write_bytes(b"x")
    with pytest.raises(AudioError, match="not the recording that the manifest lists"):
        samples.verify((sample,))
    sample.path.unlink()
    with pytest.raises(AudioError, match="no such file"):
        samples.verify((sample,))


@pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")
def test_notes_as_text_are_spoken_by_several_voices(tmp_path):
    note = {k: v for k, v in ROW.items() if k not in ("file", "voice", "noise")} | {"form": "clean"}
    path = write(tmp_path, note | {"id": "n1"}, note | {"id": "n2", "form": "recognised"})
    (tmp_path / "cards").mkdir()
    own = config_dir() / "cards" / "wheel_brake.yaml"
    shutil.copyfile(own, tmp_path / "cards" / "own.yaml")
    out = tmp_path / "new"
    assert samples.remake(out, path, ["flite-slt", "flite-rms"]) == 2
    made = samples.read(out / "manifest.jsonl")
    assert [(s.name, s.noise) for s in made] == [
        ("n1-flite-slt.flac", "clean"),
        ("n1-flite-rms.flac", "clean"),
    ]
    samples.verify(made)
    assert (out / "cards" / "own.yaml").read_bytes() == own.read_bytes()


def test_a_line_without_a_voice_can_not_be_made(tmp_path):
    with pytest.raises(ConfigError, match="lacks file, text or voice"):
        samples.remake(tmp_path / "o", write(tmp_path, {"id": "x", "text": "t"}))
