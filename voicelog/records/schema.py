"""Tables of the store, as numbered steps that bring an older home up to date.

Content is kept as canonical JSON and hashed as it stands; the columns to search by are
generated from it, so they can't say anything else. To change the tables add a step at the
end; never edit one that was released.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.errors import HomeError

if TYPE_CHECKING:
    import sqlite_utils

SET = "voicelog"
"""Name under which sqlite-utils books the steps that a home has had."""


def _append_only(table: str, *twins: str) -> tuple[str, ...]:
    """Triggers that let `table` grow at its end and nothing else.

    INSERT OR REPLACE removes rows without firing delete triggers, so a new row must bear the
    next number and may clash with no kept row: `twins` are conditions that find such a row.
    """
    clash = " OR ".join(f"EXISTS (SELECT 1 FROM {table} WHERE {twin})" for twin in twins)
    return (
        f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table}"
        f" BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END",
        f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table}"
        f" BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END",
        f"CREATE TRIGGER {table}_at_end BEFORE INSERT ON {table}"
        f" WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM {table})"
        + (f" OR {clash}" if clash else "")
        + f" BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END",
    )


def _of(key: str) -> str:
    return f"TEXT GENERATED ALWAYS AS (content ->> '$.{key}') VIRTUAL"


_FIRST = (
    "CREATE TABLE meta(key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT",
    """CREATE TABLE ledger(
        seq INTEGER PRIMARY KEY, at TEXT NOT NULL, by TEXT NOT NULL, act TEXT NOT NULL,
        kind TEXT NOT NULL, subject TEXT NOT NULL, digest TEXT NOT NULL, detail TEXT NOT NULL,
        previous TEXT NOT NULL, hash TEXT NOT NULL) STRICT""",
    "CREATE INDEX ledger_subject ON ledger(kind, subject, seq)",
    *_append_only("ledger"),
    """CREATE TABLE people(
        id TEXT PRIMARY KEY, content TEXT NOT NULL, sealed TEXT NOT NULL,
        failures INTEGER NOT NULL DEFAULT 0, locked_until TEXT) STRICT""",
    """CREATE TABLE cards(
        seq INTEGER PRIMARY KEY, number TEXT NOT NULL, revision TEXT NOT NULL,
        sha256 TEXT NOT NULL, name TEXT NOT NULL, source BLOB NOT NULL,
        UNIQUE (number, revision)) STRICT""",
    *_append_only("cards", "number = NEW.number AND revision = NEW.revision"),
    f"""CREATE TABLE orders(
        number TEXT PRIMARY KEY, content TEXT NOT NULL,
        equipment {_of("equipment")}, serial_number {_of("serial_number")},
        state TEXT GENERATED ALWAYS AS (coalesce(content ->> '$.state', 'open')) VIRTUAL) STRICT""",
    "CREATE INDEX orders_state ON orders(state)",
    f"""CREATE TABLE notes(
        seq INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, content TEXT NOT NULL,
        doubt INTEGER NOT NULL, token TEXT UNIQUE,
        work_order TEXT NOT NULL REFERENCES orders(number)
            GENERATED ALWAYS AS (content ->> '$.work_order') VIRTUAL,
        by TEXT NOT NULL REFERENCES people(id)
            GENERATED ALWAYS AS (content ->> '$.by') VIRTUAL,
        state TEXT GENERATED ALWAYS AS (coalesce(content ->> '$.state', 'open')) VIRTUAL,
        card {_of("draft.card")}, revision {_of("draft.revision")},
        FOREIGN KEY (card, revision) REFERENCES cards(number, revision)) STRICT""",
    "CREATE INDEX notes_queue ON notes(state, doubt DESC, seq)",
    "CREATE INDEX notes_order ON notes(work_order)",
    """CREATE TABLE note_audio(
        note TEXT NOT NULL REFERENCES notes(id), sha256 TEXT NOT NULL,
        PRIMARY KEY (note, sha256)) STRICT, WITHOUT ROWID""",
    "CREATE INDEX note_audio_digest ON note_audio(sha256)",
    f"""CREATE TABLE records(
        seq INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, content TEXT NOT NULL,
        note TEXT NOT NULL REFERENCES notes(id)
            GENERATED ALWAYS AS (content ->> '$.note') VIRTUAL,
        work_order TEXT NOT NULL REFERENCES orders(number)
            GENERATED ALWAYS AS (content ->> '$.work_order') VIRTUAL,
        card {_of("card")}, revision {_of("revision")}, equipment {_of("equipment")},
        serial_number {_of("serial_number")}, performed_by {_of("performed_by")},
        signed_by {_of("signature.by")},
        supersedes {_of("supersedes")}, inspects {_of("inspects")},
        day TEXT GENERATED ALWAYS AS (substr(content ->> '$.performed_at', 1, 10)) VIRTUAL,
        FOREIGN KEY (card, revision) REFERENCES cards(number, revision)) STRICT""",
    *_append_only(
        "records",
        "id = NEW.id",
        "NEW.content ->> '$.supersedes' IS NULL AND NEW.content ->> '$.inspects' IS NULL"
        " AND note = NEW.content ->> '$.note' AND supersedes IS NULL AND inspects IS NULL",
        "supersedes = NEW.content ->> '$.supersedes'",
    ),
    "CREATE UNIQUE INDEX records_note ON records(note)"
    " WHERE supersedes IS NULL AND inspects IS NULL",
    "CREATE UNIQUE INDEX records_supersedes ON records(supersedes) WHERE supersedes IS NOT NULL",
    "CREATE INDEX records_inspects ON records(inspects) WHERE inspects IS NOT NULL",
    "CREATE INDEX records_of_note ON records(note)",
    "CREATE INDEX records_order ON records(work_order)",
    "CREATE INDEX records_serial ON records(serial_number)",
    # What a filter looks at, in the order of signing: read instead of the records themselves.
    "CREATE INDEX records_facts ON records(seq, day, card, equipment, performed_by, signed_by, id)",
    "CREATE TABLE to_inspect(record TEXT PRIMARY KEY REFERENCES records(id)) STRICT",
    "CREATE VIRTUAL TABLE word_index USING fts5(words, identifiers, content = '')",
    "CREATE TABLE tools(number TEXT PRIMARY KEY, content TEXT NOT NULL) STRICT",
    f"""CREATE TABLE parts(
        id TEXT PRIMARY KEY, content TEXT NOT NULL, part {_of("part")},
        serial {_of("serial")}, batch {_of("batch")}) STRICT""",
    "CREATE INDEX parts_serial ON parts(serial)",
    "CREATE INDEX parts_batch ON parts(batch)",
    "CREATE INDEX parts_part ON parts(part)",
)

_JOBS = (
    f"""CREATE TABLE jobs(
        seq INTEGER PRIMARY KEY, token TEXT NOT NULL UNIQUE, content TEXT NOT NULL,
        state TEXT NOT NULL DEFAULT 'queued'
            CHECK (state IN ('queued', 'leased', 'done', 'failed')),
        tries INTEGER NOT NULL DEFAULT 0, fence INTEGER NOT NULL DEFAULT 0,
        worker TEXT NOT NULL DEFAULT '', lease_until REAL, reason TEXT NOT NULL DEFAULT '',
        note TEXT REFERENCES notes(id), audio {_of("audio")},
        CHECK ((state = 'leased') = (lease_until IS NOT NULL)),
        CHECK ((state = 'done') = (note IS NOT NULL))) STRICT""",
    "CREATE INDEX jobs_line ON jobs(state, seq)",
    "CREATE INDEX jobs_audio ON jobs(audio)",
)

_AFFIRMED = (
    "ALTER TABLE notes ADD COLUMN affirmed INTEGER NOT NULL DEFAULT 0",
    "DROP INDEX notes_queue",
    "CREATE INDEX notes_queue ON notes(state, 2 * doubt - affirmed DESC, seq)",
)
_JOBS_BY = (
    f"ALTER TABLE jobs ADD COLUMN by {_of('by')}",
    "CREATE INDEX jobs_by ON jobs(by, seq)",
)

STEPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("0001_first", _FIRST),
    ("0002_jobs", _JOBS),
    ("0003_affirmed", _AFFIRMED),
    ("0004_jobs_by", _JOBS_BY),
)
"""(name of the step, its statements), oldest first."""


def pending(db: sqlite_utils.Database, home: str) -> tuple[str, ...]:
    """Steps that the home has still to take. Raises HomeError when it is from the future."""
    had = applied(db)
    newer = [name for name in had if name not in dict(STEPS)]
    if newer:
        raise HomeError(
            f"{home}: made by a newer version of voicelog (it has {', '.join(newer)}); "
            "install that version, or use another home"
        )
    return tuple(name for name, _ in STEPS if name not in had)


def applied(db: sqlite_utils.Database) -> tuple[str, ...]:
    """Steps that the home has had."""
    from sqlite_utils.migrations import Migrations

    return tuple(step.name for step in Migrations(SET).applied(db))


def upgrade(db: sqlite_utils.Database, *, only: tuple[str, ...] | None = None) -> None:
    """Take every step that is pending (of those in `only`), inside the caller's transaction."""
    from sqlite_utils.migrations import Migrations

    migrations = Migrations(SET)
    for name, statements in STEPS:
        if only is not None and name not in only:
            continue

        def step(db: sqlite_utils.Database, statements: tuple[str, ...] = statements) -> None:
            for statement in statements:
                db.execute(statement)

        migrations(name=name)(step)
    migrations.apply(db)
