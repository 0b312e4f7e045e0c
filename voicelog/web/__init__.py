"""The pages: dictate with gloves on, review, records, upkeep.

    serve(home, host, port)   run them until stopped
    create(home) -> ASGI app  the same for tests and other servers

Rooms of the pages, a noun a file: `app` holds the one table of routes and roles; `account`,
`dictate`, `handed`, `review`, `again`, `inspection`, `records`, `orders`, `export`, `upkeep`,
`sound` show them; `channel`, `listener`, `dictation`, `spool`, `journal`, `folder`, `live`,
`recognition`, `overflow`, `control`, `readback` are the dictation that goes on; `backlog`
hears recordings that were handed in; `sheet`, `board`, `listened`, `render` lay things out;
`sessions`, `security`, `tls`, `site` are the door.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from starlette.types import ASGIApp

    from voicelog.records import Store
    from voicelog.web.overflow import Overflow
    from voicelog.web.recognition import Recognition
    from voicelog.web.site import Site
    from voicelog.work.follow import Hands

__all__ = ["create", "hands", "serve"]


def create(
    store: Store,
    site: Site,
    recognition: Recognition | None = None,
    *,
    tls: bool = False,
    cluster: str | None = None,
    hands: Sequence[Callable[[], Hands]] = (),
) -> ASGIApp:
    """The application over an open store. Raises ConfigError, ClusterError, ModelError.

    `recognition` is the real recogniser of the site's settings unless a test brings its own;
    `hands` work on recordings that are handed in, the first of them by preference. `cluster`
    is the address of one for utterances that would have to wait here.
    """
    from functools import partial

    from voicelog.web import app, render, review
    from voicelog.web import recognition as hearing
    from voicelog.web import site as settings
    from voicelog.web.backlog import Backlog
    from voicelog.web.desk import Desk
    from voicelog.web.live import Live
    from voicelog.web.security import Rate
    from voicelog.web.sessions import Sessions

    words = settings.texts(site.language)
    if recognition is None:
        wanted = site.dictation
        recognition = hearing.Recognition(
            partial(hearing.whisper, wanted.model, wanted.profile),
            overflow=_overflow(cluster, site) if cluster else None,
        )
    review.instead_of("N*m")  # loads all units: the first review must not wait for them
    desk = Desk(
        store=store,
        site=site,
        texts=words,
        sessions=Sessions(store.home / "sessions", site.limits.session_hours),
        templates=render.environment(site, words),
        live=Live(store, recognition, site, words),
        backlog=Backlog(store, hands),
        uploads=Rate(site.limits.uploads_per_minute),
        sign_ins=Rate(site.limits.sign_ins_per_minute),
        tls=tls,
    )
    return app.build(desk)


def _overflow(url: str, site: Site) -> Overflow:
    from voicelog.cluster import Live
    from voicelog.web.overflow import Overflow

    return Overflow(Live(url, site.dictation.model or None, site.dictation.profile))


def hands(
    store: Store, site: Site, workers: int, cluster: str | None = None
) -> tuple[Callable[[], Hands], ...]:
    """Who works on recordings that are handed in: the cluster first where there is one."""
    from voicelog.web import backlog

    model, profile = site.dictation.model, site.recordings.profile
    here = (backlog.own(store, model, profile, workers),) if workers else ()
    return (*((backlog.cluster(store, cluster, model, profile),) if cluster else ()), *here)


def serve(
    home: Path,
    host: str = "127.0.0.1",
    port: int = 8000,
    *,
    tls_cert: Path | None = None,
    tls_key: Path | None = None,
    tls_self_signed: bool = False,
    site: Path | None = None,
    workers: int = 1,
    cluster: str | None = None,
    say: Callable[[str], None] = print,
) -> None:
    """Run the pages until they are stopped; `say` gets the address and its QR code.

    A phone needs TLS, else its browser gives no microphone. `workers` processes hear the
    recordings that are handed in (0: somebody else works on the jobs); with `cluster` they
    only stand in for it. Raises ConfigError, HomeError, ClusterError, ModelError.
    """
    import contextlib

    import uvicorn

    from voicelog.errors import ConfigError
    from voicelog.records import Store
    from voicelog.web import site as settings
    from voicelog.web import tls

    chosen = settings.load(site)
    if (tls_cert is None) != (tls_key is None):
        raise ConfigError("give both --tls-cert and --tls-key, or --tls-self-signed")
    with Store.open(home) as store:
        if tls_self_signed and tls_cert is None:
            tls_cert, tls_key = tls.self_signed(store.home / "tls", host)
        encrypted = tls_cert is not None
        config = uvicorn.Config(
            create(
                store,
                chosen,
                tls=encrypted,
                cluster=cluster,
                hands=hands(store, chosen, workers, cluster),
            ),
            host=host,
            port=port,
            ssl_certfile=str(tls_cert) if tls_cert else None,
            ssl_keyfile=str(tls_key) if tls_key else None,
            ws_max_size=16_384,  # a frame has 3209 bytes
            ws_per_message_deflate=False,
            access_log=False,  # addresses name work orders; the pages log routes instead
            server_header=False,
            timeout_graceful_shutdown=5,
            log_level="warning",
        )
        for line in _greeting(host, port, encrypted=encrypted):
            say(line)
        with contextlib.suppress(KeyboardInterrupt):  # Ctrl+C is how it is meant to end
            uvicorn.Server(config).run()


def _greeting(host: str, port: int, *, encrypted: bool) -> list[str]:
    """Where the pages are, and the QR code of it where a phone can reach them."""
    import io

    import segno

    from voicelog.web import tls

    scheme = "https" if encrypted else "http"
    everywhere = host in ("0.0.0.0", "::")  # noqa: S104 — compared, not bound
    address = f"{scheme}://{tls.own_address() if everywhere else host}:{port}/"
    lines = [f"voicelog is at {address}  (stop with Ctrl+C)"]
    if everywhere or host not in ("127.0.0.1", "localhost", "::1"):
        picture = io.StringIO()
        segno.make(address, error="m").terminal(out=picture, compact=True)
        lines.append(picture.getvalue())
        if not encrypted:
            lines.append("Without TLS no phone gives the microphone: add --tls-self-signed")
    return lines
