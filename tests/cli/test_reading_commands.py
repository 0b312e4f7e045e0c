"""transcribe, extract, preview: the contract of their output, and nothing saved."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Run

FIELD_KEYS = {
    "step", "field", "position", "value", "unit", "as_spoken", "limit", "needs_check",
    "reasons", "confidence", "start", "end",
}  # fmt: skip
TEXT = "Bolt four, ninety four newton metres. Cotter pin fitted."


def lines(text: str) -> list[dict[str, object]]:
    return [json.loads(line) for line in text.splitlines()]


def test_extract_prints_the_contract(run: Run, home: Path) -> None:
    done = run("extract", TEXT, "--card", "DM-32-10", "--step", "30", "--json")
    assert done.status == 0, done.err
    result = json.loads(done.out)
    assert {"id", "step", "text", "fields", "unplaced"} <= set(result)
    (bolt,) = [f for f in result["fields"] if f["position"] == "4"]
    assert set(bolt) >= FIELD_KEYS
    assert (bolt["value"], bolt["unit"], bolt["limit"]) == (94, "N*m", "below")
    assert "ninety four" in TEXT[bolt["start"] : bolt["end"]]
    assert not home.exists(), "extract saves nothing"


def test_extract_reads_a_line_an_object_in_order(run: Run) -> None:
    notes = [
        {"id": "a", "step": "30", "text": TEXT},
        {"id": "b", "step": "30", "text": ""},
        {"id": "c", "step": 30, "text": "cotter pin fitted"},
    ]
    typed = "\n".join(map(json.dumps, notes)) + "\n\n"
    done = run("extract", "--jsonl", "--card", "DM-32-10", typed=typed)
    assert done.status == 0, done.err
    results = lines(done.out)
    assert [result["id"] for result in results] == ["a", "b", "c"]
    assert results[1]["fields"] == []


def test_a_bad_line_is_named_and_the_others_are_read(run: Run) -> None:
    typed = '{"id": "a", "text": "x"}\nnot json\n{"id": "b"}\n{"id": "c", "step": "99", "text": "x"}\n{"id": "d", "text": "y"}\n'  # noqa: E501
    done = run("extract", "--jsonl", "--card", "DM-32-10", typed=typed)
    assert done.status == 1
    results = lines(done.out)
    assert [result["id"] for result in results] == ["a", None, None, None, "d"]
    assert "line 2: not JSON" in done.err
    assert "line 4: card DM-32-10 has no step 99" in done.err
    assert "Traceback" not in done.err


def test_a_text_can_come_from_stdin(run: Run) -> None:
    done = run("extract", "--card", "DM-32-10", "--step", "30", "--json", typed=TEXT)
    assert json.loads(done.out)["fields"]


def test_without_json_there_is_a_table(run: Run) -> None:
    done = run("extract", TEXT, "--card", "DM-32-10", "--step", "30")
    assert "BELOW LIMIT" in done.out
    assert "94 N*m" in done.out


def test_preview_adds_audio_transcript_and_times(
    run: Run, recording: Path, home: Path, hears: Callable[..., None]
) -> None:
    hears(TEXT)
    done = run("preview", recording, "--card", "DM-32-10", "--step", "30", "--jsonl")
    assert done.status == 0, done.err
    (result,) = lines(done.out)
    assert result["audio"] == str(recording)
    assert result["transcript"]["text"] == result["text"] == TEXT  # type: ignore[index]
    for field in result["fields"]:  # type: ignore[attr-defined]
        assert 0 <= field["start_s"] < field["end_s"] <= 2.0
    assert not home.exists(), "preview saves nothing"


def test_transcribe_prints_words_with_times(
    run: Run, recording: Path, hears: Callable[..., None]
) -> None:
    hears("cotter pin fitted")
    (result,) = lines(run("transcribe", recording, "--json").out)
    assert [word["text"] for word in result["words"]] == ["cotter", "pin", "fitted"]  # type: ignore[attr-defined]
    assert {"start_s", "end_s", "probability"} <= set(result["words"][0])  # type: ignore[index]


def test_one_bad_recording_does_not_stop_the_others(
    run: Run, recording: Path, tmp_path: Path, hears: Callable[..., None]
) -> None:
    hears("cotter pin fitted")
    empty = tmp_path / "empty.wav"
    empty.touch()
    done = run("preview", empty, recording, "--card", "DM-32-10", "--step", "30", "--jsonl")
    assert done.status == 1
    first, second = lines(done.out)
    assert "empty" in str(first["error"])
    assert second["text"] == "cotter pin fitted"


@pytest.mark.parametrize(
    ("words", "status", "message"),
    [
        (("extract", "x", "--card", "NO-1"), 1, "no card 'NO-1'; known are: DM-"),
        (("extract", "x", "--card", "DM-32-10", "--step", "99"), 1, "has no step 99"),
        (("extract", "x"), 2, "--card"),
        (("extract", "x", "--card", "none.yaml"), 1, "none.yaml: can't be read"),
        (("preview", "none.wav", "--card", "DM-32-10"), 1, "none.wav"),
        (("nonsense",), 2, "No such command"),
        (("transcribe", "a.wav", "--fast", "--careful"), 2, "exclude each other"),
        (("transcribe", "a.wav", "--model", "none"), 1, "no model 'none'"),
    ],
)
def test_what_cannot_be_done_is_one_clear_line(
    run: Run,
    words: tuple[str, ...],
    status: int,
    message: str,
    request: pytest.FixtureRequest,
) -> None:
    if words[0] == "preview":
        request.getfixturevalue("hears")("never reached")
    done = run(*words)
    assert (done.status, done.out) == (status, "")
    assert message in done.err
    assert "Traceback" not in done.err


def test_a_card_with_an_unknown_unit_is_named_by_line(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(
        "card: X-1\ntitle: t\nrevision: 1\nrevision_date: 2026-01-01\nsource: s\nsteps:\n"
        "  - step: 1\n    title: t\n    fields:\n"
        "      - {name: a, label: A, type: measurement, unit: flurb}\n",
        encoding="utf-8",
    )
    done = run("card", "check", path)
    assert done.status == 1
    assert f"{path}, line 10, steps.1.fields.1.unit: unknown unit 'flurb'" in done.err
