"""People, a card and a draft of an invented workshop, and a browser that follows forms."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

from starlette.testclient import TestClient

from voicelog import web
from voicelog.objects import Note, Record
from voicelog.pipeline import Chain, read_text
from voicelog.records import (
    Authorisation,
    Confirmation,
    Cost,
    Person,
    Store,
    WorkOrder,
    accept_undoubted,
)
from voicelog.speech.fake import FakeRecogniser
from voicelog.web import site
from voicelog.web.recognition import Recognition
from voicelog.work.follow import OwnHands

CHEAP = Cost(1, 8, 1)
SECRET = "correct horse 1"
ALL = (Authorisation(inspect=True),)

PEOPLE = (
    Person("ada", "Ada Birch", ("administrator",)),
    Person("tom", "Tom Reed", ("mechanic",)),
    Person("ruth", "Ruth Vane", ("reviewer",), "L-1180", "category C", ALL),
    Person("vera", "Vera Moss", ("reviewer",), "L-2207", "category C", ALL),
    Person("cleo", "Cleo Hart", ("clerk",)),
)

CARD = b"""\
card: DM-10
title: Hub check
revision: "1"
revision_date: 2026-01-02
source: demonstration manual 10-00 rev 3
steps:
  - step: "10"
    title: Measure the hub
    fields:
      - {name: wear, label: Wear pin, type: measurement, unit: mm, min: 4, max: 12, say: [wear pin]}
      - {name: bolt, label: Bolt torque, type: measurement, unit: N*m, min: 95, max: 105,
         positions: ["1", "2"], position_word: bolt, say: [bolt]}
      - {name: pin, label: Cotter pin, type: check, say: [cotter pin]}
      - {name: serial, label: Hub fitted, type: identifier, kind: serial number, say: [fitted hub]}
      - {name: remarks, label: Remarks, type: text, required: false, say: [remarks]}
  - step: "20"
    title: Lock the hub
    independent_inspection: true
    fields:
      - {name: wire, label: Safety wire, type: check, say: [safety wire]}
"""

SPOKEN = (
    "step ten. wear pin eight millimetres. bolt one ninety eight newton metres. "
    "bolt two ninety four newton metres. cotter pin fitted. seven volts."
)


def populate(store: Store) -> None:
    """Everybody, the card, one work order."""
    for at, person in enumerate(PEOPLE):
        store.people.add(person, SECRET, by="ada" if at else None)
    store.cards.add(CARD, "hub.yaml", by="ada")
    store.orders.open(WorkOrder("W-7", "Test rig", "TR-9", "Hub check"), by="ada")


def dictated(store: Store, text: str = SPOKEN, work_order: str = "W-7") -> Note:
    """A draft by the mechanic, read from `text`."""
    draft = read_text(text, store.cards.get("DM-10"), "10")
    return store.notes.add(draft, work_order=work_order, by="tom")


def accepted(store: Store, note: Note, by: str = "ruth") -> Record:
    """The record of a note whose values raise no question, all accepted and signed."""
    now = store.clock.now()
    decisions = accept_undoubted(note.draft.values, by=by, at=now)
    act = Confirmation(note.id, note.version, decisions)
    shown = store.records.show(act, by=by)
    return store.records.sign(act, by=by, secret=SECRET, digest=shown.digest)


def fake_chain() -> Chain:
    """A chain that hears the same sentence in every recording."""
    return Chain(FakeRecogniser(queue=["bolt one ninety nine newton metres."] * 50))


def recognition() -> Recognition:
    """Hearing in a thread of this process, with the fake recogniser."""
    return Recognition(fake_chain, pool=lambda: ThreadPoolExecutor(1))


def application(store: Store, **settings: object) -> object:
    """The pages over `store`; recordings that are handed in are heard in this process."""
    return web.create(
        store,
        site.Site(**settings),  # type: ignore[arg-type]
        recognition(),
        hands=(lambda: OwnHands(store, fake_chain),),
    )


@dataclass
class Browser:
    """A client that carries the token of the last form it saw."""

    client: TestClient
    token: str = ""
    pages: list[str] = field(default_factory=list)

    def get(self, path: str, status: int = 200) -> str:
        answer = self.client.get(path, follow_redirects=True)
        assert answer.status_code == status, f"{path}: {answer.status_code} {answer.text[:2000]}"
        found = re.search(r'name="csrf" value="([^"]+)"', answer.text)
        self.token = found[1] if found else self.token
        return str(answer.text)

    def post(self, path: str, status: int = 200, files: object = None, **fields: object) -> str:
        data = {"csrf": self.token} | {k.rstrip("_"): v for k, v in fields.items()}
        answer = self.client.post(path, data=data, files=files, follow_redirects=True)  # type: ignore[arg-type]
        assert answer.status_code == status, f"{path}: {answer.status_code} {answer.text[:2000]}"
        return str(answer.text)

    def sign_in(self, person: str, secret: str = SECRET, status: int = 200) -> str:
        self.client.cookies.clear()
        self.get("/sign-in")
        page = self.post("/sign-in", status, person=person, secret=secret)
        if status == 200:
            self.get("/")
        return page


def version(page: str) -> str:
    """The version of the note that a review page shows."""
    found = re.search(r'data-version="(\d+)"', page)
    assert found
    return found[1]
