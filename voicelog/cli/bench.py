"""bench: the tables of the README, measured again."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from voicelog.cli import shared
from voicelog.cli.shared import AsJson, Careful, Fast, ModelName

if TYPE_CHECKING:
    from voicelog.bench.accuracy import Result
    from voicelog.bench.samples import Sample
    from voicelog.bench.systems import Quantity

app = typer.Typer(no_args_is_help=True, help="Measure accuracy, speed and endurance.")

Manifest = Annotated[
    Path | None,
    typer.Argument(
        metavar="[MANIFEST]", help="A manifest.jsonl; without it, the recordings of the demo."
    ),
]
First = Annotated[
    int | None, typer.Option("--first", min=1, help="Only the first N lines of the manifest.")
]


@app.command()
def accuracy(
    manifest: Manifest = None,
    text: Annotated[
        bool, typer.Option("--text", help="Read the notes as text, beside a quantity parser.")
    ] = False,
    ladder: Annotated[
        bool, typer.Option("--ladder", help="The clean recordings under every condition.")
    ] = False,
    real: Annotated[
        bool, typer.Option("--real", help="In noise of real machines (openttd-opensfx).")
    ] = False,
    condition: Annotated[
        list[str] | None,
        typer.Option("--condition", help="The clean recordings under this condition; repeatable."),
    ] = None,
    compare: Annotated[
        bool, typer.Option("--compare", help="Beside faster-whisper alone, with the same reading.")
    ] = False,
    by: Annotated[
        Literal["condition", "voice", "card"], typer.Option("--by", help="What a row is for.")
    ] = "condition",
    failures: Annotated[
        bool, typer.Option("--failures", help="List what is not as expected, too.")
    ] = False,
    diagram: Annotated[
        Path | None, typer.Option("--diagram", help="Draw reliability and risk into this PNG.")
    ] = None,
    words: Annotated[
        int,
        typer.Option("--dictation", min=0, help="With --text: time one of so many words, too."),
    ] = 0,
    first: First = None,
    model: ModelName = None,
    fast: Fast = False,
    careful: Careful = False,
    as_json: AsJson = False,
) -> None:
    """Measure how often values are right, and how often silently wrong."""
    from voicelog.bench import accuracy as bench
    from voicelog.bench import quantities, samples, systems

    path = manifest or samples.shipped()
    chosen, cards = samples.read(path)[:first], samples.cards_for(path)
    numbers: tuple[quantities.NumberRow, ...] = ()
    if text:
        with _ticking("reading", len(chosen)) as tick:
            results = bench.read(chosen, cards, tick)
        with _ticking("long dictation" if words else "numbers", 1) as tick:
            numbers = quantities.compare_numbers(chosen, _number_readers(results), words)
            tick()
    else:
        conditions = _conditions(ladder, real, condition)
        listeners = {"voicelog": systems.ours(model, shared.profile(fast, careful))}
        if compare:
            listeners["faster-whisper"] = systems.library(model)
        total = len(bench.planned(chosen, conditions)) * len(listeners)
        with _ticking("listening", total) as tick:
            results = bench.listen(chosen, cards, listeners, conditions, tick)
    own = tuple(result for result in results if result.system == "voicelog")
    if diagram is not None:
        from voicelog.bench import diagrams

        diagrams.draw(own, diagram)
    rows, risk = bench.rows(results, by), bench.risk_curve(own)
    if as_json:
        shared.print_json(
            {
                "manifest": str(path),
                "rows": [row.plain() for row in rows],
                "risk": [point.plain() for point in risk],
                "numbers": [row.plain() for row in numbers],
                "failures": [failure for result in results for failure in result.plain_failures()],
            },
            indent=1,
        )
        return
    from voicelog.bench import tables

    _print(tables.accuracy(rows, f"Accuracy on {path}", by), tables.risk(risk))
    if numbers:
        _print(tables.numbers(numbers))
    if failures:
        _print(tables.failures(results))


@app.command()
def speed(
    manifest: Manifest = None,
    first: First = None,
    model: ModelName = None,
    as_json: AsJson = False,
) -> None:
    """Measure hours of audio an hour, beside faster-whisper alone on the same recordings."""
    from voicelog.bench import samples
    from voicelog.bench import speed as bench

    path = manifest or samples.shipped()
    with _ticking("measuring", len(bench.systems()) + 1) as tick:
        rows = bench.measure(path, model, first=first, tick=tick)
        cold = bench.cold_starts(path, model)
        tick()
    if as_json:
        plain = [*(row.plain() for row in rows), *(row.plain() for row in cold)]
        shared.print_json(plain, indent=1)
        return
    from voicelog.bench import tables

    _print(tables.speed(rows), tables.cold(cold))


@app.command()
def people(
    folders: Annotated[
        list[Path] | None,
        typer.Argument(help="More sets: folders with a manifest.jsonl.", show_default=False),
    ] = None,
    only: Annotated[str | None, typer.Option("--only", help="Sets whose name holds this.")] = None,
    failures: Annotated[
        bool, typer.Option("--failures", help="List what was silently wrong, too.")
    ] = False,
    model: ModelName = None,
    fast: Fast = False,
    careful: Careful = False,
    as_json: AsJson = False,
) -> None:
    """Measure word errors on recordings of real people that are installed."""
    from voicelog.bench import corpora, tables
    from voicelog.errors import ConfigError
    from voicelog.pipeline import Chain
    from voicelog.speech.recognise import WhisperRecogniser

    clips = [clip for clip in corpora.installed(folders or ()) if (only or "") in clip.corpus]
    if not clips:
        raise ConfigError(
            "no recordings of people; install some with: apt install pocketsphinx-testdata "
            "asterisk-core-sounds-en-g722 asterisk-core-sounds-en klettres-data"
        )
    chain = Chain(WhisperRecogniser(model, shared.profile(fast, careful)))
    with _ticking("listening", len(clips)) as tick:
        rows = corpora.rows(corpora.measure(chain, clips, tick))
    if as_json:
        shared.print_json([asdict(row) for row in rows], indent=1)
        return
    _print(tables.people(rows))
    if failures:
        for row in rows:
            for example in row.examples:
                typer.echo(f"{row.corpus}: {example}")


@app.command("samples")
def remake(
    out: Annotated[Path, typer.Option("--out", help="Folder to write into.", show_default=False)],
    manifest: Manifest = None,
    voice: Annotated[
        list[str] | None,
        typer.Option("--voice", help="Every line by this voice instead; repeatable."),
    ] = None,
) -> None:
    """Make the synthetic recordings of a manifest again, through the installed voices."""
    from voicelog.bench import samples

    path = manifest or samples.shipped()
    total = len(samples.read(path)) * max(1, len(voice or ()))
    with _ticking("speaking", total) as tick:
        made = samples.remake(out, path, voice or (), tick)
    typer.echo(f"{made} recordings in {out}")


@app.command()
def faults(
    times: Annotated[int, typer.Option(min=5, help="How many kills.")] = 200,
    seconds: Annotated[float, typer.Option(help="How long eight writers work at once.")] = 60,
) -> None:
    """Kill the store at random moments, fill its disk, let eight write at once."""
    from voicelog.bench import faults as bench

    with shared.counter("killing") as move:
        rows = bench.run(times, seconds=seconds, progress=move)
    shared.print_rows(
        [
            {
                "trouble": row.trouble,
                "times": str(row.times),
                "acknowledged": str(row.acknowledged),
                "lost": str(row.lost),
                "doubled": str(row.doubled),
                "faults": "; ".join(row.faults) or "0",
            }
            for row in rows
        ],
        as_json=False,
    )
    if not all(row.good for row in rows):
        raise typer.Exit(1)


@app.command()
def store(
    records: Annotated[int, typer.Option(min=1000, help="How many records.")] = 1_000_000,
) -> None:
    """Fill a store with invented records; time what people wait for."""
    from voicelog.bench import store as bench

    with shared.counter("generating") as move:
        result = bench.run(records, progress=move)
    shared.print_rows(
        [
            {
                "what": row.what,
                "median ms": f"{row.median_ms:.2f}",
                "worst ms": f"{row.worst_ms:.1f}",
                "allowed ms": "" if row.allowed_ms is None else f"{row.allowed_ms:.0f}",
            }
            for row in result.rows
        ],
        as_json=False,
    )
    typer.echo(
        f"{result.records} records, {result.lines} ledger lines, {result.megabytes:.0f} MB, "
        f"{result.faults} faults, peak {result.peak_mb:.0f} MB"
    )


@app.command("export")
def exports(
    records: Annotated[int, typer.Option(min=1, help="Records of four values.")] = 100_000,
    sheets: Annotated[int, typer.Option(min=1, help="Printed work orders.")] = 100,
) -> None:
    """Time every format of the export, and take its memory."""
    from voicelog.bench import export as bench

    rows = []
    with _ticking("exporting", 4) as tick:
        for measured in bench.run(records, sheets):
            rows.append(
                {
                    "format": measured.format,
                    "records": str(measured.records),
                    "seconds": f"{measured.seconds:.1f}",
                    "processor s": f"{measured.cpu_s:.1f}",
                    "peak MiB": f"{measured.peak_mib:.0f}",
                }
            )
            tick()
    shared.print_rows(rows, as_json=False)


@app.command()
def outside(
    folder: Annotated[
        Path, typer.Argument(help="Folder with nemo_itn/ and quantulum3/.", show_default=False)
    ],
    every: Annotated[bool, typer.Option("--all", help="List what doesn't apply, too.")] = False,
) -> None:
    """Read published test cases: spoken and written numbers, units, dates."""
    from voicelog.bench import outside as bench
    from voicelog.errors import ConfigError

    reports = bench.reports(folder)
    if not reports:
        raise ConfigError(f"{folder}: holds neither nemo_itn/ nor quantulum3/quantities.json")
    shared.print_rows(
        [
            {
                "file": report.name,
                "passed": f"{report.passed}/{report.total}",
                "not applicable": str(len(report.not_applicable)),
                "failed": "; ".join(report.failed),
            }
            for report in reports
        ],
        as_json=False,
    )
    if every:
        for report in reports:
            for case, why in report.not_applicable:
                typer.echo(f"{report.name}: {case}: {why}")


@app.command()
def waiting(
    first: Annotated[int, typer.Option(min=1, help="Recordings to take the times from.")] = 16,
) -> None:
    """Simulate a site of 200 mechanics with the service times of this machine."""
    from voicelog.bench import queueing

    typer.echo(queueing.table(queueing.measured(first)))


def _conditions(ladder: bool, real: bool, named: list[str] | None) -> tuple[Any, ...]:
    from voicelog.bench import noise
    from voicelog.errors import ConfigError

    unknown = [name for name in named or () if name not in noise.CONDITIONS]
    if unknown:
        raise ConfigError(f"no condition {unknown[0]!r}; known are: {', '.join(noise.CONDITIONS)}")
    chosen = [noise.CONDITIONS[name] for name in named or ()]
    return (*(noise.LADDER if ladder else ()), *(noise.REAL if real else ()), *chosen)


def _number_readers(
    results: tuple[Result, ...],
) -> dict[str, Callable[[Sample], tuple[Quantity, ...]]]:
    """voicelog's reading and quantulum3, both timed on the note's text."""
    from voicelog.bench import systems

    cards_of = {result.sample.name: result.card for result in results}
    ours, parse = systems.reading(), systems.quantity_parser()
    return {
        "voicelog": lambda sample: ours(sample.text, cards_of[sample.name], sample.step),
        "quantulum3": lambda sample: parse(sample.text),
    }


@contextmanager
def _ticking(what: str, total: int) -> Iterator[Callable[[], None]]:
    """A progress bar on stderr that moves on at each call."""
    done = 0
    with shared.counter(what) as move:

        def tick() -> None:
            nonlocal done
            done += 1
            move(done, total)

        move(0, total)
        yield tick


def _print(*tables: Any) -> None:
    from rich.console import Console

    console = Console()
    if not console.is_terminal:
        console = Console(width=200)  # a file or a pipe has no width to fit into
    for table in tables:
        console.print(table)
