"""order open, describe, list, status, complete, handover: jobs and what is left to do."""

from __future__ import annotations

from typing import Annotated

import typer

from voicelog.cli import shared
from voicelog.cli.shared import AsJson, By, Home

app = typer.Typer(no_args_is_help=True, help="Describe work orders and see what is left to do.")

Number = Annotated[str, typer.Argument(help="Number of the work order.", show_default=False)]
Equipment = Annotated[str, typer.Option(help="What is worked on.")]
Serial = Annotated[str, typer.Option("--serial-number", help="Its serial number.")]
Title = Annotated[str, typer.Option(help="What is to be done.")]
Cards = Annotated[list[str] | None, typer.Option("--card", help="A planned card; repeat.")]


@app.command("open")
def open_order(
    context: typer.Context,
    number: Number,
    by: By,
    equipment: Equipment = "",
    serial_number: Serial = "",
    title: Title = "",
    card: Cards = None,
    home: Home = None,
) -> None:
    """Open a work order (dictating on a new number opens it, too)."""
    from voicelog.records import WorkOrder

    with shared.opened(context, home) as store:
        order = WorkOrder(number, equipment, serial_number, title, tuple(card or ()))
        store.orders.open(order, by=by)
    typer.echo(f"work order {number} is open")


@app.command("describe")
def describe_order(
    context: typer.Context,
    number: Number,
    by: By,
    equipment: Equipment,
    serial_number: Serial,
    title: Title = "",
    card: Cards = None,
    home: Home = None,
) -> None:
    """Say what a work order is about."""
    with shared.opened(context, home) as store:
        store.orders.describe(
            number,
            by=by,
            equipment=equipment,
            serial_number=serial_number,
            title=title,
            cards=tuple(card or ()),
        )
    typer.echo(f"work order {number}: {equipment} {serial_number}".rstrip())


@app.command("list")
def list_orders(context: typer.Context, as_json: AsJson = False, home: Home = None) -> None:
    """Work orders, the latest first."""
    with shared.opened(context, home) as store:
        rows = [
            {
                "work order": order.number,
                "state": order.state,
                "equipment": order.equipment,
                "serial number": order.serial_number,
                "title": order.title,
            }
            for order in store.orders.list()
        ]
    shared.print_rows(rows, as_json)


@app.command("status")
def order_status(
    context: typer.Context, number: Number, as_json: AsJson = False, home: Home = None
) -> None:
    """What is open on a work order, and whether it could be called complete."""
    with shared.opened(context, home) as store:
        status = store.orders.status(number)
    if as_json:
        items = [
            {
                "kind": item.kind,
                "card": item.card,
                "step": item.step,
                "sentence": item.sentence,
                "blocks": item.blocks,
            }
            for item in status.items
        ]
        shared.print_json(
            {"work_order": number, "state": status.order.state, "open": items}, indent=1
        )
        return
    for item in status.items:
        typer.echo(f"{'open' if item.blocks else 'note'}: {item.sentence}")
    typer.echo(
        f"work order {number}: nothing is open"
        if status.complete
        else f"work order {number} can't be called complete"
    )


@app.command("complete")
def complete_order(context: typer.Context, number: Number, by: By, home: Home = None) -> None:
    """Call a work order complete; refused, with the reasons, while anything is open."""
    with shared.opened(context, home) as store:
        store.orders.complete(number, by=by)
    typer.echo(f"work order {number} is complete; that is a count of open items, no release")


@app.command("reopen")
def reopen_order(
    context: typer.Context,
    number: Number,
    by: By,
    why: Annotated[str, typer.Option(help="Why it is opened again.", show_default=False)],
    home: Home = None,
) -> None:
    """Open a completed work order again."""
    with shared.opened(context, home) as store:
        store.orders.reopen(number, by=by, why=why)
    typer.echo(f"work order {number} is open again")


@app.command("handover")
def hand_over(context: typer.Context, number: Number, home: Home = None) -> None:
    """For the next shift: what is open, who did what, where the last dictation stopped."""
    with shared.opened(context, home) as store:
        handover = store.orders.handover(number)
    typer.echo(f"Work order {number}: handover")
    typer.echo("Open:")
    for item in handover.status.items:
        typer.echo(f"  {item.sentence}")
    typer.echo("Done:")
    for done in handover.done:
        typer.echo(
            f"  card {done.card} step {done.step}: {done.performed_by}, signed {done.signed_by} "
            f"{done.at:%Y-%m-%d %H:%M}, record {done.record}"
        )
    if handover.last:
        last = handover.last
        typer.echo(
            f"Last dictation: {last.at:%Y-%m-%d %H:%M} {last.by}, card {last.card} "
            f'step {last.step or "-"}: "{last.text}"'
        )
