"""Rows of a bench as tables for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.bench.score import wilson

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from rich.table import Table

    from voicelog.bench.accuracy import Result, RiskPoint, Row
    from voicelog.bench.corpora import Row as CorpusRow
    from voicelog.bench.quantities import NumberRow
    from voicelog.bench.score import Entry
    from voicelog.bench.speed import ColdRow, SpeedRow


def _table(title: str, first: Sequence[str], figures: Sequence[str]) -> Table:
    from rich import box
    from rich.table import Table

    table = Table(title=title, box=box.SIMPLE_HEAD, title_justify="left", pad_edge=False)
    for name in first:
        table.add_column(name, no_wrap=True)
    for name in figures:
        table.add_column(name, justify="right")
    return table


def _percent(hits: int, of: int) -> str:
    return f"{100 * hits / of:.1f} %" if of else "–"


def _interval(hits: int, of: int) -> str:
    low, high = wilson(min(hits, of), of)
    return f"{100 * low:.1f}–{100 * high:.1f}" if of else "–"


def accuracy(rows: Iterable[Row], title: str = "Accuracy", group: str = "condition") -> Table:
    """One line a row; shares are of the expected fields, with the 95 % interval of right ones."""
    table = _table(
        title,
        ("system", group),
        ("notes", "WER", "expected", "right", "", "95 % interval", "right without a flag",
         "silent errors", "missed", "flagged though right", "wrong but flagged",
         "calibration error"),
    )  # fmt: skip
    for row in rows:
        t = row.tally
        table.add_row(
            row.system,
            row.group,
            str(row.notes),
            "–" if row.word_error_rate is None else f"{100 * row.word_error_rate:.1f} %",
            str(t.expected),
            str(t.right),
            _percent(t.right, t.expected),
            _interval(t.right, t.expected),
            f"{t.right_unflagged} ({_percent(t.right_unflagged, t.expected)})",
            f"{t.silent} ({_interval(t.silent, t.expected + t.asked)} %)",
            str(t.missed),
            f"{t.right_flagged} ({_percent(t.right_flagged, t.right)})",
            str(t.caught),
            f"{row.calibration_error:.3f}",
            style="bold" if row.group == "all" else None,
        )
    return table


def numbers(rows: Iterable[NumberRow]) -> Table:
    """Numbers found in notes as text, beside a parser that knows no shop speech."""
    table = _table(
        "Numbers in notes as text, wherever they belong",
        ("system",),
        (
            *("notes", "expected", "value and unit right", "value right", "surplus"),
            *("notes a second", "long dictation"),
        ),
    )
    for row in rows:
        table.add_row(
            row.system,
            str(row.notes),
            str(row.expected),
            f"{row.right} ({_percent(row.right, row.expected)})",
            f"{row.number_right} ({_percent(row.number_right, row.expected)})",
            str(row.surplus),
            f"{row.notes_per_s:.0f}",
            ""
            if row.dictation_s is None
            else f"{row.dictation_words} words in {row.dictation_s:.1f} s",
        )
    return table


def risk(points: Sequence[RiskPoint], most: int = 12) -> Table:
    """Silent errors against flag rate, thinned to about `most` lines."""
    table = _table(
        "Risk: if all below this confidence were flagged as well",
        (),
        ("confidence", "right values flagged", "silent errors", "of all values"),
    )
    step = max(1, -(-len(points) // most))
    for index, point in enumerate(points):
        if index % step == 0 or index == len(points) - 1:
            table.add_row(
                f"{point.threshold:.2f}",
                f"{100 * point.right_flagged:.1f} %",
                str(point.silent),
                f"{100 * point.silent_share:.2f} %",
            )
    return table


def _shown(entry: Entry | None) -> str:
    if entry is None:
        return "–"
    value = "open" if entry.value is None else str(entry.value)
    return f"{value} {entry.unit or ''}".strip() + (" (flagged)" if entry.flagged else "")


def failures(results: Iterable[Result]) -> Table:
    """Every value that is not as it should be, with what was written."""
    table = _table(
        "Not as expected",
        ("note", "condition", "system", "field", "verdict"),
        ("expected", "proposed"),
    )
    table.add_column("written", overflow="fold", min_width=30)
    for result in results:
        for outcome in result.failures:
            step, field, position = outcome.key
            table.add_row(
                result.sample.name,
                result.condition,
                result.system,
                f"{step}.{field}" + (f" {position}" if position else ""),
                "silent" if outcome.silent else outcome.verdict,
                _shown(outcome.expected),
                _shown(outcome.proposed),
                result.written,
            )
    return table


def speed(rows: Iterable[SpeedRow]) -> Table:
    """Systems side by side on the same audio."""
    table = _table(
        "Speed on the same recordings",
        ("system",),
        (
            "audio", "took", "processor", "audio hours an hour", "WER", "right", "silent errors",
            "peak memory",
        ),
    )  # fmt: skip
    for row in rows:
        table.add_row(
            row.system,
            f"{row.audio_s:.0f} s",
            f"{row.took_s:.1f} s",
            f"{row.cpu_s:.1f} s",
            f"{row.audio_s / row.took_s:.1f}",
            "–" if row.word_error_rate is None else f"{100 * row.word_error_rate:.1f} %",
            f"{row.tally.right} of {row.tally.expected}",
            str(row.tally.silent),
            f"{row.peak_mb:.0f} MB",
        )
    return table


def cold(rows: Iterable[ColdRow]) -> Table:
    """Cold starts by turns."""
    table = _table("One note from nothing", ("system",), ("times", "median", "least"))
    for row in rows:
        table.add_row(row.system, str(row.times), f"{row.took_s:.2f} s", f"{row.least_s:.2f} s")
    return table


def people(rows: Iterable[CorpusRow]) -> Table:
    """One line a set of recordings of people, and whether the step's prompt stood before it."""
    table = _table(
        "Real people",
        ("set", "prompt"),
        ("clips", "words", "WER", "clips without an error", "silently wrong"),
    )
    for row in rows:
        table.add_row(
            row.corpus,
            "yes" if row.prompted else "no",
            str(row.clips),
            str(row.words),
            f"{100 * row.error_rate:.1f} %",
            str(row.whole),
            str(row.silent),
        )
    return table
