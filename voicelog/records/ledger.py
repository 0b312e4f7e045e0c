"""The ledger: one line for every act, each holding the hash of the one before.

A line names its subject (kind and id) and the digest that the subject's content has after
the act, so that a row changed behind the ledger's back no longer matches its last line. A
chain can't see that its tail was cut off: therefore its head is signed with the site's key
whenever something leaves the house (export, backup), and the last one is kept in `head.json`.
"""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from voicelog import wire
from voicelog.records import keys
from voicelog.records.audio import sync_folder
from voicelog.records.clock import Clock, stamp

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from voicelog.records.connection import Connections
    from voicelog.records.keys import SiteKey

HEAD = "head.json"
"""The last signed head, kept in the home: an older database in its place is noticed."""
START = "0" * 64
"""What the first line holds in place of the hash of the one before."""


@dataclass(frozen=True, slots=True)
class Line:
    """One act. `digest` is that of the subject's content after it ("" where it has none)."""

    seq: int
    at: str
    """ISO 8601 with the local offset."""
    by: str
    """Id of a person, or "system"."""
    act: str
    kind: str
    subject: str
    digest: str
    detail: str
    """JSON object: what else belongs to the act."""
    previous: str
    hash: str


@dataclass(frozen=True, slots=True)
class SignedHead:
    """The end of the ledger at a moment, signed with the site's Ed25519 key (hex)."""

    site: str
    seq: int
    hash: str
    at: str
    key: str
    """Public half of the site's key."""
    signature: str = ""

    def signed_bytes(self) -> bytes:
        return wire.canonical([self.site, str(self.seq), self.hash, self.at, self.key])

    def genuine(self) -> bool:
        """Whether the signature is that of `key`; the caller knows whose key that is."""
        return keys.verify(self.key, self.signed_bytes(), self.signature)


def line_hash(previous: str, seq: int, facts: tuple[str, ...]) -> str:
    """SHA-256 over a JSON array of the hash before, the number and the facts in their order.

    `facts` are at, by, act, kind, subject, digest, detail.
    """
    text = json.dumps([previous, seq, *facts], ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


class Ledger:
    """The store's own ledger."""

    def __init__(self, connections: Connections, clock: Clock) -> None:
        self._connections = connections
        self._clock = clock
        self._key: SiteKey | None = None
        self._site = ""

    def belong_to(self, site: str, key: SiteKey) -> None:
        self._site, self._key = site, key

    def append(
        self,
        act: str,
        kind: str,
        subject: str,
        digest: str = "",
        *,
        by: str = "system",
        detail: Mapping[str, Any] | None = None,
    ) -> Line:
        """Write one line, in the caller's transaction when there is one.

        A clock that went backwards since the last line gets a line of its own first.
        """
        with self._connections.writing():
            now = self._clock.now()
            last = self.head()
            if last is not None and now < datetime.fromisoformat(last.at):
                last = self._write(
                    last,
                    (stamp(now), "system", "clock ran backwards", "clock", "", "",
                     wire.canonical({"from": last.at, "to": stamp(now)}).decode()),
                )  # fmt: skip
            facts = (stamp(now), by, act, kind, subject, digest)
            return self._write(last, (*facts, wire.canonical(dict(detail or {})).decode()))

    def _write(self, last: Line | None, facts: tuple[str, ...]) -> Line:
        seq, previous = (last.seq + 1, last.hash) if last else (1, START)
        digest = line_hash(previous, seq, facts)
        self._connections.db.execute(
            "INSERT INTO ledger(seq, at, by, act, kind, subject, digest, detail, previous, hash)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [seq, *facts, previous, digest],
        )
        at, by, act, kind, subject, content, detail = facts
        return Line(seq, at, by, act, kind, subject, content, detail, previous, digest)

    def head(self) -> Line | None:
        """The last line."""
        row = self._connections.db.execute(
            "SELECT * FROM ledger ORDER BY seq DESC LIMIT 1"
        ).fetchone()
        return Line(*row) if row else None

    def lines(
        self, *, kind: str | None = None, subject: str | None = None, after: int = 0
    ) -> Iterator[Line]:
        """Lines in order, of one kind or subject only when that is given; read in pages."""
        query, given = _selection(kind, subject)
        while True:
            rows = self._connections.db.execute(
                f"{query} AND seq > :after ORDER BY seq LIMIT 500", given | {"after": after}
            ).fetchall()
            if not rows:
                return
            yield from (Line(*row) for row in rows)
            after = rows[-1][0]

    def latest(self, *, kind: str, subject: str | None = None) -> Line | None:
        """The last line of a kind (or subject): when the last backup was made, for instance."""
        query, given = _selection(kind, subject)
        row = self._connections.db.execute(f"{query} ORDER BY seq DESC LIMIT 1", given).fetchone()
        return Line(*row) if row else None

    def signed_head(self) -> SignedHead:
        """The end of the ledger as it is now, signed, and kept as the home's head.json.

        Only between transactions: a line that may still be rolled back is not signed.
        """
        if self._key is None or self._connections.db.conn.in_transaction:
            raise RuntimeError("a head is signed by an opened store, outside any transaction")
        with self._connections.writing():  # one head at a time, so that the latest one is kept
            line = self.head()
            seq, digest = (line.seq, line.hash) if line else (0, START)
            head = SignedHead(self._site, seq, digest, stamp(self._clock.now()), self._key.public)
            head = replace(head, signature=self._key.sign(head.signed_bytes()))
            self._keep(head)
        return head

    def _keep(self, head: SignedHead) -> None:
        path = self._connections.home / HEAD
        partial = path.with_suffix(".partial")
        with partial.open("wb") as file:
            file.write(wire.canonical(head))
            file.flush()
            os.fsync(file.fileno())
        partial.replace(path)
        sync_folder(path.parent)


def _selection(kind: str | None, subject: str | None) -> tuple[str, dict[str, Any]]:
    """Only the conditions that were given: "x IS NULL OR ..." would keep off the index."""
    given = {"kind": kind, "subject": subject}
    conditions = [f" AND {name} = :{name}" for name, value in given.items() if value is not None]
    wanted: dict[str, Any] = {name: value for name, value in given.items() if value is not None}
    return f"SELECT * FROM ledger WHERE true{''.join(conditions)}", wanted
