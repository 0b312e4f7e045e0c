"""The home folder: made once, upgraded with a copy first, never half-written."""

from __future__ import annotations

import errno
import multiprocessing
import os
import sqlite3
import stat
import threading
from pathlib import Path
from typing import Any

import pytest

from tests.records.scene import CHEAP, SECRET, STEP_10, StandingClock, draft
from voicelog.errors import Conflict, HomeError, NotFound
from voicelog.records import Person, Store, keys, schema, verify
from voicelog.records.connection import DATABASE


def test_a_home_is_made_on_first_use(home: Path) -> None:
    with Store.open(home) as first:
        site = first.site
    with Store.open(home) as again:
        assert again.site == site
        assert again.ledger.head() is not None
    assert stat.S_IMODE(home.stat().st_mode) == 0o700
    assert stat.S_IMODE((home / "site.key").stat().st_mode) == 0o600
    assert verify(home) == ()


def test_the_store_is_set_up_to_keep_what_it_acknowledged(store: Store) -> None:
    db = store.connections.db
    for pragma, value in (("journal_mode", "wal"), ("synchronous", 2), ("foreign_keys", 1)):
        assert db.execute(f"PRAGMA {pragma}").fetchone()[0] == value
    strict = db.execute(
        "SELECT name FROM pragma_table_list WHERE type = 'table' AND NOT strict"
        " AND name NOT LIKE 'sqlite~_%' ESCAPE '~' AND name NOT LIKE '~_sqlite%' ESCAPE '~'"
    ).fetchall()
    assert strict == []


def test_a_home_of_a_newer_version_is_refused(store: Store) -> None:
    store.connections.db.execute(
        "INSERT INTO _sqlite_migrations(migration_set, name, applied_at)"
        " VALUES ('voicelog', '9999_future', '2030-01-01')"
    )
    store.close()
    with pytest.raises(HomeError, match=r"newer version of voicelog .*9999_future"):
        Store.open(store.home)
    with pytest.raises(HomeError, match="newer version"):
        verify(store.home)


def add_step(monkeypatch: pytest.MonkeyPatch, *statements: str) -> None:
    monkeypatch.setattr(schema, "STEPS", (*schema.STEPS, ("9998_test", statements)))


