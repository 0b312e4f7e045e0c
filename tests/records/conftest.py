"""A home with people, a card and a clock that stands still."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.records.scene import CARD, CHEAP, SECRET, StandingClock, accept, draft, people
from voicelog.objects import FieldValue, Note, Record
from voicelog.records import Confirmation, Store


@pytest.fixture
def clock() -> StandingClock:
    return StandingClock()


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


@pytest.fixture(scope="session")
def founded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home with people and a card, made once; each test works on a copy of it."""
    home = tmp_path_factory.mktemp("founded") / "home"
    with Store.open(home, clock=StandingClock(), cost=CHEAP) as store:
        people(store)
        store.cards.add(CARD, "bearing.yaml", by="ada")
    return home


@pytest.fixture
def store(founded: Path, home: Path, clock: StandingClock) -> Iterator[Store]:
    shutil.copytree(founded, home)
    with Store.open(home, clock=clock, cost=CHEAP) as store:
        yield store


@pytest.fixture
def noted(store: Store) -> Callable[..., Note]:
    """Keeps values as a note of work order W-1, by the mechanic."""

    def add(*values: FieldValue, work_order: str = "W-1", by: str = "tom") -> Note:
        return store.notes.add(draft(*values), work_order, by)

    return add


@pytest.fixture
def confirm(store: Store, noted: Callable[..., Note]) -> Callable[..., Record]:
    """Keeps values as a note and has them all accepted by the reviewer."""

    def add(*values: FieldValue, by: str = "ruth", **more: str) -> Record:
        note = noted(*values, **more)
        act = Confirmation(note.id, note.version, accept(values, by))
        shown = store.records.show(act, by=by)
        assert shown.problems == ()
        return store.records.sign(act, by=by, secret=SECRET, digest=shown.digest)

    return add
