"""Every page: no violation of WCAG 2.2 AA that axe-core finds, no sideways scrolling, small."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import AXE, Launch, leave_out, sign_in
from tests.browser.screenshots import note_of, sound
from tests.browser.serving import Server
from tests.web.scene import CHEAP, SECRET, SPOKEN, accepted, dictated
from voicelog.records import Person, Store
from voicelog.work import intake

PAGES = (
    "/", "/secret", "/dictate", "/dictate/upload", "/dictate/upload/J-000001",
    "/dictated/N-000001", "/review",
    "/review/N-000001", "/review/N-000001/sign", "/inspect", "/inspect/R-000001", "/records",
    "/records/R-000001", "/records/R-000001/correct", "/orders", "/orders/W-7",
    "/orders/W-7/handover", "/export", "/export/check", "/upkeep", "/upkeep/people",
    "/upkeep/people/ada", "/upkeep/cards", "/upkeep/cards/DM-10", "/upkeep/tools",
    "/upkeep/integrity", "/nothing/here",
)  # fmt: skip
LIGHT_BYTES = 100_000
NARROW, WIDE = {"width": 360, "height": 740}, {"width": 1440, "height": 900}
CONTRAST = ["color-contrast", "target-size", "link-in-text-block"]


@pytest.fixture
def everything(server: Server, home: Path) -> Server:
    """A home with a draft, a record that waits for inspection, and somebody with every role."""
    from voicelog.records import Authorisation
    from voicelog.records.people import ROLES

    with Store.open(home, cost=CHEAP) as store:
        store.people.add(
            Person("max", "Max Ferro", ROLES, "L-9", "category B1", (Authorisation(inspect=True),)),
            SECRET,
            by="ada",
        )
        note_of(store, SPOKEN, "DM-10", "10", "W-7")
        accepted(store, dictated(store, "step twenty. safety wire fitted."))
        heading = intake.Heading("max", "W-7", "DM-10")
        intake.take(store, sound("REC0017"), "REC0017.flac", heading)
        (job,) = store.jobs.lease("another-machine:1", lease_s=3600)
        store.jobs.fail(job, "REC0017.flac: nobody speaks in this recording; record it again")
    return server


def all_pages(page: Any, address: str) -> Iterator[str]:
    """Opens each page in turn, the sign-in and a dictation too."""
    page.goto(address + "/sign-in")
    yield "/sign-in"
    sign_in(page, address, "max")
    for path in PAGES:
        page.goto(address + path)
        yield path
    page.goto(address + "/dictate")
    page.get_by_label("Work order").fill("W-7")
    page.get_by_role("button", name="Start dictation").click()
    page.wait_for_url("**/dictate/*")
    page.locator("#heard li").first.wait_for(state="attached")
    yield "/dictate/…"


def violations(page: Any, path: str, run: dict[str, Any]) -> list[str]:
    """What axe-core finds wrong with the page as it is now."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    result = page.evaluate("(run) => axe.run(run)", run)
    return [
        f"{path}: {fault['id']}: {node['target']} {node['failureSummary']}"
        for fault in result["violations"]
        for node in fault["nodes"][:2]
    ]


def test_narrow_by_day(everything: Server, browsing: Launch) -> None:
    """Whole WCAG 2.2 AA; nothing scrolls sideways at 360 px; each page under 100 kB."""
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    faults, wide, heavy = [], [], []
    sizes: list[int] = []
    with browsing(device=False, color_scheme="light", viewport=NARROW) as page:
        page.on("response", lambda answer: sizes.append(weight(answer)))
        for path in all_pages(page, everything.address):
            page.wait_for_load_state("load")
            over = page.evaluate(
                "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
            )
            wide += [(path, over)] if over > 0 else []
            heavy += [(path, sum(sizes))] if sum(sizes) > LIGHT_BYTES else []
            sizes.clear()
            if AXE.exists():
                faults += violations(page, path, {"runOnly": tags})
    assert (faults, wide, heavy) == ([], [], [])
    if not AXE.exists():
        leave_out("axe-core is not there, only width and weight were checked")


def test_wide_by_night(everything: Server, browsing: Launch) -> None:
    """The same signs in other colours: their contrast."""
    if not AXE.exists():
        leave_out("axe-core is not there")
    faults = []
    with browsing(device=False, color_scheme="dark", viewport=WIDE) as page:
        for path in all_pages(page, everything.address):
            faults += violations(page, path, {"runOnly": {"type": "rule", "values": CONTRAST}})
    assert faults == []


def weight(answer: Any) -> int:
    try:
        return len(answer.body())
    except Exception:  # a redirect has no body
        return 0
