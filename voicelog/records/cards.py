"""The card shelf: task cards by number and revision, with the bytes of the file they came in."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from voicelog import cards
from voicelog.errors import Conflict, NotFound

if TYPE_CHECKING:
    from voicelog.objects import Card
    from voicelog.records.connection import Connections
    from voicelog.records.ledger import Ledger
    from voicelog.records.people import People


@dataclass(frozen=True, slots=True)
class CardEntry:
    """One revision on the shelf."""

    number: str
    revision: str
    name: str
    """Name of the file it came in."""
    sha256: str


@lru_cache(maxsize=64)
def _parsed(sha256: str, source: bytes, name: str) -> Card:  # noqa: ARG001 — part of the key
    return cards.parse(source, name)


class CardShelf:
    """Revisions are added, never changed: the last one added is the current one."""

    def __init__(self, connections: Connections, ledger: Ledger, people: People) -> None:
        self._connections = connections
        self._ledger = ledger
        self._people = people

    def add(self, data: bytes, name: str, *, by: str) -> Card:
        """Put the card in `data`, content of the file `name`, on the shelf.

        The same file again changes nothing. Raises CardError when it is not a card, Conflict
        when that revision is there with other content, Denied unless `by` is an administrator.
        """
        card = cards.parse(data, name)
        self._people.require(by, "administrator")
        with self._connections.writing() as db:
            row = db.execute(
                "SELECT sha256 FROM cards WHERE number = ? AND revision = ?",
                [card.number, card.revision],
            ).fetchone()
            if row and row[0] == card.sha256:
                return card
            if row:
                raise Conflict(
                    f"card {card.number} revision {card.revision} is on the shelf with other "
                    "content; give the changed card a new revision"
                )
            db.execute(
                "INSERT INTO cards(seq, number, revision, sha256, name, source) VALUES"
                " ((SELECT coalesce(max(seq), 0) + 1 FROM cards), ?, ?, ?, ?, ?)",
                [card.number, card.revision, card.sha256, name, data],
            )
            self._ledger.append(
                "card added", "card", f"{card.number} rev {card.revision}", card.sha256, by=by
            )
        return card

    def _row(self, number: str, revision: str | None) -> tuple[str, bytes, str]:
        row = self._connections.db.execute(
            "SELECT sha256, source, name FROM cards WHERE number = :number"
            " AND (:revision IS NULL OR revision = :revision) ORDER BY seq DESC LIMIT 1",
            {"number": number, "revision": revision},
        ).fetchone()
        if row is None:
            which = number if revision is None else f"{number} revision {revision}"
            raise NotFound(f"no card {which}; add it with: voicelog card add FILE")
        return row[0], row[1], row[2]

    def get(self, number: str, revision: str | None = None) -> Card:
        """A card as added; the current revision when none is named. Raises NotFound."""
        return _parsed(*self._row(number, revision))

    def source(self, number: str, revision: str | None = None) -> bytes:
        """The file's bytes as they came. Raises NotFound."""
        return self._row(number, revision)[1]

    def list(self, number: str | None = None) -> tuple[CardEntry, ...]:
        """Every revision (of one card), oldest first."""
        return tuple(
            CardEntry(*row)
            for row in self._connections.db.execute(
                "SELECT number, revision, name, sha256 FROM cards"
                " WHERE :number IS NULL OR number = :number ORDER BY number, seq",
                {"number": number},
            ).fetchall()
        )
