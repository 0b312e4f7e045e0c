"""Finding records: whatever is asked, the answer is that of looking at each one."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.records.scene import SECRET, STEP_10, STEP_30, StandingClock, accept, changed, value
from voicelog.objects import Record
from voicelog.records import Confirmation, Correction, Filter, Store
from voicelog.records import book as room
from voicelog.records.search import numbers

Confirm = Callable[..., Record]


def ids(store: Store, **wanted: object) -> list[str]:
    found = [record.id for record in store.records.search(Filter(**wanted))]  # type: ignore[arg-type]
    assert store.records.count(Filter(**wanted)) == len(found)  # type: ignore[arg-type]
    return found


@pytest.fixture
def shelf(store: Store, confirm: Confirm, clock: StandingClock) -> Store:
    """Three records on two days and two work orders, the second one superseded by a fourth."""
    confirm(*STEP_10)
    confirm(*STEP_30, value("20", "remarks", None, "Öse am Rand verzogen, re-bent"))
    clock.forward(days=3)
    confirm(value("20", "torque", "1", Decimal(98), "N*m"), work_order="W-2", by="ivo")
    fix = changed(
        accept(STEP_30[1:], "ivo"), ("30", "serial", None), kind="correct", value="AB-12", why="w"
    )
    act = Correction("R-000002", fix, "misread tag")
    digest = store.records.show(act, by="ivo").digest
    store.records.sign(act, by="ivo", secret=SECRET, digest=digest)
    return store


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ({}, ["4", "3", "1"]),
        ({"newest_first": False}, ["1", "3", "4"]),
        ({"state": "all"}, ["4", "3", "2", "1"]),
        ({"state": "superseded"}, ["2"]),
        ({"work_order": "W-2"}, ["3"]),
        ({"work_order": "w-2"}, []),
        ({"card": "TB-10"}, ["4", "3", "1"]),
        ({"card": "TB-1"}, []),
        ({"since": date(2026, 11, 21)}, ["3"]),
        ({"until": date(2026, 11, 20)}, ["4", "1"]),
        ({"since": date(2026, 11, 20), "until": date(2026, 11, 23)}, ["4", "3", "1"]),
        ({"person": "ivo"}, ["4", "3"]),
        ({"person": "tom"}, ["4", "3", "1"]),
        ({"person": "eve"}, []),
        ({"serial_number": "AB-12"}, ["4"]),
        ({"serial_number": "ab12"}, ["4"]),
        ({"serial_number": "12"}, []),
        ({"serial_number": "HT66-902", "state": "all"}, ["2"]),
        ({"serial_number": "HT66-902"}, []),
        ({"words": "rand"}, ["4"]),
        ({"words": "RAND öse"}, ["4"]),
        ({"words": "ose"}, ["4"]),
        ({"words": "re-bent"}, ["4"]),
        ({"words": "verz"}, ["4"]),
        ({"words": "verz rand"}, []),
        ({"words": "AB-12"}, ["4"]),
        ({"words": "worksheet"}, []),
        ({"words": '"'}, []),
        ({"words": "rand OR zzz"}, []),
        ({"words": "rand* NEAR"}, []),
        ({"words": "words : rand"}, []),
        ({"words": "bearing", "work_order": "W-2"}, ["3"]),
        ({"limit": 2}, ["4", "3"]),
        ({"words": "   "}, ["4", "3", "1"]),
        ({"note": "N-000002"}, ["4"]),
    ],
)
def test_filters(shelf: Store, wanted: dict[str, object], found: list[str]) -> None:
    records = shelf.records.search(Filter(**wanted))  # type: ignore[arg-type]
    assert [r.id.lstrip("R-0") for r in records] == found


def test_equipment_and_its_serial_number(store: Store, confirm: Confirm) -> None:
    confirm(*STEP_10)
    store.orders.describe("W-1", by="ruth", equipment="stand 2", serial_number="S-7")
    confirm(*STEP_30)
    assert ids(store, equipment="stand 2") == ["R-000002"]
    assert ids(store, serial_number="S-7") == ["R-000002"]


def test_a_search_goes_on_over_many_pages_and_ends_where_it_began(
    store: Store, confirm: Confirm, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(room, "PAGE", 2)
    for _ in range(5):
        confirm(*STEP_10)
    search = store.records.search(Filter(newest_first=False))
    found = [next(search).id]
    confirm(*STEP_10)  # signed after the search began
    found += [record.id for record in search]
    assert found == [f"R-{n:06d}" for n in range(1, 6)]
    assert len(ids(store)) == 6


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=st.text(min_size=1, max_size=20))
def test_no_text_breaks_a_search(shelf: Store, text: str) -> None:
    ids(shelf, words=text)
    ids(shelf, serial_number=text, state="all")
    ids(shelf, work_order=text)


def test_what_was_said_is_found(store: Store) -> None:
    from tests.records.scene import draft

    spoken = draft(*STEP_10, text="the cover came off easily")
    note = store.notes.add(spoken, "W-1", "tom")
    act = Confirmation(note.id, 1, accept(STEP_10, "ruth"))
    digest = store.records.show(act, by="ruth").digest
    store.records.sign(act, by="ruth", secret=SECRET, digest=digest)
    assert ids(store, words="easily cover") == ["R-000001"]


@pytest.mark.parametrize(
    "wanted",
    [
        Filter(),
        Filter(card="TB-10", person="tom", since=date(2026, 1, 1)),
        Filter(words="bearing", person="tom"),
        Filter(state="superseded"),
    ],
)
def test_a_wide_filter_is_read_off_the_index_in_its_order(store: Store, wanted: Filter) -> None:
    matching, column, values = numbers(wanted)
    plan = store.connections.db.execute(
        f"EXPLAIN QUERY PLAN SELECT r.seq FROM {matching} ORDER BY {column} DESC LIMIT 50",
        values | {"top": 9},
    ).fetchall()
    steps = [step[3] for step in plan]
    assert any("INDEX records_facts" in step for step in steps), steps
    assert not any("TEMP B-TREE FOR ORDER BY" in step for step in steps), steps
