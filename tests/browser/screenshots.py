"""Pictures of every page, narrow and wide, by day and by night.

    python -m tests.browser.screenshots FOLDER

Plays the demo's cards in an invented workshop; look at the pictures after every change of
the layout.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from tests.browser.conftest import CHROMIUM, sign_in
from tests.browser.serving import Server
from tests.browser.speech import RATE_HZ, write
from tests.web.scene import CHEAP, PEOPLE, SECRET, accepted
from voicelog import config
from voicelog.objects import Note
from voicelog.pipeline import Chain
from voicelog.records import Authorisation, Person, Store, Tool, WorkOrder
from voicelog.records.people import ROLES
from voicelog.speech import audio
from voicelog.speech.fake import FakeRecogniser
from voicelog.work import intake

SIZES = {"narrow": (390, 844), "wide": (1440, 900)}
SPOKEN = (
    "Step 30. Fitted wheel, hotel tango 66 dash niner zero two. Seating torque 250 foot pounds. "
    "Bolts 1 to 3, 98 newton metres. Bolt 4 94 newton metres. Bolt 5 15 newton metres. "
    "Cotter pin fitted. Final torque about 160 foot pounds. Scratch on the rim, three millimetres."
)


def sound(text: str) -> bytes:
    """Something whose waveform looks spoken: bursts, one a word."""
    rng = np.random.default_rng(len(text))
    bursts = []
    for word in text.split():
        size = round((0.12 + 0.05 * len(word)) * RATE_HZ)
        shape = np.hanning(size) * (0.3 + 0.5 * rng.random())
        bursts += [shape * rng.normal(0, 0.4, size), np.zeros(round(0.06 * RATE_HZ))]
    return audio.to_flac(np.concatenate(bursts).astype(np.float32))


def furnish(home: Path) -> None:
    """People, cards, tools, a draft in doubt, records, one of them waiting for inspection."""
    authorised = (Authorisation(inspect=True),)
    with Store.open(home, cost=CHEAP) as store:
        max_ = Person("max", "Max Ferro", ROLES, "L-9204", "category B1", authorised)
        store.people.add(max_, SECRET, by=None)
        for person in PEOPLE:
            store.people.add(person, SECRET, by="max")
        for path in sorted((config.config_dir() / "cards").glob("*.yaml")):
            store.cards.add(path.read_bytes(), path.name, by="max")
        wheel = store.cards.source("DM-32-10")
        newer = wheel.replace(b'revision: "4"', b'revision: "5"').replace(b"min: 95", b"min: 96")
        store.tools.put(Tool("TW-114", "Torque wrench"), by="max")
        store.orders.open(
            WorkOrder("W-2041", "Freight aircraft", "FA-017", "Main wheel change"), by="max"
        )
        note_of(store, SPOKEN, "DM-32-10", "30", "W-2041")
        note_of(store, "Noise checked, all good. Seals fine.", "DM-KR-15", "20", "W-2044")
        removed = "Removed wheel, kilo tango 447 dash 9. Bearings checked, no pitting. Axle fine."
        accepted(store, note_of(store, removed, "DM-32-10", "10", "W-2041"))
        locked = "Turnbuckles locked. Safety wire fitted. Left threads 2, right threads 2."
        accepted(store, note_of(store, locked, "DM-27-20", "30", "W-2039"))
        store.cards.add(newer, "wheel_brake.yaml", by="max")
        handed_in(store)


def handed_in(store: Store) -> None:
    """One recording in which nobody speaks, and one that somebody else has begun to hear."""
    heading = intake.Heading("max", "W-2041", "DM-32-10", step="30")
    for words, name in (("", "REC0017.flac"), (SPOKEN, "REC0018.flac")):
        intake.take(store, sound(f"{name} {words}"), name, heading)
    silent, _ = store.jobs.lease("another-machine:1", 2, lease_s=3600)
    store.jobs.fail(silent, "REC0017.flac: nobody speaks in this recording; record it again")


def note_of(store: Store, text: str, card: str, step: str, order: str) -> Note:
    data = sound(text)
    found = store.cards.get(card)
    store.audio.keep(data)
    recording = audio.load(data)
    draft = Chain(FakeRecogniser({recording.sha256: text})).note(recording, found, step)
    return store.notes.add(draft, work_order=order, by="tom")


PAGES = {
    "home": "/", "choose": "/dictate", "upload": "/dictate/upload", "sent": "/dictated/N-000001",
    "handed": "/dictate/upload/J-000001", "handed-heard": "/dictate/upload/J-000002",
    "queue": "/review", "review": "/review/N-000001", "sign": "/review/N-000001/sign",
    "inspections": "/inspect", "inspect": "/inspect/R-000002", "records": "/records",
    "record": "/records/R-000001", "correct": "/records/R-000001/correct", "orders": "/orders",
    "order": "/orders/W-2041", "handover": "/orders/W-2041/handover", "export": "/export",
    "check": "/export/check", "upkeep": "/upkeep", "people": "/upkeep/people",
    "person": "/upkeep/people/ruth", "cards": "/upkeep/cards",
    "card": "/upkeep/cards/DM-32-10?old=4&new=5", "tools": "/upkeep/tools",
    "integrity": "/upkeep/integrity", "refused": "/nothing",
}  # fmt: skip


def pictures(browser: Any, address: str, folder: Path, scheme: str, name: str) -> None:
    wide, high = SIZES[name]
    page = browser.new_context(
        color_scheme=scheme, viewport={"width": wide, "height": high}
    ).new_page()

    def shoot(what: str, *, whole: bool = False) -> None:
        page.screenshot(path=folder / f"{what}-{name}-{scheme}.png", full_page=whole)

    page.goto(address + "/sign-in")
    shoot("door")
    sign_in(page, address, "max")
    for what, path in PAGES.items():
        page.goto(address + path, wait_until="networkidle")
        shoot(what, whole=what not in ("review",))
    page.goto(address + "/review/N-000001", wait_until="networkidle")
    for _ in range(6):
        page.keyboard.press("ArrowDown")
    shoot("review-doubt")
    page.keyboard.press("e")
    shoot("review-correct")
    page.goto(address + "/dictate")
    page.get_by_label("Work order").fill("W-2041")
    page.locator("input[value='DM-32-10']").check()
    page.get_by_role("button", name="Start dictation").click()
    page.wait_for_url("**/dictate/*")
    shoot("dictate")
    page.get_by_role("button", name="Open the microphone").click()
    page.wait_for_timeout(1500)
    shoot("dictate-listening")
    page.get_by_role("button", name="Steps").click()
    shoot("dictate-steps")


def main() -> None:
    """Make them all."""
    from playwright.sync_api import sync_playwright

    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    place = Path(tempfile.mkdtemp())
    site = place / "site.toml"
    site.write_text('name = "Ellery Harbour Workshop"\n[read_back]\nvoice = "off"\n')
    silence = write(place / "silence.wav", np.random.default_rng(1).normal(0, 0.01, 20 * RATE_HZ))
    furnish(place / "home")
    server = Server(place / "home", site)
    server.start()
    try:
        with sync_playwright() as play:
            browser = play.chromium.launch(
                executable_path=CHROMIUM,
                args=["--no-sandbox", "--use-fake-ui-for-media-stream",
                      "--use-fake-device-for-media-stream",
                      f"--use-file-for-fake-audio-capture={silence}%noloop"],
            )  # fmt: skip
            for scheme in ("light", "dark"):
                for name in SIZES:
                    pictures(browser, server.address, folder, scheme, name)
            browser.close()
    finally:
        server.stop()
        shutil.rmtree(place)


if __name__ == "__main__":
    main()
