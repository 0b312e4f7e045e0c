"""Words that the card leads one to expect, where the recogniser wrote others that sound like them.

"Gottle one" for bottle one, "up at worn" for upper worn: where a model was unsure of a word, the
card's own words that are near it by ear are laid on the same sound. One that fits it about as
well takes its place; the words that were written stay with it as an alternative, and what hangs
on them is asked about, unless the sound is clearly for the card's, or the two are one word in two
spellings. This is contextual biasing, done after decoding, where the sound can be asked what it
makes of each wording.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.heard import Suspicion
from voicelog.phonetics import likeness
from voicelog.speech.critical import items
from voicelog.speech.recheck import BY_THE_CARD, Scorer

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from voicelog.speech.settings import Recheck

_LONGEST = 3
"""Words that are taken for others together, and words of a term."""
_SPELLING = 0.93
"""From this likeness on, two wordings are one word spelt in two ways: "megohms", "megaohms"."""
_WORD = re.compile(r"[A-Za-z][\w'-]*|\d\S*")
_BREAK = re.compile(r"[.;:!?]")
_SMALL = frozenset(
    {"a", "an", "and", "are", "as", "at", "be", "been", "by", "for", "from", "had", "has", "have",
     "in", "is", "it", "it's", "its", "no", "not", "of", "on", "or", "that", "the", "these", "they",
     "this", "those", "to", "was", "we", "were", "with"}
)  # fmt: skip
"""Words that begin or end no term, and that make no difference between two wordings."""
_DENIES = frozenset({"no", "not", "nil", "none", "never"})
"""Words that are never taken together with others: a finding would be turned round."""


@dataclass(frozen=True, slots=True)
class Wording:
    """`text`, with the expected words in place, and which of these are to be asked about."""

    text: str
    asked: tuple[Suspicion, ...] = ()


def heard(
    text: str,
    expected: tuple[str, ...],
    least_chance: Callable[[int, int], float],
    scorer: Scorer,
    rule: Recheck,
    most: int,
    units: tuple[str, ...] = (),
) -> Wording:
    """`text` with words of `expected` where the sound bears them out about as well.

    At most `most` are scored, the likest first; one is taken if it lies within `rule.expected` nats
    of what was written. What was written stays a rival, unless it fits worse by `rule.other`. In
    talk without a figure or a word of the card, which may be of something else ("try again" is not
    "dry again"), a term has to sound more like what was written: by `rule.alone`. A word behind a
    figure may be one of the `units` of the step, whatever it sounds like, within `rule.unit`.
    """
    if not most:
        return Wording(text)
    anchored = _telling(text) & _stems(expected) or any(item.is_figure for item in items(text))
    alike = rule.alike if anchored else rule.alone
    found = [
        (start, end, term, like)
        for start, end in _unsure(text, least_chance, rule.sure)
        for term, like in _near(text[start:end], expected, alike)
    ]
    found.sort(key=lambda each: -each[3])
    near = [(start, end, term, rule.expected) for start, end, term, _ in found[:most]]
    slots = _behind_figures(text, units, least_chance, rule.sure)
    near += [(start, end, unit, rule.unit) for start, end in slots for unit in units][: 2 * most]
    return _swapped(text, _taken(text, near, scorer), rule.other) if near else Wording(text)


def _taken(
    text: str, near: Sequence[tuple[int, int, str, float]], scorer: Scorer
) -> list[tuple[int, int, str, float]]:
    """Those of `near`, each with its margin, that lie within their nats; of two for the same words
    the one that may lie further off (a unit behind its number), or else the nearer one."""
    kept = scorer.score(text)
    scored = [
        (-least, kept - scorer.score(text[:start] + term + text[end:]), start, end, term)
        for start, end, term, least in near
    ]
    taken: list[tuple[int, int, str, float]] = []
    for least, margin, start, end, term in sorted(scored):
        if margin < -least and not any(a < end and start < b for a, b, *_ in taken):
            taken.append((start, end, term, margin))
    return sorted(taken)


def _swapped(text: str, taken: Sequence[tuple[int, int, str, float]], clear: float) -> Wording:
    out, at, asked = "", 0, []
    for start, end, term, margin in taken:
        out += text[at:start]
        said = text[start:end]
        put = term[0].upper() + term[1:] if said[0].isupper() else term
        if -margin < clear and likeness(said, term) < _SPELLING:
            near = round(max(0.0, -margin), 2)
            asked.append(Suspicion(len(out), len(out) + len(put), (said,), near, BY_THE_CARD))
        out, at = out + put, end
    return Wording(out + text[at:], tuple(asked))


def _unsure(
    text: str, least_chance: Callable[[int, int], float], sure: float
) -> Iterator[tuple[int, int]]:
    """Stretches of one to three words with one in it that the model was not sure of.

    A figure may begin one ("four key" for forty), but neither end it nor be one: it has rivals of
    its own, like the words of the spelling alphabet.
    """
    words = list(_WORD.finditer(text))
    doubted = [least_chance(*word.span()) < sure for word in words]
    for first in range(len(words)):
        for last in range(first, min(first + _LONGEST, len(words))):
            start, end = words[first].start(), words[last].end()
            spelt = _spelt(words[last][0])
            if _BREAK.search(text, start, end) or (last > first and spelt):
                break
            if words[last][0].casefold() in _DENIES:
                break
            if not spelt and any(doubted[first : last + 1]):
                yield start, end


def _behind_figures(
    text: str,
    units: tuple[str, ...],
    least_chance: Callable[[int, int], float],
    sure: float,
) -> Iterator[tuple[int, int]]:
    """The word behind a number, and that with the next one, of which the model was not sure."""
    words = list(_WORD.finditer(text))
    known = _stems(units)
    for one, word in pairwise(words):
        if not _spelt(one[0]) or _spelt(word[0]) or _BREAK.search(text, one.start(), word.start()):
            continue
        if "," in text[one.end() : word.start()] or _telling(word[0]) & known:
            continue
        if least_chance(*word.span()) < sure:
            yield word.span()


def _spelt(word: str) -> bool:
    """Whether `word` is a figure or of the spelling alphabet; a letter by its name is neither."""
    norms = items(word) if len(word) > 1 or word.isdigit() else ()
    return any(item.is_figure or item.norm.startswith("letter ") for item in norms)


def _near(said: str, expected: tuple[str, ...], least: float) -> Iterator[tuple[str, float]]:
    """The terms that sound like `said`, with their likeness; none where its words are theirs."""
    words = _telling(said)
    if words <= _stems(expected) and len(words) == len(said.split()):
        return
    for term in _terms(expected):
        if not words >= _telling(term) and (like := likeness(said, term)) >= least:
            yield term, like


@lru_cache(maxsize=64)
def _terms(expected: tuple[str, ...]) -> tuple[str, ...]:
    """Every run of one to three words of the expected phrases, in singular and plural."""
    terms: dict[str, None] = {}
    for phrase in expected:
        words = re.findall(r"[a-z][a-z'-]*", phrase.casefold())
        for first in range(len(words)):
            for last in range(first, min(first + _LONGEST, len(words))):
                run = words[first : last + 1]
                if run[0] in _SMALL or run[-1] in _SMALL or len(run[0]) < 3 > len(run[-1]):
                    continue
                term = " ".join(run)
                terms |= dict.fromkeys((term, _plural(term)))
    return tuple(terms)


def _plural(term: str) -> str:
    hissing = term.endswith(("sh", "ch", "x"))
    return term if term.endswith("s") else f"{term}es" if hissing else f"{term}s"


@lru_cache(maxsize=64)
def _stems(expected: tuple[str, ...]) -> frozenset[str]:
    return frozenset().union(*map(_telling, expected))


@lru_cache(maxsize=20_000)
def _telling(phrase: str) -> frozenset[str]:
    """The words of `phrase` without endings and without those that make no difference."""
    words = re.findall(r"[\w']+", phrase.casefold())
    return frozenset(
        re.sub(r"(?<=\w\w\w)(?:'s|ing|ed|es|e|s)$", "", word)
        for word in words
        if word not in _SMALL
    )
