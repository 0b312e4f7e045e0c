"""transcribe, extract, preview: what a note says, nothing saved. add: a note into the store."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from voicelog.cli import jobs, shared, tables
from voicelog.cli.jobs import Cluster, Workers
from voicelog.cli.shared import (
    AsJson,
    AsJsonLines,
    CardName,
    Careful,
    Fast,
    Home,
    ModelName,
    StepNumber,
)
from voicelog.errors import AudioError, VoicelogError

if TYPE_CHECKING:
    from voicelog.heard import Audio, Transcript
    from voicelog.objects import Card, Draft
    from voicelog.pipeline import Chain
    from voicelog.records import Store
    from voicelog.work.intake import Heading

T = TypeVar("T")
C = TypeVar("C", bound="Card | None")

AudioFiles = Annotated[
    list[Path], typer.Argument(metavar="AUDIO...", help="Recordings.", show_default=False)
]


def add_to(app: typer.Typer) -> None:
    """Register the commands of this file."""
    for command in (transcribe, extract, preview, add):
        app.command()(command)


def transcribe(
    context: typer.Context,
    audio: AudioFiles,
    card: Annotated[str | None, typer.Option("--card", help="Card whose words to expect.")] = None,
    step: StepNumber = None,
    model: ModelName = None,
    fast: Fast = False,
    careful: Careful = False,
    as_json: AsJson = False,
    home: Home = None,
) -> None:
    """Turn recordings into text with word times and probabilities."""
    chain, chosen, load = _listening(
        model,
        shared.profile(fast, careful),
        lambda: shared.find_card(card, context, home) if card else None,
        audio[0],
        reads=False,
    )
    _check_step(chosen, step)

    def hear(path: Path) -> Transcript:
        return chain.hear(load(path), chosen, step).transcript

    def show(path: Path, heard: Transcript) -> None:
        if as_json:
            shared.print_json({"audio": str(path)} | _transcript_object(heard))
        else:
            typer.echo(f"{path}: {heard.text}")

    _each(audio, hear, show, "transcribing", as_json=as_json)


def extract(
    context: typer.Context,
    text: Annotated[
        str | None, typer.Argument(metavar="[TEXT]", help="The note; without it, stdin is read.")
    ] = None,
    card: Annotated[
        str | None, typer.Option("--card", help="Number of a card, or a YAML file.")
    ] = None,
    step: StepNumber = None,
    as_json: AsJson = False,
    as_jsonl: AsJsonLines = False,
    home: Home = None,
) -> None:
    """Read a text into the fields of a card; nothing is saved.

    With --jsonl, every line of stdin is an object with "id", "step" and "text" (and "card",
    to take another card for this line).
    """
    from voicelog.pipeline import Chain

    chain = Chain()
    cards: dict[str, Card] = {}

    def card_of(name: str | None) -> Card:
        if not name:
            raise typer.BadParameter("name the card with --card")
        if name not in cards:
            cards[name] = shared.find_card(name, context, home)
        return cards[name]

    if not as_jsonl:
        chosen = card_of(card)
        _check_step(chosen, step)
        note = sys.stdin.read() if text is None else text
        draft = chain.read(note, chosen, step)
        if as_json:
            shared.print_json(_draft_object(draft, id=None, step=step, text=note), indent=1)
        else:
            tables.print_draft(draft, chosen)
        return
    if card:
        card_of(card)
    failed = 0
    for number, line in enumerate(sys.stdin, 1):
        if not line.strip():
            continue
        try:
            entry = _line(line)
            chosen = card_of(entry.get("card") or card)
            where = entry.get("step") or step
            _check_step(chosen, where)
            draft = chain.read(entry["text"], chosen, where)
            shared.print_json(
                _draft_object(draft, id=entry.get("id"), step=where, text=entry["text"])
            )
        except VoicelogError as error:
            failed += 1
            shared.print_json({"id": None, "line": number, "error": str(error)})
            shared.warn(f"voicelog: line {number}: {error}")
    if failed:
        raise typer.Exit(1)


def preview(
    context: typer.Context,
    audio: AudioFiles,
    card: CardName,
    step: StepNumber = None,
    model: ModelName = None,
    fast: Fast = False,
    careful: Careful = False,
    as_jsonl: AsJsonLines = False,
    home: Home = None,
) -> None:
    """Turn recordings into text and fields; nothing is saved."""
    chain, chosen, load = _listening(
        model,
        shared.profile(fast, careful),
        lambda: shared.find_card(card, context, home),
        audio[0],
        reads=True,
    )
    _check_step(chosen, step)

    def read(path: Path) -> Draft:
        return chain.note(load(path), chosen, step)

    def show(path: Path, draft: Draft) -> None:
        heard = draft.takes[0].transcript
        if as_jsonl:
            result = {"audio": str(path), "transcript": _transcript_object(heard)}
            shared.print_json(
                result | _draft_object(draft, id=path.stem, step=step, text=heard.text)
            )
        else:
            tables.print_draft(draft, chosen, title=str(path))

    _each(audio, read, show, "listening", as_json=as_jsonl)


def add(
    context: typer.Context,
    audio: AudioFiles,
    card: CardName,
    work_order: Annotated[
        str, typer.Option("--work-order", help="Number of the work order.", show_default=False)
    ],
    by: Annotated[str, typer.Option("--by", help="Who dictated it.", show_default=False)],
    step: StepNumber = None,
    model: ModelName = None,
    fast: Fast = False,
    careful: Careful = False,
    workers: Workers = 1,
    cluster: Cluster = None,
    as_json: AsJson = False,
    home: Home = None,
) -> None:
    """Turn recordings into drafts in the store, ready for review.

    The same recording again, for the same work order, card and step, is the same draft.
    What is interrupted goes on when the command is given again, or with: voicelog jobs work.
    """
    from voicelog.work import follow
    from voicelog.work.intake import Heading

    chosen = shared.find_card(card, context, home)
    _check_step(chosen, step)
    with shared.opened(context, home) as store:
        store.people.get(by)
        profile = shared.profile(fast, careful)
        listening = jobs.Listening.prepare(model, profile, workers, cluster, len(audio))
        heading = Heading(by, work_order, chosen.number, chosen.revision, step)
        queued, failed = _queue(store, audio, heading, as_json=as_json)
        ids = tuple(queued)
        ended = follow.until_ended(store, ids, listening.hands(store, ids))
        for job in shared.progress(ended, "listening", len(queued)):
            for path in queued[job.id]:
                if job.note is None:
                    failed += 1
                    _show_failure(path, job.reason, as_json=as_json)
                    continue
                note = store.notes.get(job.note)
                if as_json:
                    result = {"audio": str(path), "draft": note.id, "work_order": note.work_order}
                    text = note.draft.takes[0].transcript.text
                    shared.print_json(result | _draft_object(note.draft, note.id, step, text))
                else:
                    tables.print_draft(note.draft, chosen, title=f"{path} -> draft {note.id}")
    if failed:
        raise typer.Exit(1)
    if not as_json:
        typer.echo("Decide every value with: voicelog review")


def _queue(
    store: Store, paths: list[Path], heading: Heading, *, as_json: bool
) -> tuple[dict[str, list[Path]], int]:
    """Put files in line: (job and its files, how many could not be)."""
    from voicelog.work.intake import take_file

    queued: dict[str, list[Path]] = {}
    failed = 0
    for path in paths:
        try:
            job = take_file(store, path, heading)
        except AudioError as error:
            failed += 1
            _show_failure(path, str(error), as_json=as_json)
            continue
        if job.state == "failed":
            store.jobs.retry(job.id)
        queued.setdefault(job.id, []).append(path)
    return queued, failed


def _show_failure(path: Path, reason: str, *, as_json: bool) -> None:
    shared.warn(f"voicelog: {reason}")
    if as_json:
        shared.print_json({"audio": str(path), "error": reason})


def _each(
    paths: list[Path],
    work: Callable[[Path], T],
    show: Callable[[Path, T], None],
    what: str,
    *,
    as_json: bool,
) -> None:
    """Work on every file and show its result; one that fails doesn't stop the others."""
    failed = 0
    for path in shared.progress(paths, what):
        try:
            show(path, work(path))
        except AudioError as error:
            failed += 1
            _show_failure(path, str(error), as_json=as_json)
    if failed:
        raise typer.Exit(1)


