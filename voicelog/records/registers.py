"""Registers of tools and parts: what a dictated number is looked up in."""

from __future__ import annotations

import difflib
import json
import re
from dataclasses import dataclass
from datetime import date  # noqa: TC003 — read when an entry is loaded
from typing import TYPE_CHECKING

from voicelog import wire
from voicelog.errors import NotFound, RecordError

if TYPE_CHECKING:
    from voicelog.records.connection import Connections
    from voicelog.records.ledger import Ledger
    from voicelog.records.people import People, Role

_KEEPERS: tuple[Role, ...] = ("administrator", "clerk", "reviewer")


@dataclass(frozen=True, slots=True)
class Tool:
    """A measuring tool. It may be used up to and on the day its calibration is due."""

    number: str
    name: str = ""
    calibration_due: date | None = None
    """None for a tool that needs no calibration."""
    certificate: str = ""
    """Reference of the calibration certificate."""
    in_use: bool = True

    @property
    def id(self) -> str:
        return self.number


@dataclass(frozen=True, slots=True)
class Part:
    """A part, or a batch of material, as received."""

    part: str
    """Part number."""
    serial: str = ""
    batch: str = ""
    expiry: date | None = None
    """Last day of its shelf life; None where it has none."""
    release: str = ""
    """Reference of the release certificate or statement of conformity."""

    @property
    def id(self) -> str:
        return "/".join((self.part, self.serial, self.batch))


def bare(number: str) -> str:
    """A number without case, spaces and separators: TW-114, tw 114 and TW114 are one."""
    return re.sub(r"[\W_]", "", number).upper()


def near(spoken: str, known: tuple[str, ...], count: int = 3) -> tuple[str, ...]:
    """Numbers of `known` that `spoken` may have been meant for, likeliest first."""
    by_bare = {bare(number): number for number in known}
    found = difflib.get_close_matches(bare(spoken), list(by_bare), n=count, cutoff=0.6)
    return tuple(by_bare[key] for key in found)


class Tools:
    """The register of measuring tools."""

    def __init__(self, connections: Connections, ledger: Ledger, people: People) -> None:
        self._connections = connections
        self._ledger = ledger
        self._people = people

    def put(self, tool: Tool, *, by: str) -> Tool:
        """Enter a tool, or its new calibration. Raises Denied, RecordError."""
        if not bare(tool.number):
            raise RecordError("a tool needs a number")
        self._people.require(by, *_KEEPERS)
        with self._connections.writing() as db:
            db.execute(
                "INSERT INTO tools(number, content) VALUES (?, ?)"
                " ON CONFLICT (number) DO UPDATE SET content = excluded.content",
                [tool.number, wire.canonical(tool).decode()],
            )
            self._ledger.append(
                "tool entered", "tool", tool.id, wire.digest(tool), by=by,
                detail={"tool": wire.to_plain(tool)},
            )  # fmt: skip
        return tool

    def get(self, number: str) -> Tool:
        """The tool of exactly that number. Raises NotFound, naming near misses."""
        row = self._connections.db.execute(
            "SELECT content FROM tools WHERE number = ?", [number]
        ).fetchone()
        if row is None:
            asked = " or ".join(self.near(number))
            raise NotFound(
                f"no tool {number} in the register" + (f"; was it {asked}?" if asked else "")
            )
        return wire.from_plain(Tool, json.loads(row[0]))

    def find(self, spoken: str) -> Tool | None:
        """The tool of that number, or the only one that differs in case and separators alone."""
        numbers = self._numbers()
        if spoken in numbers:
            return self.get(spoken)
        same = [number for number in numbers if bare(number) == bare(spoken)]
        return self.get(same[0]) if len(same) == 1 else None

    def near(self, spoken: str) -> tuple[str, ...]:
        """Registered numbers that may have been meant, likeliest first."""
        return near(spoken, self._numbers())

    def _numbers(self) -> tuple[str, ...]:
        rows = self._connections.db.execute("SELECT number FROM tools ORDER BY number").fetchall()
        return tuple(number for (number,) in rows)

    def list(self) -> tuple[Tool, ...]:
        rows = self._connections.db.execute("SELECT content FROM tools ORDER BY number").fetchall()
        return tuple(wire.from_plain(Tool, json.loads(content)) for (content,) in rows)


class Parts:
    """The register of parts and batches."""

    def __init__(self, connections: Connections, ledger: Ledger, people: People) -> None:
        self._connections = connections
        self._ledger = ledger
        self._people = people

    def put(self, part: Part, *, by: str) -> Part:
        """Enter a part or batch, or what changed about it. Raises Denied, RecordError."""
        if not part.part or not (part.serial or part.batch):
            raise RecordError("a part needs a part number, and a serial or batch number")
        self._people.require(by, *_KEEPERS)
        with self._connections.writing() as db:
            db.execute(
                "INSERT INTO parts(id, content) VALUES (?, ?)"
                " ON CONFLICT (id) DO UPDATE SET content = excluded.content",
                [part.id, wire.canonical(part).decode()],
            )
            self._ledger.append(
                "part entered", "part", part.id, wire.digest(part), by=by,
                detail={"part": wire.to_plain(part)},
            )  # fmt: skip
        return part

    def _where(self, condition: str, values: dict[str, str]) -> tuple[Part, ...]:
        rows = self._connections.db.execute(
            f"SELECT content FROM parts WHERE {condition} ORDER BY id",
            values,
        ).fetchall()
        return tuple(wire.from_plain(Part, json.loads(content)) for (content,) in rows)

    def get(self, id: str) -> Part:
        """Raises NotFound."""
        found = self._where("id = :id", {"id": id})
        if not found:
            raise NotFound(f"no part {id} in the register")
        return found[0]

    def find(self, number: str) -> tuple[Part, ...]:
        """Parts whose serial or batch number is `number`."""
        return self._where("serial = :n OR batch = :n", {"n": number})

    def near(self, spoken: str) -> tuple[str, ...]:
        """Registered serial and batch numbers that may have been meant, likeliest first."""
        known = {n for part in self.list() for n in (part.serial, part.batch) if n}
        return near(spoken, tuple(sorted(known)))

    def list(self) -> tuple[Part, ...]:
        return self._where("true", {})
