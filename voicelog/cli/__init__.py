"""The command line: parse, call, print. `voicelog --help` imports no heavy library.

Exit status 0 when done, 1 when it could not be done (one line on stderr), 2 for wrong usage.
"""

from __future__ import annotations

import atexit
import gc
import sys

import typer

from voicelog import __version__
from voicelog.cli import (
    bench,
    cards,
    demo,
    jobs,
    kept,
    models,
    notes,
    orders,
    people,
    review,
    serve,
    tools,
    watch,
)
from voicelog.cli.shared import Home
from voicelog.errors import VoicelogError

__all__ = ["app", "main"]

app = typer.Typer(
    name="voicelog",
    help="Maintenance records dictated at the job: offline, traceable, confirmed by a person.",
    epilog="voicelog states limits and arithmetic. Approved data and licensed staff decide.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"voicelog {__version__}")
        raise typer.Exit


@app.callback()
def _common(
    home: Home = None,
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Print the version."
    ),
) -> None:
    """Options that stand before every command."""


for room in (demo, notes, watch, review, serve, kept):
    room.add_to(app)
for name, group in {
    "card": cards,
    "person": people,
    "tool": tools,
    "order": orders,
    "jobs": jobs,
    "model": models,
    "bench": bench,
}.items():
    app.add_typer(group.app, name=name)


def main() -> None:
    """Run the command line; what can't be done is one clear line and exit status 1."""
    # Modules, models and grammars stay to the end: to look among them for what could go, each
    # time that seven hundred objects more are there, costs a tenth of a second while they load.
    gc.set_threshold(20_000, 10, 10)
    # The memory goes back as a whole: no search for what in it could be given back by itself,
    # which takes a quarter of a second once models and grammars are loaded.
    atexit.register(gc.freeze)
    try:
        app()
    except VoicelogError as error:
        typer.echo(f"voicelog: {error}", err=True)
        sys.exit(1)
    except BrokenPipeError:
        sys.stderr.close()  # the reader at the other end has gone; there is nobody to tell
        sys.exit(1)
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        typer.echo(f"voicelog: {where}{error.strerror or error}; nothing was lost", err=True)
        sys.exit(1)
