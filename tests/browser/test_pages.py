"""Every page: no violation of WCAG 2.2 AA that axe-core finds, no sideways scrolling, small."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import AXE, Launch, sign_in
from tests.browser.serving import Server
from tests.web.scene import CHEAP, SECRET, accepted, dictated
from voicelog.records import Person, Store

PAGES = (
    "/", "/secret", "/dictate", "/dictate/upload", "/dictated/N-000001", "/review",
    "/review/N-000001", "/review/N-000001/sign", "/inspect", "/inspect/R-000001", "/records",
    "/records/R-000001", "/records/R-000001/correct", "/orders", "/orders/W-7",
    "/orders/W-7/handover", "/export", "/export/check", "/upkeep", "/upkeep/people",
    "/upkeep/people/ada", "/upkeep/cards", "/upkeep/cards/DM-10", "/upkeep/tools",
    "/upkeep/integrity", "/nothing/here",
)  # fmt: skip
LIGHT_BYTES = 100_000


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
        dictated(store)
        accepted(store, dictated(store, "step twenty. safety wire fitted."))
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


def test_no_page_has_a_violation_that_axe_finds(everything: Server, browsing: Launch) -> None:
    if not AXE.exists():
        pytest.skip("axe-core is not there; install it with: npm install")
    axe = AXE.read_text(encoding="utf-8")
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = []
    for scheme, size in (("light", (390, 844)), ("dark", (1440, 900))):
        with browsing(
            device=False, color_scheme=scheme, viewport={"width": size[0], "height": size[1]}
        ) as page:
            for path in all_pages(page, everything.address):
                page.evaluate(axe)
                result = page.evaluate("(tags) => axe.run({ runOnly: tags })", tags)
                found += [
                    f"{scheme} {path}: {fault['id']}: {node['target']} {node['failureSummary']}"
                    for fault in result["violations"]
                    for node in fault["nodes"][:2]
                ]
    assert found == []


def test_no_page_scrolls_sideways_or_weighs_much(everything: Server, browsing: Launch) -> None:
    wide, heavy, sizes = [], [], []
    with browsing(device=False, viewport={"width": 360, "height": 740}) as page:
        page.on("response", lambda answer: sizes.append(weight(answer)))
        for path in all_pages(page, everything.address):
            page.wait_for_load_state("networkidle")
            over = page.evaluate(
                "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
            )
            if over > 0:
                wide.append((path, over))
            if sum(sizes) > LIGHT_BYTES:
                heavy.append((path, sum(sizes)))
            sizes.clear()
    assert wide == []
    assert heavy == []


def weight(answer: Any) -> int:
    try:
        return len(answer.body())
    except Exception:  # a redirect has no body
        return 0
