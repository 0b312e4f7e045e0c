"""Upkeep: people, cards with errors by line, revisions side by side, tools, integrity, copies."""

from __future__ import annotations

from collections.abc import Callable
from html import unescape

from tests.web.scene import CARD, SECRET, Browser
from voicelog.records import Store
from voicelog.web.upkeep import side_by_side


def test_somebody_new_can_sign_in(store: Store, as_: Callable[[str], Browser]) -> None:
    browser = as_("ada")
    page = browser.post(
        "/upkeep/people", id="nell", name="Nell Fox", secret="correct horse 2",
        role="reviewer", card="DM-10", steps="10 20", until="2027-01-31", inspect="yes",
    )  # fmt: skip
    assert "Person entered" in page
    found = store.people.get("nell").authorisations[0]
    assert (found.card, found.steps, found.inspect) == ("DM-10", ("10", "20"), True)
    browser.sign_in("nell", "correct horse 2")


def test_what_the_register_refuses_is_said(as_: Callable[[str], Browser]) -> None:
    browser = as_("ada")
    page = browser.post("/upkeep/people", 422, id="x y", name="N", secret=SECRET, role="clerk")
    assert "can't be an id" in unescape(page)
    page = browser.post(
        "/upkeep/people", 422, id="nell", name="N", secret=SECRET, role="clerk",
        card="*", steps="", until="31.1.2027", inspect="no",
    )  # fmt: skip
    assert "is no date" in page


def test_the_last_administrator_stays(as_: Callable[[str], Browser]) -> None:
    page = as_("ada").post("/upkeep/people/ada", 422, name="Ada Birch", role="clerk", active="yes")
    assert "active administrator" in page


def test_a_new_secret_for_somebody_locked_out(as_: Callable[[str], Browser]) -> None:
    browser = as_("ada")
    browser.post("/upkeep/people/tom/secret", secret="correct horse 3")
    browser.sign_in("tom", "correct horse 3")


def test_a_wrong_card_is_refused_with_its_line(as_: Callable[[str], Browser]) -> None:
    wrong = CARD.replace(b"max: 12", b"max: 3")
    page = as_("ada").post("/upkeep/cards", 422, files={"card": ("hub.yaml", wrong)})
    assert "line 10" in page
    assert "min 4 is above max 3" in page


def test_two_revisions_stand_side_by_side(as_: Callable[[str], Browser]) -> None:
    browser = as_("ada")
    new = CARD.replace(b'revision: "1"', b'revision: "2"').replace(b"max: 12", b"max: 11")
    assert "Card is on the shelf" in browser.post(
        "/upkeep/cards", files={"card": ("hub.yaml", new)}
    )
    page = browser.get("/upkeep/cards/DM-10?old=1&new=2")
    assert page.count('<tr class="changed">') == 2


def test_lines_beside_each_other() -> None:
    assert side_by_side(["a", "b", "c"], ["a", "x", "c", "d"]) == [
        ("same", "a", "a"),
        ("changed", "b", "x"),
        ("same", "c", "c"),
        ("new", "", "d"),
    ]


def test_tools(store: Store, as_: Callable[[str], Browser]) -> None:
    browser = as_("ada")
    page = browser.post("/upkeep/tools", number="TW-1", name="wrench", calibration_due="2020-01-01")
    assert "overdue" in page
    assert "is no date" in browser.post("/upkeep/tools", 422, number="T", calibration_due="soon")


def test_integrity_names_a_fault(store: Store, as_: Callable[[str], Browser]) -> None:
    browser = as_("ada")
    browser.get("/upkeep/integrity")
    assert "No fault found" in browser.post("/upkeep/integrity")
    digest = store.audio.keep(b"sound")
    store.audio.path(digest).write_bytes(b"other")
    assert digest[:8] in browser.post("/upkeep/integrity")


def test_a_copy_is_made_and_its_age_shown(store: Store, as_: Callable[[str], Browser]) -> None:
    browser = as_("ada")
    assert "No copy was made yet" in browser.get("/upkeep")
    page = browser.post("/upkeep/backup")
    assert "A checked copy was made" in page
    assert "0 hours ago" in page
    assert list((store.home.parent / f"{store.home.name}-copies").iterdir())
