"""Finding records: a filter, and the SQL that it stands for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from voicelog.records.registers import bare

if TYPE_CHECKING:
    from datetime import date

State = Literal["current", "superseded", "all"]


@dataclass(frozen=True, slots=True)
class Filter:
    """Which records; what is None does not matter."""

    work_order: str | None = None
    card: str | None = None
    equipment: str | None = None
    serial_number: str | None = None
    """Of the equipment, or of a part that a record names: any identifier in it."""
    since: date | None = None
    """First day of the work, by the local calendar of its place."""
    until: date | None = None
    """Last day, included."""
    person: str | None = None
    """Who did the work or signed."""
    state: State = "current"
    words: str | None = None
    """All of these words; the last one may be the beginning of one."""
    note: str | None = None
    newest_first: bool = True
    limit: int | None = None


def phrase(text: str) -> str:
    """`text` as an FTS5 string, whatever signs are in it."""
    return '"' + text.replace('"', '""').replace("\0", " ") + '"'


def _match(wanted: Filter) -> str | None:
    parts = []
    if wanted.words and wanted.words.split():
        parts += [f"words : {phrase(word)}" for word in wanted.words.split()]
        parts[-1] += " *"
    return " AND ".join(parts) or None


_NARROW = ("work_order", "note")
_WIDE = ("card", "equipment")


def numbers(wanted: Filter) -> tuple[str, str, dict[str, Any]]:
    """FROM and WHERE of a query for `seq` of records, the column to order by, its parameters.

    The query takes `:top`, the last record that is looked at. What narrows a search to a few
    records has an index of its own; all else is read off `records_facts`, which holds what
    filters ask for, so that no record is opened before it is known to match.
    """
    conditions, values = ["r.seq <= :top"], dict[str, Any]()
    narrow = wanted.serial_number is not None or any(getattr(wanted, key) for key in _NARROW)
    source = "records r" if narrow else "records r INDEXED BY records_facts"
    for name in (*_NARROW, *_WIDE):
        value = getattr(wanted, name)
        if value is not None:
            conditions.append(f"r.{name} = :{name}")
            values[name] = value
    if wanted.serial_number is not None:
        conditions.append(
            "r.seq IN (SELECT seq FROM records WHERE serial_number = :serial UNION"
            " SELECT rowid FROM word_index WHERE word_index MATCH :serial_match)"
        )
        values |= {
            "serial": wanted.serial_number,
            "serial_match": f"identifiers : {phrase(bare(wanted.serial_number))}",
        }
    if wanted.since is not None:
        conditions.append("r.day >= :since")
        values["since"] = wanted.since.isoformat()
    if wanted.until is not None:
        conditions.append("r.day <= :until")
        values["until"] = wanted.until.isoformat()
    if wanted.person is not None:
        conditions.append("(r.performed_by = :person OR r.signed_by = :person)")
        values["person"] = wanted.person
    replaced = "SELECT s.supersedes FROM records s WHERE s.supersedes IS NOT NULL AND s.seq <= :top"
    if wanted.state == "superseded":
        conditions.append(f"r.id IN ({replaced})")
    elif wanted.state == "current":
        conditions.append(f"NOT EXISTS ({replaced} AND s.supersedes = r.id)")
    match, order = _match(wanted), "r.seq"
    if match is not None:
        source = f"word_index CROSS JOIN {source} ON r.seq = word_index.rowid"
        conditions.insert(0, "word_index MATCH :match")
        values["match"] = match
        order = "word_index.rowid"
    return f"{source} WHERE {' AND '.join(conditions)}", order, values
