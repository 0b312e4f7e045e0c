"""A real Chromium with a fake microphone, and servers of the pages with the real recogniser."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Generator, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests import BROWSER_DIED
from tests.browser.serving import Server
from tests.web.scene import CHEAP, SECRET, populate
from voicelog.records import Store

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
AXE = Path(__file__).resolve().parent / "node_modules" / "axe-core" / "axe.min.js"

SITE = """\
name = "Test workshop"
[read_back]
voice = "off"
"""


def leave_out(why: str) -> None:
    """Skip with a reason; where nothing may be skipped (VOICELOG_REQUIRE_BROWSER), fail."""
    if os.environ.get("VOICELOG_REQUIRE_BROWSER"):
        pytest.fail(f"{why} (npm --prefix tests/browser install)")
    pytest.skip(f"{why} (npm --prefix tests/browser install)")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        item.add_marker(pytest.mark.browser)
        if CHROMIUM is None:
            item.add_marker(pytest.mark.skip(reason="no chromium found"))


DEATHS = ("Target crashed", "Page crashed", "browser has been closed", "Failed to launch")
"""What Playwright says when the browser's process has ended by itself."""
_FAILURES = pytest.StashKey[list[bool]]()
"""For each failure of this run: was it the browser's death?"""


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    if report.failed:
        why = str(call.excinfo.value) if call.excinfo else ""
        died = any(death in why for death in DEATHS)
        item.config.stash.setdefault(_FAILURES, []).append(died)
    return report


def pytest_sessionfinish(session: pytest.Session) -> None:
    failures = session.config.stash.get(_FAILURES, [])
    if failures and all(failures):
        session.exitstatus = BROWSER_DIED


@pytest.fixture(scope="session")
def peopled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home with people, a card and a work order, made once."""
    home = tmp_path_factory.mktemp("browser") / "home"
    with Store.open(home, cost=CHEAP) as store:
        populate(store)
    return home


@pytest.fixture
def home(peopled: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(peopled, tmp_path / "home"))


@pytest.fixture
def server(home: Path, tmp_path: Path) -> Iterator[Server]:
    site = tmp_path / "site.toml"
    site.write_text(SITE)
    made = Server(home, site)
    made.start()
    yield made
    made.stop()


Launch = Callable[..., Any]


@pytest.fixture(scope="session")
def play() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as started:
        yield started


@pytest.fixture
def browsing(play: Any) -> Launch:
    """A browser page: `with browsing(sound=FILE) as page`, or with no microphone at all."""

    @contextmanager
    def launch(
        sound: Path | None = None, *, grant: bool = True, device: bool = True, **context: Any
    ) -> Iterator[Any]:
        arguments = ["--autoplay-policy=no-user-gesture-required"]
        if os.geteuid() == 0:
            arguments.append("--no-sandbox")
        if device:
            arguments.append("--use-fake-device-for-media-stream")
        if grant:
            arguments.append("--use-fake-ui-for-media-stream")
        if sound is not None:
            arguments.append(f"--use-file-for-fake-audio-capture={sound}%noloop")
        browser = play.chromium.launch(executable_path=CHROMIUM, args=arguments)
        try:
            page = browser.new_context(**context).new_page()
            errors: list[str] = []
            page.on("pageerror", lambda error: errors.append(str(error)))
            yield page
            assert errors == []
        finally:
            browser.close()

    return launch


def sign_in(page: Any, address: str, person: str) -> None:
    page.goto(address + "/sign-in")
    page.get_by_label("Your id").fill(person)
    page.get_by_label("Secret").fill(SECRET)
    page.keyboard.press("Enter")
    page.wait_for_url(address + "/")


def begin_dictation(page: Any, address: str) -> str:
    """Start a dictation and open the microphone; the id of the dictation."""
    page.goto(address + "/dictate")
    page.get_by_label("Work order").fill("W-7")
    page.get_by_role("button", name="Start dictation").click()
    page.wait_for_url("**/dictate/*")
    page.get_by_role("button", name="Open the microphone").click()
    return str(page.url.rsplit("/", 1)[1])
