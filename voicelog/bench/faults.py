"""What is left after a kill, a full disk, a disk that can't be written, eight writers at once.

A worker process does one kind of act over and over and notes down each one after it was
acknowledged; it is killed (SIGKILL) at a random moment. Then the home must verify without a
fault, hold all that was acknowledged, and hold nothing twice, although the next worker
begins with the very act that the last one may or may not have finished.
"""

from __future__ import annotations

import multiprocessing
import os
import random
import resource
import shutil
import signal
import subprocess
import tempfile
import time
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from voicelog.bench.acknowledged import Account, Log
from voicelog.bench.invented import CHEAP, REVIEWERS, confirmed, draft, founded
from voicelog.errors import HomeError, VoicelogError
from voicelog.records import Filter, Store, backup, schema, verify

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

LONGEST_S = {"add": 0.25, "confirm": 0.25, "export": 0.4, "backup": 1.0, "migration": 0.1}
"""Kinds of act; a worker is killed at a moment between its start and this."""

_FORK = multiprocessing.get_context("fork")
_TRIAL = (
    "0000_trial",
    (
        "CREATE TABLE trial(note TEXT PRIMARY KEY, content TEXT NOT NULL) STRICT",
        "INSERT INTO trial SELECT id, content FROM notes",
        "CREATE INDEX trial_content ON trial(content)",
        "ALTER TABLE trial ADD COLUMN more TEXT",
        "UPDATE trial SET more = upper(content)",
    ),
)
"""A step of the schema for upgrading an older home."""


@dataclass(frozen=True, slots=True)
class FaultRow:
    """What one kind of trouble left behind; `lost`, `doubled` and `faults` should be 0."""

    trouble: str
    times: int
    acknowledged: int
    lost: int
    doubled: int
    faults: tuple[str, ...]
    slowest_s: float | None = None
    """Longest time one act took, where that was measured."""

    @property
    def good(self) -> bool:
        return not (self.lost or self.doubled or self.faults)


# --- workers, each in a process of its own ----------------------------------------------


def _adds(store: Store, log: Log, number: int, confirm: bool) -> None:
    while True:
        token = f"token {number}"
        sha256 = store.audio.keep(token.encode() * 500)
        note = store.notes.add(draft(token, audio=sha256), "W-1", "tom", token=token)
        log.write("note", note.id, token)
        if confirm and note.state == "open":
            log.write("record", confirmed(store, note, f"rev{number % REVIEWERS}").id)
        number += 1


def _exports(store: Store, log: Log, folder: Path) -> None:
    from voicelog import export

    while True:
        target = folder / f"export-{time.monotonic_ns()}"
        export.write(store, Filter(limit=20), "jsonl", target, by="ada")
        log.write("export", target.name)


def _backups(store: Store, log: Log, folder: Path) -> None:
    while True:
        target = folder / f"backup-{time.monotonic_ns()}"
        backup(store, target, by="ada")
        log.write("backup", target.name)


def _worker(act: str, home: Path, log: Log, number: int) -> None:
    try:
        if act == "migration":
            schema.STEPS = (*schema.STEPS, _TRIAL)
        with Store.open(home, cost=CHEAP) as store:
            if act == "migration":
                log.write("migration", "done")
            elif act == "export":
                _exports(store, log, home.parent)
            elif act == "backup":
                _backups(store, log, home.parent)
            else:
                _adds(store, log, number, confirm=act == "confirm")
    except BaseException as error:
        log.write("error", type(error).__name__, str(error))
    os._exit(0)


def _killed(act: str, home: Path, log: Log, number: int, after_s: float) -> None:
    worker = _FORK.Process(target=_worker, args=(act, home, log, number))
    worker.start()
    worker.join(after_s)
    if worker.pid is not None and worker.is_alive():
        os.kill(worker.pid, signal.SIGKILL)
    worker.join()


# --- what must hold afterwards ----------------------------------------------------------


@contextmanager
def _trial_step() -> Iterator[None]:
    before = schema.STEPS
    schema.STEPS = (*before, _TRIAL)
    try:
        yield
    finally:
        schema.STEPS = before


