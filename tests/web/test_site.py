"""Settings and words: none missing, none misspelt, errors that name file and key."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from voicelog.errors import ConfigError
from voicelog.web import site

WEB = Path(site.__file__).resolve().parent
TEXTS = site.texts()


def test_the_shipped_settings_are_the_defaults() -> None:
    assert site.load() == site.Site(name="Demonstration workshop")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('nmae = "x"', "nmae"),
        ('time_zone = "Mars/Olympus"', "Mars/Olympus"),
        ('[read_back]\nvoice = "loud"', "voice"),
        ("name = ", "Invalid value"),
    ],
)
def test_wrong_settings_name_the_file_and_the_key(text: str, told: str, tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text(text)
    with pytest.raises(ConfigError) as error:
        site.load(path)
    assert told in str(error.value)


def test_a_missing_file_and_a_missing_language(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"none\.toml"):
        site.load(tmp_path / "none.toml")
    with pytest.raises(ConfigError, match=r"texts\.xx\.toml"):
        site.texts("xx")


def test_a_missing_text_names_itself() -> None:
    with pytest.raises(ConfigError, match=r"review.*lacks the text 'nonsense'"):
        _ = TEXTS.review.nonsense


def used() -> set[str]:
    """Texts that templates and code name in full."""
    found = set()
    for path in (*WEB.rglob("*.html"), *WEB.glob("*.py")):
        text = path.read_text(encoding="utf-8")
        name = r"(?:\bt|texts|\bwords)\.([a-z_]+(?:\.[a-z_]+)+)"
        found |= {m for m in re.findall(name, text) if m.split(".")[0] in TEXTS.plain()}
    return found


@pytest.mark.parametrize("name", sorted(used()))
def test_every_text_that_is_used_is_there(name: str) -> None:
    here = TEXTS
    for part in name.split("."):
        if part in ("plain", "format"):
            return
        here = getattr(here, part)
