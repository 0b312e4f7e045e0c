"""PDF: one record sheet for each work order, named after it."""

from __future__ import annotations

import hashlib
import re
import threading
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Container
    from pathlib import Path

    from voicelog.export.line import Order

_UNSAFE = re.compile(r"[^A-Za-z0-9_-]+")

_PRESS = threading.Lock()
"""A font of reportlab belongs to one document at a time."""


def file_name(work_order: str, taken: Container[str] = ()) -> str:
    """A file name that every system takes.

    A work order that had to be changed for it gets a digest, and so does one whose name is
    `taken` (case-folded: names that differ in case alone are one name on some systems).
    """
    safe = _UNSAFE.sub("-", work_order)[:60].strip("-")
    name = f"work-order-{safe}.pdf"
    if safe != work_order or name.casefold() in taken:
        digest = hashlib.sha256(work_order.encode(errors="replace")).hexdigest()
        name = f"work-order-{safe}-{digest[:8]}.pdf"
    return name


def write(path: Path, order: Order, house: str) -> None:
    """Print one work order into the file `path`. The same order gives the same bytes."""
    from voicelog.export.paper import Sheet
    from voicelog.export.sheet import story

    with _PRESS:
        Sheet(
            str(path),
            title=f"Maintenance record, work order {order.number}",
            head=f"Work order {order.number}",
            house=house,
        ).print(story(order))
