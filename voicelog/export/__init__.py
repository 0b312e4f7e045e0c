"""The export room: what was confirmed leaves the house, whole, signed, and as it was.

    manifest = export.write(store, Filter(work_order="W-1"), "xlsx", folder, by="cleo")
    faults = export.verify(folder)                 # sentences; none when it holds
    export.read(folder).fingerprint                # of the key that signed it

Four formats, and in each of them the same records: `csv` (one row a value), `jsonl` (one
object a record), `xlsx` (three sheets), `pdf` (one sheet of paper or more a work order).
Every export is a folder with a signed manifest. Only confirmed records leave; superseded
ones when the filter's state asks for them, marked. The same records give the same bytes.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Literal, get_args

from voicelog import __version__
from voicelog.errors import ExportError
from voicelog.export import csv, folder, jsonl, manifest, pdf
from voicelog.export.line import Order
from voicelog.export.manifest import File, Manifest, digest_of, fingerprint, read, verify
from voicelog.export.rows import Entry, rows
from voicelog.records import Filter

if TYPE_CHECKING:
    from pathlib import Path

    from voicelog.objects import Card, Record
    from voicelog.records import OpenItem, Store

__all__ = ["FORMATS", "Format", "Manifest", "fingerprint", "read", "verify", "write"]

Format = Literal["csv", "jsonl", "xlsx", "pdf"]
FORMATS: tuple[Format, ...] = get_args(Format)

Progress = Callable[[int, int], None]
"""Called with (records done, records in all) while an export is written."""


_EVERY = 50
"""Records between two calls of it."""

_BEHIND = 20
"""Work orders that may be in hand at once before the oldest is looked at."""


def _silent(done: int, total: int) -> None:
    del done, total


class _Selection:
    """The records that the filter chose, one by one, in the order of signing."""

    def __init__(self, store: Store, wanted: Filter, progress: Progress) -> None:
        self._store = store
        self._wanted = replace(wanted, newest_first=False)
        self._progress = progress
        self._total = store.records.count(self._wanted)
        self.ids: list[str] = []
        self._orders: dict[str, None] = {}
        self._settled: set[str] = set()
        self._cards: dict[tuple[str, str], Card] = {}

    def _entry(self, record: Record) -> Entry:
        superseded = self._wanted.state != "current"
        card = record.card, record.revision
        if card not in self._cards:
            self._cards[card] = self._store.cards.get(*card)
        return Entry(
            record,
            self._cards[card],
            self._store.records.successor(record.id) if superseded else None,
        )

    def _count(self) -> None:
        done = len(self.ids)
        if done % _EVERY == 0 or done >= self._total:
            self._progress(done, max(self._total, done))

    def entries(self) -> Iterator[Entry]:
        for record in self._store.records.search(self._wanted):
            yield self._entry(record)
            self.ids.append(record.id)
            if record.work_order not in self._settled:
                self._orders.setdefault(record.work_order)
            self._count()

    def settled(self, *, last: bool = False) -> Iterator[tuple[str, tuple[OpenItem, ...]]]:
        """Work orders that the entries have left behind, with what is open on them.

        Called after each entry, and once more with `last`: so an order is looked at while
        its records are still remembered, and only once.
        """
        while self._orders and (last or len(self._orders) > _BEHIND):
            number = next(iter(self._orders))
            del self._orders[number]
            self._settled.add(number)
            yield number, self._store.orders.status(number).items

    def whole_orders(self) -> Iterator[Order]:
        """Every work order that has a chosen record, with all of its records.

        A sheet that left out what somebody else did or inspected would say the wrong thing.
        """
        people = {person.id: person.name for person in self._store.people.list()}
        chosen = dict.fromkeys(r.work_order for r in self._store.records.search(self._wanted))
        for number in chosen:
            state = self._wanted.state if self._wanted.state == "current" else "all"
            wanted = Filter(work_order=number, state=state, newest_first=False)
            entries = tuple(map(self._entry, self._store.records.search(wanted)))
            replaced = [e.record.supersedes for e in entries if e.record.supersedes]
            status = self._store.orders.status(number)
            yield Order(
                number,
                entries,
                status.items,
                people,
                {id: self._store.records.get(id) for id in replaced},
                status.order.title,
                status.order.state == "complete",
            )
            self.ids += [entry.record.id for entry in entries]
            self._count()


def _write_csv(place: Path, chosen: _Selection, _: str) -> None:
    table = (row for entry in chosen.entries() for row in rows(entry))
    with (place / "values.csv").open("w", encoding="utf-8", newline="") as file:
        csv.write(file, table)
    (place / "columns.json").write_bytes(csv.description_file("values.csv"))


def _write_jsonl(place: Path, chosen: _Selection, _: str) -> None:
    with (place / "records.jsonl").open("wb") as file:
        file.writelines(map(jsonl.line, chosen.entries()))
    shutil.copyfile(jsonl.SCHEMA, place / jsonl.SCHEMA.name)


def _write_xlsx(place: Path, chosen: _Selection, _: str) -> None:
    from voicelog.export.xlsx import Book

    book = Book(place / "records.xlsx")
    try:
        for entry in chosen.entries():
            book.add(entry)
            book.add_open(chosen.settled())
        book.add_open(chosen.settled(last=True))
    finally:
        book.close()


def _write_pdf(place: Path, chosen: _Selection, house: str) -> None:
    taken: set[str] = set()
    for order in chosen.whole_orders():
        name = pdf.file_name(order.number, taken)
        taken.add(name.casefold())
        pdf.write(place / name, order, house)


_WRITERS: dict[Format, Callable[[Path, _Selection, str], None]] = {
    "csv": _write_csv,
    "jsonl": _write_jsonl,
    "xlsx": _write_xlsx,
    "pdf": _write_pdf,
}


def conditions(wanted: Filter) -> tuple[tuple[str, str], ...]:
    """The filter as the manifest names it: what was asked for, and nothing else."""
    return tuple(
        (field.name, str(value))
        for field in fields(wanted)
        if field.name != "newest_first" and (value := getattr(wanted, field.name)) is not None
    )


def _earlier(out: Path, store: Store) -> Manifest | None:
    """The export that is in `out` already, which must be this site's own and whole."""
    if not folder.is_taken(out):
        return None
    faults = verify(out, store.key.public)
    if faults:
        raise ExportError(
            f"{out}: is not empty and holds no whole export of this site ({faults[0]});"
            " choose another folder"
        )
    return read(out)


