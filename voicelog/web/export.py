"""Export for the clerk: choose, download as one ZIP file; and check one that came back."""

from __future__ import annotations

import io
import tempfile
import zipfile
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from starlette.background import BackgroundTask
from starlette.responses import FileResponse, Response

from voicelog import export as room
from voicelog.errors import VoicelogError
from voicelog.web import records, review
from voicelog.web.desk import BadRequest

if TYPE_CHECKING:
    from voicelog.web.desk import Visit

_UNPACKED_TIMES = 20
"""An uploaded ZIP file may grow to so many times the upload limit, no more."""


def ask(visit: Visit, error: str = "", status: int = 200) -> Response:
    """The form: which records, which format."""
    given = {name: visit.said(name) or visit.asked(name) for name in records.CONDITIONS}
    try:
        matches = visit.store.records.count(records.wanted(given, visit))
    except BadRequest as problem:
        matches, error, status = 0, error or str(problem), 422
    return visit.page(
        "export.html",
        status,
        conditions=given,
        matches=matches,
        formats=room.FORMATS,
        chosen=visit.said("format") or "csv",
        states=records.STATES,
        people=visit.store.people.list(),
        names=review.names(visit),
        error=error,
    )


def make(visit: Visit) -> Response:
    """The export as a ZIP file, its manifest inside."""
    conditions = {name: visit.said(name) for name in records.CONDITIONS}
    format_ = visit.said("format")
    place = tempfile.TemporaryDirectory(prefix="voicelog-export-")
    try:
        if format_ not in room.FORMATS:
            raise BadRequest(visit.desk.texts.error.form)
        folder = Path(place.name) / "export"
        manifest = room.write(
            visit.store,
            records.wanted(conditions, visit),
            format_,
            folder,
            by=visit.me,
            house=visit.desk.site.name,
        )
        target = Path(place.name) / "export.zip"
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in sorted(folder.iterdir()):
                archive.write(path, path.name)
    except VoicelogError as error:
        place.cleanup()
        return ask(visit, str(error), 422)
    except BaseException:
        place.cleanup()
        raise
    name = f"export-{format_}-{manifest.written_at[:10]}.zip"
    return FileResponse(
        target,
        media_type="application/zip",
        filename=name,
        background=BackgroundTask(place.cleanup),
    )


def ask_check(visit: Visit, error: str = "", status: int = 200) -> Response:
    """The form for an export that came back."""
    return visit.page("export_check.html", status, error=error, manifest=None, faults=())


def check(visit: Visit) -> Response:
    """Compare every file of an export with its signed manifest."""
    file = visit.files.get("export")
    if file is None or not file.data:
        return ask_check(visit, visit.desk.texts.export.no_file, 422)
    with tempfile.TemporaryDirectory(prefix="voicelog-check-") as place:
        folder = Path(place)
        try:
            _unpack(visit, file.data, folder)
            faults = room.verify(folder)
            manifest = room.read(folder)
        except (VoicelogError, zipfile.BadZipFile, OSError, NotImplementedError) as error:
            message = str(error) if isinstance(error, VoicelogError) else ""
            return ask_check(visit, message or visit.desk.texts.export.not_zip, 422)
    return visit.page(
        "export_check.html",
        manifest=manifest,
        faults=faults,
        ours=manifest.public_key == visit.store.key.public,
        error="",
    )


def _unpack(visit: Visit, data: bytes, folder: Path) -> None:
    """The plain files of a ZIP file, side by side. Raises BadRequest for anything else."""
    most = visit.desk.site.limits.upload_mb * 1_000_000 * _UNPACKED_TIMES
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for member in archive.infolist():
            parts = PurePosixPath(member.filename).parts
            if member.is_dir() or parts != (member.filename,) or member.filename in (".", ".."):
                raise BadRequest(visit.desk.texts.export.not_zip, 422)
            most -= member.file_size
            if most < 0:
                raise BadRequest(visit.desk.texts.export.not_zip, 422)
            with archive.open(member) as source, (folder / member.filename).open("wb") as target:
                left = member.file_size
                while piece := source.read(1 << 20):
                    left -= len(piece)
                    if left < 0:
                        raise BadRequest(visit.desk.texts.export.not_zip, 422)
                    target.write(piece)
