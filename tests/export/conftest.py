"""Homes for the tests of exports; see scene.py."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.export.scene import HOSTILE, compression, opened, remark, wheel_change
from voicelog import export
from voicelog.records import Filter

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from tests.export.scene import Site


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    with opened(tmp_path / "home") as site:
        yield site


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """A wheel change and a compression check, all confirmed; for reading only."""
    with opened(tmp_path_factory.mktemp("worked") / "home") as site:
        wheel_change(site)
        compression(site)
        yield site


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """A remark for each hostile text, on work orders H-0, H-1, ...; for reading only."""
    with opened(tmp_path_factory.mktemp("hostile") / "home") as site:
        for number, text in enumerate(HOSTILE):
            remark(site, text, f"H-{number}")
        yield site


@pytest.fixture
def exported(tmp_path: Path) -> Callable[..., Path]:
    """Exports what a filter chooses, as the clerk, and gives the folder."""

    def write(site: Site, format: export.Format, **conditions: object) -> Path:
        out = tmp_path / f"{format}-{len(list(tmp_path.iterdir()))}"
        wanted = Filter(**conditions)  # type: ignore[arg-type]
        export.write(site.store, wanted, format, out, by="cleo", house="Ellery Harbour")
        return out

    return write
