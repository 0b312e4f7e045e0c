"""Notes put together from the ways in which values are said and from cards: what is to be read
in each follows from how it was made.

The ways are data, `tests/golden/spoken.toml`, whose header explains them.
"""

from __future__ import annotations

import random
import re
import tomllib
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from num2words import num2words

from tests import spoken_codes
from voicelog.bench.score import Entry
from voicelog.mapping import roles
from voicelog.reading import labels

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.objects import Card, Field, Step, Value

_ROW = re.compile(r"<([^>]*)>")
_SIGNS = re.compile(r"[.,]\s+|\.$")
_NONE = frozenset({"none", "nowhere", *"0123456789"})
"""Options of which nobody says that it is not so."""
_FOUND_OR_LEFT = re.compile(r"found|left|before|after")


_UNTIED = re.compile(r"(?<!on )(?<!at )(?<!for )\{[PABC]\}")
"""Ways that set a place right beside a number, or before the name of its field."""


def _is_unclear(way: str, name: str, field: Field) -> bool:
    """Whether a way leaves open, for this field, what is a place: a bare figure beside a value, a
    letter behind one without its unit, "left" behind "found", or a name that ends in the word which
    counts the places ("mast roller one point two")."""
    places = [each.lower().split() for each in field.positions]
    bare = not field.position_word and any(place[0].isdigit() for place in places)
    letters = any(len(place[0]) == 1 and place[0].isalpha() for place in places)
    left = any("left" in place or place == ["lh"] for place in places)
    counted = (field.position_word or " ").rsplit(maxsplit=1)[-1:]
    return (
        (bare and _UNTIED.search(way) is not None)
        or (letters and "{V} {P}" in way)
        or (left and "found {O}{U}, left" in way)
        or name.lower().rsplit(maxsplit=1)[-1].removesuffix("s") in counted
    )


@cache
def ways() -> dict[str, Any]:
    """The whole of spoken.toml."""
    file = Path(__file__).parent / "golden" / "spoken.toml"
    return tomllib.loads(file.read_text("utf-8"))


@dataclass(frozen=True, slots=True)
class Told:
    """What is said of one field: by which way, in which words, and what is to be read."""

    field: str
    way: str
    text: str
    values: tuple[tuple[str | None, Value], ...]
    """Position and value."""


@dataclass(frozen=True, slots=True)
class Note:
    """A note on one step of a card."""

    card: Card
    step: Step
    text: str
    told: tuple[Told, ...]

    @property
    def expected(self) -> list[Entry]:
        """What is to be read, each in the unit of its field."""
        fields = {each.name: each for each in self.step.fields}
        return [
            Entry((self.step.number, told.field, place), value, _unit(fields[told.field]))
            for told in self.told
            for place, value in told.values
        ]


def notes(cards: Sequence[Card], seed: int) -> Iterator[Note]:
    """Notes without end, the same ones for the same seed."""
    speaker = Speaker(random.Random(seed))  # noqa: S311 - nothing secret, only the same notes again
    while True:
        card = speaker.rng.choice(cards)
        note = speaker.note(card, speaker.rng.choice(card.steps))
        if note is not None:
            yield note


def _unit(field: Field) -> str | None:
    return field.unit if field.type == "measurement" else None


