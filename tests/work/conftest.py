"""A store with people and a card."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.records.scene import CHEAP
from tests.work.scene import founded
from voicelog.records import Store


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return founded(tmp_path / "home")


@pytest.fixture
def store(home: Path) -> Iterator[Store]:
    with Store.open(home, cost=CHEAP) as store:
        yield store
