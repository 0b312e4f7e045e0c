"""Any sequence of acts, by anybody: the store agrees with a plain model of itself and verifies."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import replace
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from tests.records.scene import (
    CARD,
    CHEAP,
    SECRET,
    STEP_10,
    STEP_30,
    StandingClock,
    accept,
    changed,
    draft,
    people,
    value,
)
from voicelog.errors import RecordError
from voicelog.records import Confirmation, Correction, Filter, Inspection, Store, verify
from voicelog.records.acts import Act

WHO = st.sampled_from(["tom", "ruth", "ivo", "cleo", "ada", "nobody"])
WHICH = st.integers(min_value=0, max_value=5)
VALUES = (*STEP_10, *STEP_30)
SERIAL = ("30", "serial", None)


class Acts(RuleBasedStateMachine):
    """The model: state and version of each note, and what each record says of the serial."""

    @initialize()
    def open(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="voicelog-states-"))
        self.clock = StandingClock()
        self.store = Store.open(self.folder / "home", clock=self.clock, cost=CHEAP)
        people(self.store)
        self.store.cards.add(CARD, "bearing.yaml", by="ada")
        self.notes: list[tuple[str, str, int]] = []
        self.records: list[tuple[str, str]] = []
        self.superseded: set[str] = set()
        self.inspected: set[str] = set()

    def note(self, which: int) -> int | None:
        return which % len(self.notes) if self.notes else None

    def signed(self, act: Act, by: str) -> str | None:
        try:
            digest = self.store.records.show(act, by=by).digest
            return self.store.records.sign(act, by=by, secret=SECRET, digest=digest).id
        except RecordError:
            return None

    @rule(by=WHO)
    def add(self, by: str) -> None:
        try:
            note = self.store.notes.add(draft(*VALUES), "W-1", by)
        except RecordError:
            assert by not in ("tom", "ruth", "ivo")
            return
        assert by in ("tom", "ruth", "ivo")
        self.notes.append((note.id, "open", 1))

    @rule(which=WHICH, by=WHO, stale=st.booleans())
    def update(self, which: int, by: str, stale: bool) -> None:
        index = self.note(which)
        if index is None:
            return
        id, state, version = self.notes[index]
        may = by in ("tom", "ruth", "ivo") and state == "open" and not stale
        try:
            new = replace(self.store.notes.get(id).draft, step="10")
            self.store.notes.update(id, version - stale, new, by=by)
        except RecordError:
            assert not may
            return
        assert may
        self.notes[index] = (id, state, version + 1)

    @rule(which=WHICH, by=WHO)
    def withdraw(self, which: int, by: str) -> None:
        index = self.note(which)
        if index is None:
            return
        id, state, version = self.notes[index]
        try:
            self.store.notes.withdraw(id, version, by=by, why="test")
        except RecordError:
            return
        assert state == "open"
        assert by in ("tom", "ruth", "ivo")
        self.notes[index] = (id, "withdrawn", version + 1)

    @rule(which=WHICH, by=WHO)
    def confirm(self, which: int, by: str) -> None:
        index = self.note(which)
        if index is None:
            return
        id, state, version = self.notes[index]
        record = self.signed(Confirmation(id, version, accept(VALUES, by)), by)
        assert (record is not None) is (state == "open" and by in ("ruth", "ivo"))
        if record is not None:
            self.notes[index] = (id, "confirmed", version + 1)
            self.records.append((record, "HT66-902"))

    @rule(which=WHICH, by=WHO, serial=st.sampled_from(["A-1", "B-2"]))
    def correct(self, which: int, by: str, serial: str) -> None:
        if not self.records:
            return
        old = self.records[which % len(self.records)][0]
        decisions = changed(
            accept((value(*SERIAL, serial),), by), SERIAL, kind="correct", why="test"
        )
        record = self.signed(Correction(old, decisions, "test"), by)
        assert (record is not None) is (old not in self.superseded and by in ("ruth", "ivo"))
        if record is not None:
            self.superseded.add(old)
            self.records.append((record, serial))

    @rule(which=WHICH, by=WHO)
    def inspect(self, which: int, by: str) -> None:
        if not self.records:
            return
        id, serial = self.records[which % len(self.records)]
        hands = {
            who
            for one in self.store.records.history(id)
            for who in (one.performed_by, one.signature.by)
        }
        seen = (STEP_30[0], value(*SERIAL, serial))
        record = self.signed(Inspection(id, accept(seen, by)), by)
        may = by == "ivo" and by not in hands and id not in self.superseded
        assert (record is not None) is may
        if record is not None:
            self.inspected.add(id)

    @rule(minutes=st.integers(min_value=-5, max_value=60))
    def time_passes(self, minutes: int) -> None:
        self.clock.forward(minutes=minutes)

    @rule()
    def open_again(self) -> None:
        self.store.close()
        self.store = Store.open(self.folder / "home", clock=self.clock, cost=CHEAP)

    @invariant()
    def agrees(self) -> None:
        if not hasattr(self, "store"):
            return
        assert [(n.id, n.state, n.version) for n in self.store.notes.list()] == self.notes
        work = list(self.store.records.search(Filter(state="all", newest_first=False)))
        said = [
            (r.id, next(str(d.value) for d in r.decisions if d.key == SERIAL))
            for r in work
            if r.inspects is None
        ]
        assert said == self.records
        assert {r.inspects for r in work if r.inspects} == self.inspected
        waiting = {r.id for r in self.store.records.awaiting_inspection()}
        assert waiting == {id for id, _ in self.records} - self.superseded - self.inspected

    def teardown(self) -> None:
        if hasattr(self, "store"):
            self.store.close()
            assert verify(self.folder / "home") == ()
            shutil.rmtree(self.folder)


TestActs = Acts.TestCase
TestActs.settings = settings(
    max_examples=15,
    stateful_step_count=25,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
