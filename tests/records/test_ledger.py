"""The ledger: a chain that only grows, with signed ends."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from dataclasses import replace

import pytest

from tests.records.scene import SECRET, STEP_10, StandingClock, accept, changed
from voicelog.records import Correction, Store, verify
from voicelog.records.connection import DATABASE
from voicelog.records.ledger import START


def test_every_line_holds_the_hash_of_the_one_before(store: Store) -> None:
    previous = START
    for number, line in enumerate(store.ledger.lines(), 1):
        facts = [previous, number, line.at, line.by, line.act, line.kind, line.subject]
        text = json.dumps(
            [*facts, line.digest, line.detail], ensure_ascii=False, separators=(",", ":")
        )
        assert line.previous == previous
        assert line.hash == hashlib.sha256(text.encode()).hexdigest()
        previous = line.hash
    assert store.ledger.head() == line


def test_every_act_is_a_line(store: Store, confirm: object) -> None:
    confirm(*STEP_10)  # type: ignore[operator]
    acts = [(line.act, line.by) for line in store.ledger.lines()]
    assert acts[:2] == [("home created", "system"), ("store upgraded", "system")]
    assert acts[-4:] == [
        ("work order opened", "tom"),
        ("note added", "tom"),
        ("confirmed", "ruth"),
        ("note confirmed", "ruth"),
    ]


def test_a_clock_that_runs_backwards_is_noted_once(store: Store, clock: StandingClock) -> None:
    store.ledger.append("a", "test", "1")
    clock.forward(minutes=-30)
    store.ledger.append("b", "test", "2")
    store.ledger.append("c", "test", "3")
    acts = [line.act for line in store.ledger.lines()]
    assert acts[-4:] == ["a", "clock ran backwards", "b", "c"]
    noted = next(store.ledger.lines(kind="clock"))
    assert json.loads(noted.detail) == {
        "from": "2026-11-20T09:00:00.000+01:00",
        "to": "2026-11-20T08:30:00.000+01:00",
    }


def test_another_offset_is_no_clock_running_backwards(store: Store, clock: StandingClock) -> None:
    from datetime import UTC

    clock.at = clock.at.astimezone(UTC)  # 08:00+00:00 is 09:00+01:00
    store.ledger.append("a", "test", "1")
    assert not list(store.ledger.lines(kind="clock"))


ROW = "2026-11-20', 'x', 'x', 'x', 'x', '', '{}', 'x', 'x')"
ATTACKS = {
    "ledger": [
        "UPDATE ledger SET by = 'tom' WHERE seq = 3",
        "DELETE FROM ledger WHERE seq = 3",
        "DELETE FROM ledger",
        f"INSERT OR REPLACE INTO ledger VALUES (3, '{ROW}",
        f"REPLACE INTO ledger VALUES (3, '{ROW}",
        f"INSERT INTO ledger VALUES (9999, '{ROW}",
        f"INSERT INTO ledger VALUES (-1, '{ROW}",
        "INSERT OR REPLACE INTO ledger SELECT * FROM ledger WHERE seq = 2",
        "UPDATE OR REPLACE ledger SET seq = 2 WHERE seq = 3",
    ],
    "records": [
        "UPDATE records SET content = replace(content, 'pass', 'fail')",
        "DELETE FROM records",
        "INSERT OR REPLACE INTO records(seq, id, content) SELECT seq, id, content FROM records",
        "INSERT OR REPLACE INTO records(seq, id, content) SELECT seq + 1, id, content FROM records",
        # another number, the same note: the unique index would drop the old row
        "INSERT OR REPLACE INTO records(seq, id, content)"
        " SELECT seq + 1, 'R-000002', content FROM records",
        "INSERT OR IGNORE INTO records(seq, id, content) SELECT seq + 7, 'R-8', content"
        " FROM records",
    ],
    "cards": [
        "UPDATE cards SET source = x'00'",
        "DELETE FROM cards",
        "INSERT OR REPLACE INTO cards SELECT * FROM cards",
        "INSERT OR REPLACE INTO cards SELECT seq + 1, number, revision, sha256, name, x'00'"
        " FROM cards",
    ],
}  # fmt: skip


@pytest.mark.parametrize(
    ("table", "attack"), [(table, sql) for table, sqls in ATTACKS.items() for sql in sqls]
)
def test_append_only_tables_only_grow(
    store: Store, confirm: object, table: str, attack: str
) -> None:
    confirm(*STEP_10)  # type: ignore[operator]
    plain = sqlite3.connect(store.home / DATABASE)  # without recursive_triggers
    try:
        before = plain.execute(f"SELECT * FROM {table}").fetchall()
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            plain.execute(attack)
        assert plain.execute(f"SELECT * FROM {table}").fetchall() == before
    finally:
        plain.close()


def test_a_superseding_record_can_not_be_replaced(store: Store, confirm: object) -> None:
    old = confirm(*STEP_10)  # type: ignore[operator]
    fix = changed(
        accept(STEP_10, "ivo"), ("10", "cover", None), kind="correct", value="pass", why="wording"
    )
    act = Correction(old.id, fix, "audit")
    digest = store.records.show(act, by="ivo").digest
    newer = store.records.sign(act, by="ivo", secret=SECRET, digest=digest)
    plain = sqlite3.connect(store.home / DATABASE)
    try:
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            plain.execute(
                "INSERT OR REPLACE INTO records(seq, id, content)"
                " SELECT seq + 1, 'R-000003', content FROM records WHERE id = ?",
                [newer.id],
            )
    finally:
        plain.close()
    assert store.records.get(newer.id) == newer


def test_a_signed_head_is_kept_and_checked(store: Store) -> None:
    head = store.ledger.signed_head()
    line = store.ledger.head()
    assert line is not None
    assert (head.seq, head.hash, head.site, head.key) == (
        line.seq,
        line.hash,
        store.site,
        store.key.public,
    )
    assert head.genuine()
    assert not replace(head, seq=head.seq - 1).genuine()
    assert verify(store.home, [head]) == ()


def test_no_head_is_signed_inside_a_transaction(store: Store) -> None:
    with store.connections.writing(), pytest.raises(RuntimeError, match="outside"):
        store.ledger.signed_head()


def test_lines_of_one_subject(store: Store) -> None:
    assert [line.act for line in store.ledger.lines(kind="person", subject="tom")] == [
        "person added"
    ]


def test_the_latest_line_of_a_kind(store: Store) -> None:
    assert store.ledger.latest(kind="backup") is None
    for number in ("1", "2"):
        line = store.ledger.append("tried", "test", number)
    assert store.ledger.latest(kind="test") == line
    found = store.ledger.latest(kind="test", subject="1")
    assert found is not None
    assert found.seq == line.seq - 1
