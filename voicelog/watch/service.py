"""Look, take, wait for the job table, put away: again and again, whatever happens between.

Nothing is remembered but in the job table and in the folder itself. Whenever the process is
killed, a recording is either still in the folder, then it is looked at again and recognised
by its digest, or its job has ended, then it is put away.
"""

from __future__ import annotations

import logging
import time
from contextlib import closing
from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicelog.errors import AudioError, HomeError, VoicelogError
from voicelog.speech import audio as sound
from voicelog.watch.folder import DONE, FAILED, Folder, Seen, look
from voicelog.work import intake

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from voicelog.records import Job, Store
    from voicelog.watch.rules import Rules
    from voicelog.work.follow import Hands
    from voicelog.work.intake import Heading

log = logging.getLogger("voicelog.watch")

POLL_S = 0.5
"""Pause between two looks when there is nothing else to do."""
PATIENCE_S = 60.0
"""So long a file that can't be decoded, or lacks its side-car, may still be on its way."""


@dataclass(frozen=True, slots=True)
class PutAway:
    """What became of one file."""

    name: str
    path: Path
    """Where it is now."""
    reason: str
    job: Job | None = None

    @property
    def done(self) -> bool:
        return self.job is not None and self.job.state == "done"


@dataclass(frozen=True, slots=True)
class _Taken:
    """A file whose job is in the table, as it stood when it was read."""

    job: str
    seen: Seen


class Watch:
    """One folder, one home."""

    def __init__(
        self, store: Store, folder: Folder, rules: Rules, *, patience_s: float = PATIENCE_S
    ) -> None:
        self._store = store
        self._folder = folder
        self._rules = rules
        self._patience_s = patience_s
        self._taken: dict[Path, _Taken] = {}
        self._warned: set[str] = set()

    def look(self) -> tuple[PutAway, ...]:
        """Take what is complete, put away what is finished.

        A folder that can't be read just now (a share that is not mounted) is tried again at
        the next call. Raises HomeError when the home can't be used.
        """
        try:
            ended = self._settle_up()
            for path, still_s in self._folder.settled():
                if path not in self._taken:
                    ended += self._take(path, still_s)
            return tuple(ended)
        except OSError as error:
            self._warn(f"{error.filename or self._folder.path}: {error.strerror or error}")
            return ()

    def idle(self) -> bool:
        """Whether nothing was in the folder at the last look."""
        return not self._taken and not self._folder.waiting()

    def _settle_up(self) -> list[PutAway]:
        """Put away the files whose jobs have ended."""
        ended = []
        jobs = {
            job.id: job for job in self._store.jobs.ended({t.job for t in self._taken.values()})
        }
        for path, taken in list(self._taken.items()):
            if look(path) != taken.seen:
                del self._taken[path]  # gone, or written to since: it is looked at anew
            elif taken.job in jobs:
                job = jobs[taken.job]
                del self._taken[path]
                ended += self._put_away(path, _outcome(job), job)
        return ended

    def _take(self, path: Path, still_s: float) -> list[PutAway]:
        try:
            read = self._read(path)
            if read is not None:
                data, seen, heading = read
                self._taken[path] = _Taken(self._queue(data, path.name, heading).id, seen)
        except HomeError:
            raise
        except AudioError as error:
            # a copy that stalls looks like a damaged recording: give it time
            if still_s >= self._patience_s:
                return self._put_away(path, str(error), None)
        except VoicelogError as error:
            return self._put_away(path, str(error), None)
        return []

    def _read(self, path: Path) -> tuple[bytes, Seen, Heading] | None:
        """A file that stood still while it was read; None for one that did not."""
        sidecar = self._folder.sidecar(path)
        if sidecar is None and self._rules.wants_sidecar(path.name):
            raise AudioError(f"{path.name}: its side-car has not come")
        heading = self._rules.heading(path.name, sidecar)
        seen = look(path)
        if seen is None:
            return None
        if seen.size > sound.MAX_BYTES:
            raise AudioError(f"{path.name}: larger than {sound.MAX_BYTES // 2**20} MiB")
        data = path.read_bytes()
        return (data, seen, heading) if look(path) == seen and len(data) == seen.size else None

    def _queue(self, data: bytes, name: str, heading: Heading) -> Job:
        """The job of a recording; each recording has one, whatever files hold it.

        Raises VoicelogError when it was taken under another heading.
        """
        intake.check(data, name)
        wanted = intake.request(self._store.audio.keep(data), name, heading)
        for other in self._store.jobs.of_audio(wanted.audio):
            if other.state != "failed" and other.request.token != wanted.token:
                place = f"work order {other.request.work_order or 'announced'}"
                raise VoicelogError(
                    f"{name}: the same recording came before as {other.request.name} for {place} "
                    f"(job {other.id}); if it belongs here, too, use: voicelog add"
                )
        job = self._store.jobs.queue(wanted)
        if job.state == "failed":  # dropped in once more: somebody hopes for the better
            (job,) = self._store.jobs.retry(job.id)
        return job

    def _put_away(self, path: Path, reason: str, job: Job | None) -> list[PutAway]:
        where = DONE if job is not None and job.state == "done" else FAILED
        try:
            target = self._folder.put_away(path, where, reason)
        except FileNotFoundError:
            return []  # somebody else took it out of the folder
        except OSError as error:
            self._warn(f"{path}: can't be moved to {where} ({error.strerror}); tried again later")
            return []
        return [PutAway(path.name, target, reason, job)]

    def _warn(self, sentence: str) -> None:
        if sentence not in self._warned:
            self._warned.add(sentence)
            log.warning(sentence)


def _outcome(job: Job) -> str:
    if job.state == "done":
        return (
            f"draft {job.note} (job {job.id}); decide its values with: voicelog review {job.note}"
        )
    return f"{job.reason} (job {job.id})"


def run(watch: Watch, hands: Hands, *, once: bool = False) -> Iterator[PutAway]:
    """Watch for ever, or until the folder is empty (`once`); what became of each file.

    Closes `hands` at the end. Raises HomeError, ModelError: nothing is lost then, the files
    are in the folder and their jobs in the table.
    """
    with closing(hands):
        while True:
            yield from watch.look()
            busy = hands.look()
            if once and watch.idle():
                return
            if not busy:
                time.sleep(POLL_S)
