"""Circumstances: numbers that belong to the name of a field, and are nobody's value.

"Chain length over ten links", "Pressure after 30 min": said again with what they count or the unit
they have, they name the field.
"""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.heard import Transcript
from voicelog.mapping.row import Cue
from voicelog.mapping.unit_fit import compatible
from voicelog.objects import Interval, Mention, Ratio
from voicelog.reading import Reader, labels
from voicelog.reading.percard import per_card
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events
    from voicelog.objects import Card, Field
    from voicelog.reading.lexicon import Place

Circumstance = tuple[Decimal, str]
"""The number, and its unit or what it counts, with one or two words before it."""

_NUMBERS = ("count", "quantity", "range")
_STAGE = "circumstances"
_PLAIN = 0.6
"""How plainly a circumstance names its field."""
_BEHIND = re.compile(r"\s+([^\W\d_]{3,})")
_NUMBERED = re.compile(
    r"\d|\b(?:one|two|three|four|five|six|eight|ten|twelve|twenty)\b", re.IGNORECASE
)


def take(by_kind: dict[str, list[Mention]], text: str, card: Card) -> list[Cue]:
    """Take the circumstances of `card` out of the numbers of a note, and give them as names."""
    known = _of_card(card)
    if not known:
        return []
    cues = []
    for kind in _NUMBERS:
        kept = []
        for mention in by_kind.get(kind, ()):
            places = _places(mention, text, known, card)
            if places:
                term = replace(mention, kind="term", value=mention.text, stage=_STAGE, doubts=())
                cues.append(Cue(mention.start, mention.end, mention.text, places, term))
            else:
                kept.append(mention)
        by_kind[kind] = kept
    ratios, by_kind["ratio"] = by_kind.get("ratio", ()), []
    for mention in ratios:  # "560 over five links"
        value = mention.value
        over = isinstance(value, Ratio) and (value.reference, _counted(mention, text)) in known
        if isinstance(value, Ratio) and over:
            mention = replace(mention, kind="count", value=value.reading, alternatives=())  # noqa: PLW2901
        by_kind.setdefault(mention.kind, []).append(mention)
    return cues


def doubt(row: Events, placements: Sequence[Placement]) -> None:
    """Ask about a number beside a circumstance that is none of its field: "oil pressure in ten
    minutes", where the card has a creep in ten minutes."""
    strange = [
        anchor
        for anchor in row.anchors
        if isinstance(anchor, Cue) and anchor.mention.stage == _STAGE
    ]
    for placement in placements if strange else ():
        said = placement.said
        for cue in strange:
            beside = not row.breaks.between(*sorted((cue.start, said.start)))
            other = any(target.place not in cue.places for target in placement.targets)
            if said.is_number and beside and other:
                said.doubts.append("ambiguous_place")


@per_card
def _of_card(card: Card | None) -> dict[Circumstance, dict[Place, float]]:
    found: dict[Circumstance, dict[Place, float]] = {}
    for step in card.steps if card is not None else ():
        for field in step.fields:
            for circumstance in _of_field(field):
                found.setdefault(circumstance, {})[step.number, field.name] = _PLAIN
    return found


def _of_field(field: Field) -> Iterator[Circumstance]:
    for name in labels.names(field):
        if _NUMBERED.search(name):
            reading = Reader().read(Transcript.of_text(name))
            for mention in reading.mentions:
                if mention.kind in _NUMBERS and mention.start:
                    found = tuple(_circumstances(mention, name))
                    # "loose bolts, of 4 bolts": what a count is of may be counted
                    yield from (each for each in found if field.type != "count" or " " in each[1])


def _circumstances(mention: Mention, text: str) -> Iterator[Circumstance]:
    """What a number is the number of, by itself and with the words before it."""
    number = mention.value
    if isinstance(number, Interval):
        number = number.high if number.low is None else number.low
    if not isinstance(number, Decimal):
        return
    what = mention.unit or _counted(mention, text)
    if not what:
        return
    if mention.unit is None:
        yield number, what
    before = text[: mention.start].lower().split()
    if mention.kind == "range":
        before.append(mention.text.split()[0].lower())
    if before and before[-1] in _WHEN:
        yield number, f"{before[-1]} {what}"
        yield number, " ".join((word_key(before[-2]) if before[1:] else "", before[-1], what))


_WHEN = labels.WHERE | {"after", "during", "for", "over", "under", "within"}


def _counted(mention: Mention, text: str) -> str:
    """What a number counts: "links" of "ten links"."""
    behind = _BEHIND.match(text, mention.end)
    return "" if behind is None else word_key(behind[1])


def _places(
    mention: Mention, text: str, known: dict[Circumstance, dict[Place, float]], card: Card
) -> dict[Place, float]:
    """The fields of whose names a number is a part; none where it may be the value of another
    field, as "at two bar" may of a pressure, unless the word before them is the name's, too."""
    for circumstance in reversed([*_circumstances(mention, text)]):
        places = known.get(circumstance, {})
        if not places:
            continue
        unit, steps = mention.unit, {place[0] for place in places}
        rivals = (f for step in card.steps if step.number in steps for f in step.fields)
        named = circumstance[1].count(" ") > 1 and not circumstance[1].startswith(" ")
        if named or unit is None:
            return places
        if not any(field.unit and compatible(unit, field.unit) for field in rivals):
            return places
    return {}
