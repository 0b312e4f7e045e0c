"""By unit: what its unit, an option of its own or a place gave to a field that nobody named."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.mapping.row import Cue
from voicelog.reading.labels import OWN, noun
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from voicelog.mapping.placement import Placement, Target
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field


def doubt(row: Events, placement: Placement, field: Field, *, unexplained: bool) -> str | None:
    """The doubt of what its unit alone, or an option that is its own, gave to the field."""
    said = placement.said
    if said.option is not None:
        # "corrosion light at the pulley" is not "light" wear of something else
        start = row.clause_start(said.start)
        end = row.breaks.clause_end(said.end, len(row.text))
        own = placement.targets[0].spot if _is_spoken_of(row, said, field) else None
        named = any(anchor is not own for anchor in row.anchors_in(start, end))
        return "placed_by_unit" if named or unexplained else None
    if is_spent(said, field, placement.targets[0]) or _names_its_own(row, placement):
        return "placed_by_unit"
    pronoun = said.mention.text.lower() == "one"  # "south one bone dry"
    none = "none" in said.mention.qualifiers  # "collector nil" may be of what is measured
    return "placed_by_unit" if unexplained or pronoun or none else None


def is_spent(said: Said, field: Field, target: Target) -> bool:
    """ "Let it run twenty minutes": of a meter that counts hours no minutes are read."""
    named = target.cue is not None and target.cue.places.get(target.place, 0.0) > OWN
    minutes = said.kind == "quantity" and said.mention.unit in {"minute", "second"}
    return field.unit == "hour" and minutes and not named


def _names_its_own(row: Events, placement: Placement) -> bool:
    """ "Wheel WL114 fitted on the left": that a part was fitted whose code is told is no word on
    another one."""
    said, place = placement.said, placement.targets[0].place
    if said.kind != "remark" or said.mention.value == "fail":
        return False
    start = row.clause_start(said.start)
    codes = any(each.kind == "identifier" for each in row.said_in(start, said.start))
    named = (each for each in row.anchors_in(start, said.start) if isinstance(each, Cue))
    return codes and not any(place in each.places for each in named)


def _is_spoken_of(row: Events, said: Said, field: Field) -> bool:
    """Whether a name said before has the noun of a field: "hoses expire in May. All three
    sound"."""
    words = {
        word_key(word)
        for cue in row.named
        if isinstance(cue, Cue) and not cue.near and cue.end <= said.start
        for word in cue.mention.text.split()
    }
    return noun(field) in words
