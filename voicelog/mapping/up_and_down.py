"""Up and down: two fields that are told apart by such a word, said with the number: "the left
aileron goes 22 degrees up and 16 degrees down", "elevator up 25, down 15"."""

from __future__ import annotations

import re
from bisect import bisect_left
from itertools import permutations
from typing import TYPE_CHECKING

from voicelog.mapping.row import PLAIN, Cue
from voicelog.objects import Mention
from voicelog.reading.labels import names
from voicelog.reading.percard import per_card
from voicelog.reading.words import phrase_key

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.mapping.row import Said, Spans
    from voicelog.objects import Card
    from voicelog.reading.lexicon import Place

NAMED = "up and down"
"""The stage of such names."""
_TURNED = {"up": "down", "down": "up"}
_BEFORE = re.compile(r"\b(up|down)\s*(?:,\s*|\s(?:is|was|at|in|reads?)\s+)?\Z", re.IGNORECASE)
_ENDS = r"(?=\s*(?:[,.;:]|(?:and|at|but|for|on)\b|\Z))"
_BEHIND = re.compile(rf"\s+(up|down){_ENDS}", re.IGNORECASE)
"""It ends what is told: "25 degrees up and ...", but not "25 degrees, down travel 15"."""
_WITHIN = re.compile(r"(?<![,;\s])\s+(?:up|down)\Z", re.IGNORECASE)
_REACH = 10


def name(said: Sequence[Said], cues: Sequence[Cue], placed: Spans, text: str, card: Card) -> None:
    """Give numbers of `said` the name that the word beside them makes, where one of two such
    fields was named before: each such word goes with one number."""
    pairs = _pairs(card)
    taken = -1
    for each in said if pairs else ():
        if not each.is_number:
            continue
        word = _BEFORE.search(text, max(0, each.start - _REACH), each.start)
        if word is None or word.start(1) <= taken:
            within = _WITHIN.search(text, each.start, each.end)  # "degrees up" may be the unit
            word = _BEHIND.match(text, within.start() if within else each.end)
        if word is None or placed.cover(word.start(1), word.end(1)):
            continue  # "elevator up 34", where that is one of the places
        ahead = range(bisect_left(cues, each.start, key=lambda cue: cue.start) - 1, -1, -1)
        heads = (
            cue
            for cue in map(cues.__getitem__, ahead)
            if cue.end < each.start
            and not pairs.keys().isdisjoint(cue.places)
            and cue.canonical not in _TURNED
        )
        head = next(heads, None)
        turned = word[1].lower()
        places = {pairs[at][turned]: PLAIN for at in head.places if at in pairs} if head else {}
        if places:
            taken = word.start(1)
            mention = Mention("term", word[1], taken, word.end(1), turned, stage=NAMED)
            each.inner.append(Cue(taken, word.end(1), turned, places, mention))


@per_card
def _pairs(card: Card | None) -> Mapping[Place, Mapping[str, Place]]:
    """The fields that are told apart from another of their step by such a word at the end of
    their names -> the two of them, by that word."""
    found: dict[Place, Mapping[str, Place]] = {}
    for step in card.steps if card is not None else ():
        measured = [each for each in step.fields if each.type == "measurement"]
        for one, other in permutations(measured, 2):
            keys = {phrase_key(called) for called in names(other)}
            for called in names(one):
                head, _, last = called.lower().rpartition(" ")
                turned = _TURNED.get(last)
                if head and turned and phrase_key(f"{head} {turned}") in keys:
                    own = step.number, one.name
                    found[own] = {last: own, turned: (step.number, other.name)}
    return found
