"""A home with people, a card and a draft, and browsers that are signed in."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.web.scene import CHEAP, Browser, application, dictated, populate
from voicelog.objects import Note
from voicelog.records import Store


@pytest.fixture(scope="session")
def peopled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home made once; each test works on a copy of it."""
    home = tmp_path_factory.mktemp("peopled") / "home"
    with Store.open(home, cost=CHEAP) as store:
        populate(store)
    return home


@pytest.fixture
def store(peopled: Path, tmp_path: Path) -> Iterator[Store]:
    home = tmp_path / "home"
    shutil.copytree(peopled, home)
    with Store.open(home, cost=CHEAP) as store:
        yield store


@pytest.fixture
def note(store: Store) -> Note:
    return dictated(store)


@pytest.fixture
def client(store: Store) -> Iterator[TestClient]:
    with TestClient(application(store), base_url="http://testserver") as client:  # type: ignore[arg-type]
        yield client


@pytest.fixture
def as_(client: TestClient) -> Callable[[str], Browser]:
    """A browser in which that person is signed in."""

    def sign_in(person: str) -> Browser:
        browser = Browser(client)
        browser.sign_in(person)
        return browser

    return sign_in
