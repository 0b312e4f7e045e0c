"""Joined names: words of a name that stand together name its field, though each of them is a word
of other names, too: the "rudder cable" of "Rudder cable tension", where there are other cables and
a rudder lock."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLACE_WORD, PLAIN, Cue
from voicelog.reading.labels import OWN, names
from voicelog.reading.percard import fields_of, per_card
from voicelog.reading.words import FILLERS, tokenise

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from voicelog.objects import Card, Field
    from voicelog.reading.lexicon import Place

JOINED = "joined names"
"""The stage of such names: they are none that the card has in full."""
_MEASURED = frozenset({"measurement", "ratio"})
_JOINED = 0.95
"""How plainly such words name the one field of a step that has them."""
_GAP = re.compile(r"[\s-](?P<of>of\s+(?:the\s+)?)?", re.IGNORECASE)
_OF = re.compile(r"\s+of\s+(?:the\s+)?", re.IGNORECASE)


def join(cues: Sequence[Cue], text: str, card: Card) -> list[Cue]:
    """`cues` with one in the place of two that stand together as in the name of what is
    measured: "rudder cable", "play of the rudder"."""
    runs = _runs(card)
    joined: list[Cue] = []
    for cue in cues:
        last = joined[-1] if joined else None
        gap = _GAP.fullmatch(text, last.end, cue.start) if last is not None else None
        one = None
        if last is not None and gap is not None and not (last.near or cue.near):
            first, second = (cue, last) if gap["of"] else (last, cue)
            meant = runs.get(f"{_key(first)} {_key(second)}", {})
            one = _joined(last, cue, meant, text, fields_of(card)) if meant else None
        if one is None:
            joined.append(cue)
        else:
            joined[-1] = one
    return joined


def _joined(
    first: Cue,
    second: Cue,
    meant: Mapping[Place, float],
    text: str,
    fields: Mapping[Place, Field],
) -> Cue | None:
    """The cue of both, for which fields with one of the words are hardly meant; None where one of
    them names one of the fields as plainly."""
    places = dict(first.places)
    for place, plain in second.places.items():
        places[place] = max(plain, places.get(place, 0.0))
    if all(places.get(place, 0.0) >= plain for place, plain in meant.items()):
        return None
    if any(places.get(place, 0.0) >= PLAIN for place in meant):
        return None
    for place in places.keys() - meant.keys():
        measured = fields[place].type in _MEASURED
        places[place] *= 0.5 if measured and places[place] <= OWN else 1.0
    said = text[first.start : second.end]
    mention = replace(first.mention, text=said, end=second.end, value=said.lower(), stage=JOINED)
    return Cue(
        first.start, second.end, said.lower(), {**places, **meant}, mention, plural=second.plural
    )


def _key(cue: Cue) -> str:
    return " ".join(_words(cue.mention.text))


def _words(name: str) -> Iterable[str]:
    return (token.key for token in tokenise(name) if token.key not in FILLERS)


@per_card
def _runs(card: Card | None) -> Mapping[str, Mapping[Place, float]]:
    """Words that stand together in names -> the fields of those that begin with them or, where
    none does, of those that have them, and how plainly they name each."""
    begun: dict[str, set[Place]] = {}
    within: dict[str, set[Place]] = {}
    for place, field in fields_of(card).items():
        if field.type not in _MEASURED:
            continue
        for name in names(field):
            first, *rest = _OF.split(name, maxsplit=1)
            for told in (name, " ".join((*rest, first))) if rest else (name,):
                words = [*_words(told)]
                for at in range(len(words) - 1):
                    for end in range(at + 2, len(words) + 1):
                        run = " ".join(words[at:end])
                        (within if at else begun).setdefault(run, set()).add(place)
    runs = within | begun
    return {run: _plainness(places) for run, places in runs.items()}


def _plainness(places: set[Place]) -> Mapping[Place, float]:
    steps = Counter(step for step, _ in places)
    return {place: _JOINED if steps[place[0]] == 1 else PLACE_WORD for place in places}
