"""Review by forms: decide, correct, place, conflict, sign; inspect; correct a record; export."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from html import unescape

import pytest

from tests.web.scene import SECRET, Browser, accepted, dictated, version
from voicelog.objects import Note
from voicelog.records import Filter, Store, Tool


def decide(browser: Browser, note: Note, line: str, kind: str, **more: str) -> str:
    page = browser.get(f"/review/{note.id}")
    status = int(more.pop("status", "200"))
    return browser.post(
        f"/review/{note.id}/decide", status, version=version(page), line=line, kind=kind, **more
    )


def decide_all(browser: Browser, note: Note) -> None:
    page = browser.get(f"/review/{note.id}")
    browser.post(f"/review/{note.id}/decide", version=version(page), kind="accept undoubted")
    decide(browser, note, "10|bolt|2", "accept", follow_up="rework")


def digest(page: str) -> str:
    found = re.search(r'name="digest" value="([0-9a-f]{64})"', page)
    assert found, re.sub(r"<[^>]+>", "", page)[-1500:]
    return found[1]


def moment(page: str) -> str:
    found = re.search(r'name="at" value="([^"]+)"', page)
    assert found
    return unescape(found[1])


def sign(browser: Browser, path: str, secret: str = SECRET, status: int = 200) -> str:
    page = browser.get(path)
    return browser.post(path, status, act="sign", secret=secret, digest=digest(page))


def test_a_draft_becomes_a_record(store: Store, note: Note, as_: Callable[[str], Browser]) -> None:
    browser = as_("ruth")
    assert note.id in browser.get("/review")
    decide_all(browser, note)
    shown = browser.get(f"/review/{note.id}/sign")
    assert "You sign exactly this" in shown
    page = sign(browser, f"/review/{note.id}/sign")
    assert "Signed and recorded" in page
    record = next(iter(store.records.search(Filter())))
    assert {(d.field, d.position): d.kind for d in record.decisions} == {
        ("wear", None): "accept",
        ("bolt", "1"): "accept",
        ("bolt", "2"): "accept",
        ("pin", None): "accept",
    }
    assert record.signature.digest == digest(shown)
    assert "No draft waits" in browser.get("/review")


def test_a_value_out_of_limits_needs_what_follows(
    note: Note, as_: Callable[[str], Browser]
) -> None:
    browser = as_("ruth")
    decide_all(browser, note)
    page = decide(browser, note, "10|bolt|2", "accept")
    assert "Say what follows" in page
    assert "acknowledge it with what follows" in browser.get(f"/review/{note.id}/sign")


def test_nothing_is_signed_with_a_wrong_secret(
    store: Store, note: Note, as_: Callable[[str], Browser]
) -> None:
    browser = as_("ruth")
    decide_all(browser, note)
    page = sign(browser, f"/review/{note.id}/sign", "not it", 422)
    assert "id or secret is wrong" in page
    assert store.records.count(Filter()) == 0


def test_what_was_shown_is_what_is_signed(
    store: Store, note: Note, as_: Callable[[str], Browser]
) -> None:
    """A change after the page was shown makes the signature void: it is refused, nothing lost."""
    browser = as_("ruth")
    decide_all(browser, note)
    seen = digest(browser.get(f"/review/{note.id}/sign"))
    decide(browser, note, "10|wear|", "correct", value="9", unit="mm", why="read again")
    page = browser.post(f"/review/{note.id}/sign", 409, act="sign", secret=SECRET, digest=seen)
    assert "what was shown is not what would be signed" in page
    assert store.records.count(Filter()) == 0


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"value": "8", "unit": "N*m"}, "can't be converted"),
        ({"value": "eight", "unit": "mm"}, "can't stand here"),
        ({"value": "", "unit": "mm"}, "can't stand here"),
        ({"value": "8", "unit": "wibble"}, "unknown unit"),
    ],
)
def test_a_typed_value_is_checked(
    fields: dict[str, str], told: str, note: Note, as_: Callable[[str], Browser]
) -> None:
    page = decide(as_("ruth"), note, "10|wear|", "correct", why="w", status="422", **fields)
    assert told in unescape(page)


def test_a_correction_in_another_unit_shows_both(
    store: Store, note: Note, as_: Callable[[str], Browser]
) -> None:
    page = decide(
        as_("ruth"), note, "10|bolt|1", "correct", value="72", unit="ft*lbf", why="misheard"
    )
    assert "ft·lbf" in page
    assert "97.6189" in page  # 72 x 1.355 817 948 331 4, NIST SP 811
    kept = store.notes.get(note.id).decisions[0]
    assert (str(kept.value), kept.unit, kept.why) == ("72", "ft*lbf", "misheard")


def test_something_said_without_a_field_is_put_into_one(
    store: Store, as_: Callable[[str], Browser]
) -> None:
    note = dictated(store, "step ten. wear pin eight millimetres. seven volts.")
    browser = as_("ruth")
    page = browser.get(f"/review/{note.id}")
    assert "Said, and no field found for it" in page
    browser.post(f"/review/{note.id}/place", version=version(page), line="10|remarks|", mention="0")
    kept = store.notes.get(note.id).decisions[0]
    assert (kept.kind, kept.value, kept.why) == (
        "correct", "seven volts", "said without a field: seven volts",
    )  # fmt: skip


def test_two_reviewers_at_once_end_in_a_choice(
    store: Store, note: Note, as_: Callable[[str], Browser]
) -> None:
    browser = as_("ruth")
    page = browser.get(f"/review/{note.id}")
    store.notes.decide(note.id, note.version, (), by="vera")
    page = browser.post(
        f"/review/{note.id}/decide", 409,
        version=version(page), line="10|wear|", kind="reject", why="no pin there",
    )  # fmt: skip
    assert "Somebody was quicker" in page
    assert "no pin there" in page
    fields = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', page))
    fields.pop("csrf")
    browser.post(f"/review/{note.id}/decide", **fields)
    assert store.notes.get(note.id).decisions[0].why == "no pin there"


def test_whoever_signs_decides_it_all_themselves(
    store: Store, note: Note, as_: Callable[[str], Browser]
) -> None:
    decide_all(as_("ruth"), note)
    browser = as_("vera")
    assert "Decided by Ruth Vane" in browser.get(f"/review/{note.id}")
    assert "not decided" in browser.get(f"/review/{note.id}/sign")


def test_a_tool_out_of_calibration_stops_the_signature_until_a_reason_is_given(
    store: Store, as_: Callable[[str], Browser]
) -> None:
    from datetime import date

    card = b"""\
