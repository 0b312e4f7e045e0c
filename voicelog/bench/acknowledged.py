"""What the store acknowledged to workers that may be killed, and whether all of it is there."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from voicelog.bench.invented import CHEAP
from voicelog.records import Store

if TYPE_CHECKING:
    from pathlib import Path


class Log:
    """Acknowledged acts of one worker: a line each, written when the store has returned."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def write(self, *words: str) -> None:
        with self._path.open("a", encoding="utf-8") as file:
            file.write(" ".join(words) + "\n")

    def read(self) -> list[tuple[str, str, str]]:
        """(act, id, token or "") of each line that was written whole."""
        if not self._path.exists():
            return []
        lines = self._path.read_text(encoding="utf-8").splitlines(keepends=True)
        whole = [line.rstrip("\n").split(maxsplit=2) for line in lines if line.endswith("\n")]
        return [(act, id, " ".join(rest)) for act, id, *rest in whole]


class Account:
    """Everything that was acknowledged so far, against what is there."""

    def __init__(self) -> None:
        self.notes: dict[str, str] = {}
        self.records: set[str] = set()
        self.errors: list[str] = []

    def book(self, lines: list[tuple[str, str, str]]) -> None:
        for act, id, rest in lines:
            if act == "note":
                self.notes[id] = rest
            elif act == "record":
                self.records.add(id)
            elif act == "error":
                self.errors.append(f"{id}: {rest}")

    @property
    def size(self) -> int:
        return len(self.notes) + len(self.records)

    @property
    def next_token(self) -> int:
        return 1 + max((int(token.split()[1]) for token in self.notes.values()), default=-1)

    def settle(self, home: Path) -> tuple[int, int]:
        """How many acknowledged acts are lost, and how many are there twice."""
        with Store.open(home, cost=CHEAP) as store:
            kept = {n.id: n.draft.takes[0].transcript.text for n in store.notes.list()}
            signed = Counter(r.note for r in store.records.search())
            ids = {r.id for r in store.records.search()}
        lost = sum(kept.get(id) != token for id, token in self.notes.items())
        lost += len(self.records - ids)
        doubled = len(kept) - len(set(kept.values())) + sum(n - 1 for n in signed.values())
        return lost, doubled
