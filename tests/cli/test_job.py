"""The main job by command line: people, a dictated note, a decision on each value, an export."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Done, Run

SECRET = "a long enough phrase"
CARD = """\
card: TC-7
title: Wheel change
revision: "1"
revision_date: 2026-01-05
source: demonstration manual 32 rev 1
steps:
  - step: "10"
    title: Torque
    fields:
      - {name: torque, label: Bolt torque, type: measurement, unit: N*m, min: 95, max: 105,
         positions: ["1", "2"], position_word: bolt, say: [bolt]}
      - {name: pin, label: Cotter pin, type: check, say: [cotter pin]}
"""
SAID = (
    "Bolt one, ninety eight newton metres. Bolt two, ninety four newton metres. Cotter pin fitted."
)


@pytest.fixture
def shop(run: Run, tmp_path: Path, recording: Path, hears: Callable[..., None]) -> Run:
    """A home with people, a card and one dictated note."""
    (tmp_path / "card.yaml").write_text(CARD, encoding="utf-8")
    steps = (
        (("person", "add", "ada", "--name", "Ada Birch", "--role", "administrator"), SECRET),
        (
            ("person", "add", "tom", "--name", "Tom Reed", "--role", "mechanic", "--by", "ada"),
            SECRET,
        ),
        (
            ("person", "add", "mira", "--name", "Mira Holt", "--role", "reviewer", "--by", "ada",
             "--certificate", "X-1", "--certificate-kind", "mechanic", "--authorise", "TC-7"),
            SECRET,
        ),
        (("card", "add", tmp_path / "card.yaml", "--by", "ada"), ""),
    )  # fmt: skip
    for words, typed in steps:
        done = run(*words, typed=f"{typed}\n")
        assert done.status == 0, done.err
    hears(SAID)
    assert add(run, recording).status == 0
    return run


def add(run: Run, recording: Path, *more: str) -> Done:
    return run(
        "add",
        recording,
        "--card",
        "TC-7",
        "--step",
        "10",
        "--work-order",
        "W-1",
        "--by",
        "tom",
        *more,
    )


def review(run: Run, *answers: str) -> Done:
    return run("review", "N-000001", "--by", "mira", typed="\n".join(answers) + "\n")


def test_from_dictation_to_a_verified_export(shop: Run, tmp_path: Path) -> None:
    assert "N-000001" in shop("review").out
    done = review(shop, "", "a", "w", "", SECRET)
    assert done.status == 0, done.err
    assert "BELOW LIMIT" in done.out
    assert "digest" in done.out
    assert "none" in shop("review").out

    out = tmp_path / "export"
    done = shop("export", "--format", "csv", "--out", out, "--by", "ada")
    assert done.status == 0, done.err
    (values,) = out.glob("*.csv")
    with values.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 3
    assert {row["follow_up"] for row in rows} == {"", "rework"}
    assert shop("verify", out).status == 0
    assert shop("verify").status == 0

    values.write_text(values.read_text(encoding="utf-8").replace("98", "99"), encoding="utf-8")
    done = shop("verify", out)
    assert done.status == 1
    assert values.name in done.err


def test_an_export_as_json_lines(shop: Run, tmp_path: Path) -> None:
    assert review(shop, "", "a", "w", "", SECRET).status == 0
    out = tmp_path / "export"
    assert shop("export", "--format", "jsonl", "--out", out, "--by", "ada").status == 0
    (lines,) = out.glob("*.jsonl")
    (record,) = map(json.loads, lines.read_text(encoding="utf-8").splitlines())
    assert record["work_order"] == "W-1"


def test_a_correction_needs_a_value_that_fits_and_a_reason(shop: Run) -> None:
    done = review(shop, "c", "98 psi", "99", "misread", "a", "d", "D-12", "", SECRET)
    assert done.status == 0, done.err
    assert "can't be converted" in done.out
    assert "correct 99 N*m" in done.out
    assert "deferred D-12" in done.out


def test_a_value_outside_its_limits_is_not_accepted_with_enter(shop: Run) -> None:
    done = review(shop, "", "")
    assert done.status != 0
    assert shop("order", "status", "W-1").out.count("not decided") <= 1


def test_a_wrong_secret_signs_nothing(shop: Run) -> None:
    done = review(shop, "", "a", "w", "", "wrong secret here")
    assert done.status == 1
    assert "Traceback" not in done.err
    assert "N-000001" in shop("review").out


def test_the_same_recording_again_is_the_same_draft(
    shop: Run, recording: Path, hears: Callable[..., None]
) -> None:
    hears(SAID, SAID)
    again = add(shop, recording, "--json")
    assert json.loads(again.out)["draft"] == "N-000001"
    assert shop("review").out.count("N-0000") == 2, "the list, and the hint below it"


def test_a_home_that_cannot_be_written_is_said(
    run: Run, home: Path, recording: Path, hears: Callable[..., None]
) -> None:
    home.write_text("a file where the folder should be", encoding="utf-8")
    hears(SAID)
    done = run("add", recording, "--card", "DM-32-10", "--work-order", "W", "--by", "tom")
    assert done.status == 1
    assert str(home) in done.err
    assert "Traceback" not in done.err


def test_a_backup_comes_back_elsewhere(shop: Run, tmp_path: Path) -> None:
    assert shop("backup", tmp_path / "copy").status == 0
    done = shop("restore", tmp_path / "copy", "--home", tmp_path / "elsewhere")
    assert done.status == 0, done.err
    assert shop("verify", "--home", tmp_path / "elsewhere").status == 0
    assert "N-000001" in shop("--home", tmp_path / "elsewhere", "review").out


def test_a_work_order_says_what_is_open(shop: Run) -> None:
    done = shop("order", "status", "W-1")
    assert "can't be called complete" in done.out
    assert shop("order", "complete", "W-1", "--by", "mira").status == 1
    assert review(shop, "", "a", "d", "D-1", "", SECRET).status == 0
    assert "Last dictation" in shop("order", "handover", "W-1").out
