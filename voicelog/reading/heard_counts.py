"""Names of counts that a recogniser wrote as they sound: "two stars" for the starts, "no block
drains", "2 foul plugs".

Looked for only right behind a number or a word for none, and before a zero at the end of a clause
of its own: the one count of the step whose name the words are like in sound and in writing. It is
asked about.
"""

from __future__ import annotations

from bisect import bisect_left
from operator import attrgetter
from typing import TYPE_CHECKING

from voicelog.phonetics import alike, likeness
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.percard import per_card
from voicelog.reading.spoken import lexemes
from voicelog.reading.words import phrase_key

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.objects import Card, Mention
    from voicelog.reading.passage import Passage
    from voicelog.reading.words import Token

_NONE = frozenset({"no", "nil", "zero"})
_NONE_BEHIND = frozenset({"none", "nil", "zero"})
_ENDS = frozenset({".", ",", ";", "!", "and"})
_LONGEST = 4
"""Words of a name that was misheard, at most."""
_SHORTEST = 5
"""Letters of such a name."""
_MERE_WORD = 0.5
"""How plainly a mere word of a name leads to its field."""
_NEAR, _WRITTEN, _AHEAD = 0.78, 0.84, 0.1
"""Least likeness by ear and in writing, and how much more than that of another field's name."""


@per_card
def _names(card: Card | None) -> Mapping[str, tuple[tuple[str, str], ...]]:
    """Step -> (name of a count, its field)."""
    lexicon = lexicon_of(card)
    steps = card.steps if card is not None else ()
    counts = {
        (step.number, each.name) for step in steps for each in step.fields if each.type == "count"
    }
    found: dict[str, list[tuple[str, str]]] = {}
    for name in lexicon.counted:
        for place in lexicon.places.get(name, {}).keys() & counts:
            if len(phrase_key(name)) >= _SHORTEST:
                found.setdefault(place[0], []).append((name, place[1]))
    return {step: tuple(sorted(names)) for step, names in found.items()}


def find(
    passage: Passage, tokens: Sequence[Token], terms: Sequence[Mention]
) -> Iterator[tuple[int, int, str]]:
    """(start, end, canonical term) of each misheard name, in characters."""
    names = _names(passage.cues.card)
    if not names:
        return
    lexicon = lexicon_of(passage.cues.card)
    plain = {
        at
        for term in terms
        if "near" not in term.qualifiers
        and (" " in term.text or str(term.value) in lexicon.counted)
        and lexicon.plainness(str(term.value)) > _MERE_WORD
        for at in range(term.start, term.end)
    }
    for at, token in enumerate(tokens):
        word = token.text.lower()
        counted = word.isdigit() or word in _NONE or (word,) in lexemes()
        found = None
        if counted and at + 1 < len(tokens):
            found = _behind(passage, tokens, at + 1, names, plain)
        elif token.is_word and (at == 0 or not tokens[at - 1].is_word):
            found = _before(passage, tokens, at, names, plain)
        if found is not None:
            yield tokens[found[0]].start, tokens[found[1] - 1].end, found[2]


def _behind(
    passage: Passage,
    tokens: Sequence[Token],
    at: int,
    names: Mapping[str, Sequence[tuple[str, str]]],
    plain: set[int],
) -> tuple[int, int, str] | None:
    """(first, behind, name) of the words at `at`, which stand behind a number."""
    best: tuple[float, int, str] | None = None
    for last in range(at + 1, min(at + _LONGEST, len(tokens)) + 1):
        if not tokens[last - 1].is_word or (tokens[last - 1].text.lower(),) in lexemes():
            break
        if tokens[last - 1].start in plain:
            return None
        hit = _nearest(passage, tokens[at:last], names)
        if hit is not None and (best is None or hit[0] > best[0]):
            best = hit[0], last, hit[1]
    return None if best is None else (at, best[1], best[2])


def _before(
    passage: Passage,
    tokens: Sequence[Token],
    at: int,
    names: Mapping[str, Sequence[tuple[str, str]]],
    plain: set[int],
) -> tuple[int, int, str] | None:
    """The same of words at the head of a clause that say no more than that there are none."""
    for last in range(at + 1, min(at + _LONGEST, len(tokens) - 1) + 1):
        if not tokens[last - 1].is_word or tokens[last - 1].start in plain:
            return None
        ends = last + 1 == len(tokens) or tokens[last + 1].text.lower() in _ENDS
        if tokens[last].text.lower() in _NONE_BEHIND and ends:
            hit = _nearest(passage, tokens[at:last], names)
            return None if hit is None else (at, last, hit[1])
    return None


def _nearest(
    passage: Passage, said: Sequence[Token], names: Mapping[str, Sequence[tuple[str, str]]]
) -> tuple[float, str] | None:
    """(likeness, name) of the count that the words sound like, and no other as much."""
    key = "".join(token.text.lower() for token in said).replace("'", "")
    if len(key) < _SHORTEST or not key.isalpha():
        return None
    at = bisect_left(passage.atoms, said[0].start, key=attrgetter("start"))
    step = passage.step_at(at if at < len(passage.atoms) else 0)
    if step is None:
        return None
    scored = sorted(
        ((likeness(key, name), field, name) for name, field in names.get(step, ())), reverse=True
    )
    if not scored or scored[0][0] < _NEAR:
        return None
    best, own, name = scored[0]
    if alike(key, name.replace(" ", "")) < _WRITTEN:
        return None
    rivals = (score for score, field, _ in scored if field != own)
    return (best, name) if max(rivals, default=0.0) <= best - _AHEAD else None