def _after(act: str, home: Path, folder: Path) -> list[str]:
    """Faults of the home, and of whatever the killed worker left under a final name."""
    if act == "migration":
        with _trial_step():
            faults = [str(fault) for fault in verify(home)]
            Store.open(home, cost=CHEAP).close()
            return faults + [str(fault) for fault in verify(home)]
    faults = [str(fault) for fault in verify(home)]
    for copy in folder.glob("backup-*"):
        faults += [f"{copy.name}: {fault}" for fault in verify(copy)]
        shutil.rmtree(copy)
    for out in folder.glob("export-*"):
        from voicelog import export

        faults += [f"{out.name}: {fault}" for fault in export.verify(out)]
        shutil.rmtree(out)
    for left in folder.glob(".*.partial"):
        shutil.rmtree(left)
    return faults


def kills(
    times: int,
    folder: Path,
    *,
    seed: int = 0,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[FaultRow, ...]:
    """Kill a worker `times` times, each kind of act in turn. A row for each kind."""
    chance = random.Random(seed)  # noqa: S311 — moments to kill at, no secret
    home, account = folder / "home", Account()
    with founded(home) as store:  # an export needs something to hand out
        text = "token 0"
        note = store.notes.add(draft(text), "W-1", "tom", token=text)
        account.book([("note", note.id, text), ("record", confirmed(store, note, "rev0").id, "")])
    rows: dict[str, list[tuple[int, int, int, list[str]]]] = {act: [] for act in LONGEST_S}
    for number in range(times):
        act = tuple(LONGEST_S)[number % len(LONGEST_S)]
        place, before = home, account.size
        if act == "migration":
            place = folder / "older"
            shutil.copytree(home, place)
        log = Log(folder / f"log-{number}")
        _killed(act, place, log, account.next_token, chance.uniform(0, LONGEST_S[act]))
        lines = log.read()
        account.book(lines)
        faults = _after(act, place, folder) + account.errors
        account.errors = []
        lost, doubled = account.settle(home)
        done = account.size - before or sum(line[0] == act for line in lines)
        rows[act].append((done, lost, doubled, faults))
        if act == "migration":
            shutil.rmtree(place)
        if progress:
            progress(number + 1, times)
    return tuple(
        FaultRow(
            f"killed while: {act}",
            len(found),
            sum(done for done, *_ in found),
            max((lost for _, lost, _, _ in found), default=0),
            max((doubled for _, _, doubled, _ in found), default=0),
            tuple(fault for *_, faults in found for fault in faults),
        )
        for act, found in rows.items()
    )


# --- disks ------------------------------------------------------------------------------


def _until_refused(home: Path, log: Log, largest: int | None) -> None:
    """Adds and confirms until the disk refuses; anything but a HomeError is a fault."""
    if largest is not None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (largest, largest))
    try:
        with Store.open(home, cost=CHEAP) as store:
            _adds(store, log, 0, confirm=True)
    except HomeError:
        log.write("refused", "clearly")
    except BaseException as error:
        log.write("error", type(error).__name__, str(error))
    os._exit(0)


def _refused(
    trouble: str, home: Path, log: Log, account: Account, largest: int | None = None
) -> FaultRow:
    """A worker goes on until the disk refuses (or a file would grow beyond `largest` bytes)."""
    worker = _FORK.Process(target=_until_refused, args=(home, log, largest))
    worker.start()
    worker.join(120)
    if worker.is_alive():
        worker.kill()
    lines = log.read()
    account.book(lines)
    faults = [str(fault) for fault in verify(home)] + account.errors
    if not any(act == "refused" for act, *_ in lines):
        faults.append("the disk refused and nobody was told")
    return FaultRow(trouble, 1, account.size, 0, 0, tuple(faults))


