"""export, verify, backup, restore: what was confirmed, handed over and kept whole."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from voicelog.cli import shared
from voicelog.cli.shared import Home
from voicelog.errors import Tampered


class Format(StrEnum):
    """What an export is written as."""

    csv = "csv"
    jsonl = "jsonl"
    xlsx = "xlsx"
    pdf = "pdf"


class State(StrEnum):
    """Which records."""

    current = "current"
    superseded = "superseded"
    all = "all"


Day = Annotated[datetime | None, typer.Option(formats=["%Y-%m-%d"], show_default=False)]
Text = Annotated[str | None, typer.Option(show_default=False)]


def add_to(app: typer.Typer) -> None:
    """Register the commands of this file."""
    for command in (export, verify, backup, restore):
        app.command()(command)


def export(
    context: typer.Context,
    format: Annotated[Format, typer.Option("--format", help="csv, jsonl, xlsx or pdf.")],
    out: Annotated[Path, typer.Option("--out", help="Folder to write.", show_default=False)],
    by: Annotated[str | None, typer.Option("--by", help="Clerk who exports.")] = None,
    work_order: Text = None,
    card: Text = None,
    equipment: Text = None,
    serial_number: Text = None,
    person: Text = None,
    words: Text = None,
    since: Day = None,
    until: Day = None,
    state: Annotated[State, typer.Option(help="Superseded records only when asked.")] = (
        State.current
    ),
    home: Home = None,
) -> None:
    """Write confirmed records, with a signed manifest beside them."""
    from voicelog import export as room
    from voicelog.records import Filter
    from voicelog.web import site

    wanted = Filter(
        work_order=work_order,
        card=card,
        equipment=equipment,
        serial_number=serial_number,
        person=person,
        words=words,
        since=since.date() if since else None,
        until=until.date() if until else None,
        state=state.value,
        newest_first=False,
    )
    with shared.opened(context, home) as store, shared.counter("exporting") as count:
        manifest = room.write(
            store, wanted, format.value, out, by=by, house=site.load().name, progress=count
        )
    typer.echo(
        f"{len(manifest.records)} records in {out}; check them anywhere with: voicelog verify {out}"
    )


def verify(
    context: typer.Context,
    folder: Annotated[
        Path | None, typer.Argument(help="An export; left out: the home itself.")
    ] = None,
    key: Annotated[
        str | None, typer.Option("--key", help="Public key that the export must be signed with.")
    ] = None,
    home: Home = None,
) -> None:
    """Recompute everything: digests, ledger, signatures, recordings. Says what is wrong."""
    from voicelog import export as room
    from voicelog import records

    if folder is not None:
        faults = tuple(room.verify(folder, public_key=key))
        checked = str(folder)
    else:
        checked = str(shared.home_folder(context, home))
        with shared.counter("verifying"):
            faults = tuple(str(fault) for fault in records.verify(Path(checked)))
    for fault in faults:
        shared.warn(f"voicelog: {fault}")
    if faults:
        raise Tampered(f"{checked}: {len(faults)} faults; keep it as it is and find out why")
    typer.echo(f"{checked}: everything is as it was signed")
    if folder is not None:
        typer.echo(f"signed with the key {room.read(folder).fingerprint}")


def backup(
    context: typer.Context,
    folder: Annotated[Path, typer.Argument(help="Where to put the copy.", show_default=False)],
    by: Annotated[str, typer.Option("--by", help="Who asks for it.")] = "system",
    home: Home = None,
) -> None:
    """Copy the home while it is in use, and verify the copy."""
    from voicelog import records

    with shared.opened(context, home) as store, shared.counter("copying"):
        records.backup(store, folder, by=by)
    typer.echo(f"backup in {folder}, verified; bring it back with: voicelog restore {folder}")


def restore(
    context: typer.Context,
    folder: Annotated[Path, typer.Argument(help="A backup.", show_default=False)],
    home: Home = None,
) -> None:
    """Bring a backup back into an empty home folder, verified first."""
    from voicelog import records

    target = shared.home_folder(context, home)
    records.restore(folder, target)
    typer.echo(f"restored into {target}")
