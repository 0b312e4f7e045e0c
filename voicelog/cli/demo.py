"""demo: the whole job on recordings that come with the software."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicelog.cli import shared, tables
from voicelog.cli.shared import Home, ModelName

if TYPE_CHECKING:
    from voicelog.bench.samples import Sample
    from voicelog.objects import Card, Note
    from voicelog.pipeline import Chain
    from voicelog.records import Store
    from voicelog.records.people import Role

PEOPLE: dict[str, tuple[str, tuple[Role, ...], str]] = {
    "ada": ("Ada Birch", ("administrator", "clerk"), ""),
    "tom": ("Tom Reed", ("mechanic",), ""),
    "mira": ("Mira Holt", ("mechanic", "reviewer"), "DEMO-1042"),
    "jon": ("Jon Falk", ("reviewer",), "DEMO-1077"),
}
"""Invented: an administrator, a mechanic, two who may confirm."""

SECRET = "only for the demo"  # noqa: S105 — printed on the screen, opens nothing but the demo
WORK_ORDER = "DEMO-1"
HANDFUL = ("wheel-03", "wheel-05", "cable-02", "compression-02", "crane-03")
"""Shown unless --all is asked for: all four cards, values in and out of their limits."""


def add_to(app: typer.Typer) -> None:
    """Register the command of this file."""
    app.command()(demo)


def demo(
    context: typer.Context,
    every: Annotated[bool, typer.Option("--all", help="Every recording, not a handful.")] = False,
    model: ModelName = None,
    home: Home = None,
) -> None:
    """Transcribe, read and map recordings of an invented job, and leave drafts for review."""
    from voicelog.bench import samples

    manifest = samples.shipped()
    chosen = samples.read(manifest)
    if not every:
        chosen = tuple(sample for sample in chosen if sample.name.split(".")[0] in HANDFUL)
    folder = _demo_home(context, home)
    typer.echo(
        "Invented job, synthetic voices, no approved data. "
        "voicelog states limits and arithmetic; licensed staff decide.\n"
    )
    chain = shared.chain(model)
    with shared.opened(context, folder) as store:
        cards = _prepare(store)
        for sample in shared.progress(chosen, "listening"):
            card = cards[sample.card]
            note = _dictate(store, chain, card, sample)
            tables.print_draft(
                note.draft,
                card,
                title=f"{sample.name}, {sample.voice}, {sample.noise} -> draft {note.id}",
            )
        waiting = store.notes.queue()
    where = f" --home {folder}"
    typer.echo(f"{len(waiting)} drafts wait in {folder}. A reviewer would go on with:")
    if waiting:
        typer.echo(f"  voicelog review {waiting[0].id} --by mira{where}")
    typer.echo(f"  voicelog review{where}")
    typer.echo(f"  voicelog export --format csv --out records --by ada{where}")
    typer.echo(f'The demo\'s people are {", ".join(PEOPLE)}; the secret of each is "{SECRET}".')


def _demo_home(context: typer.Context, home: Path | None) -> Path:
    """The home that was asked for; else one of the demo's own, so that no real one is touched."""
    import os

    folder = shared.home_folder(context, home)
    asked = home or context.find_root().params.get("home") or os.environ.get("VOICELOG_HOME")
    return folder if asked else folder.with_name(f"{folder.name}-demo")


def _prepare(store: Store) -> dict[str, Card]:
    """The demo's people and cards, entered on first use."""
    from voicelog import cards, config
    from voicelog.errors import Conflict
    from voicelog.records import Authorisation, Person

    known = {person.id for person in store.people.list()}
    if known and not set(PEOPLE) <= known:
        raise Conflict(
            f"{store.home} is the home of real people; name another one for the demo with --home"
        )
    if not known:
        for id, (name, roles, certificate) in PEOPLE.items():
            person = Person(
                id,
                name,
                roles=roles,
                certificate=certificate,
                certificate_kind="demonstration" if certificate else "",
                authorisations=(Authorisation(inspect=True),) if certificate else (),
            )
            first = id == next(iter(PEOPLE))
            store.people.add(person, SECRET, by=None if first else next(iter(PEOPLE)))
    for path in sorted(config.config_dir().glob("cards/*.yaml")):
        store.cards.add(path.read_bytes(), path.name, by=next(iter(PEOPLE)))
    return cards.shipped()


def _dictate(store: Store, chain: Chain, card: Card, sample: Sample) -> Note:
    """One recording into a draft; the same recording again is the same draft."""
    from voicelog.errors import NotFound
    from voicelog.speech import audio

    if sample.path is None:
        raise NotFound(f"{sample.name}: the manifest names no recording")
    store.audio.keep(sample.path.read_bytes())
    draft = chain.note(audio.load(sample.path), card, sample.step)
    return store.notes.add(draft, WORK_ORDER, "tom", token=f"demo {sample.sha256}")
