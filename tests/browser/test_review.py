"""Review by keyboard alone, to a signed record; the export of it, downloaded and checked."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import Launch, sign_in
from tests.browser.serving import Server
from tests.browser.speech import spoken
from tests.web.scene import CHEAP, SECRET, dictated
from voicelog import export
from voicelog.records import Filter, Store


def test_a_review_by_keyboard_alone(
    server: Server, home: Path, tmp_path: Path, browsing: Launch
) -> None:
    with Store.open(home, cost=CHEAP) as store:
        note = dictated(store)
    with browsing(device=False) as page:
        page.set_default_timeout(10_000)
        review(page, server.address, note.id)
    with Store.open(home, cost=CHEAP) as store:
        (record,) = store.records.search(Filter())
    stands = {(d.field, d.position): (d.kind, str(d.value)) for d in record.decisions}
    assert stands == {
        ("wear", None): ("accept", "8"),
        ("bolt", "1"): ("correct", "99"),
        ("bolt", "2"): ("accept", "94"),
        ("pin", None): ("accept", "pass"),
        ("remarks", None): ("correct", "seven volts"),
    }
    with browsing(device=False, accept_downloads=True) as page:
        archive = exported(page, server.address, tmp_path)
    with zipfile.ZipFile(archive) as packed:
        packed.extractall(tmp_path / "export")
    assert export.verify(tmp_path / "export") == ()


def review(page: Any, address: str, note: str) -> None:
    """From the sign-in to the signed record, without a mouse."""
    page.goto(address + "/sign-in")
    press(page, "ruth", "Tab", SECRET, "Enter")
    page.wait_for_url(address + "/")
    page.goto(address + "/review")
    tab_to(page, "To check")
    press(page, "Enter")
    page.wait_for_url(f"**/review/{note}")

    press(page, "?")
    page.get_by_role("heading", name="Keys").wait_for()
    press(page, "Escape")

    press(page, "a")  # the wear pin
    decided(page, 1)
    press(page, "e")
    page.keyboard.type("99")
    press(page, "Tab", "Tab")
    page.keyboard.type("read again")
    press(page, "Enter")
    decided(page, 2)
    press(page, "a")  # 94: below its limit, so what follows is asked
    press(page, " ", "Enter")
    decided(page, 3)
    press(page, "r")
    page.keyboard.type("not looked at")
    press(page, "Enter")
    decided(page, 4)
    press(page, "ArrowUp", "u")
    decided(page, 3)
    press(page, "a")
    decided(page, 4)
    press(page, "p", "1")  # "seven volts" has no field yet
    page.locator("#heard-words", has_text="seven volts").wait_for()
    tab_to(page, "Steps not spoken of")
    press(page, "Enter", "Tab")
    page.locator(".line.here", has_text="Remarks").wait_for()
    press(page, "Enter")
    decided(page, 5)

    press(page, "s")
    page.wait_for_url("**/sign")
    assert "seven volts" in page.inner_text("main")
    tab_to(page, "secret")
    page.keyboard.type(SECRET)
    press(page, "Enter")
    page.wait_for_url("**/records/**")
    page.get_by_text("Signed and recorded.").wait_for()


def exported(page: Any, address: str, folder: Path) -> Path:
    """The export as the clerk downloads it, checked on the page."""
    sign_in(page, address, "cleo")
    page.goto(address + "/export?work_order=W-7")
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Make the export").click()
    archive = folder / "export.zip"
    waiting.value.save_as(archive)
    page.goto(address + "/export/check")
    page.get_by_label("ZIP file").set_input_files(archive)
    page.get_by_role("button", name="Check it").click()
    page.get_by_text("Unchanged since it was signed.").wait_for()
    return archive


def press(page: Any, *keys: str) -> None:
    """Keys by name; anything longer that is no key is typed."""
    named = {"Tab", "Enter", "Escape", "ArrowDown", "ArrowUp", " "}
    for key in keys:
        if key in named or len(key) == 1:
            page.keyboard.press("Space" if key == " " else key)
        else:
            page.keyboard.type(key)


def tab_to(page: Any, text: str) -> None:
    """Press Tab until the thing with that text or id has the focus."""
    for _ in range(60):
        page.keyboard.press("Tab")
        focused = page.evaluate(
            "() => document.activeElement.id + ' ' + document.activeElement.textContent"
        )
        if text in focused:
            return
    raise AssertionError(f"Tab never came to {text!r}")


def decided(page: Any, count: int) -> None:
    page.get_by_text(f"{count} of ").wait_for()


@pytest.mark.model
def test_a_value_said_again(server: Server, home: Path, tmp_path: Path, browsing: Launch) -> None:
    """By voice and keyboard: the correction comes back typed, in its unit, and stands."""
    with Store.open(home, cost=CHEAP) as store:
        note = dictated(store)
    # The fake microphone plays from the moment at which it is opened.
    sound = spoken(tmp_path / "again.wav", (0.6, "Ninety nine newton metres.", 30.0))
    with browsing(sound) as page:
        page.set_default_timeout(15_000)
        sign_in(page, server.address, "ruth")
        page.goto(f"{server.address}/review/{note.id}")
        press(page, "ArrowDown")
        page.locator(".line.here", has_text="bolt 1").wait_for()
        press(page, "v")
        page.get_by_role("button", name="Stop and read").wait_for()
        page.wait_for_timeout(4_000)
        press(page, "v")
        page.locator("#heard-words", has_text="Heard now").wait_for(timeout=60_000)
        assert page.input_value("#value") == "99"
        assert page.input_value("#unit") == "N*m"
        assert page.input_value("#why") == "said again by the reviewer"
        press(page, "Enter")
        decided(page, 1)
    with Store.open(home, cost=CHEAP) as store:
        (decision,) = store.notes.get(note.id).decisions
    assert (decision.field, decision.position, decision.kind) == ("bolt", "1", "correct")
    assert (str(decision.value), decision.unit) == ("99", "N*m")


def test_no_microphone_for_saying_again_is_said(
    server: Server, home: Path, browsing: Launch
) -> None:
    with Store.open(home, cost=CHEAP) as store:
        note = dictated(store)
    with browsing(None, grant=False) as page:
        sign_in(page, server.address, "ruth")
        page.goto(f"{server.address}/review/{note.id}")
        press(page, "v")
        page.locator("#heard-words", has_text="The microphone was refused.").wait_for()
        press(page, "e")
        page.locator("#value").wait_for()
