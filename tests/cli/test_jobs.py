"""jobs and watch by command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Run
from tests.cli.test_job import CARD, SAID, SECRET
from tests.work.scene import sound


@pytest.fixture
def shop(run: Run, tmp_path: Path, hears: Callable[..., None]) -> Run:
    """A home with people and a card, and a folder for recordings."""
    (tmp_path / "card.yaml").write_text(CARD, encoding="utf-8")
    (tmp_path / "in").mkdir()
    steps = (
        ("person", "add", "ada", "--name", "Ada Birch", "--role", "administrator"),
        ("person", "add", "tom", "--name", "Tom Reed", "--role", "mechanic", "--by", "ada"),
        ("card", "add", tmp_path / "card.yaml", "--by", "ada"),
    )
    for words in steps:
        done = run(*words, typed=f"{SECRET}\n")
        assert done.status == 0, done.err
    hears(*[SAID] * 9)
    return run


def drop(tmp_path: Path, name: str, number: int) -> Path:
    path = tmp_path / "in" / name
    path.write_bytes(sound(number))
    return path


ADD = ("--card", "TC-7", "--step", "10", "--work-order", "W-1", "--by", "tom")


def test_adding_many_goes_through_the_table(shop: Run, tmp_path: Path) -> None:
    paths = [drop(tmp_path, f"{n}.wav", n) for n in range(3)]
    done = shop("add", *paths, paths[0], *ADD, "--json")
    assert done.status == 0, done.err
    drafts = [json.loads(line)["draft"] for line in done.out.splitlines()]
    assert sorted(drafts) == ["N-000001", "N-000001", "N-000002", "N-000003"]
    rows = json.loads(shop("jobs", "--json").out)
    assert [row["state"] for row in rows] == ["done"] * 3
    assert [row["draft"] for row in rows] == ["N-000001", "N-000002", "N-000003"]
    assert "3 done" in shop("jobs").out


def test_what_failed_is_listed_and_tried_again(
    shop: Run, tmp_path: Path, hears: Callable[..., None]
) -> None:
    hears()
    done = shop("add", drop(tmp_path, "a.wav", 1), *ADD)
    assert done.status == 1
    assert "nobody speaks" in done.err
    (row,) = json.loads(shop("jobs", "--state", "failed", "--json").out)
    assert "nobody speaks" in row["reason"]
    hears(SAID)
    assert shop("jobs", "retry").out.startswith("1 in line again")
    assert shop("jobs", "work").out.startswith("1 drafts, 0 failed")
    assert shop("jobs", "work").out.startswith("nothing is in line")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("jobs", "retry", "J-9"), "no job 'J-9'"),
        (("jobs", "retry", "J-000001"), "is done; only a failed one"),
        (("add", "none.wav", *ADD, "--cluster", "8786"), "name it like tls://HOST:8786"),
    ],
)
def test_what_can_not_be_done_is_one_line(
    shop: Run, tmp_path: Path, words: tuple[str, ...], message: str
) -> None:
    assert shop("add", drop(tmp_path, "a.wav", 1), *ADD).status == 0
    done = shop(*words)
    assert done.status == 1
    assert message in done.err
    assert "Traceback" not in done.err


def test_a_folder_is_watched(shop: Run, tmp_path: Path) -> None:
    drop(tmp_path, "a.wav", 1)
    drop(tmp_path, "b.wav", 2)
    (tmp_path / "in" / "c.txt").write_text("no recording", encoding="utf-8")
    watch = ("watch", tmp_path / "in", *ADD, "--once", "--settle", "0.1", "--patience", "0.2")
    done = shop(*watch, "--jsonl")
    assert done.status == 1, "one of them could not be used"
    by_file = {line["file"]: line for line in map(json.loads, done.out.splitlines())}
    assert {by_file["a.wav"]["draft"], by_file["b.wav"]["draft"]} == {"N-000001", "N-000002"}
    assert "is a text" in by_file["c.txt"]["reason"]
    assert (tmp_path / "in" / "done" / "a.wav.reason.txt").is_file()
    assert (tmp_path / "in" / "failed" / "c.txt").is_file()
    assert shop(*watch).status == 0, "nothing is left"


def test_rules_for_the_watch(shop: Run, tmp_path: Path) -> None:
    rules = tmp_path / "rules.toml"
    rules.write_text(
        "[[rules]]\nfile = '(?P<work_order>W-[0-9]+)_.*'\ncard = 'TC-7'\nperson = 'tom'\n",
        encoding="utf-8",
    )
    drop(tmp_path, "W-12_a.wav", 1)
    done = shop("watch", tmp_path / "in", "--rules", rules, "--once", "--settle", "0.1")
    assert done.status == 0, done.err
    (row,) = json.loads(shop("jobs", "--json").out)
    assert (row["work order"], row["card"]) == ("W-12", "TC-7")


@pytest.mark.parametrize(
    ("words", "status", "message"),
    [
        ((), 2, "--card"),
        (("--card", "NO-1"), 1, "no card 'NO-1'"),
        (("--card", "TC-7", "--by", "eve"), 1, "no person 'eve'"),
        (("--card", "TC-7", "--by", "ada"), 1, "is no mechanic or reviewer"),
        (("--card", "TC-7", "--step", "99"), 1, "has no step 99"),
        (("--rules", "none.toml"), 1, "none.toml: can't be read"),
    ],
)
def test_a_watch_that_could_never_work_does_not_begin(
    shop: Run, tmp_path: Path, words: tuple[str, ...], status: int, message: str
) -> None:
    done = shop("watch", tmp_path / "in", *words, "--once")
    assert done.status == status
    assert message in done.err
