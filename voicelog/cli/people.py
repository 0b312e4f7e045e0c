"""person add, list, secret, leave: who may act in a home."""

from __future__ import annotations

import sys
from datetime import datetime
from typing import TYPE_CHECKING, Annotated, cast

import typer

from voicelog.cli import shared
from voicelog.cli.shared import AsJson, By, Home

if TYPE_CHECKING:
    from voicelog.records import Authorisation
    from voicelog.records.people import Role

app = typer.Typer(no_args_is_help=True, help="Enter and change the people of a home.")

Id = Annotated[str, typer.Argument(help="Short name to act under.", show_default=False)]


def new_secret(prompt: str) -> str:
    """A secret typed twice, or one line of stdin where nobody sits at a terminal."""
    if sys.stdin.isatty():
        return str(typer.prompt(prompt, hide_input=True, confirmation_prompt=True, err=True))
    return sys.stdin.readline().rstrip("\n")


def _authorisation(text: str) -> Authorisation:
    """ "CARD[/STEP,STEP][@YYYY-MM-DD][+inspect]"; the card may be *."""
    from voicelog.records import Authorisation

    rest, _, flag = text.partition("+")
    rest, _, day = rest.partition("@")
    card, _, steps = rest.partition("/")
    if flag not in ("", "inspect"):
        raise typer.BadParameter(f"{text!r}: only +inspect may follow")
    try:
        until = datetime.strptime(day, "%Y-%m-%d").date() if day else None  # noqa: DTZ007 a day
    except ValueError as error:
        raise typer.BadParameter(f"{text!r}: write the day as 2027-01-31") from error
    numbers = tuple(step.strip() for step in steps.split(",") if step.strip())
    return Authorisation(card or "*", numbers, until, inspect=bool(flag))


@app.command("add")
def add_person(
    context: typer.Context,
    id: Id,
    name: Annotated[str, typer.Option(help="Full name.", show_default=False)],
    role: Annotated[
        list[str],
        typer.Option(help="mechanic, reviewer, clerk or administrator; repeat for several."),
    ],
    by: Annotated[
        str | None, typer.Option(help="Administrator who enters them; not for the first one.")
    ] = None,
    certificate: Annotated[str, typer.Option(help="Number of the certificate.")] = "",
    certificate_kind: Annotated[str, typer.Option(help="Kind of the certificate.")] = "",
    authorise: Annotated[
        list[str] | None,
        typer.Option(
            help="What they may confirm: CARD[/STEP,STEP][@last day][+inspect]; * is every card."
        ),
    ] = None,
    home: Home = None,
) -> None:
    """Enter somebody; the first person of an empty home must be an administrator."""
    from voicelog.records import Person

    person = Person(
        id,
        name,
        roles=cast("tuple[Role, ...]", tuple(role)),  # the register refuses unknown ones
        certificate=certificate,
        certificate_kind=certificate_kind,
        authorisations=tuple(_authorisation(text) for text in authorise or ()),
    )
    with shared.opened(context, home) as store:
        store.people.add(person, new_secret(f"Secret of {id}"), by=by)
    typer.echo(f"{id} entered as {', '.join(role)}")


@app.command("list")
def list_people(context: typer.Context, as_json: AsJson = False, home: Home = None) -> None:
    """Everybody, with roles and certificate."""
    with shared.opened(context, home) as store:
        rows = [
            {
                "id": person.id,
                "name": person.name,
                "roles": ", ".join(person.roles),
                "certificate": person.certified,
                "active": "yes" if person.active else "no",
            }
            for person in store.people.list()
        ]
    shared.print_rows(rows, as_json)


@app.command("secret")
def change_secret(context: typer.Context, id: Id, home: Home = None) -> None:
    """Change one's own secret: the old one first, then the new one."""
    with shared.opened(context, home) as store:
        old = shared.ask_secret(f"Present secret of {id}")
        store.people.set_secret(id, new_secret(f"New secret of {id}"), by=id, old=old)
    typer.echo("secret changed")


@app.command("leave")
def deactivate(context: typer.Context, id: Id, by: By, home: Home = None) -> None:
    """Make somebody inactive; what they did stays under their name."""
    from dataclasses import replace

    with shared.opened(context, home) as store:
        store.people.update(replace(store.people.get(id), active=False), by=by)
    typer.echo(f"{id} is inactive")
