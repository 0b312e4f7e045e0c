"""The one table: every route as every role, tokens, sizes, headers, and no 500 for anything."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from tests.web.scene import PEOPLE, SECRET, Browser
from voicelog.objects import Note
from voicelog.records import Store
from voicelog.web.app import ANYBODY, ROUTES, Page

TEMPLATES = Path(__file__).resolve().parents[2] / "voicelog" / "web" / "templates"


def address(page: Page, store: Store) -> str:
    """An address of the route that leads to something, or at least to a plain refusal."""
    note = next(iter(store.notes.list()), None)
    return (
        page.path.replace("{note}", note.id if note else "N-1")
        .replace("{id}", "ada" if "people" in page.path else "0123456789abcdef")
        .replace("{number}", "DM-10" if "cards" in page.path else "W-7")
        .replace("{record}", "R-000001")
        .replace("{job}", "J-000001")
        .replace("{sha256}", "ab" * 32)
    )


@pytest.mark.parametrize("role", [None, "mechanic", "reviewer", "clerk", "administrator"])
def test_every_route_as_every_role(
    role: str | None, store: Store, client: TestClient, note: Note
) -> None:
    browser = Browser(client)
    if role:
        browser.sign_in(next(person.id for person in PEOPLE if role in person.roles))
    for page in ROUTES:
        if page.path == "/sign-out":
            continue
        where = address(page, store)
        if page.method == "GET":
            answer = client.get(where, follow_redirects=False)
        else:
            answer = client.post(where, data={"csrf": browser.token}, follow_redirects=False)
        seen = f"{role} {page.method} {page.path}: {answer.status_code}"
        assert answer.status_code < 500, seen
        if page.roles is ANYBODY:
            continue
        if role is None and page.method == "GET":
            assert answer.headers["location"] == "/sign-in", seen
        elif role is None:
            assert answer.status_code == 401, seen
        elif role not in page.roles:
            assert answer.status_code == 403, seen
            assert "role does not open this page" in answer.text, seen
        else:
            assert "role does not open this page" not in answer.text, seen


@pytest.mark.parametrize("page", [p for p in ROUTES if p.method == "POST"], ids=lambda p: p.path)
def test_a_form_without_its_token_changes_nothing(
    page: Page, store: Store, client: TestClient, note: Note
) -> None:
    head = store.ledger.head()
    role = sorted(page.roles)[0] if page.roles else None
    browser = Browser(client)
    if role:
        browser.sign_in(next(person.id for person in PEOPLE if role in person.roles))
        head = store.ledger.head()
    for token in ("", "wrong" * 8):
        answer = client.post(address(page, store), data={"csrf": token}, follow_redirects=False)
        assert answer.status_code == 403
        assert "too old" in answer.text
    assert store.ledger.head() == head


def test_a_request_from_another_site_is_refused(as_: Callable[[str], Browser]) -> None:
    browser = as_("ruth")
    answer = browser.client.post(
        "/sign-out", data={"csrf": browser.token}, headers={"origin": "https://elsewhere.example"}
    )
    assert answer.status_code == 403


def test_every_answer_carries_the_headers(as_: Callable[[str], Browser]) -> None:
    browser = as_("ruth")
    for path in ("/", "/review", "/static/page.css", "/nowhere"):
        headers = browser.client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"
    assert browser.client.get("/").headers["cache-control"] == "no-store"


def test_no_page_holds_inline_script_or_style() -> None:
    for path in TEMPLATES.rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"<style|\sstyle=|\son\w+=|javascript:", text), path
        assert not re.search(r"<script(?![^>]*\ssrc=)", text), path


def test_a_large_form_is_refused(as_: Callable[[str], Browser]) -> None:
    page = as_("ruth").post("/secret", 413, old="x" * 500_000)
    assert "too large" in page


def test_uploads_come_at_a_bounded_rate(store: Store) -> None:
    from tests.web.scene import application
    from voicelog.web.site import Limits

    app = application(store, limits=Limits(uploads_per_minute=2))
    with TestClient(app) as client:  # type: ignore[arg-type]
        browser = Browser(client)
        browser.sign_in("ada")
        statuses = [
            client.post(
                "/upkeep/cards",
                data={"csrf": browser.token},
                files={"card": ("a.yaml", b"card: 1")},
            ).status_code
            for _ in range(3)
        ]
    assert statuses == [422, 422, 429]


def test_every_page_says_who_decides(as_: Callable[[str], Browser]) -> None:
    assert "Approved data and licensed staff decide." in as_("ruth").get("/review")


def test_an_address_that_is_none(as_: Callable[[str], Browser]) -> None:
    assert "no page at this address" in as_("ruth").get("/nothing/here", 404)


def test_logs_name_routes_and_no_data(
    as_: Callable[[str], Browser], caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO")
    browser = as_("cleo")
    browser.get("/records?words=confidential-remark")
    browser.get("/orders/W-7")
    logged = "\n".join(
        record.getMessage() for record in caplog.records if record.name.startswith("voicelog")
    )
    assert "GET /orders/{number} 200" in logged
    for secret in ("confidential", "W-7", "cleo", SECRET):
        assert secret not in logged


# --- hostile input against every route ------------------------------------------------

junk = st.text(st.characters(codec="utf-8"), max_size=40) | st.sampled_from(
    ["", "0", "-1", "99999999999999999999", "..", "N-000001", "10|wear|", "10|bolt|1", "accept",
     "correct", "not applicable", "8 mm", "8 furlong", "NaN", "1e999", "74/80", "2026-13-45",
     "\x00", "%00", "W-7", "DM-10", "R-000001", "current", "sign", "' OR 1=1 --", '"', "*"]
)  # fmt: skip
names = st.sampled_from(
    ["version", "line", "kind", "value", "unit", "why", "follow_up", "reference", "alternative",
     "mention", "proposal", "act", "digest", "block", "reason", "work_order", "card", "step",
     "person", "since", "until", "state", "words", "serial_number", "equipment", "format", "from",
     "to", "n", "revision", "old", "new", "id", "name", "role", "steps", "inspect", "until",
     "number", "calibration_due", "told", "theme", "kind:10|wear|"]
)  # fmt: skip


@pytest.mark.parametrize("page", ROUTES, ids=lambda p: f"{p.method} {p.path}")
def test_nothing_sent_to_a_route_makes_a_500(page: Page, store: Store, client: TestClient) -> None:
    from tests.web.scene import dictated

    note = dictated(store)
    role = sorted(page.roles)[0] if page.roles else None
    browser = Browser(client)
    if page.path == "/sign-out":
        return
    if role:
        browser.sign_in(next(person.id for person in PEOPLE if role in person.roles))
    else:
        browser.get("/sign-in")

    @settings(
        max_examples=12, deadline=None, suppress_health_check=list(HealthCheck), database=None
    )
    @given(st.dictionaries(names, junk, max_size=6), junk, st.booleans())
    def send(fields: dict[str, str], part: str, real: bool) -> None:
        from urllib.parse import quote

        where = address(page, store)
        if not real and "{" in page.path:
            where = re.sub(r"\{\w+\}", lambda _: quote(part, safe="") or "x", page.path)
        if page.method == "GET":
            answer = client.get(where, params=fields, follow_redirects=False)
        else:
            sent = {"version": str(note.version)} | fields | {"csrf": browser.token}
            answer = client.post(where, data=sent, follow_redirects=False)
        assert answer.status_code < 500

    send()
