"""watch: every recording that appears in a folder becomes a draft."""

from __future__ import annotations

import contextlib
import logging
import signal
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicelog.cli import jobs, shared
from voicelog.cli.jobs import Cluster, Workers
from voicelog.cli.shared import AsJsonLines, Careful, Fast, Home, ModelName, StepNumber

if TYPE_CHECKING:
    from voicelog.watch.service import PutAway

_BACKLOG = 1000
"""A folder fills at the end of a shift: it is listened to for throughput."""


def add_to(app: typer.Typer) -> None:
    """Register the command of this file."""
    app.command()(watch)


def watch(
    context: typer.Context,
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Folder to watch.", show_default=False)
    ],
    card: Annotated[
        str | None, typer.Option("--card", help="Card, where nothing else says it.")
    ] = None,
    rules: Annotated[
        Path | None,
        typer.Option("--rules", help="TOML file: what the name of a file says about it."),
    ] = None,
    work_order: Annotated[
        str | None, typer.Option("--work-order", help="Work order, where nothing else says it.")
    ] = None,
    by: Annotated[str | None, typer.Option("--by", help="Who dictates, likewise.")] = None,
    step: StepNumber = None,
    once: Annotated[bool, typer.Option("--once", help="End when the folder is empty.")] = False,
    settle: Annotated[
        float, typer.Option("--settle", min=0.0, help="Seconds without change: complete.")
    ] = 2.0,
    patience: Annotated[
        float,
        typer.Option("--patience", min=0.0, help="Seconds to wait for what looks cut off."),
    ] = 60.0,
    workers: Workers = 1,
    cluster: Cluster = None,
    model: ModelName = None,
    fast: Fast = False,
    careful: Careful = False,
    as_jsonl: AsJsonLines = False,
    home: Home = None,
) -> None:
    """Make a draft of every recording that appears in a folder, once.

    A side-car (note.json beside note.wav, with any of work_order, card, step, person, time)
    says what it is about; else the rules, the file's name and these options; else the first
    words of the recording: "work order ..., card ..., step ...". Files are moved to done/ or
    failed/ in the folder, with the reason beside them. Ctrl-C ends it; nothing is lost.
    """
    from voicelog import cards
    from voicelog.watch import rules as rulebook
    from voicelog.watch import service
    from voicelog.watch.folder import Folder

    if card is None and rules is None:
        raise typer.BadParameter("name a card with --card, or the rules with --rules")
    chosen = shared.find_card(card, context, home) if card else None
    if chosen is not None:
        cards.find_step(chosen, step)
    defaults = rulebook.Facts(
        work_order or "", chosen.number if chosen else "", step or "", by or ""
    )
    known = rulebook.Rules.load(rules, defaults) if rules else rulebook.Rules((), defaults)
    logging.basicConfig(format="voicelog: %(message)s", level=logging.WARNING)
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    with shared.opened(context, home) as store:
        if by:
            store.people.require(by, "mechanic", "reviewer")
        if chosen is not None:
            store.cards.get(chosen.number, chosen.revision)
        watched = service.Watch(store, Folder(folder, settle), known, patience_s=patience)
        profile = shared.profile(fast, careful)
        hands = jobs.Listening.prepare(model, profile, workers, cluster, _BACKLOG).hands(store)
        failed = 0
        with contextlib.suppress(KeyboardInterrupt):
            for put in service.run(watched, hands, once=once):
                failed += not put.done
                _tell(put, as_jsonl=as_jsonl)
    if once and failed:
        raise typer.Exit(1)


def _tell(put: PutAway, *, as_jsonl: bool) -> None:
    if as_jsonl:
        shared.print_json(
            {
                "file": put.name,
                "moved_to": str(put.path),
                "draft": put.job.note if put.job else None,
                "reason": put.reason,
            }
        )
    else:
        typer.echo(f"{put.path}: {put.reason}")
