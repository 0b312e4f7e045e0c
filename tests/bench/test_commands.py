"""voicelog bench: tables, JSON and clear refusals, with listeners that say what they are told."""

import json
import shutil
from decimal import Decimal

import pytest
from typer.testing import CliRunner

from voicelog.bench import speed, systems
from voicelog.bench.score import Tally
from voicelog.cli import app
from voicelog.errors import ConfigError
from voicelog.heard import Transcript
from voicelog.objects import Draft, FieldValue, Take


def says(text, *values):
    def listen(audio, card, step):
        return Draft(card.number, card.revision, step, (Take(Transcript.of_text(text)),), values)

    return listen


@pytest.fixture
def run(monkeypatch):
    right = FieldValue("40", "leaks", None, "pass")
    wrong = FieldValue("40", "tyre_pressure", None, Decimal(20), "psi")
    monkeypatch.setattr(systems, "ours", lambda *_: says("tyre pressure 20 psi", right, wrong))
    monkeypatch.setattr(systems, "library", lambda *_: says("tyre 20", right))
    return lambda *words: CliRunner().invoke(app, ["bench", *map(str, words)])


def test_accuracy_as_json(run, bench):
    done = run("accuracy", bench.manifest, "--first", 1, "--compare", "--json")
    assert done.exit_code == 0, done.output
    report = json.loads(done.stdout)
    ours, library = report["rows"]
    assert (ours["system"], ours["right"], ours["silent"], ours["missed"]) == ("voicelog", 1, 1, 0)
    assert (library["right"], library["silent"], library["missed"]) == (1, 0, 1)
    first = report["failures"][0]
    assert (first["field"], first["silent"], first["expected"]["value"]) == (
        "tyre_pressure", True, 200,
    )  # fmt: skip
    assert first["proposed"]["value"] == 20
    assert report["risk"][0]["silent"] == 1


def test_accuracy_as_tables_with_a_diagram(run, bench, tmp_path):
    pytest.importorskip("matplotlib")
    picture = tmp_path / "r.png"
    done = run("accuracy", bench.manifest, "--first", 1, "--ladder", "--failures",
               "--diagram", picture)  # fmt: skip
    assert done.exit_code == 0, done.output
    for part in ("silent errors", "15 dB, reverb", "headset band", "Not as expected", "200 psi"):
        assert part in done.stdout
    assert picture.stat().st_size > 1000


def test_conditions_are_named(run, bench):
    done = run("accuracy", bench.manifest, "--condition", "10 dB", "--json")
    assert [row["group"] for row in json.loads(done.stdout)["rows"]] == ["10 dB"]
    done = run("accuracy", bench.manifest, "--condition", "rain")
    assert isinstance(done.exception, ConfigError)
    assert "known are: clean, 20 dB" in str(done.exception)


def test_a_manifest_that_is_none_is_refused(run, tmp_path):
    done = run("accuracy", tmp_path / "no.jsonl")
    assert isinstance(done.exception, ConfigError)
    assert "no.jsonl" in str(done.exception)


def test_speed(run, bench, monkeypatch):
    rows = (speed.SpeedRow("x", 2, 30.0, 10.0, 19.0, 512.0, 0.1, Tally(expected=3, right=3)),)
    monkeypatch.setattr(speed, "measure", lambda *_, **__: rows)
    cold = (speed.ColdRow("y", 5, 2.5, 2.25),)
    monkeypatch.setattr(speed, "cold_starts", lambda *_, **__: cold)
    shown = run("speed", bench.manifest).stdout
    assert "audio hours an hour" in shown
    assert "2.25 s" in shown
    row, start = json.loads(run("speed", bench.manifest, "--json").stdout)
    assert row["audio_hours_per_hour"] == 3
    assert start == {"system": "y, cold start", "times": 5, "took_s": 2.5, "least_s": 2.25}


@pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")
def test_recordings_are_made_again(run, bench, tmp_path):
    line = json.loads(bench.manifest.read_text(encoding="utf-8").splitlines()[0])
    manifest = tmp_path / "one.jsonl"
    manifest.write_text(json.dumps(line | {"voice": "flite-slt"}), encoding="utf-8")
    done = run("samples", manifest, "--out", tmp_path / "made")
    assert done.exit_code == 0, done.output
    assert "1 recordings" in done.stdout
    assert (tmp_path / "made" / "a.flac").is_file()
