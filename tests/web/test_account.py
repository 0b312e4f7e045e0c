"""The door: sign-in, lock-out, cookies, sessions that outlive a restart."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from starlette.testclient import TestClient

from tests.web.scene import SECRET, Browser, application, recognition
from voicelog import web
from voicelog.records import Store
from voicelog.web.security import Rate
from voicelog.web.sessions import COOKIE, Sessions
from voicelog.web.site import Limits, Site


def test_a_wrong_secret_and_an_unknown_id_are_told_alike(client: TestClient) -> None:
    browser = Browser(client)
    wrong = browser.sign_in("ruth", "wrong secret", 403)
    unknown = browser.sign_in("nobody", "wrong secret", 403)
    assert "id or secret is wrong" in wrong
    assert "id or secret is wrong" in unknown


def test_every_sign_in_is_a_line_of_the_ledger(store: Store, client: TestClient) -> None:
    browser = Browser(client)
    browser.sign_in("ruth", "wrong secret", 403)
    browser.sign_in("ruth")
    browser.post("/sign-out")
    acts = [line.act for line in store.ledger.lines(kind="person", subject="ruth")]
    assert acts[-3:] == ["secret refused", "signed in", "signed out"]


def test_too_many_wrong_secrets_lock_out(client: TestClient) -> None:
    browser = Browser(client)
    pages = [browser.sign_in("ruth", "wrong secret", 403) for _ in range(8)]
    assert "locked until" in pages[-1]
    assert "locked until" in browser.sign_in("ruth", SECRET, 403)


def test_the_cookie_is_for_this_site_and_no_script(store: Store) -> None:
    app = web.create(store, Site(), recognition(), tls=True)
    with TestClient(app, base_url="https://testserver") as client:
        browser = Browser(client)
        browser.get("/sign-in")
        answer = client.post(
            "/sign-in",
            data={"csrf": browser.token, "person": "ruth", "secret": SECRET},
            follow_redirects=False,
        )
        cookie = next(c for c in answer.headers.get_list("set-cookie") if c.startswith(COOKIE))
        assert {"httponly", "secure", "samesite=strict"} <= set(
            cookie.lower().replace(" ", "").split(";")
        )
        assert "max-age=31536000" in answer.headers["strict-transport-security"]


def test_signing_out_ends_the_session_on_the_server(as_: Callable[[str], Browser]) -> None:
    browser = as_("ruth")
    token = browser.client.cookies[COOKIE]
    browser.post("/sign-out")
    browser.client.cookies.set(COOKIE, token)
    assert browser.client.get("/", follow_redirects=False).headers["location"] == "/sign-in"


def test_somebody_made_inactive_is_out_at_once(store: Store, as_: Callable[[str], Browser]) -> None:
    from dataclasses import replace

    browser = as_("cleo")
    store.people.update(replace(store.people.get("cleo"), active=False), by="ada")
    assert browser.client.get("/", follow_redirects=False).headers["location"] == "/sign-in"


def test_sign_ins_come_at_a_bounded_rate(store: Store) -> None:
    app = application(store, limits=Limits(sign_ins_per_minute=2))
    with TestClient(app) as client:  # type: ignore[arg-type]
        browser = Browser(client)
        assert "locked" not in browser.sign_in("ruth", "wrong secret", 403)
        browser.sign_in("ruth", "wrong secret", 403)
        assert "Too many at once" in browser.sign_in("ruth", SECRET, 429)


def test_a_session_outlives_a_restart_and_ends_with_its_time(tmp_path: Path) -> None:
    token, session = Sessions(tmp_path / "s", 1).begin("ruth")
    assert Sessions(tmp_path / "s", 1).find(token) == session
    kept = "".join(f.name + f.read_text() for f in (tmp_path / "s").iterdir())
    assert token not in kept
    assert Sessions(tmp_path / "s", 1).find("x" * 43) is None
    assert Sessions(tmp_path / "s", 1).find("../../etc/passwd") is None
    assert Sessions(tmp_path / "s", 0).find(token) is None


def test_one_s_own_secret(as_: Callable[[str], Browser]) -> None:
    browser = as_("ruth")
    assert "differ" in browser.post("/secret", 422, old=SECRET, new="another 1", again="another 2")
    assert "wrong" in browser.post("/secret", 422, old="no", new="another 12", again="another 12")
    page = browser.post("/secret", old=SECRET, new="another 12", again="another 12")
    assert "Your secret has been changed" in page
    browser.sign_in("ruth", "another 12")


def test_rate_forgets_after_a_minute() -> None:
    now = [0.0]
    rate = Rate(2, clock=lambda: now[0])
    assert [rate.allow("a") for _ in range(3)] == [True, True, False]
    assert rate.allow("b")
    now[0] = 61
    assert rate.allow("a")
