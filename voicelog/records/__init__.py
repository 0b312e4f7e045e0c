"""The records room: drafts, confirmation, append-only records, people, backup.

    with Store.open(home) as store:                       # creates the home on first use
        store.people.add(Person("ada", "Ada Birch", roles=("administrator",)), secret, by=None)
        store.cards.add(data, "wheel.yaml", by="ada")      # -> Card
        sha256 = store.audio.keep(data)                    # -> digest; store.audio.path(sha256)
        note = store.notes.add(draft, work_order="W-1", by="tom", token="once")
        act = Confirmation(note.id, note.version, decisions, resolutions=())
        shown = store.records.show(act, by="ruth")         # -> Shown: record, digest, problems
        record = store.records.sign(act, by="ruth", secret=secret, digest=shown.digest)

Rooms of the store, a noun a file:

    audio    AudioShelf   keep(bytes) -> sha256, path(sha256), read(sha256), has(sha256)
    cards    CardShelf    add(data, name, by=), get(number, revision=None), list(), source(number,
                          revision=None)
    people   People       add, get, list, update, set_secret, authenticate(id, secret) -> Person
    notes    Notes        add, get, update(id, version, draft, by=), decide(id, version, decisions,
                          by=), withdraw(id, version, by=, why=), queue(limit, offset),
                          list(work_order=, state=)
    jobs     Jobs         queue(Request), lease(worker, count), beat(jobs), finish(job, draft),
                          fail(job, reason), hand_back(job), retry(ids), list(state), counts()
    orders   Orders       open(WorkOrder, by=), get, list, status(number), complete(number, by=),
                          handover(number)
    records  Records      show(act, by=), sign(act, by=, secret=, digest=), get, search(Filter),
                          count(Filter), history(id), inspections(id), awaiting_inspection()
    ledger   Ledger       append(act, kind, subject, digest, by=, detail=), head(), signed_head(),
                          lines(kind=, subject=), latest(kind=)
    tools    Tools        put(Tool, by=), get, list, near(spoken)
    parts    Parts        put(Part, by=), get, list, near(spoken), find(identifier)

An act that is signed is a `Confirmation` of a note, an independent `Inspection` of a record,
or a `Correction` of one. `show` builds exactly what would be signed and lists what is still
in the way; `sign` does it again inside the writing transaction and refuses when the digest
is not the one that was shown.

Of whole homes: `verify(home, heads=())` -> faults, `backup(store, folder, by=)`,
`restore(folder, home)`. All errors are RecordError's (HomeError, NotFound, Conflict,
Incomplete, Denied).
"""

from __future__ import annotations

from voicelog.records.acts import (
    Act,
    Block,
    Confirmation,
    Correction,
    Inspection,
    Resolution,
    Shown,
)
from voicelog.records.backup import backup, restore
from voicelog.records.clock import Clock, SystemClock
from voicelog.records.decisions import accept_undoubted
from voicelog.records.jobs import Job, Request
from voicelog.records.keys import Cost
from voicelog.records.ledger import Line, SignedHead
from voicelog.records.notes import QueueEntry
from voicelog.records.orders import Handover, OpenItem, OrderStatus, WorkOrder
from voicelog.records.people import Authorisation, Person
from voicelog.records.registers import Part, Tool
from voicelog.records.search import Filter
from voicelog.records.store import Store
from voicelog.records.verify import Fault, verify

__all__ = [
    "Act",
    "Authorisation",
    "Block",
    "Clock",
    "Confirmation",
    "Correction",
    "Cost",
    "Fault",
    "Filter",
    "Handover",
    "Inspection",
    "Job",
    "Line",
    "OpenItem",
    "OrderStatus",
    "Part",
    "Person",
    "QueueEntry",
    "Request",
    "Resolution",
    "Shown",
    "SignedHead",
    "Store",
    "SystemClock",
    "Tool",
    "WorkOrder",
    "accept_undoubted",
    "backup",
    "restore",
    "verify",
]