class Speaker:
    """Says values of fields in ways that are drawn."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.in_words = False
        self.words = ways()["words"]

    def note(self, card: Card, step: Step) -> Note | None:
        """A note on one to three fields of `step`; None where one of them can't be said."""
        how = {
            "measurement": self.measured, "count": self.measured, "check": self.checked,
            "choice": self.chosen, "date": self.dated, "identifier": self.identified,
        }  # fmt: skip
        fields = [each for each in step.fields if each.type in how]
        if not fields:
            return None
        self.in_words = self.rng.random() < 0.5
        alike = [each for each in fields if each.type == "check" and not each.positions]
        if len(alike) > 1 and self.rng.random() < 0.1:
            told = self.together(self.rng.sample(alike, min(len(alike), self.rng.choice((2, 3)))))
            return Note(card, step, self.opener(step) + told[0].text, tuple(told))
        pair = spoken_codes.swapped(step) if self.rng.random() < 0.3 else None
        if pair is not None:
            swapped = self.swapped(*pair)
            return swapped and Note(card, step, swapped[0], tuple(swapped[1]))
        drawn = self.rng.sample(fields, min(len(fields), self.rng.choice((1, 1, 2, 2, 3))))
        told = [how[each.type](each) for each in drawn]
        said = [each for each in told if each is not None]
        if len(said) < len(told):
            return None
        text = self.opener(step) + said[0].text
        for each in said[1:]:
            text += self.rng.choice(self.words["between"]) + each.text
        return Note(card, step, text, tuple(said))

    # --- fields by type -----------------------------------------------------------

    def measured(self, field: Field) -> Told | None:
        """A measurement or a count, at one place or at several."""
        unit = ways()["units"].get(field.unit, [None]) if field.type == "measurement" else [""]
        spoken = self.rng.choice(unit)
        if spoken is None or (field.min is not None and field.min < 0):
            return None
        name = self.name(field)
        fixed = {"n": name, "U": f" {spoken}" if spoken else ""}
        count = 2 if not field.positions else min(len(field.positions), self.rng.choice((2, 3, 4)))
        drawn = self.values(field, count + 1)
        if drawn is None or (field.positions and len(field.positions) < 2):
            return None
        values, fixed["O"] = drawn[:-1], self.number(drawn[-1])
        room = ways()["counted" if field.type == "count" else "measured"]
        pools = ["said", "said"] + [
            pool
            for pool in ("changed", "repaired")
            if pool in room
            and not (pool == "changed" and _FOUND_OR_LEFT.search(f"{name} {field.label.lower()}"))
        ]
        if not field.positions:
            way = self.rng.choice(room[self.rng.choice(pools)])
            text = way.format(V=self.number(values[0]), **fixed)
            return Told(field.name, way, text, ((None, values[0]),))
        return self.at_places(field, fixed, values, pools)

    def at_places(
        self, field: Field, fixed: dict[str, str], values: Sequence[Decimal], pools: Sequence[str]
    ) -> Told | None:
        """A measurement or a count at as many places as there are `values`."""
        places = self.places(field, len(values))
        room = ways()["measured"]["places"]
        whole = set(places) == set(field.positions)
        pools = ["each"] * 5 + [p for p in ("changed", "repaired") if p in pools] + ["same"] * whole
        pools += ["grouped"] * (len(places) > 2) + ["odd"] * (whole and len(places) > 2)
        pool = self.rng.choice(pools)
        way = self.rng.choice(room[pool])
        if _is_unclear(way, fixed["n"], field):
            return None
        if pool in ("grouped", "odd"):
            return self.grouped(field, way, places if pool == "odd" else places[:3], values, fixed)
        if "{every}" in way:
            text = way.format(V=self.number(values[0]), every=self.every(field), **fixed)
            return Told(field.name, way, text, tuple((p, values[0]) for p in places))
        cells = [
            {"P": self.place(field, place), "V": self.number(value)}
            for place, value in zip(places, values, strict=True)
        ]
        text = self.row(way, cells, fixed)
        return Told(field.name, way, text, tuple(zip(places, values, strict=True)))

    def grouped(
        self,
        field: Field,
        way: str,
        places: Sequence[str],
        values: Sequence[Decimal],
        fixed: dict[str, str],
    ) -> Told:
        """One value for several places, and another for the last of `places`."""
        value, other = values[:2]
        told_of = (*places[:2], places[-1])
        fixed |= {letter: self.place(field, p) for letter, p in zip("ABC", told_of, strict=True)}
        fixed |= {"V": self.number(value), "O": self.number(other)}
        told = tuple((place, other if place == places[-1] else value) for place in places)
        return Told(field.name, way, way.format(**fixed), told)

    def checked(self, field: Field) -> Told | None:
        """A check, at one place or at all of them."""
        good, bad = (self.rng.choice(self.words[each]) for each in ("good", "bad"))
        fixed = {"n": self.name(field), "G": good, "B": bad}
        room = ways()["checked"]
        if not field.positions:
            passed = self.rng.random() < 0.6
            way = self.rng.choice(room["said"] + room["good" if passed else "bad"])
            verdict = "pass" if passed else "fail"
            text = way.format(W=good if passed else bad, R=verdict, **fixed)
            return Told(field.name, way, text, ((None, verdict),))
        if not 2 <= len(field.positions) <= 8:
            return None
        several = len(field.positions) > 2
        pool = self.rng.choice(("good", "one_bad", "one_bad", "only_bad", *["exception"] * several))
        way = self.rng.choice(room["places"][pool])
        odd = None if pool == "good" else self.rng.choice(field.positions)
        told = {place: "fail" if place == odd else "pass" for place in field.positions}
        cells = [{"P": self.place(field, p), "W": good if told[p] == "pass" else bad} for p in told]
        fixed |= {
            "bad": self.place(field, odd or ""),
            "every": self.every(field),
            "others": "the others" if several else "the other",
        }
        text = self.row(way, cells, fixed)
        kept = (
            told if pool != "only_bad" else {place: v for place, v in told.items() if v != "pass"}
        )
        return Told(field.name, way, text, tuple(kept.items()))

    def together(self, fields: Sequence[Field]) -> list[Told]:
        """One verdict on several checks."""
        passed = self.rng.random() < 0.6
        way = self.rng.choice(ways()["checked"]["together"])
        names = [self.name(each) for each in fields]
        every = "both" if len(fields) == 2 else "all three"
        if " all " in way and len(fields) == 2:
            way = way.replace(" all ", " both ")
        said = ", ".join(names[:-1]) + " and " + names[-1]
        word = self.rng.choice(self.words["good" if passed else "bad"])
        verdict = "pass" if passed else "fail"
        text = way.format(names=said, W=word, R=verdict, every=every)
        return [Told(each.name, way, text, ((None, verdict),)) for each in fields]

    def chosen(self, field: Field) -> Told | None:
        """A choice, at one place or at several."""
        room, fixed = ways()["chosen"], {"n": self.name(field)}
        if not field.positions:
            option, other = self.rng.sample(field.options, 2)
            told = [way for way in room["said"] if "{q}" not in way or other not in _NONE]
            way = self.rng.choice(told * 2 + room["changed"])
            text = way.format(o=option, q=other, **fixed)
            return Told(field.name, way, text, ((None, option),))
        places = self.places(field, 3)
        if len(places) < 2:
            return None
        if self.rng.random() < 0.15:
            way, option = self.rng.choice(room["places"]["same"]), self.rng.choice(field.options)
            text = way.format(o=option, every=self.every(field), **fixed)
            return Told(field.name, way, text, tuple((p, option) for p in field.positions))
        options = [self.rng.choice(field.options) for _ in places]
        way = self.rng.choice(room["places"]["each"])
        cells = [{"P": self.place(field, p), "o": o} for p, o in zip(places, options, strict=True)]
        text = self.row(way, cells, fixed)
        return Told(field.name, way, text, tuple(zip(places, options, strict=True)))

    def identified(self, field: Field) -> Told | None:
        """An identifier of letters and digits, in the form that the card asks for, if any."""
        value = None if field.positions else spoken_codes.code(self.rng, field.pattern)
        if value is None or value.isdigit():
            return None
        alphabet = self.words["alphabet"]
        said = spoken_codes.said(self.rng, value, alphabet)
        misspoken = spoken_codes.said(self.rng, spoken_codes.other(self.rng, value), alphabet)
        way = self.rng.choice(ways()["identified"][self.rng.choice(("said",) * 4 + ("repaired",))])
        if way.startswith("fitted") and roles.of_field(field) == "off":
            return None
        text = way.format(n=self.name(field), s=said, x=misspoken)
        return Told(field.name, way, text, ((None, value),))

    def swapped(self, off: Field, on: Field) -> tuple[str, list[Told]] | None:
        """The part that came off and the one that went on, in one sentence."""
        old = spoken_codes.code(self.rng, off.pattern)
        part = spoken_codes.part(off, on)
        if old is None or off.pattern != on.pattern or not part:
            return None
        new = spoken_codes.other(self.rng, old)
        way = self.rng.choice(ways()["identified"]["swapped"])
        alphabet = self.words["alphabet"]
        said = [spoken_codes.said(self.rng, each, alphabet) for each in (old, new)]
        text = way.format(part=part, x=said[0], s=said[1])
        told = [
            Told(field.name, way, text, ((None, value),))
            for field, value in ((off, old), (on, new))
        ]
        return text, told

    def dated(self, field: Field) -> Told | None:
        """A date with its month by name."""
        if field.positions:
            return None
        when = date(self.rng.randint(2025, 2029), self.rng.randint(1, 12), self.rng.randint(1, 28))
        misspoken = when.replace(day=when.day % 28 + 1)
        said, other = (spoken_codes.day(self.rng, each) for each in (when, misspoken))
        way = self.rng.choice(ways()["dated"][self.rng.choice(("said",) * 4 + ("repaired",))])
        text = way.format(n=self.name(field), d=said, e=other)
        return Told(field.name, way, text, ((None, when.isoformat()),))

    # --- pieces -------------------------------------------------------------------

    def row(self, way: str, cells: Sequence[dict[str, str]], fixed: dict[str, str]) -> str:
        """`way` with its part in angle brackets said once for each of `cells`."""
        found = _ROW.search(way)
        if found is None:
            return way.format(**fixed)
        first, *others = found[1].split("|")
        middle, last = (others or [first])[0], (others or [first])[-1]
        forms = [first, *[middle] * (len(cells) - 2), last]
        said = [form.format(**fixed, **cell) for form, cell in zip(forms, cells, strict=True)]
        text = ", ".join(said[:-1]) + self.rng.choice(self.words["joins"]) + said[-1]
        return (way[: found.start()] + "{row}" + way[found.end() :]).format(row=text, **fixed)

    def opener(self, step: Step) -> str:
        """Words before the first field; "right, ..." is none where a place is called so."""
        places = {word for each in step.fields for p in each.positions for word in p.split()}
        openers = [o for o in self.words["openers"] if o != "right, " or "right" not in places]
        return self.rng.choice(openers)

    def name(self, field: Field) -> str:
        """The field's label or another of its names, mostly without capitals; a label that is
        written short as it is said, and without signs that nobody says."""
        label = _SIGNS.sub(" ", labels.in_full(field) or field.label)
        name = self.rng.choice((label, *field.say))
        return name.lower() if self.rng.random() < 0.8 else name

    def places(self, field: Field, count: int) -> list[str]:
        """So many places in the order of the card, or now and then the other way round."""
        places = list(field.positions[:count])
        return places[::-1] if self.rng.random() < 0.15 else places

    def place(self, field: Field, place: str) -> str:
        """A place as it is said."""
        if not (place.isdigit() and len(place) <= 2):
            return place
        number = place if self.rng.random() < 0.4 else num2words(int(place))
        return f"{field.position_word} {number}" if field.position_word else number

    def every(self, field: Field) -> str:
        """ "Both", or "all four"."""
        count = len(field.positions)
        return "both" if count == 2 else f"all {num2words(count)}"

    def values(self, field: Field, count: int) -> list[Decimal] | None:
        """So many different values, most within the limits; None where there are too few."""
        low = Decimal(field.min if field.min is not None else (field.max or 40) / 4)
        high = Decimal(field.max if field.max is not None else max(low * 2, low + 20))
        whole = field.type == "count" or high - low >= 12
        step = Decimal(1) if whole else Decimal("0.1") if high - low >= 1 else Decimal("0.01")
        steps = int((high - low) / step)
        if steps < 2 * count:
            return None
        return [(low + step * each).quantize(step) for each in self.rng.sample(range(steps), count)]

    def number(self, value: Decimal) -> str:
        """A number in digits, or in words where this note has words."""
        if not self.in_words:
            return str(value)
        whole, _, part = str(value).partition(".")
        said = num2words(int(whole)).replace("-", " ").replace(",", "")
        return said + "".join(
            [" point", *(f" {num2words(int(each))}" for each in part)] * bool(part)
        )
