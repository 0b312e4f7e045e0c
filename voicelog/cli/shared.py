"""What several commands share: options, and how a card, a recogniser or the store is found."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

if TYPE_CHECKING:
    from voicelog.objects import Card
    from voicelog.pipeline import Chain
    from voicelog.records import Store
    from voicelog.speech.recognise import Recogniser

T = TypeVar("T")

Home = Annotated[
    Path | None,
    typer.Option("--home", help="Home folder.", show_default=False, file_okay=False),
]
CardName = Annotated[
    str,
    typer.Option("--card", help="Number of a card, or a YAML file.", show_default=False),
]
StepNumber = Annotated[
    str | None,
    typer.Option("--step", help="Step the note is about.", show_default=False),
]
ModelName = Annotated[
    str | None,
    typer.Option("--model", help="Speech model: a name or a folder.", show_default=False),
]
By = Annotated[str, typer.Option("--by", help="Who does this.", show_default=False)]
Fast = Annotated[bool, typer.Option("--fast", help="Quicker: no rival wordings are scored.")]
Careful = Annotated[
    bool, typer.Option("--careful", help="Slower: more rival wordings, more readings.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON and nothing else.")]
AsJsonLines = Annotated[
    bool, typer.Option("--jsonl", help="Print one JSON object a line and nothing else.")
]


def home_folder(context: typer.Context, home: Path | None) -> Path:
    """--home behind the command, else before it, else VOICELOG_HOME or the data folder."""
    from voicelog import config

    return config.home_dir(home or context.find_root().params.get("home"))


@contextmanager
def opened(context: typer.Context, home: Path | None) -> Iterator[Store]:
    """The store of the home folder, closed at the end."""
    from voicelog.records import Store

    with Store.open(home_folder(context, home)) as store:
        yield store


def find_card(name: str, context: typer.Context, home: Path | None) -> Card:
    """The card in the file `name`, or with that number in the home, else of the demo."""
    from voicelog import cards
    from voicelog.errors import CardError

    path = Path(name)
    if path.suffix.lower() in (".yaml", ".yml") or path.is_file():
        return cards.load(path)
    folder = home_folder(context, home)
    own: set[str] = set()
    if folder.is_dir() and any(folder.iterdir()):
        from voicelog.records import Store

        with Store.open(folder) as store:
            own = {entry.number for entry in store.cards.list()}
            if name in own:
                return store.cards.get(name)
    found = cards.shipped(name).get(name)
    if found is None:
        raise CardError(
            f"no card {name!r}; known are: {', '.join(sorted(own | cards.shipped().keys()))} "
            "(add one with: voicelog card add FILE)"
        )
    return found


def profile(fast: bool, careful: bool) -> str:
    """Name of the decoding profile that the two switches ask for."""
    if fast and careful:
        raise typer.BadParameter("--fast and --careful exclude each other")
    return "fast" if fast else "careful" if careful else "standard"


def recogniser(model: str | None, name: str = "standard", lanes: int = 1) -> Recogniser:
    """The model, checked and loaded, with the profile `name`. Raises ModelError.

    With `lanes`, so many recordings may be heard at once, a core each.
    """
    from voicelog.speech.recognise import WhisperRecogniser

    return WhisperRecogniser(model, name, cpu_threads=0 if lanes == 1 else 1, lanes=lanes)


def chain(model: str | None, name: str = "standard", lanes: int = 1) -> Chain:
    """The whole chain around that recogniser, all of it loaded."""
    from voicelog.pipeline import Chain
    from voicelog.reading import Reader

    with ThreadPoolExecutor(1, thread_name_prefix="loading") as pool:
        reading = pool.submit(Reader)  # what all readers share is loaded while the weights are
        made = recogniser(model, name, lanes)
    reading.result()
    return Chain(made)


def progress(items: Iterable[T], what: str, total: int | None = None) -> Iterator[T]:
    """`items`, with a progress bar on stderr."""
    from rich.console import Console
    from rich.progress import track

    yield from track(items, what, total=total, console=Console(stderr=True), transient=True)


@contextmanager
def counter(what: str) -> Iterator[Callable[[int, int], None]]:
    """A progress bar on stderr, moved by calling what this gives with (done, total)."""
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def print_json(thing: Any, *, indent: int | None = None) -> None:
    """One JSON document on stdout, flushed, so that a reader at the other end has it at once."""
    import json
    import sys

    sys.stdout.write(json.dumps(thing, ensure_ascii=False, indent=indent) + "\n")
    sys.stdout.flush()


def print_rows(rows: list[dict[str, str]], as_json: bool) -> None:
    """Rows of equal keys as a table, or as one JSON document."""
    if as_json:
        print_json(rows, indent=1)
        return
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    if not rows:
        typer.echo("none")
        return
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 2, 0, 0))
    for head in rows[0]:
        table.add_column(head, overflow="fold")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row.values()))
    Console().print(table)


def ask_secret(prompt: str) -> str:
    """A secret typed unseen, or one line of stdin where nobody sits at a terminal."""
    import sys

    if sys.stdin.isatty():
        return str(typer.prompt(prompt, hide_input=True, err=True))
    return sys.stdin.readline().rstrip("\n")


def warn(sentence: str) -> None:
    """One line on stderr."""
    typer.echo(sentence, err=True)