card: DM-11
title: Torque check
revision: "1"
revision_date: 2026-01-02
source: demonstration manual 11-00 rev 1
steps:
  - step: "10"
    title: Torque
    fields:
      - {name: wrench, label: Torque wrench, type: identifier, kind: tool number,
         say: [torque wrench]}
"""
    from voicelog.pipeline import read_text

    store.cards.add(card, "torque.yaml", by="ada")
    store.tools.put(Tool("TW-114", "wrench", date(2020, 1, 1)), by="ada")
    draft = read_text(
        "torque wrench tango whiskey dash one one four", store.cards.get("DM-11"), "10"
    )
    note = store.notes.add(draft, work_order="W-7", by="tom")
    browser = as_("ruth")
    decide(browser, note, "10|wrench|", "accept")
    path = f"/review/{note.id}/sign"
    page = browser.get(path)
    assert "out of calibration" in page
    assert 'name="digest"' not in page
    block = unescape(re.search(r'name="block" value="([^"]+)"', page)[1])  # type: ignore[index]
    page = browser.post(path, act="show", block=block, reason="checked against TW-115 today")
    page = browser.post(
        path, act="sign", block=block, reason="checked against TW-115 today",
        secret=SECRET, digest=digest(page),
    )  # fmt: skip
    assert "resolved by Ruth Vane" in page


def recorded(store: Store, browser: Browser, text: str) -> str:
    note = dictated(store, text)
    page = browser.get(f"/review/{note.id}")
    browser.post(f"/review/{note.id}/decide", version=version(page), kind="accept undoubted")
    sign(browser, f"/review/{note.id}/sign")
    return next(iter(store.records.search(Filter()))).id


def test_an_independent_inspection_is_for_somebody_else(
    store: Store, as_: Callable[[str], Browser]
) -> None:
    browser = as_("ruth")
    record = recorded(store, browser, "step twenty. safety wire fitted.")
    assert record in browser.get("/inspect")
    fields = {"kind:20|wire|": "accept"}
    assert "independent" in browser.post(f"/inspect/{record}", 422, **fields)
    other = as_("vera")
    other.get(f"/inspect/{record}")
    page = other.post(f"/inspect/{record}", **fields)
    page = other.post(
        f"/inspect/{record}",
        act="sign",
        secret=SECRET,
        digest=digest(page),
        at=moment(page),
        **fields,
    )
    assert "Independent inspection signed" in page
    assert "No record waits" in other.get("/inspect")


def test_an_inspector_must_decide_every_line(store: Store, as_: Callable[[str], Browser]) -> None:
    record = recorded(store, as_("ruth"), "step twenty. safety wire fitted.")
    other = as_("vera")
    other.get(f"/inspect/{record}")
    page = other.post(f"/inspect/{record}", act="show")
    assert "not decided" in page
    assert 'name="digest"' not in page


def test_a_corrected_record_supersedes_and_keeps_the_old_one(
    store: Store, as_: Callable[[str], Browser]
) -> None:
    browser = as_("ruth")
    record = recorded(store, browser, "step ten. wear pin eight millimetres.")
    fields = {"kind:10|wear|": "correct", "value:10|wear|": "9", "unit:10|wear|": "mm"}
    path = f"/records/{record}/correct"
    browser.get(path)
    page = browser.post(path, why="read from the wrong pin", **fields)
    page = browser.post(
        path, why="read from the wrong pin", act="sign", secret=SECRET, digest=digest(page),
        at=moment(page), **fields,
    )  # fmt: skip
    assert "the earlier record stays on file" in page
    assert "Superseded by" in browser.get(f"/records/{record}")


def test_the_clerk_finds_prints_exports_and_checks(
    store: Store, as_: Callable[[str], Browser]
) -> None:
    record = recorded(store, as_("ruth"), "step ten. wear pin eight millimetres.")
    browser = as_("cleo")
    assert record in browser.get("/records?words=wear")
    assert record not in browser.get("/records?words=flange")
    assert "is no date" in browser.get("/records?since=yesterday", 422)
    assert "Records that match: 1" in browser.get("/export?work_order=W-7")
    for format_ in ("csv", "jsonl", "xlsx", "pdf"):
        answer = browser.client.post(
            "/export", data={"csrf": browser.token, "format": format_, "state": "current"}
        )
        assert answer.status_code == 200, answer.text
        archive = answer.content
        assert "manifest.json" in zipfile.ZipFile(io.BytesIO(archive)).namelist()
        page = browser.post("/export/check", files={"export": ("e.zip", archive)})
        assert "Unchanged since it was signed" in page
        assert "This is the key of this site" in page


def test_a_changed_export_is_named(store: Store, as_: Callable[[str], Browser]) -> None:
    recorded(store, as_("ruth"), "step ten. wear pin eight millimetres.")
    browser = as_("cleo")
    browser.get("/export")
    sent = browser.client.post("/export", data={"csrf": browser.token, "format": "csv"}).content
    changed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(sent)) as old, zipfile.ZipFile(changed, "w") as new:
        for name in old.namelist():
            new.writestr(
                name, old.read(name).replace(b"8", b"9") if "csv" in name else old.read(name)
            )
    page = browser.post("/export/check", files={"export": ("e.zip", changed.getvalue())})
    assert "values.csv: changed" in page


@pytest.mark.parametrize("name", ["../up.txt", "/etc/passwd", "a/b.txt", ".."])
def test_a_hostile_archive_is_refused(name: str, as_: Callable[[str], Browser]) -> None:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as archive:
        archive.writestr(name, "x")
    page = as_("cleo").post("/export/check", 422, files={"export": ("e.zip", data.getvalue())})
    assert "not a ZIP file of an export" in page


def test_what_is_no_archive_is_refused(as_: Callable[[str], Browser]) -> None:
    page = as_("cleo").post("/export/check", 422, files={"export": ("e.zip", b"hello")})
    assert "not a ZIP file of an export" in page


def test_a_draft_is_withdrawn_with_a_reason(
    store: Store, note: Note, as_: Callable[[str], Browser]
) -> None:
    browser = as_("ruth")
    page = browser.get(f"/review/{note.id}")
    browser.post(f"/review/{note.id}/withdraw", 422, version=version(page), why="")
    browser.post(f"/review/{note.id}/withdraw", version=version(page), why="dictated twice")
    assert store.notes.get(note.id).state == "withdrawn"


def test_a_work_order_is_not_complete_while_anything_is_open(
    store: Store, note: Note, as_: Callable[[str], Browser]
) -> None:
    browser = as_("ruth")
    page = browser.get("/orders/W-7")
    assert "blocks completion" in page
    assert "is not complete" in browser.post("/orders/W-7/complete", 422)
    assert note.id in browser.get("/orders/W-7")
    assert "Where the last dictation stopped" in browser.get("/orders/W-7/handover")


@pytest.mark.parametrize("path", ["/review", "/records", "/orders"])
def test_long_lists_have_pages(path: str, store: Store) -> None:
    from starlette.testclient import TestClient

    from tests.web.scene import application
    from voicelog.web.site import Limits

    for number in range(5):
        note = dictated(store, "step ten. wear pin eight millimetres.", f"W-1{number}")
        if path == "/records":
            accepted(store, note)
    with TestClient(application(store, limits=Limits(page_rows=2))) as client:  # type: ignore[arg-type]
        browser = Browser(client)
        browser.sign_in("ruth")
        first, second = browser.get(path), browser.get(f"{path}?from=2")
    assert "Older" in first
    assert "Newer" not in first
    assert "Older" in second
    assert "Newer" in second
    rows = re.findall(r'class="row" href="([^"]+)"', first + second)
    assert len(set(rows)) == len(rows) == 4
