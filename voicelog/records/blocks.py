"""What forbids signing until a named person gives a reason: stale cards, tools, lots."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.records.acts import Block
from voicelog.records.decisions import STANDING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from datetime import date

    from voicelog.objects import Card, Decision
    from voicelog.records.registers import Parts, Tools


def of_card(card: Card, current: Card, day: date) -> Iterator[Block]:
    """The card had expired on `day`, or a later revision of it is on the shelf."""
    name = f"card {card.number} revision {card.revision}"
    if card.expires is not None and card.expires < day:
        yield Block(f"{name} expired", f"{name} expired on {card.expires}, before {day}")
    if current.revision != card.revision:
        yield Block(
            f"{name} superseded", f"{name} is not the current one, revision {current.revision} is"
        )


def _of_tool(number: str, tools: Tools, day: date) -> Iterator[Block]:
    tool = tools.find(number)
    if tool is None:
        near = " or ".join(tools.near(number))
        asked = f"; was it {near}?" if near else ""
        yield Block(f"tool {number} unknown", f"tool {number} is not in the register{asked}")
        return
    if not tool.in_use:
        yield Block(f"tool {number} withdrawn", f"tool {number} is withdrawn from use")
    if tool.calibration_due is not None and tool.calibration_due < day:
        yield Block(
            f"tool {number} out of calibration",
            f"tool {number} was out of calibration on {day} (due {tool.calibration_due})",
        )


def of_values(
    card: Card, decisions: Iterable[Decision], tools: Tools, parts: Parts, day: date
) -> Iterator[Block]:
    """Tools out of calibration or unknown, and expired lots, on the `day` of the work.

    A site that keeps no register of tools is not asked about them.
    """
    registered = bool(tools.list())
    for decision in decisions:
        step = card.step(decision.step)
        field = step.field(decision.field) if step else None
        if field is None or decision.kind not in STANDING or not isinstance(decision.value, str):
            continue
        if field.kind == "tool number" and registered:
            yield from _of_tool(decision.value, tools, day)
        if field.kind in ("serial number", "batch number"):
            for part in parts.find(decision.value):
                if part.expiry is not None and part.expiry < day:
                    yield Block(
                        f"{field.kind} {decision.value} expired",
                        f"part {part.part}, {field.kind} {decision.value}, "
                        f"expired on {part.expiry}, before {day}",
                    )
