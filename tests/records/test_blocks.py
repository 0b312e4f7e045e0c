"""Stale cards, tools and lots block until a named person gives a reason."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from tests.records.scene import CARD, SECRET, STEP_10, STEP_20, StandingClock, accept, value
from voicelog.errors import Denied, Incomplete, NotFound, RecordError
from voicelog.objects import FieldValue, Note
from voicelog.records import (
    Block,
    Confirmation,
    Part,
    Resolution,
    Shown,
    Store,
    Tool,
)

Noted = Callable[..., Note]
DAY = date(2026, 11, 20)


def shown(store: Store, noted: Noted, *values: FieldValue) -> tuple[Note, Shown]:
    note = noted(*values)
    act = Confirmation(note.id, 1, accept(values, "ruth"))
    return note, store.records.show(act, by="ruth")


@pytest.mark.parametrize(
    ("tool", "blocked"),
    [
        # due on the day: good; the day after: blocked (common practice; the shop's manual decides)
        (Tool("TW-114", calibration_due=DAY), None),
        (Tool("TW-114", calibration_due=DAY + timedelta(days=1)), None),
        (Tool("TW-114"), None),
        (Tool("TW-114", calibration_due=DAY - timedelta(days=1)), "out of calibration"),
        (Tool("TW-114", in_use=False), "withdrawn"),
        (Tool("TW-141"), "unknown"),
    ],
)
def test_tools(store: Store, noted: Noted, tool: Tool, blocked: str | None) -> None:
    store.tools.put(tool, by="cleo")
    _, result = shown(store, noted, *STEP_20)
    assert [b.key for b in result.blocks] == ([f"tool TW-114 {blocked}"] if blocked else [])
    assert len(result.problems) == len(result.blocks)


def test_a_near_miss_is_asked(store: Store, noted: Noted) -> None:
    store.tools.put(Tool("TW-141"), by="cleo")
    _, result = shown(store, noted, *STEP_20)
    assert result.blocks[0].sentence == "tool TW-114 is not in the register; was it TW-141?"


def test_a_site_without_a_register_is_not_asked(store: Store, noted: Noted) -> None:
    assert shown(store, noted, *STEP_20)[1].blocks == ()


def test_the_day_of_the_measurement_counts_not_the_day_of_signing(
    store: Store, noted: Noted, clock: StandingClock
) -> None:
    store.tools.put(Tool("TW-114", calibration_due=DAY), by="cleo")
    note = noted(*STEP_20)
    clock.forward(days=20)
    act = Confirmation(note.id, 1, accept(STEP_20, "ruth"))
    assert store.records.show(act, by="ruth").blocks == ()


def test_only_a_reason_of_the_signer_lifts_a_block(store: Store, noted: Noted) -> None:
    store.tools.put(Tool("TW-114", calibration_due=date(2026, 11, 1)), by="cleo")
    note, result = shown(store, noted, *STEP_20)
    key = result.blocks[0].key
    for resolutions in ((), (Resolution(key, " "),), (Resolution("tool TW-1 unknown", "w"),)):
        act = Confirmation(note.id, 1, accept(STEP_20, "ruth"), resolutions)
        digest = store.records.show(act, by="ruth").digest
        with pytest.raises(Incomplete, match="was out of calibration on 2026-11-20"):
            store.records.sign(act, by="ruth", secret=SECRET, digest=digest)
    why = Resolution(key, "checked against TW-120 the same day")
    act = Confirmation(note.id, 1, accept(STEP_20, "ruth"), (why,))
    ready = store.records.show(act, by="ruth")
    record = store.records.sign(act, by="ruth", secret=SECRET, digest=ready.digest)
    assert record.resolutions == (
        "tool TW-114 was out of calibration on 2026-11-20 (due 2026-11-01); "
        "resolved by Ruth Hazel (ruth): checked against TW-120 the same day",
    )


@pytest.mark.parametrize(
    ("expiry", "blocked"), [(DAY, False), (DAY - timedelta(days=1), True), (None, False)]
)
def test_expired_lots(store: Store, noted: Noted, expiry: date | None, blocked: bool) -> None:
    store.parts.put(Part("GR-7", batch="B-31", expiry=expiry, release="F-12"), by="cleo")
    _, result = shown(store, noted, value("20", "grease", None, "B-31"))
    assert [b.key for b in result.blocks] == (["batch number B-31 expired"] if blocked else [])


def with_card(store: Store, old: bytes, new: bytes) -> None:
    store.cards.add(CARD.replace(old, new), "changed.yaml", by="ada")


def test_a_later_revision_on_the_shelf_blocks_the_earlier_one(store: Store, noted: Noted) -> None:
    with_card(store, b'revision: "1"', b'revision: "2"')
    _, result = shown(store, noted, *STEP_10)
    assert result.blocks == (
        Block(
            "card TB-10 revision 1 superseded",
            "card TB-10 revision 1 is not the current one, revision 2 is",
        ),
    )


@pytest.mark.parametrize(("expires", "blocked"), [("2026-11-20", False), ("2026-11-19", True)])
def test_an_expired_card(store: Store, noted: Noted, expires: str, blocked: bool) -> None:
    number = b"card: TB-11\nexpires: " + expires.encode()
    with_card(store, b"card: TB-10", number)
    from dataclasses import replace

    from tests.records.scene import draft

    note = store.notes.add(replace(draft(*STEP_10), card="TB-11"), "W-1", "tom")
    result = store.records.show(Confirmation(note.id, 1, accept(STEP_10, "ruth")), by="ruth")
    assert bool(result.blocks) is blocked


# --- the registers themselves -----------------------------------------------------------


def test_a_tool_is_found_however_its_number_was_written(store: Store) -> None:
    store.tools.put(Tool("TW-114"), by="cleo")
    for spoken in ("TW-114", "tw114", "TW 114", "tw/114"):
        assert store.tools.find(spoken) == Tool("TW-114")
    assert store.tools.find("TW-115") is None
    assert store.tools.near("TW-115") == ("TW-114",)
    with pytest.raises(NotFound, match="was it TW-114"):
        store.tools.get("TW-115")


def test_two_tools_whose_numbers_read_the_same_are_not_confused(store: Store) -> None:
    store.tools.put(Tool("TW-114"), by="cleo")
    store.tools.put(Tool("TW1-14"), by="cleo")
    assert store.tools.find("TW114") is None
    assert store.tools.find("TW1-14") == Tool("TW1-14")
    assert [tool.number for tool in store.tools.list()] == ["TW-114", "TW1-14"]


def test_a_new_calibration_takes_the_place_of_the_old_one(store: Store) -> None:
    store.tools.put(Tool("TW-114", calibration_due=date(2026, 1, 1)), by="cleo")
    store.tools.put(Tool("TW-114", calibration_due=date(2027, 1, 1), certificate="K-9"), by="cleo")
    assert store.tools.get("TW-114").certificate == "K-9"
    lines = list(store.ledger.lines(kind="tool", subject="TW-114"))
    assert [line.by for line in lines] == ["cleo", "cleo"]
    assert "2026-01-01" in lines[0].detail


def test_parts_are_found_by_serial_or_batch(store: Store) -> None:
    wheel = store.parts.put(Part("WH-2", serial="HT66-902"), by="cleo")
    assert store.parts.find("HT66-902") == (wheel,)
    assert store.parts.get(wheel.id) == wheel
    assert store.parts.near("HT66-920") == ("HT66-902",)
    with pytest.raises(NotFound):
        store.parts.get("nothing")


@pytest.mark.parametrize("part", [Part(""), Part("WH-2"), Part("", serial="1")])
def test_what_makes_no_part(store: Store, part: Part) -> None:
    with pytest.raises(RecordError):
        store.parts.put(part, by="cleo")


def test_mechanics_keep_no_registers(store: Store) -> None:
    with pytest.raises(Denied):
        store.tools.put(Tool("TW-1"), by="tom")
    with pytest.raises(Denied):
        store.parts.put(Part("WH-2", serial="1"), by="tom")
    with pytest.raises(RecordError, match="needs a number"):
        store.tools.put(Tool("--"), by="cleo")