def test_an_older_home_is_upgraded_with_a_copy_first(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    note = store.notes.add(draft(*STEP_10), "W-1", "tom")
    last = schema.STEPS[-1][0]
    store.close()
    add_step(monkeypatch, "CREATE TABLE more(x TEXT) STRICT")
    with Store.open(store.home, cost=CHEAP) as upgraded:
        assert upgraded.notes.get(note.id) == note
        assert upgraded.connections.db.execute("SELECT count(*) FROM more").fetchone()[0] == 0
        head = upgraded.ledger.head()
        assert head is not None
        assert (head.act, "9998_test" in head.detail) == ("store upgraded", True)
    assert verify(store.home) == ()
    copy = sqlite3.connect(store.home / "backups" / f"before-upgrade-from-{last}.db")
    assert copy.execute("SELECT id FROM notes").fetchall() == [(note.id,)]
    assert not copy.execute("SELECT 1 FROM sqlite_master WHERE name = 'more'").fetchall()
    copy.close()


def test_an_upgrade_that_fails_changes_nothing(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.close()
    with monkeypatch.context() as patch:
        add_step(patch, "CREATE TABLE more(x TEXT) STRICT", "CREATE TABLE more(x TEXT) STRICT")
        with pytest.raises(sqlite3.OperationalError, match="already exists"):
            Store.open(store.home)
    with Store.open(store.home) as same:
        assert schema.applied(same.connections.db) == tuple(name for name, _ in schema.STEPS)
        assert not same.connections.db.execute(
            "SELECT 1 FROM sqlite_master WHERE name = 'more'"
        ).fetchall()


def test_a_home_can_be_verified_before_it_is_upgraded(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.close()
    add_step(monkeypatch, "CREATE TABLE more(x TEXT) STRICT")
    assert verify(store.home) == ()


def test_a_file_that_is_no_database(home: Path) -> None:
    home.mkdir()
    (home / DATABASE).write_bytes(b"this is not a database, but long enough to look at" * 100)
    with pytest.raises(HomeError, match="is damaged"):
        Store.open(home)


def test_a_home_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "home").write_text("x")
    with pytest.raises(HomeError, match="can't be used"):
        Store.open(tmp_path / "home")


def test_a_lost_site_key_is_no_silent_new_one(store: Store) -> None:
    store.close()
    (store.home / "site.key").unlink()
    with pytest.raises(HomeError, match="restore it from a backup"):
        Store.open(store.home)
    (store.home / "site.key").write_text(keys.new_seed().hex())
    with pytest.raises(HomeError, match="not this site's"):
        Store.open(store.home)
    (store.home / "site.key").write_text("not a key")
    with pytest.raises(HomeError, match="not a signing key"):
        Store.open(store.home)


# --- disks ----------------------------------------------------------------------------


def as_nobody(work: Any) -> Any:
    """The result of `work`, run by a process that is not the superuser."""
    with multiprocessing.get_context("fork").Pool(1, os.setuid, (65534,)) as pool:
        return pool.apply(work)


def try_to_open(home: Path) -> str:
    try:
        Store.open(home).close()
    except HomeError as error:
        return str(error)
    return ""


@pytest.mark.skipif(os.geteuid() != 0, reason="gives up the superuser's rights to be refused")
@pytest.mark.parametrize("new", [True, False])
def test_a_home_that_can_not_be_written(new: bool, tmp_path: Path, founded: Path) -> None:
    import functools
    import shutil

    for folder in (tmp_path, *tmp_path.parents):
        if folder.owner() == "root" and folder != Path("/"):
            folder.chmod(folder.stat().st_mode | 0o055)
    home = tmp_path / "home"
    if not new:
        shutil.copytree(founded, home)
        home.chmod(0o555)
        (home / DATABASE).chmod(0o444)
    else:
        tmp_path.chmod(0o555)
    message = as_nobody(functools.partial(try_to_open, home))
    assert "can't be" in message
    assert str(home) in message


def full_disk(store: Store) -> None:
    """No page more: SQLite answers as on a full disk."""
    pages = store.connections.db.execute("PRAGMA page_count").fetchone()[0]
    store.connections.db.execute(f"PRAGMA max_page_count = {pages}")


def test_a_full_disk_loses_nothing_that_was_there(store: Store) -> None:
    first = store.notes.add(draft(*STEP_10), "W-1", "tom")
    full_disk(store)
    long = draft(*STEP_10, text="word " * 50_000)
    with pytest.raises(HomeError, match="the disk is full; nothing was changed"):
        store.notes.add(long, "W-2", "tom")
    assert store.notes.get(first.id) == first
    with pytest.raises(NotFound):
        store.orders.get("W-2")
    store.connections.db.execute("PRAGMA max_page_count = 1000000")
    assert store.notes.add(long, "W-2", "tom").id == "N-000002"
    assert verify(store.home) == ()


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EIO])
def test_a_recording_that_does_not_fit_leaves_nothing(
    store: Store, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    def refuse(handle: int) -> None:
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", refuse)
        with pytest.raises(HomeError):
            store.audio.keep(b"a recording")
    assert list(store.audio.digests()) == []
    assert list((store.audio.folder / "partial").iterdir()) == []
    sha256 = store.audio.keep(b"a recording")
    assert store.audio.read(sha256) == b"a recording"


# --- several at once ---------------------------------------------------------------------


def test_a_second_writer_is_told_when_the_first_one_takes_too_long(
    founded: Path, home: Path
) -> None:
    import shutil

    shutil.copytree(founded, home)
    with Store.open(home, wait_s=0.2, cost=CHEAP) as mine, Store.open(home) as theirs:
        with theirs.connections.writing():
            with pytest.raises(HomeError, match="another program has been writing for more than"):
                mine.notes.add(draft(*STEP_10), "W-1", "tom")
            assert mine.notes.waiting() == 0, "reading never waits"
        mine.notes.add(draft(*STEP_10), "W-1", "tom")


def test_threads_share_a_store(store: Store) -> None:
    errors: list[BaseException] = []

    def work() -> None:
        try:
            for _ in range(5):
                store.notes.add(draft(*STEP_10), "W-1", "tom")
        except BaseException as error:
            errors.append(error)

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert errors == []
    assert store.notes.waiting() == 20
    assert verify(store.home) == ()


def found(home: Path) -> str:
    with Store.open(home, cost=CHEAP) as store:
        return store.site


def test_processes_that_found_a_home_at_once_agree(home: Path) -> None:
    with multiprocessing.get_context("spawn").Pool(4) as pool:
        sites = pool.map(found, [home] * 4)
    assert len(set(sites)) == 1
    assert verify(home) == ()


def open_and_fail(store: Store, number: str) -> None:
    with store.connections.writing():
        store.orders.ensure(number, by="tom")
        raise ZeroDivisionError


def test_a_failed_act_leaves_no_trace(store: Store) -> None:
    before = store.ledger.head()
    with pytest.raises(ZeroDivisionError):
        open_and_fail(store, "W-1")
    assert store.ledger.head() == before
    with pytest.raises(NotFound):
        store.orders.get("W-1")


def test_a_nested_act_that_fails_takes_back_itself_only(store: Store) -> None:
    with store.connections.writing():
        store.orders.ensure("W-1", by="tom")
        with pytest.raises(ZeroDivisionError):
            open_and_fail(store, "W-2")
    assert [o.number for o in store.orders.list()] == ["W-1"]


# --- shelves ------------------------------------------------------------------------------


def test_recordings_lie_under_their_digest_once(store: Store) -> None:
    # SHA-256 of "abc": FIPS 180-4, example B.1
    sha256 = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert store.audio.keep(b"abc") == store.audio.keep(b"abc") == sha256
    assert store.audio.path(sha256) == store.home / "audio" / "ba" / sha256[2:]
    assert list(store.audio.digests()) == [sha256]


def test_a_damaged_recording_is_mended_when_it_comes_again(store: Store) -> None:
    sha256 = store.audio.keep(b"abc")
    store.audio.path(sha256).write_bytes(b"ab")
    assert store.audio.keep(b"abc") == sha256
    assert store.audio.read(sha256) == b"abc"


@pytest.mark.parametrize("name", ["", "ab", "../../etc/passwd", "A" * 64, "ab" * 32])
def test_no_other_file_is_reached_through_a_digest(store: Store, name: str) -> None:
    with pytest.raises(NotFound):
        store.audio.read(name)


def test_what_an_interrupted_writer_left_is_swept_after_a_day(store: Store) -> None:
    store.audio.keep(b"abc")
    left = store.audio.folder / "partial" / "left"
    left.write_bytes(b"a")
    assert store.audio.sweep() == 0
    os.utime(left, (0, 0))
    store.close()
    Store.open(store.home).close()
    assert not left.exists()


def test_a_revision_of_a_card_never_changes(store: Store) -> None:
    from tests.records.scene import CARD

    assert store.cards.add(CARD, "again.yaml", by="ada") == store.cards.get("TB-10")
    with pytest.raises(Conflict, match="give the changed card a new revision"):
        store.cards.add(CARD.replace(b"105", b"115"), "changed.yaml", by="ada")
    newer = store.cards.add(CARD.replace(b'revision: "1"', b'revision: "2"'), "n.yaml", by="ada")
    assert store.cards.get("TB-10") == newer
    assert store.cards.get("TB-10", "1").revision == "1"
    assert store.cards.source("TB-10", "1") == CARD
    assert [(e.revision, e.name) for e in store.cards.list("TB-10")] == [
        ("1", "bearing.yaml"),
        ("2", "n.yaml"),
    ]


def test_a_person_needs_no_card_shelf(home: Path, clock: StandingClock) -> None:
    with Store.open(home, clock=clock, cost=CHEAP) as store:
        store.people.add(Person("ada", "Ada Birch", ("administrator",)), SECRET, by=None)
        assert store.cards.list() == ()