def _line(line: str) -> dict[str, Any]:
    try:
        entry = json.loads(line)
    except json.JSONDecodeError as error:
        raise VoicelogError(f"not JSON ({error})") from error
    if not isinstance(entry, dict) or not isinstance(entry.get("text"), str):
        raise VoicelogError('expected an object with "id", "step" and "text"')
    step = entry.get("step")
    if step is not None and not isinstance(step, str):
        entry["step"] = str(step)
    return entry


def _listening(
    model: str | None, profile: str, card: Callable[[], C], first: Path, *, reads: bool
) -> tuple[Chain, C, Callable[[Path], Audio]]:
    """A chain that listens (and `reads`), what `card` gives, and what loads recordings.

    Python does one thing at a time, so what the models need comes before all else. Once they
    listen to the first recording, for which it isn't needed, the card is found; what reads is
    loaded while they write.
    """
    recogniser = shared.recogniser(model, profile)
    from voicelog.speech import audio as sound

    def begin() -> Audio | None:
        try:
            loaded = sound.load(first)
        except AudioError:  # told when it is its turn
            return None
        recogniser.begin(loaded)
        return loaded

    with ThreadPoolExecutor(1, thread_name_prefix="listening") as pool:
        begun = pool.submit(begin)
        chosen = card()
    loaded = begun.result()
    from voicelog.pipeline import Chain

    def load(path: Path) -> Audio:
        return loaded if loaded is not None and path == first else sound.load(path)

    return Chain(recogniser, reads_soon=reads), chosen, load


def _check_step(card: Card | None, step: str | None) -> None:
    if card is not None:
        from voicelog import cards

        cards.find_step(card, step)


def _transcript_object(transcript: Transcript) -> dict[str, Any]:
    """A transcript as the JSON contract shows it."""
    return {
        "text": transcript.text,
        "model": transcript.model,
        "duration_s": round(transcript.duration_s, 3),
        "warnings": list(transcript.warnings),
        "words": [
            {
                "text": word.text,
                "start_s": round(word.start_s, 3),
                "end_s": round(word.end_s, 3),
                "probability": round(word.probability, 4),
            }
            for word in transcript.words
        ],
    }


def _draft_object(draft: Draft, id: str | None, step: str | None, text: str) -> dict[str, Any]:
    """One object of `extract --jsonl`."""
    from voicelog import wire

    return {
        "id": id,
        "step": step,
        "text": text,
        "fields": [wire.contract_field(value) for value in draft.values],
        "unplaced": [wire.contract_mention(mention) for mention in draft.unplaced],
        "warnings": [warning.sentence for warning in draft.warnings],
    }
