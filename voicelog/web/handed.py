"""Recordings made elsewhere: handed in, put in line, and how far each one is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import anyio.to_thread

from voicelog.errors import AudioError, Denied, VoicelogError
from voicelog.web import dictate
from voicelog.work import intake

if TYPE_CHECKING:
    from starlette.responses import Response

    from voicelog.objects import Card
    from voicelog.records import Job
    from voicelog.web.desk import Visit

SHOWN = 8
"""Recordings of the same person that the form lists below itself."""
_NAME = 120
"""Characters of a file's name that are kept."""


def ask(visit: Visit, status: int = 200, error: str = "") -> Response:
    """The form for a recording, and those that this person has handed in."""
    jobs = visit.store.jobs.of(visit.me, SHOWN)
    return dictate.choice(visit, "dictate_upload.html", status, error, jobs=jobs)


async def take(visit: Visit) -> Response:
    """A recording comes in: on the disk and in line when the answer goes out."""
    return await anyio.to_thread.run_sync(_take, visit)


def _take(visit: Visit) -> Response:
    file = visit.files.get("recording")
    try:
        if file is None or not file.data:
            raise AudioError(visit.desk.texts.dictate.no_file)
        start, card = dictate.start(visit)
        heading = intake.Heading(visit.me, start.work_order, card.number, card.revision, start.step)
        name = file.name.strip()[-_NAME:] or visit.desk.texts.dictate.recording
        longest_s = visit.desk.site.limits.upload_minutes * 60
        job = intake.take(visit.store, file.data, name, heading, longest_s)
    except VoicelogError as error:
        return ask(visit, 422, str(error))
    visit.desk.backlog.wake()
    return visit.go("dictate", "upload", job.id)


def _job(visit: Visit) -> Job:
    job = visit.store.jobs.get(visit.path("job"))
    if job.request.by != visit.me:
        raise Denied(visit.desk.texts.error.others_recording)
    return job


def _card(visit: Visit, job: Job) -> Card | None:
    """The card; None where the recording itself says which."""
    asked = job.request
    return visit.card(asked.card, asked.revision or None) if asked.card else None


def page(visit: Visit) -> Response:
    """How far a recording is; its draft as soon as there is one."""
    job = _job(visit)
    if job.note is not None:
        return visit.go("dictated", job.note)
    return visit.page(
        "handed.html",
        job=job,
        card=_card(visit, job),
        before=visit.store.jobs.before(job.id),
        trouble=visit.desk.backlog.trouble,
    )


def again(visit: Visit) -> Response:
    """Put a recording that failed in line once more."""
    job = _job(visit)
    visit.store.jobs.retry(job.id)
    visit.desk.backlog.wake()
    return visit.go("dictate", "upload", job.id)
