"""bench: the tables of the README, measured again."""

from __future__ import annotations

import typer

app = typer.Typer(no_args_is_help=True, help="Measure accuracy, speed and endurance.")
