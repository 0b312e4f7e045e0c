"""Names of checks that a recogniser wrote as they sound: "lise drained off", "lacks down".

Looked for only at the head of a clause that tells what the label of a check asks for: the one check
of the step that asks for it, and whose name is near by ear. It is asked about.
"""

from __future__ import annotations

from bisect import bisect_left
from operator import attrgetter
from typing import TYPE_CHECKING

from voicelog.phonetics import likeness
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.percard import per_card
from voicelog.reading.talk import talk
from voicelog.reading.words import verb_stem

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.objects import Card, Mention
    from voicelog.reading.passage import Passage
    from voicelog.reading.words import Token

_LINKS = frozenset({
    "is", "are", "was", "were", "isn't", "aren't", "wasn't", "not", "all", "both", "now", "has",
    "have", "been",
})  # fmt: skip
"""Words between the name of a check and what is told of it."""
_OPENERS = frozenset({"and", "the", "then", "right", "so", "okay", "ok"})
_LONGEST = 3
"""Words of a name that was misheard, at most."""
_SHORTEST = 3
_NEAR, _AHEAD = 0.5, 0.1
"""Least likeness by ear, and how much more than that of the next name."""


@per_card
def _asked(card: Card | None) -> Mapping[str, tuple[tuple[str, str, str], ...]]:
    """State that labels of checks ask for -> (step, name of the check, canonical term)."""
    lexicon = lexicon_of(card)
    found: dict[str, list[tuple[str, str, str]]] = {}
    for name in lexicon.subjects:
        for place, plainness in lexicon.places.get(name, {}).items():
            wanted = lexicon.states.get(place)
            if wanted and plainness > 0.8:
                found.setdefault(wanted[0], []).append((place[0], place[1], name))
    return {state: tuple(sorted(names)) for state, names in found.items()}


def find(
    passage: Passage, tokens: Sequence[Token], terms: Sequence[Mention]
) -> Iterator[tuple[int, int, str]]:
    """(start, end, canonical term) of each misheard name, in characters."""
    asked = _asked(passage.cues.card)
    if not asked:
        return
    lexicon = lexicon_of(passage.cues.card)
    leads = {(each.start, each.end): lexicon.places.get(str(each.value), {}) for each in terms}
    plain = {
        at
        for term in terms
        if lexicon.plainness(str(term.value)) > 0.5
        and not ("near" in term.qualifiers and str(term.value) in lexicon.statements)
        for at in range(term.start, term.end)
    }
    at = 0
    while at < len(tokens):
        head = at == 0 or not tokens[at - 1].is_word or tokens[at - 1].text.lower() in _OPENERS
        found = None
        if head and tokens[at].is_word and tokens[at].text.lower() not in _OPENERS:
            found = _name(passage, tokens, at, asked, plain)
        if found is not None:
            start, end = tokens[at].start, tokens[found[0] - 1].end
            if leads.get((start, end), {}).keys().isdisjoint(lexicon.places[found[1]]):
                yield start, end, found[1]  # but "gate's shut" names the feed gate by a word of it
        at = found[0] if found is not None else at + 1


def _name(
    passage: Passage,
    tokens: Sequence[Token],
    at: int,
    asked: Mapping[str, tuple[tuple[str, str, str], ...]],
    plain: set[int],
) -> tuple[int, str] | None:
    """(index behind, canonical term) of the name that begins at `at`."""
    ordinary = talk().everyday.ordinary
    for last in range(at + 1, min(at + _LONGEST + 1, len(tokens))):
        said = tokens[at:last]
        if not said[-1].is_word or said[-1].start in plain or said[-1].key in _LINKS:
            return None
        told = last
        while told < len(tokens) and tokens[told].text.lower() in _LINKS:
            told += 1
        if told == len(tokens) or not tokens[told].is_word:
            continue
        names = asked.get(verb_stem(tokens[told].text.lower()), ())
        name = "".join(token.key for token in said)
        if (
            not names
            or len(name) < _SHORTEST
            or not name.isalpha()
            or all(token.key in ordinary for token in said)
        ):
            continue
        step = passage.step_at(_atom_at(passage, tokens[at].start))
        written = "".join(token.text.lower() for token in said)  # "lacks" for jacks
        own = [each for each in names if step in (None, each[0])]
        nearest = _nearest(name, own) or _nearest(written, own)
        if nearest is not None:
            return last, nearest
    return None


def _nearest(said: str, names: Sequence[tuple[str, str, str]]) -> str | None:
    """The name that `said` sounds like, and no other check's as much."""
    scored = [(likeness(said, name), field, name) for _, field, name in names]
    scored.sort(reverse=True)
    if not scored or scored[0][0] < _NEAR:
        return None
    best, own, name = scored[0]
    rivals = (score for score, field, _ in scored if field != own)
    return name if max(rivals, default=0.0) <= best - _AHEAD else None


def _atom_at(passage: Passage, start: int) -> int:
    at = bisect_left(passage.atoms, start, key=attrgetter("start"))
    return at if at < len(passage.atoms) else 0
