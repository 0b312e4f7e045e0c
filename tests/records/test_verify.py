"""Whoever changes anything by hand is found out, and the place is named."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.records.scene import (
    SECRET,
    STEP_10,
    STEP_20,
    STEP_30,
    accept,
    changed,
    draft,
)
from voicelog.errors import HomeError
from voicelog.objects import Record
from voicelog.records import Correction, Inspection, Store, Tool, keys, verify
from voicelog.records.connection import DATABASE
from voicelog.records.ledger import HEAD, START, SignedHead, line_hash

Confirm = Callable[..., Record]


@pytest.fixture
def full(store: Store, confirm: Confirm) -> Store:
    """A home with some of everything."""
    sha256 = store.audio.keep(b"a recording")
    store.notes.add(draft(*STEP_10, audio=sha256), "W-1", "tom")
    store.tools.put(Tool("TW-114"), by="cleo")
    confirm(*STEP_20)
    fitted = confirm(*STEP_30)
    for act in (
        Inspection(fitted.id, accept(STEP_30, "ivo")),
        Correction(
            fitted.id,
            changed(
                accept(STEP_30[1:], "ivo"), ("30", "serial", None),
                kind="correct", value="A-1", why="misread",
            ),
            "audit",
        ),
    ):  # fmt: skip
        digest = store.records.show(act, by="ivo").digest
        store.records.sign(act, by="ivo", secret=SECRET, digest=digest)
    return store


def tamper(home: Path, *statements: str, values: tuple[Any, ...] = ()) -> None:
    """What somebody with the file and a plain SQLite can do: triggers are no hindrance."""
    db = sqlite3.connect(home / DATABASE, isolation_level=None)
    triggers = db.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in triggers:
        db.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        db.execute(statement, values)
    for _, sql in triggers:
        db.execute(sql)
    db.close()


def places(home: Path, *heads: SignedHead) -> set[str]:
    return {fault.where for fault in verify(home, heads)}


def test_a_home_as_it_should_be_has_no_fault(full: Store) -> None:
    full.ledger.signed_head()
    assert verify(full.home) == ()


@pytest.mark.parametrize(
    ("statement", "where"),
    [
        ("UPDATE ledger SET by = 'eve' WHERE seq = 4", "ledger line 4"),
        ("UPDATE ledger SET at = '2026-01-01T00:00:00.000Z' WHERE seq = 4", "ledger line 4"),
        ("DELETE FROM ledger WHERE seq = 4", "ledger line 4"),
        ("UPDATE records SET content = replace(content, '98', '99') WHERE seq = 1",
         "record R-000001"),
        ("UPDATE records SET content = replace(content, '\"pass\"', '\"fail\"')",
         "record R-000002"),
        ("UPDATE records SET content = json_remove(content, '$.signature.by') WHERE seq = 4",
         "record R-000004"),
        ("DELETE FROM records WHERE seq = 4", "record R-000004"),
        ("UPDATE notes SET content = replace(content, 'tom', 'ruth') WHERE seq = 1",
         "note N-000001"),
        ("DELETE FROM note_audio", "note N-000001"),
        ("UPDATE people SET content = replace(content, 'mechanic', 'reviewer') WHERE id = 'tom'",
         "person tom"),
        ("DELETE FROM people WHERE id = 'cleo'", "person cleo"),
        ("UPDATE cards SET source = CAST(replace(source, '105', '115') AS BLOB)",
         "card TB-10 revision 1"),
        ("UPDATE cards SET sha256 = 'ab'", "card TB-10 revision 1"),
        ("UPDATE tools SET content = replace(content, '114', '115')", "tool TW-114"),
        ("UPDATE orders SET content = replace(content, 'tom', 'eve')", "order W-1"),
        ("DELETE FROM to_inspect", "record R-000004"),
        ("UPDATE meta SET value = 'elsewhere' WHERE key = 'site'", "site"),
        ("CREATE TABLE aside(x)", "table aside"),
        ("DROP INDEX records_facts", "index records_facts"),
    ],
)  # fmt: skip
def test_every_change_is_named(full: Store, statement: str, where: str) -> None:
    full.close()
    tamper(full.home, statement)
    assert where in places(full.home)


def test_a_trigger_that_was_removed_is_missed(full: Store) -> None:
    full.close()
    db = sqlite3.connect(full.home / DATABASE)
    db.execute("DROP TRIGGER records_no_delete")
    db.close()
    assert "trigger records_no_delete" in places(full.home)


def rewrite_chain(home: Path) -> None:
    """The clever one: makes the whole chain and its digests fit again after a change."""
    db = sqlite3.connect(home / DATABASE)
    rows = db.execute("SELECT * FROM ledger ORDER BY seq").fetchall()
    db.close()
    previous, statements = START, []
    for row in rows:
        facts = tuple(row[1:8])
        digest = line_hash(previous, row[0], facts)
        statements.append(
            f"UPDATE ledger SET previous = '{previous}', hash = '{digest}' WHERE seq = {row[0]}"
        )
        previous = digest
    tamper(home, *statements)


def test_a_rewritten_chain_no_longer_bears_its_signed_head(full: Store) -> None:
    head = full.ledger.signed_head()
    (full.home / HEAD).unlink()
    full.close()
    tamper(full.home, "UPDATE ledger SET by = 'eve' WHERE seq = 12")
    rewrite_chain(full.home)
    assert verify(full.home) == (), "a chain alone can't tell"
    assert places(full.home, head) == {f"signed head of {head.at}"}


def test_a_record_changed_with_its_digests_no_longer_bears_its_signature(full: Store) -> None:
    full.close()
    db = sqlite3.connect(full.home / DATABASE)
    content = db.execute("SELECT content FROM records WHERE seq = 1").fetchone()[0]
    db.close()
    import hashlib

    changed = content.replace('"98"', '"99"')
    assert changed != content
    digest = hashlib.sha256(changed.encode()).hexdigest()
    tamper(full.home, "UPDATE records SET content = ? WHERE seq = 1", values=(changed,))
    tamper(
        full.home,
        "UPDATE ledger SET digest = ? WHERE kind = 'record' AND subject = 'R-000001'",
        values=(digest,),
    )
    rewrite_chain(full.home)
    assert {str(f) for f in verify(full.home)} >= {
        "record R-000001: its content is not what was signed"
    }


def test_a_signature_with_a_foreign_key_is_none(full: Store) -> None:
    from voicelog.records.signing import content_digest, signed_bytes

    full.close()
    db = sqlite3.connect(full.home / DATABASE)
    plain = json.loads(db.execute("SELECT content FROM records WHERE seq = 1").fetchone()[0])
    db.close()
    seed = keys.new_seed()
    plain["transcript"] = "something else"
    plain["signature"] |= {"digest": content_digest(plain), "key": keys.public_of(seed)}
    plain["signature"]["value"] = keys.sign(seed, signed_bytes(plain["signature"]))
    text = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    tamper(full.home, "UPDATE records SET content = ? WHERE seq = 1", values=(text,))
    sentences = [fault.sentence for fault in verify(full.home)]
    assert "is signed with a key that is not one of ruth's" in sentences


def test_a_cut_tail_is_seen_against_a_signed_head(full: Store) -> None:
    head = full.ledger.signed_head()
    (full.home / HEAD).unlink()
    full.close()
    tamper(full.home, f"DELETE FROM ledger WHERE seq = {head.seq}", "DELETE FROM tools")
    tamper(full.home, "DELETE FROM to_inspect", "DELETE FROM records WHERE seq = 4")
    faults = verify(full.home, [head])
    assert any("its tail was cut off" in fault.sentence for fault in faults)


def test_an_older_database_put_in_place_is_seen_by_the_kept_head(full: Store) -> None:
    full.close()
    shutil.copy(full.home / DATABASE, full.home / "older")
    with Store.open(full.home) as store:
        store.ledger.append("something", "test", "1")
        store.ledger.signed_head()
    for path in full.home.glob(f"{DATABASE}*"):
        path.unlink()
    (full.home / "older").rename(full.home / DATABASE)
    assert any("its tail was cut off" in fault.sentence for fault in verify(full.home))


def test_a_head_of_another_site_or_a_forged_one(full: Store, tmp_path: Path) -> None:
    from dataclasses import replace

    with Store.open(tmp_path / "other") as other:
        foreign = other.ledger.signed_head()
    ours = full.ledger.signed_head()
    faults = verify(full.home, [foreign, replace(ours, seq=1)])
    assert [fault.sentence for fault in faults] == [
        f"is of another site ({foreign.site})",
        "its signature is wrong",
    ]


def recording(store: Store) -> Path:
    return store.audio.path(next(store.audio.digests()))


def test_a_swapped_recording(full: Store) -> None:
    path = recording(full)
    path.write_bytes(b"another one")
    assert [str(f) for f in verify(full.home)] == [
        f"recording {path.parent.name}{path.name}: was changed: its digest is not its name"
    ]


def test_a_missing_recording(full: Store) -> None:
    recording(full).unlink()
    assert "is missing" in verify(full.home)[0].sentence


def test_a_damaged_file_is_a_fault_and_no_traceback(full: Store) -> None:
    full.close()
    path = full.home / DATABASE
    data = bytearray(path.read_bytes())
    data[4096 * 5 : 4096 * 12] = os.urandom(4096 * 7)
    path.write_bytes(data)
    assert any("damaged" in fault.sentence for fault in verify(full.home))


def test_no_store_there(tmp_path: Path) -> None:
    with pytest.raises(HomeError, match="no store here"):
        verify(tmp_path)


def test_verifying_writes_nothing(full: Store) -> None:
    full.close()
    before = {path: path.stat().st_mtime_ns for path in full.home.rglob("*") if path.is_file()}
    verify(full.home)
    after = {path: path.stat().st_mtime_ns for path in full.home.rglob("*") if path.is_file()}
    assert {p: t for p, t in after.items() if not p.name.endswith("-shm")} == {
        p: t for p, t in before.items() if not p.name.endswith("-shm")
    } | {p: t for p, t in after.items() if p.name.endswith("-wal")}
