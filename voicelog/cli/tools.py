"""tool put, list: the register of calibrated tools."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

import typer

from voicelog.cli import shared
from voicelog.cli.shared import AsJson, By, Home

app = typer.Typer(no_args_is_help=True, help="Enter and list calibrated tools.")


@app.command("put")
def put_tool(
    context: typer.Context,
    number: Annotated[str, typer.Argument(help="Tool number.", show_default=False)],
    name: Annotated[str, typer.Option(help="What it is.", show_default=False)],
    due: Annotated[
        datetime, typer.Option(formats=["%Y-%m-%d"], help="Calibration due.", show_default=False)
    ],
    by: By,
    certificate: Annotated[str, typer.Option(help="Calibration certificate.")] = "",
    home: Home = None,
) -> None:
    """Enter a calibrated tool, or a new calibration of it."""
    from voicelog.records import Tool

    with shared.opened(context, home) as store:
        store.tools.put(Tool(number, name, due.date(), certificate), by=by)
    typer.echo(f"tool {number}: calibration due {due:%Y-%m-%d}")


@app.command("list")
def list_tools(context: typer.Context, as_json: AsJson = False, home: Home = None) -> None:
    """Every tool with its calibration."""
    with shared.opened(context, home) as store:
        rows = [
            {
                "tool": tool.number,
                "name": tool.name,
                "calibration due": tool.calibration_due.isoformat()
                if tool.calibration_due
                else "none",
                "certificate": tool.certificate,
            }
            for tool in store.tools.list()
        ]
    shared.print_rows(rows, as_json)
