"""A value said again comes back as a correction, in the unit in which it was said."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from html import unescape

import numpy as np
import pytest
from starlette.testclient import TestClient

from tests.web.scene import Browser
from voicelog import web
from voicelog.objects import Note
from voicelog.pipeline import Chain
from voicelog.records import Store
from voicelog.speech import audio
from voicelog.speech.fake import FakeRecogniser
from voicelog.web.recognition import Recognition
from voicelog.web.site import Site


@contextmanager
def hearing(store: Store, said: str) -> Iterator[Browser]:
    chain = Chain(FakeRecogniser(queue=[said] if said else []))
    heard = Recognition(lambda: chain, pool=lambda: ThreadPoolExecutor(1))
    with TestClient(web.create(store, Site(), heard), base_url="http://testserver") as client:
        browser = Browser(client)
        browser.sign_in("ruth")
        yield browser


def recording(seconds: float = 1.0) -> bytes:
    noise = np.random.default_rng(1).normal(0, 0.1, round(16_000 * seconds))
    return audio.to_wav(noise.astype(np.float32))


def shown(page: str) -> tuple[str, str]:
    """Value and unit that the form comes back with."""
    found = re.search(r'data-again-value="([^"]*)" data-again-unit="([^"]*)"', page)
    assert found
    return unescape(found[1]), unescape(found[2])


def say(browser: Browser, note: Note, line: str, status: int = 200, seconds: float = 1.0) -> str:
    browser.get(f"/review/{note.id}")
    files = {"recording": ("again.wav", recording(seconds))}
    return browser.post(f"/review/{note.id}/again", status, files=files, line=line)


@pytest.mark.parametrize(
    ("line", "said", "value"),
    [
        ("10|bolt|1", "Bolt one, ninety nine newton metres.", ("99", "N*m")),
        ("10|bolt|1", "Ninety nine newton metres.", ("99", "N*m")),
        ("10|bolt|2", "Seventy two foot pounds.", ("72", "ft*lbf")),
        ("10|bolt|2", "Bolt one, ninety six newton metres.", ("", "")),
        ("10|wear|", "Nine millimetres.", ("9", "mm")),
        ("10|wear|", "Wear pin nine point five millimetres.", ("9.5", "mm")),
        ("10|pin|", "Cotter pin not fitted.", ("fail", "")),
        ("10|serial|", "Hotel tango six six.", ("HT66", "")),
        ("10|wear|", "Hang on a minute.", ("", "")),
    ],
)
def test_what_was_said_again(
    line: str, said: str, value: tuple[str, str], store: Store, note: Note
) -> None:
    with hearing(store, said) as browser:
        page = say(browser, note, line)
    assert shown(page) == value
    assert f'data-again-text="{said}"' in page
    assert store.notes.get(note.id).decisions == ()


def test_a_doubt_about_it_is_said(store: Store, note: Note) -> None:
    with hearing(store, "About nine millimetres.") as browser:
        page = say(browser, note, "10|wear|")
    assert shown(page)[0] == "9"
    doubt = re.search(r'data-again-doubt="([^"]*)"', page)
    assert doubt
    assert doubt[1]


@pytest.mark.parametrize(("said", "seconds"), [("", 1.0), ("nine millimetres", 46.0)])
def test_what_can_not_be_heard_is_said_and_changes_nothing(
    said: str, seconds: float, store: Store, note: Note
) -> None:
    with hearing(store, said) as browser:
        page = say(browser, note, "10|wear|", 422, seconds)
    assert "This could not be done" in page
    assert store.notes.get(note.id) == note


def test_only_a_line_of_the_card_can_be_said_again(
    store: Store, note: Note, as_: Callable[[str], Browser]
) -> None:
    browser = as_("ruth")
    say(browser, note, "10|nothing|", 400)
