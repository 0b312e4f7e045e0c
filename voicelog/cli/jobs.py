"""jobs: recordings that wait for a worker, those that failed, and putting workers on them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from typing import TYPE_CHECKING, Annotated

import typer

from voicelog.cli import shared
from voicelog.cli.shared import AsJson, Careful, Fast, Home, ModelName

if TYPE_CHECKING:
    from voicelog.pipeline import Chain
    from voicelog.records import Job, Store
    from voicelog.work.follow import Hands

app = typer.Typer(
    invoke_without_command=True,
    help="Recordings in line: list them, try failed ones again, work on them.",
)

Workers = Annotated[
    int, typer.Option("--workers", min=1, max=256, help="Processes that listen side by side.")
]
Cluster = Annotated[
    str | None,
    typer.Option(
        "--cluster",
        metavar="URL",
        help="Send the work to a Dask cluster: tcp://HOST:PORT or tls://HOST:PORT.",
        show_default=False,
    ),
]


class State(StrEnum):
    """Which jobs."""

    queued = "queued"
    leased = "leased"
    done = "done"
    failed = "failed"


@dataclass(frozen=True, slots=True)
class Listening:
    """With which model, and who listens: this process, several, or a cluster."""

    make: Callable[[], Chain]
    model: str | None
    profile: str
    workers: int
    cluster: str | None
    lanes: int = 1
    """Recordings that this process hears side by side."""

    @classmethod
    def prepare(
        cls,
        model: str | None,
        profile: str,
        workers: int = 1,
        cluster: str | None = None,
        backlog: int = 1,
    ) -> Listening:
        """A model that is missing or wrong is said now, before anything is put in line.

        One worker is this process: its chain is made at once, for the `backlog` there is; a
        few recordings are heard one by one with all cores, many side by side. Raises ModelError.
        """
        if workers == 1 and cluster is None:
            from voicelog.speech import batch

            lanes = batch.lanes(backlog // 2)
            chain = shared.chain(model, profile, lanes)
            return cls(lambda: chain, model, profile, workers, cluster, lanes)
        from voicelog.speech import models
        from voicelog.work import crew, worker

        if cluster is not None:
            from voicelog.cluster import connection

            connection.check(cluster)
        models.find(model)
        make = partial(worker.whisper, model, profile, crew.share(workers))
        return cls(make, model, profile, workers, cluster)

    def hands(self, store: Store, only: Sequence[str] | None = None) -> Hands:
        """Put them on the jobs of `store` (those in `only`)."""
        from voicelog.work import follow

        if self.cluster is not None:
            from voicelog import cluster

            return cluster.ClusterHands(store, self.cluster, self.model, self.profile, only=only)
        if self.workers == 1:
            return follow.OwnHands(store, self.make, only=only, lanes=self.lanes)
        backlog = store.jobs.counts()["queued"] if only is None else len(only)
        return follow.CrewHands(store, self.make, self.workers, only=only, backlog=backlog)


@app.callback()
def listing(
    context: typer.Context,
    state: Annotated[State | None, typer.Option("--state", help="Only these.")] = None,
    limit: Annotated[int, typer.Option("--limit", min=1, help="At most so many.")] = 50,
    as_json: AsJson = False,
    home: Home = None,
) -> None:
    """List the job table: what waits, what is being heard, what was done, what failed and why."""
    if context.invoked_subcommand:
        return
    with shared.opened(context, home) as store:
        counts = store.jobs.counts()
        total = counts[state.value] if state else sum(counts.values())
        found = store.jobs.list(state.value if state else None, limit, max(0, total - limit))
    shared.print_rows([_row(job) for job in found], as_json)
    if not as_json:
        typer.echo(", ".join(f"{count} {name}" for name, count in counts.items()))


def _row(job: Job) -> dict[str, str]:
    request = job.request
    return {
        "job": job.id,
        "state": job.state,
        "tries": str(job.tries),
        "recording": request.name,
        "work order": request.work_order or "as said",
        "card": request.card or "as said",
        "step": request.step or "",
        "by": request.by,
        "draft": job.note or "",
        "reason": job.reason,
    }


@app.command()
def retry(
    context: typer.Context,
    jobs: Annotated[
        list[str] | None,
        typer.Argument(metavar="[JOB]...", help="Failed jobs; without any, all of them."),
    ] = None,
    home: Home = None,
) -> None:
    """Put failed jobs in line again."""
    with shared.opened(context, home) as store:
        again = store.jobs.retry(*jobs or ())
    typer.echo(f"{len(again)} in line again; work on them with: voicelog jobs work")


@app.command()
def work(
    context: typer.Context,
    workers: Workers = 1,
    cluster: Cluster = None,
    model: ModelName = None,
    fast: Fast = False,
    careful: Careful = False,
    home: Home = None,
) -> None:
    """Work on everything that is in line, then end."""
    from voicelog.work.follow import until_ended

    with shared.opened(context, home) as store:
        ids = tuple(
            job.id for state in ("queued", "leased") for job in store.jobs.list(state, 1_000_000)
        )
        if not ids:
            typer.echo("nothing is in line")
            return
        profile = shared.profile(fast, careful)
        listening = Listening.prepare(model, profile, workers, cluster, len(ids))
        ended = until_ended(store, ids, listening.hands(store))
        failed = 0
        for job in shared.progress(ended, "listening", len(ids)):
            if job.note is None:
                failed += 1
                shared.warn(f"voicelog: {job.id}: {job.reason}")
    typer.echo(f"{len(ids) - failed} drafts, {failed} failed")
    if failed:
        raise typer.Exit(1)
