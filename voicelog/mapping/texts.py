"""Texts: after the name of a text field ("remarks ...") the rest of the sentence is the value.

What is said there is the mechanic's own wording: it is kept verbatim, and nothing inside it
is read into another field.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.mapping.row import Cue
from voicelog.objects import FieldValue
from voicelog.reading.labels import noun
from voicelog.reading.percard import fields_of
from voicelog.reading.settings import reasons_of
from voicelog.reading.talk import talk
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Events
    from voicelog.objects import Card

_LEAD = re.compile(r"[\s,:;.–—-]*(?:(?:is|are|that|says?)\b[\s,:]*)*", re.IGNORECASE)


def take(row: Events, card: Card) -> list[FieldValue]:
    """Text values of `row`; the events inside them are taken out of it."""
    values: list[FieldValue] = []
    taken = 0
    for anchor in list(row.anchors):
        if not isinstance(anchor, Cue) or anchor.start < taken or anchor.near:
            continue
        step = row.step_at(anchor.start)
        places = _text_places(anchor, card, step) or _by_noun(row, anchor, card, step)
        if not places or _is_word_of_talk(row, anchor, places, step):
            continue
        named = _name_end(row, anchor, fields_of(card)[places[0]].label)
        lead = _LEAD.match(row.text, named)
        start = lead.end() if lead else named
        end = _end(row, start)
        wording = row.text[start:end].rstrip(" ,.;:!?")
        if not wording:
            continue
        if len(places) > 1:
            places = _latest(row, anchor, places) or places
        codes = ("ambiguous_place",) if len(places) > 1 else ()
        end = start + len(wording)
        values.append(
            FieldValue(
                *places[0],
                None,
                value=wording,
                as_spoken=wording,
                confidence=0.5 if codes else 0.97,
                reasons=reasons_of(codes),
                start=start,
                end=end,
                mentions=(anchor.mention,),
            )
        )
        _clear(row, anchor.start, end)
        taken = end
    row.anchors[:] = [anchor for anchor in row.anchors if not anchor.dropped]
    return _joined(values)


def _name_end(row: Events, cue: Cue, label: str) -> int:
    """Where the name ends that `cue` has a part of: "Defects carried over", heard as "D test
    carried over", of which "carried" is known."""
    words = label.casefold().split()
    last = row.text[cue.start : cue.end].casefold().split()[-1:]
    for at in (at for at, word in enumerate(words[:-1]) if [word] == last):
        rest = re.compile(rf"\s+{re.escape(' '.join(words[at + 1 :]))}\b", re.IGNORECASE)
        behind = rest.match(row.text, cue.end)
        if behind:
            return behind.end()
    return cue.end


def _is_word_of_talk(
    row: Events, cue: Cue, places: Sequence[tuple[str, str]], step: str | None
) -> bool:
    """ "..., the other okay" where another step has a text field called "Other"."""
    plain = word_key(cue.mention.text) in talk().everyday.ordinary | talk().everyday.plain
    begun = row.breaks.sentence_start(cue.start)
    elsewhere = step is not None and all(place[0] != step for place in places)
    return plain and elsewhere and bool(row.text[begun : cue.start].strip())


_SAID_OF = re.compile(r"\s*[,:–—-]\s|\s+(?:is|are|that|says?)\b", re.IGNORECASE)
"""Behind the noun of a text field, where its words begin."""


def _by_noun(row: Events, cue: Cue, card: Card, step: str | None) -> list[tuple[str, str]]:
    """ "Remark, hinge pin worn" where the card says "Engineer's remarks": the noun alone names the
    one text field of the step, at the head of a sentence and with a pause behind it."""
    owner = card.step(step) if step is not None else None
    texts = [field for field in owner.fields if field.type == "text"] if owner is not None else []
    if len(texts) != 1 or _SAID_OF.match(row.text, cue.end) is None:
        return []
    if row.text[row.breaks.sentence_start(cue.start) : cue.start].strip():
        return []
    place = (str(step), texts[0].name)
    named = place in cue.places and word_key(cue.mention.text) == noun(texts[0])
    return [place] if named else []


def _text_places(cue: Cue, card: Card, step: str | None) -> list[tuple[str, str]]:
    found = []
    for place, plainness in cue.places.items():
        owner = card.step(place[0])
        field = owner.field(place[1]) if owner else None
        if field is not None and field.type == "text" and plainness >= 0.9:
            found.append(place)
    own = [place for place in found if place[0] == step]
    return own or found


def _latest(row: Events, cue: Cue, places: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """The text field of the step that was last spoken of by a name of its own."""
    for anchor in reversed([a for a in row.anchors if a.start < cue.start and isinstance(a, Cue)]):
        assert isinstance(anchor, Cue)  # noqa: S101 - filtered above
        steps = {place[0] for place, plain in anchor.places.items() if plain >= 0.9}
        fitting = [place for place in places if place[0] in steps]
        if len(steps) == 1 and len(fitting) == 1:
            return fitting
    return []


def _end(row: Events, start: int) -> int:
    return row.breaks.sentence_end(start, len(row.text))


def _clear(row: Events, start: int, end: int) -> None:
    for said in row.said:
        if start <= said.start < end:
            said.dropped = True
            said.tags.add("text")
    for anchor in row.anchors:
        if start <= anchor.start < end:
            anchor.dropped = True
    row.words[:] = [word for word in row.words if not start <= word.start < end]
    row.said[:] = [said for said in row.said if not said.dropped]


def _joined(values: list[FieldValue]) -> list[FieldValue]:
    """Several remarks for one field are one text, in the order in which they were said."""
    by_key: dict[tuple[str, str, str | None], FieldValue] = {}
    for value in values:
        first = by_key.get(value.key)
        if first is None:
            by_key[value.key] = value
        else:
            both = f"{first.value}; {value.value}"
            by_key[value.key] = replace(
                first, value=both, as_spoken=both, mentions=(*first.mentions, *value.mentions)
            )
    return list(by_key.values())
