"""Half names: the other one of two fields, by the word in which alone their names differ.

"Water in twelve degrees, out six point eight", "the governor cuts in at 6.9 and out at 8.5". The
word counts only with a number right behind it. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left
from itertools import combinations
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.reading import labels
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.percard import per_card
from voicelog.reading.spoken import lexemes
from voicelog.reading.words import phrase_key, word_key

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.objects import Card, Field
    from voicelog.reading.passage import Passage
    from voicelog.reading.words import Token

_TURNED = {
    word: other for one in (("in", "out"), ("on", "off"), ("up", "down"))
    for word, other in (one, one[::-1])
}  # fmt: skip
_LINKS = frozenset({"at", "is", "was", "again", "by", "comes", "came", "reads"})
"""Words between the half of a name and its number."""
_OPENS = frozenset({",", ";", "and", "but", "then"})
_PAIR = 2
"""Words at the end of such a name: the verb, and what turns it."""
_REACH = 16
"""Words behind the first name in which the half of the other is looked for."""


@per_card
def _heads(card: Card | None) -> Mapping[str, Mapping[str, str]]:
    """Words before the verb of such a pair's names -> what names the field, by the word behind
    it: "governor in" and "governor out" for "Governor cuts in"."""
    lexicon = lexicon_of(card)
    found: dict[str, dict[str, str]] = {}
    for canonical, (turned, other) in _halves(card).items():
        words = _words(other)
        if len(words) > _PAIR:
            head = lexicon.canonical(" ".join(words[:-_PAIR]))
            last = _words(canonical)[-1]
            found.setdefault(head, {}).update({turned: other, last: canonical})
    return found


@per_card
def _halves(card: Card | None) -> Mapping[str, tuple[str, str]]:
    """What names one of such two fields -> the word that turns it, and what names the other."""
    lexicon, found = lexicon_of(card), {}
    for step in card.steps if card is not None else ():
        measured = [each for each in step.fields if each.type == "measurement"]
        for one, other in combinations(measured, 2):
            for name, turned in _turned(one, other):
                for told, half in ((name, turned), (turned, name)):
                    canonical = lexicon.canonical(half)
                    found[lexicon.canonical(told)] = _words(half)[-1], canonical
    return found


def _words(name: str) -> list[str]:
    return name.replace("-", " ").split()


def _turned(one: Field, other: Field) -> Iterator[tuple[str, str]]:
    """Names of two fields that differ in their last word alone, which is the other's contrary."""
    others = {phrase_key(name): name.lower() for name in labels.names(other)}
    for name in (each.lower().replace("-", " ") for each in labels.names(one)):
        first, _, last = name.rpartition(" ")
        turned = _TURNED.get(last)
        if first and turned is not None:
            match = others.get(phrase_key(f"{first} {turned}"))
            if match is not None:
                yield name, match


def find(passage: Passage, tokens: Sequence[Token], named: Sequence[Mention]) -> Iterator[Mention]:
    """Term mentions of the other fields, given the ones that were `named` in full."""
    halves, heads = _halves(passage.cues.card), _heads(passage.cues.card)
    starts = [token.start for token in tokens] if halves else []
    for mention in named if halves else ():
        name, behind = str(mention.value), bisect_left(starts, mention.end)
        half = None if "near" in mention.qualifiers else halves.get(name)
        if half is None and name in heads and "near" not in mention.qualifiers:
            name = heads[name].get(tokens[behind].text.lower(), "") if behind < len(tokens) else ""
            if name and _is_told(tokens, behind + 1):
                yield _term(passage, tokens[behind], name)
                half = halves.get(name)
        if half is None:
            continue
        for at in range(behind, min(len(tokens), behind + _REACH)):
            if word_key(tokens[at].text) != half[0] or tokens[at - 1].text.lower() not in _OPENS:
                continue
            if _is_told(tokens, at + 1):
                yield _term(passage, tokens[at], half[1])
            break


def _term(passage: Passage, token: Token, name: str) -> Mention:
    said = passage.text[token.start : token.end]
    return Mention("term", said, token.start, token.end, name, stage="terms")


def _is_told(tokens: Sequence[Token], at: int) -> bool:
    """Whether a number stands at `at`, behind a verb at most."""
    while at < len(tokens) and tokens[at].text.lower() in _LINKS:
        at += 1
    word = tokens[at].text.lower() if at < len(tokens) else ""
    return word[:1].isdigit() or (word,) in lexemes()
