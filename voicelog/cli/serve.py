"""serve: the pages, for phones, tablets and desks."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from voicelog.cli import shared
from voicelog.cli.shared import Home


def add_to(app: typer.Typer) -> None:
    """Register the command of this file."""
    app.command()(serve)


def serve(
    context: typer.Context,
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=1, max=65_535, help="Port to listen on.")] = 8000,
    tls_cert: Annotated[
        Path | None, typer.Option("--tls-cert", help="Certificate file.", dir_okay=False)
    ] = None,
    tls_key: Annotated[
        Path | None, typer.Option("--tls-key", help="Key file of it.", dir_okay=False)
    ] = None,
    tls_self_signed: Annotated[
        bool, typer.Option("--tls-self-signed", help="Make a certificate for this machine.")
    ] = False,
    site: Annotated[
        Path | None, typer.Option("--site", help="Site file: name, time zone, retention, voice.")
    ] = None,
    workers: Annotated[
        int,
        typer.Option(
            min=0, max=64, help="Processes for recordings that are handed in; 0 leaves them."
        ),
    ] = 1,
    cluster: Annotated[
        str | None,
        typer.Option(
            metavar="URL",
            help="A Dask cluster for what would have to wait here: tcp://HOST:PORT or tls://…",
            show_default=False,
        ),
    ] = None,
    home: Home = None,
) -> None:
    """Serve the pages until stopped; a phone needs TLS, else it gives no microphone."""
    from voicelog import web

    web.serve(
        shared.home_folder(context, home),
        host,
        port,
        tls_cert=tls_cert,
        tls_key=tls_key,
        tls_self_signed=tls_self_signed,
        site=site,
        workers=workers,
        cluster=cluster,
        say=typer.echo,
    )
