"""Tables hold what the rows hold; diagrams are pictures."""

import io
from decimal import Decimal

import pytest
from rich.console import Console

from voicelog.bench import diagrams, tables
from voicelog.bench.accuracy import Result, RiskPoint, Row
from voicelog.bench.quantities import NumberRow
from voicelog.bench.score import Entry, Outcome, Tally
from voicelog.bench.speed import SpeedRow

TALLY = Tally(expected=40, right=38, right_unflagged=36, silent=0, caught=1, missed=1)


def shown(table):
    console = Console(width=220, record=True, file=io.StringIO())
    console.print(table)
    return console.export_text()


def outcome(right, confidence, flagged=False):
    entry = Entry(("40", "leaks", None), "pass", None, flagged, confidence)
    return Outcome("right" if right else "wrong", entry, entry)


def result(bench, written, outcomes):
    card = bench.cards["DM-32-10"]
    return Result(bench.samples[0], card, "clean", "voicelog", written, outcomes)


def results(bench):
    outcomes = (outcome(True, 0.95), outcome(True, 0.6), outcome(False, 0.3, flagged=True))
    return (result(bench, "tyre pressure 200", outcomes),)


def test_accuracy_table():
    text = shown(tables.accuracy([Row("voicelog", "clean", 25, TALLY, 0.083, 0.021)]))
    for part in ("8.3 %", "95.0 %", "36 (90.0 %)", "0 (0.0–8.8 %)", "2 (5.3 %)", "0.021"):
        assert part in text
    assert "–" in shown(tables.accuracy([Row("voicelog", "none", 0, Tally(), None, 0.0)]))


def test_other_tables(bench):
    assert "12 (60.0 %)" in shown(tables.numbers([NumberRow("x", 9, 20, 12, 15, 3, 40.0)]))
    points = [RiskPoint(i / 30, i / 30, 30 - i, 0.0) for i in range(31)]
    text = shown(tables.risk(points))
    assert "0.00" in text
    assert "1.00" in text
    assert len(text.splitlines()) < 20
    row = SpeedRow("x", 2, 30.0, 10.0, 17.5, 512.0, 0.1, TALLY)
    assert all(figure in shown(tables.speed([row])) for figure in ("3.0", "17.5 s", "512 MB"))
    failed = shown(tables.failures(results(bench)))
    assert "pass (flagged)" in failed
    assert "tyre pressure 200" in failed


def test_a_value_that_no_one_proposed_is_shown(bench):
    missed = Outcome("missed", Entry(("40", "tyre_pressure", None), Decimal(200), "psi"))
    text = shown(tables.failures([result(bench, "", (missed,))]))
    assert "200 psi" in text
    assert "missed" in text


def test_a_diagram_is_a_picture(bench, tmp_path):
    pytest.importorskip("matplotlib")
    path = tmp_path / "reliability.png"
    diagrams.draw(results(bench), path)
    assert path.read_bytes().startswith(b"\x89PNG")