@contextmanager
def small_disk(place: Path, size: str = "3m") -> Iterator[Path]:
    """A real disk of its own in memory. Raises OSError where mounting is not allowed."""
    place.mkdir()
    mount = ("mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place))
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        place.rmdir()
        raise OSError("mounting is not allowed here")
    try:
        yield place
    finally:
        subprocess.run(("umount", "--lazy", str(place)), check=True)
        place.rmdir()


def mounting_allowed(folder: Path) -> bool:
    """Whether this process may have a small disk of its own."""
    try:
        with small_disk(folder / "trial"):
            return True
    except OSError:
        return False


def disks(folder: Path) -> tuple[FaultRow, ...]:
    """A disk that runs full and one that turns read-only.

    Where mounting is not allowed, a limit on the size of a file stands for the full disk, and
    the read-only one is left out.
    """
    account = Account()
    if not mounting_allowed(folder):
        founded(folder / "limited").close()
        log = Log(folder / "log-limited")
        full = _refused("file too large", folder / "limited", log, account, largest=1_500_000)
        return (_settled(full, folder / "limited", account),)
    with small_disk(folder / "disk") as disk:
        home = disk / "home"
        founded(home).close()
        full = _refused("disk full", home, Log(folder / "log-full"), account)
        subprocess.run(("mount", "-o", "remount,size=16m", str(disk)), check=True)
        full = _settled(full, home, account)
        subprocess.run(("mount", "-o", "remount,ro", str(disk)), check=True)
        barred = _refused("disk read-only", home, Log(folder / "log-read-only"), Account())
        subprocess.run(("mount", "-o", "remount,rw", str(disk)), check=True)
        return full, _settled(barred, home, account)


def _settled(row: FaultRow, home: Path, account: Account) -> FaultRow:
    lost, doubled = account.settle(home)
    return replace(row, lost=lost, doubled=doubled)


# --- many at once -----------------------------------------------------------------------


def _one_of_many(home: Path, log: Log, who: int, seconds: float) -> None:
    slowest, number, until = 0.0, 0, time.monotonic() + seconds
    try:
        with Store.open(home, cost=CHEAP) as store:
            while time.monotonic() < until:
                began = time.monotonic()
                text = f"worker {who} note {number}"
                note = store.notes.add(draft(text), f"W-{who}", "tom", token=text)
                log.write("note", note.id, text)
                slowest = max(slowest, time.monotonic() - began)
                began = time.monotonic()
                log.write("record", confirmed(store, note, f"rev{who % REVIEWERS}").id)
                slowest = max(slowest, time.monotonic() - began)
                number += 1
    except VoicelogError as error:
        log.write("error", type(error).__name__, str(error))
    except BaseException as error:
        log.write("error", type(error).__name__, str(error))
    log.write("slowest", f"{slowest:.3f}")
    os._exit(0)


def together(folder: Path, *, processes: int = 8, seconds: float = 60) -> FaultRow:
    """So many processes add and confirm at once; an error that a user would see is a fault."""
    home = folder / "shared"
    founded(home).close()
    logs = [Log(folder / f"log-shared-{who}") for who in range(processes)]
    workers = [
        _FORK.Process(target=_one_of_many, args=(home, log, who, seconds))
        for who, log in enumerate(logs)
    ]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    account, slowest = Account(), 0.0
    for log in logs:
        lines = log.read()
        account.book(lines)
        slowest = max([slowest, *(float(what) for act, what, _ in lines if act == "slowest")])
    lost, doubled = account.settle(home)
    faults = (*(str(fault) for fault in verify(home)), *account.errors)
    name = f"{processes} processes for {seconds:g} s"
    return FaultRow(name, processes, account.size, lost, doubled, faults, slowest)


def run(
    times: int = 200,
    *,
    seconds: float = 60,
    processes: int = 8,
    seed: int = 0,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[FaultRow, ...]:
    """All of it on homes that are thrown away; a row for each kind of trouble."""
    with tempfile.TemporaryDirectory(prefix="voicelog-faults-") as name:
        folder = Path(name)
        return (
            *kills(times, folder, seed=seed, progress=progress),
            *disks(folder),
            together(folder, processes=processes, seconds=seconds),
        )
