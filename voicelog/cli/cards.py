"""card check, add, list: the shelf of task cards."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from voicelog.cli import shared
from voicelog.cli.shared import AsJson, By, Home

app = typer.Typer(no_args_is_help=True, help="Check, add and list task cards.")

CardFiles = Annotated[
    list[Path], typer.Argument(metavar="FILE...", help="Card files.", show_default=False)
]


@app.command("check")
def check_cards(files: CardFiles) -> None:
    """Check card files without adding them; a fault is named by file, line and key."""
    from voicelog import cards as room
    from voicelog.errors import CardError

    failed = False
    for file in files:
        try:
            card = room.load(file)
        except CardError as error:
            failed = True
            shared.warn(f"voicelog: {error}")
        else:
            fields = sum(len(step.fields) for step in card.steps)
            typer.echo(
                f"{file}: card {card.number} revision {card.revision}, "
                f"{len(card.steps)} steps, {fields} fields"
            )
    if failed:
        raise typer.Exit(1)


@app.command("add")
def add_cards(context: typer.Context, files: CardFiles, by: By, home: Home = None) -> None:
    """Put card files on the shelf; an administrator does that."""
    from voicelog import cards as room

    with shared.opened(context, home) as store:
        for file in files:
            room.load(file)
        for file in files:
            card = store.cards.add(file.read_bytes(), file.name, by=by)
            typer.echo(f"card {card.number} revision {card.revision} added")


@app.command("list")
def list_cards(context: typer.Context, as_json: AsJson = False, home: Home = None) -> None:
    """The cards of the home with every revision, and those of the demo that it lacks."""
    from voicelog import cards as room
    from voicelog.records import Store

    rows = []
    folder = shared.home_folder(context, home)
    if folder.is_dir() and any(folder.iterdir()):
        with Store.open(folder) as store:
            rows = [
                {
                    "card": entry.number,
                    "revision": entry.revision,
                    "title": store.cards.get(entry.number, entry.revision).title,
                    "from": entry.name,
                }
                for entry in store.cards.list()
            ]
    here = {row["card"] for row in rows}
    rows += [
        {"card": card.number, "revision": card.revision, "title": card.title, "from": "the demo"}
        for card in room.shipped().values()
        if card.number not in here
    ]
    shared.print_rows(rows, as_json)
