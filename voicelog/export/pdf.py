"""PDF: one record sheet for each work order, named after it."""

from __future__ import annotations

import hashlib
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from voicelog.export.line import Order

_UNSAFE = re.compile(r"[^A-Za-z0-9_-]+")


def file_name(work_order: str) -> str:
    """A file name that every system takes; a work order that had to be changed keeps a digest."""
    safe = _UNSAFE.sub("-", work_order)[:60].strip("-")
    if safe != work_order or work_order != work_order.lower():
        # Names that differ in case alone are one name on some file systems.
        safe += "-" + hashlib.sha256(work_order.encode(errors="replace")).hexdigest()[:8]
    return f"work-order-{safe}.pdf"


def write(path: Path, order: Order, house: str) -> None:
    """Print one work order into the file `path`. The same order gives the same bytes."""
    from voicelog.export.paper import Sheet
    from voicelog.export.sheet import story

    Sheet(
        str(path),
        title=f"Maintenance record, work order {order.number}",
        head=f"Work order {order.number}",
        house=house,
    ).print(story(order))
