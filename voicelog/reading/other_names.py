"""Other names: the ends of labels, and longer ones, that can mean one field only."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from voicelog.reading import labels
from voicelog.reading.statements import subject_of
from voicelog.reading.words import phrase_key

if TYPE_CHECKING:
    from voicelog.objects import Card, Step
    from voicelog.reading.lexicon import Lexicon


def learn_tails(lexicon: Lexicon, card: Card) -> None:
    """The ends of labels that are the end of no other name."""
    fields = [(step.number, each) for step in card.steps for each in step.fields]
    ends = Counter(
        phrase_key(" ".join(words[first:]))
        for _, each in fields
        for words in {tuple(name.split()) for name in labels.names(each)}
        for first in range(len(words))
    )
    for number, each in fields:
        for tail in labels.tails(each):
            if ends[phrase_key(tail)] == 1 and phrase_key(tail) not in lexicon.exact:
                lexicon.speaks_of(tail, (number, each.name), labels.OWN)


def learn_longer(lexicon: Lexicon, step: Step) -> None:
    """Longer names of what a check speaks of: the "trunnion pins" are those of "Pins greased"."""
    names = {name.lower() for each in step.fields for name in labels.names(each)}
    for each in step.fields:
        subject = subject_of(each)
        longer = [name for name in names if subject and name.endswith(f" {subject}")]
        if len(longer) == 1:
            lexicon.speaks_of(longer[0], (step.number, each.name), 0.7)


_FOUND_OR_LEFT = ("as found", "found", "as left", "left")


def learn_found_and_left(lexicon: Lexicon) -> None:
    """ "Tyre pressure as found" may be the name of one field, or tell of another's two values."""
    for canonical, places in lexicon.places.items():
        for ending in _FOUND_OR_LEFT:
            if canonical.endswith(f" {ending}"):
                base = lexicon.places.get(lexicon.canonical(canonical.removesuffix(f" {ending}")))
                for place, plainness in (base or {}).items():
                    places[place] = max(places.get(place, 0.0), plainness)
                break
