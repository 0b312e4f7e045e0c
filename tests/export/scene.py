"""A site with confirmed work: a wheel change with everything that can happen to a value.

Real store, real signatures; the secret's cost is cheap. People and numbers are invented.
"""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta, timezone
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from voicelog import cards
from voicelog.config import config_dir
from voicelog.heard import Transcript
from voicelog.objects import Decision, Draft, FieldValue, Mention, Ratio, Reason, Take
from voicelog.records import (
    Authorisation,
    Confirmation,
    Correction,
    Cost,
    Inspection,
    Person,
    Resolution,
    Store,
    WorkOrder,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from voicelog.objects import Record, Value
    from voicelog.records import Act

SECRET = "brass lantern"
WHEEL = cards.load(config_dir() / "cards" / "wheel_brake.yaml")

AIRCRAFT = "Light freight aircraft EH-214"

PEOPLE = (
    Person("tom", "Tomé d'Ávila", ("mechanic",)),
    Person("ruza", "Ruža Šimić", ("reviewer",), "C-77140", "B1", (Authorisation("*"),)),
    Person(
        "lukasz", "Łukasz Żółtek", ("reviewer",), "C-90233", "B1",
        (Authorisation("*", inspect=True),),
    ),
    Person("cleo", "Cleo Ångström", ("clerk",)),
)  # fmt: skip


class StandingClock:
    """Moves only when told to."""

    def __init__(self) -> None:
        self.at = datetime(2026, 11, 20, 9, 0, tzinfo=timezone(timedelta(hours=1)))

    def now(self) -> datetime:
        return self.at

    def forward(self, **time: float) -> None:
        self.at += timedelta(**time)


def said(
    step: str,
    name: str,
    value: Value,
    unit: str | None = None,
    position: str | None = None,
    **more: Any,
) -> FieldValue:
    """A proposal, as mapping makes it."""
    spoken = f"{value.reading} over {value.reference}" if isinstance(value, Ratio) else str(value)
    more.setdefault("as_spoken", spoken)
    return FieldValue(step, name, position, value, unit, start_s=1.25, end_s=2.5, **more)


@dataclass
class Site:
    """A home and short ways to put signed records into it."""

    store: Store
    clock: StandingClock
    made: list[Record] = field(default_factory=list)

    def decide(self, proposal: FieldValue, by: str, kind: str = "accept", **more: Any) -> Decision:
        more = {"value": proposal.value, "unit": proposal.unit} | more
        return Decision(*proposal.key, kind, by, self.clock.now(), **more)  # type: ignore[arg-type]

    def sign(self, act: Act, by: str) -> Record:
        shown = self.store.records.show(act, by=by)
        if shown.blocks:
            why = tuple(Resolution(block.key, "number read off the tool") for block in shown.blocks)
            act = replace(act, resolutions=why)
            shown = self.store.records.show(act, by=by)
        assert not shown.problems, shown.problems
        record = self.store.records.sign(act, by=by, secret=SECRET, digest=shown.digest)
        self.made.append(record)
        self.clock.forward(minutes=7)
        return record

    def confirm(
        self,
        work_order: str,
        *values: FieldValue,
        card: cards.Card = WHEEL,
        text: str = "",
        changes: dict[tuple[str, str | None], dict[str, Any]] | None = None,
        unplaced: tuple[Mention, ...] = (),
        extra: tuple[Decision, ...] = (),
        by: str = "ruza",
    ) -> Record:
        """A note with `values`, all accepted but for `changes` by (field, position)."""
        words = text or ", ".join(value.as_spoken for value in values)
        audio = self.store.audio.keep(words.encode())
        take = Take(
            replace(Transcript.of_text(words), model="base", model_sha256="ab" * 32),
            audio,
            self.clock.now(),
        )
        draft = Draft(card.number, card.revision, values[0].step, (take,), values, unplaced)
        note = self.store.notes.add(draft, work_order, "tom")
        self.clock.forward(minutes=21)
        decisions = tuple(
            self.decide(value, by, **(changes or {}).get((value.field, value.position), {}))
            for value in values
        )
        return self.sign(Confirmation(note.id, note.version, (*decisions, *extra)), by)


@contextmanager
def opened(home: Path) -> Iterator[Site]:
    """A new home with the people and the demo's cards."""
    clock = StandingClock()
    with Store.open(home, clock=clock, cost=Cost(time=1, memory_kib=8, lanes=1)) as store:
        store.people.add(Person("ada", "Ada Birch", ("administrator",)), SECRET, by=None)
        for person in PEOPLE:
            store.people.add(person, SECRET, by="ada")
        for path in sorted((config_dir() / "cards").glob("*.yaml")):
            store.cards.add(path.read_bytes(), path.name, by="ada")
        yield Site(store, clock)


def wheel_change(site: Site, work_order: str = "48-2213") -> None:
    """Main wheel and brake change: every kind of decision, an inspection, a correction."""
    site.store.orders.open(
        WorkOrder(work_order, AIRCRAFT, "0417-B", "Wheel change", ("DM-32-10",)),
        by="ruza",
    )  # fmt: skip
    site.confirm(
        work_order,
        said("10", "wheel_off", "HT66-902", as_spoken="hotel tango six six dash niner zero two"),
        said("10", "bearings", "fail", as_spoken="bearings pitted, fail"),
        said("10", "axle", "pass", as_spoken="axle looks fine"),
        said("10", "remarks", "Inner bearing cup pitted over a third of its race, Ø 62 mm."),
        text="removed wheel hotel tango six six dash niner zero two bearings pitted fail",
        changes={
            ("bearings", None): {"follow_up": "rejected part"},
        },
    )
    site.confirm(
        work_order,
        said("20", "brake_off", "BK-0031"),
        said("20", "brake_on", "BK-0113", alternatives=("BK-0130",),
             reasons=(Reason("sounds_alike", "0113 could be 0130: the ear can't tell"),)),
        said("20", "wear_pin", Decimal("0.25"), "in", as_spoken="a quarter of an inch"),
        said("20", "brake_line", "pass"),
        changes={("brake_on", None): {"kind": "correct", "value": "BK-0130", "why": "seen"}},
    )  # fmt: skip
    torques = ["98", "101.5", "102", "94", "99", "105", "97.50", "100"]
    first = site.confirm(
        work_order,
        said("30", "wheel_on", "HT66-917"),
        said("30", "seating_torque", Decimal("250"), "ft*lbf"),
        said("30", "final_torque", Decimal("220"), "N*m"),
        *(
            said("30", "bolt_torque", Decimal(number), "N*m", str(at))
            for at, number in enumerate(torques, 1)
        ),
        said("30", "cotter_pin", "pass"),
        said("30", "wrench", "TW-114"),
        said("30", "cal_due", date(2027, 1, 31)),
        text="fitted wheel hotel tango six six dash nine one seven, seating torque two fifty",
        changes={
            ("bolt_torque", "4"): {"follow_up": "deferred", "reference": "DF-0093"},
            ("bolt_torque", "7"): {"kind": "correct", "value": Decimal("97.5"), "unit": "N*m",
                                   "why": "trailing nought was not said"},
            ("bolt_torque", "2"): {"kind": "correct", "value": Decimal("101.0"), "unit": "N*m",
                                   "why": "misheard: said “one oh one”"},
        },
        unplaced=(Mention("quantity", "half a turn more", 10, 26, Decimal("0.5"), "turn"),),
    )  # fmt: skip
    again = {
        (d.field, d.position): {"kind": "correct", "value": Decimal("96"), "why": "checked again"}
        for d in first.decisions
        if (d.field, d.position) == ("bolt_torque", "4")
    }
    decided = tuple(
        Decision(
            *d.key, again.get((d.field, d.position), {}).get("kind", "accept"), "lukasz",
            site.clock.now(), again.get((d.field, d.position), {}).get("value", d.value), d.unit,
            why=again.get((d.field, d.position), {}).get("why", ""),
        )
        for d in first.decisions
    )  # fmt: skip
    site.sign(Inspection(first.id, decided), "lukasz")
    fourth = next(d for d in first.decisions if d.key == ("30", "bolt_torque", "4"))
    site.sign(
        Correction(
            first.id,
            (replace(fourth, kind="correct", by="ruza", at=site.clock.now(), value=Decimal("96"),
                     follow_up=None, reference="", why="bolt tightened again, wrench checked"),),
            why="bolt 4 was tightened again after the inspection",
        ),
        "ruza",
    )  # fmt: skip


def compression(site: Site, work_order: str = "48-2230") -> None:
    """Ratios, a choice, a temperature; one cylinder low."""
    card = site.store.cards.get(
        next(c.number for c in site.store.cards.list() if "compression" in c.name)
    )
    site.store.orders.open(WorkOrder(work_order, AIRCRAFT, "0417-B"), by="ruza")
    pairs = (("1", 74), ("2", 71), ("3", 58), ("4", 60))
    site.confirm(
        work_order,
        *(
            said("20", "compression", Ratio(Decimal(reading), Decimal(80)), "psi", at)
            for at, reading in pairs
        ),
        said("20", "air_escapes", "exhaust valve"),
        card=card,
        changes={("compression", "3"): {"follow_up": "engineering asked", "reference": "EQ-7"}},
        extra=(
            Decision(
                "20",
                "loss",
                "3",
                "accept",
                "ruza",
                site.clock.now(),
                follow_up="engineering asked",
                reference="EQ-7",
            ),
        ),
    )


def remark(site: Site, text: str, work_order: str = "48-2240") -> Record:
    """A record whose one value is a text, as it came."""
    return site.confirm(work_order, said("10", "remarks", text), text="remarks as typed")


HOSTILE = (
    '=HYPERLINK("http://invalid","click")',
    "=1+1",
    "+44 1234",
    "-5",
    "@SUM(A1)",
    "\t=1+1",
    "\r\n=1+1",
    "  =cmd|' /C calc'!A0",
    "＝1+1",
    "'quoted already",
    "bell \a, escape \x1b[31m, nought \x00, delete \x7f, next line \x85",
    "\u202e102-TH\u202c and \u200bnothing\u2066 seen\u2069",
    "עומס יתר and عربى",
    'O\'Brien "Mac" Ó Súilleabháin, Łódź; Žďár\nsecond line',
    "wrench \U0001f527 mechanic \U0001f469\u200d\U0001f527 flag \U0001f1ea\U0001f1fa",
    "<r><t>raw</t></r>",
    "</para><b>bold & <font size=90>huge</font> &amp; &#65;",
    "_x0041_ is no A",
    "é e\u0301 ≥ ≤ ± Ω Ω ° µ μ Δ ½ Ø",
    "x" * 10_000,
    "word after word, and another one. " * 300,
    "\n".join(f"line {n}" for n in range(400)),
)
"""Texts that mean harm, or that a careless writer breaks on."""