def write(
    store: Store,
    wanted: Filter,
    format: Format,
    out: Path,
    *,
    by: str | None,
    house: str = "",
    progress: Progress = _silent,
) -> Manifest:
    """Export the records that `wanted` chooses into the folder `out`, and sign for it.

    `by` is the id of the person who exports; `house` the site's name for the printed sheets.
    `out` is made, or may be there and empty. If it holds an export already it is left as it
    is when that one says the same, and refused otherwise. A PDF sheet always shows a whole
    work order. The export is a line in the ledger.

    Raises ExportError (nothing to export, folder taken or unwritable), Denied, HomeError.
    """
    if format not in FORMATS:
        raise ExportError(f"unknown format {format!r}; choose one of {', '.join(FORMATS)}")
    if by is None:
        raise ExportError("say who exports (--by PERSON): the manifest and the ledger name them")
    person = store.people.require(by, "clerk", "reviewer", "administrator")
    before = _earlier(out, store)
    with folder.partial(out) as place:
        with store.connections.reading():
            chosen = _Selection(store, wanted, progress)
            _WRITERS[format](place, chosen, house or f"Site {store.site}")
        if not chosen.ids:
            raise ExportError("no confirmed record matches the filter; nothing was exported")
        made = Manifest(
            form=manifest.FORM,
            format=format,
            written_by=f"{person.name} ({person.id})",
            written_at=store.clock.now().isoformat(timespec="seconds"),
            software=f"voicelog {__version__}",
            site=store.site,
            public_key=store.key.public,
            filter=conditions(wanted),
            ledger=store.ledger.signed_head(),
            files=tuple(File(path.name, *digest_of(path)) for path in sorted(place.iterdir())),
            records=tuple(chosen.ids),
        )
        kept = before or made
        if kept.content() != made.content():
            raise ExportError(
                f"{out}: holds another export ({kept.format}, {len(kept.records)} records,"
                f" written {kept.written_at}); choose another folder"
            )
        manifest.write(place, made, store.key.sign)
        digest = hashlib.sha256(kept.as_bytes()).hexdigest()
        # The line comes first: an export without a line would have left the house unseen.
        store.ledger.append(
            "exported",
            "export",
            digest[:16],
            digest,
            by=by,
            detail={"format": format, "records": str(len(chosen.ids))},
        )
        if before is None:
            folder.put(place, out)
    return kept
