"""Terms: the words of the card and of the trade, also where a recogniser misheard them.

A phrase is compared by its *key*: lower case, plural endings and spaces taken away, number
words as digits, so "lock-wire", "lockwire" and "Lock wires" are one, and "N one" is "N1".
An exact key wins over a phonetic one; a phonetic match carries the qualifier "near" and a
doubt of its own. Vocabulary: the card's `terms`, and each field's `say`, `label`,
`position_word` and options; `models_config/terms.jsonl` adds what the whole trade says.

term: str, the canonical term. Qualifier "near" and doubt misheard_term when only the sound
fits.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.phonetics import alike, sound
from voicelog.reading import (
    chain,
    half_names,
    heard_counts,
    heard_options,
    heard_subjects,
    option_forms,
    told_options,
)
from voicelog.reading.chain import stage
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.passage import spread
from voicelog.reading.spoken import lexemes
from voicelog.reading.talk import talk
from voicelog.reading.trade import trade_terms
from voicelog.reading.words import FILLERS, Token, tokenise, word_key

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from collections.abc import Set as AbstractSet

    from spacy.matcher import Matcher
    from spacy.tokens import Doc
    from spacy.vocab import Vocab

    from voicelog.reading.atoms import Key
    from voicelog.reading.lexicon import Lexicon

LONGEST = 8
"""Words in the longest phrase that is looked up."""
_NEAR_REACH = 4
"""Tokens in the longest phrase that is known by its sound."""
_GLUE = {"-", "/", "'", "’"}


def _windows(
    tokens: Sequence[Token], at: int, pauses: AbstractSet[str]
) -> Iterator[tuple[int, str]]:
    """(end index, key) of each phrase that begins at `at`, shortest first; it goes on behind a
    sign where a name of the card has one, in `pauses`: "jack, drift", "temp. after"."""
    key = ""
    words = 0
    for index in range(at, len(tokens)):
        token = tokens[index]
        if not token.key:
            if token.text in _GLUE and key:
                continue
            if token.text == "," and words == 1 and not _is_counted(tokens, at):
                continue  # a pause: "tyre, pressure"
            if key in pauses:
                continue
            return
        if token.key in FILLERS:
            if not key:
                return
            continue
        key += token.key
        words += 1
        yield index + 1, key
        if words == LONGEST:
            return


def _is_counted(tokens: Sequence[Token], at: int) -> bool:
    """Whether a number of the things at `at` is told: "four new plugs, batch SP2207"."""
    before = at - 1
    while before > 0 and tokens[before].key in _OF_AGE:
        before -= 1
    text = tokens[before].text.lower() if before >= 0 else ""
    return text.isdigit() or (text,) in lexemes()


_OF_AGE = frozenset({"new", "old", "fresh"})


def _exact(
    lexicon: Lexicon, tokens: Sequence[Token], at: int, letters: AbstractSet[int]
) -> tuple[int, str] | None:
    """The longest name that begins at `at` and goes over no place "A", which begin at `letters`."""
    first = tokens[at].key
    if first not in lexicon.starts:
        return None
    best = None
    for end, key in _windows(tokens, at, lexicon.pauses):
        if key in lexicon.exact:
            if not letters.isdisjoint(token.start for token in tokens[at + 1 : end]):
                break  # "silencer A clear"
            best = end, lexicon.exact[key]
        elif key not in lexicon.starts:
            break
    return best


def _near(
    lexicon: Lexicon,
    tokens: Sequence[Token],
    at: int,
    similar: float,
    taken: Sequence[bool],
    strange: Sequence[bool],
) -> tuple[int, str] | None:
    best: tuple[float, int, str] | None = None
    if True not in strange[at : at + _NEAR_REACH]:
        return None
    for end, key in _windows(tokens, at, lexicon.pauses):
        if end - at > _NEAR_REACH or taken[end - 1]:
            break
        if len(key) < 4 or not any(strange[at:end]) or not key.isalpha():
            continue
        for meant, canonical in lexicon.near.get(sound(key), ()):
            score = alike(key, meant)
            if score < similar or (end - at > 1 and _has_verdict(tokens[at:end])):
                continue  # "failed, needs doing again" is no "flattened"
            if best is None or score > best[0]:
                best = score, end, canonical
    return None if best is None else best[1:]


@cache
def _failed() -> frozenset[str]:
    return frozenset(map(word_key, talk().remarks.failed))


def _has_verdict(tokens: Sequence[Token]) -> bool:
    """Whether one of several words is a plain verdict, and no part of a misheard name."""
    return any(token.key in _failed() for token in tokens)


def find(
    text: str,
    tokens: Sequence[Token],
    lexicon: Lexicon,
    places: Sequence[Mention] = (),
    similar: float = 0.68,
) -> Iterator[Mention]:
    """Term mentions in the order of the text; the longest exact phrase wins over a near one, and
    what plainly names one of `places` sounds like nothing else.

    `similar` is the least Jaro-Winkler similarity that two phrases of the same sound need.
    """
    spans: list[tuple[int, int, str, bool]] = []
    taken = [False] * len(tokens)
    """Words of a plain name; those of a mere word of a name ("cable") may be misheard ones."""
    letters = {place.start for place in places if place.text.lower() == "a"}
    at = 0
    while at < len(tokens):
        hit = _exact(lexicon, tokens, at, letters) if tokens[at].key else None
        if hit is None:
            at += 1
            continue
        end, canonical = hit
        spans.append((at, end, canonical, False))
        taken[at:end] = [lexicon.plainness(canonical) > 0.5] * (end - at)
        at = end
    starts = [token.start for token in tokens]
    for each in places:
        if not each.doubts:
            first, last = bisect_left(starts, each.start), bisect_left(starts, each.end)
            taken[first:last] = [True] * (last - first)
    ordinary = talk().everyday.ordinary
    strange = [token.key not in ordinary for token in tokens]
    at = 0
    near: list[tuple[int, int, str, bool]] = []
    while at < len(tokens):
        hit = None
        if tokens[at].key and not taken[at]:
            hit = _near(lexicon, tokens, at, similar, taken, strange)
        if hit is None:
            at += 1
            continue
        end, canonical = hit
        if lexicon.plainness(canonical) > 0.5 or not _overlap(spans, at, end):
            spans = [span for span in spans if span[1] <= at or span[0] >= end]
            near.append((at, end, canonical, True))
        at = end
    for first, end, canonical, sounded in sorted((*spans, *near)):
        start, stop = tokens[first].start, tokens[end - 1].end
        if sounded:
            yield _near_mention(text, start, stop, canonical)
        else:
            yield Mention("term", text[start:stop], start, stop, canonical, stage="terms")


def _overlap(spans: Sequence[tuple[int, int, str, bool]], start: int, end: int) -> bool:
    return any(first < end and start < last for first, last, _, _ in spans)


def _near_mention(text: str, start: int, end: int, canonical: str) -> Mention:
    return Mention(
        "term",
        text[start:end],
        start,
        end,
        canonical,
        stage="terms",
        qualifiers=frozenset({"near"}),
        doubts=("misheard_term",),
    )


def _learnt_mishearings(doc: Doc) -> Iterator[tuple[int, int, str]]:
    """(start, end, canonical) of the token patterns of terms.jsonl, in characters."""
    telling = _telling_words()
    if telling is not None and telling.isdisjoint(atom.text for atom in doc._.passage.atoms):
        return
    said = chain.tokens(doc.vocab, doc._.passage)
    for label, first, last in _matcher(doc.vocab)(said):
        start = said[first].idx
        end = said[last - 1].idx + len(said[last - 1])
        yield start, end, doc.vocab.strings[label]


@cache
def _telling_words() -> frozenset[str] | None:
    """The longest word of each token pattern: a text that has none of them needs no matching.
    None when some pattern has no plain word."""
    found = set()
    for term in trade_terms():
        if not isinstance(term.pattern, str):
            plain = [word for token in term.pattern if isinstance(word := token.get("LOWER"), str)]
            if not plain:
                return None
            found.add(max(plain, key=len))
    return frozenset(found)


@lru_cache(maxsize=4)
def _matcher(vocab: Vocab) -> Matcher:
    from spacy.matcher import Matcher

    matcher = Matcher(vocab)
    for term in trade_terms():
        if not isinstance(term.pattern, str):
            matcher.add(term.id, [list(term.pattern)])
    return matcher


def _respelt(tokens: list[Token], respelt: Sequence[tuple[int, int, Key]]) -> list[Token]:
    """`tokens` with those words that are read otherwise than they were written."""
    for start, end, words in respelt:
        first, last = (
            bisect_left(tokens, at, key=lambda token: token.start) for at in (start, end)
        )
        tokens[first:last] = [
            Token(word, word_key(word), *where) for word, *where in spread(words, start, end)
        ]
    return tokens


@stage("terms", assigns=("doc._.terms", "doc._.words"))
def terms(doc: Doc) -> None:
    """Write the terms of `doc`, and its words for the stages that read words."""
    passage = doc._.passage
    tokens = _respelt(tokenise(passage.text), passage.respelt)
    lexicon = lexicon_of(passage.cues.card)
    places = getattr(doc._, "positions", None) or ()
    found = list(find(passage.text, tokens, lexicon, places))
    taken = {index for mention in found for index in range(mention.start, mention.end)}
    for start, end, canonical in _learnt_mishearings(doc):
        if taken.isdisjoint(range(start, end)):
            found.append(_near_mention(passage.text, start, end, lexicon.canonical(canonical)))
    found.sort(key=lambda mention: mention.start)
    halves = list(half_names.find(passage, tokens, found))
    if halves:
        at = {each.start for each in halves}
        found = [each for each in found if each.start not in at] + halves
        found.sort(key=lambda mention: mention.start)
    told = list(told_options.find(passage.text, tokens, found, places, lexicon))
    if told:
        taken = {at for each in told for at in range(each.start, each.end)}
        found = [each for each in found if taken.isdisjoint(range(each.start, each.end))]
        found = sorted((*found, *told), key=lambda mention: mention.start)
    forms = list(option_forms.find(passage.text, tokens, found, places, lexicon))
    if forms:
        found = sorted((*found, *forms), key=lambda mention: mention.start)
    named = list(heard_subjects.find(passage, tokens, found))
    counts = list(heard_counts.find(passage, tokens, found))
    passage.counted.update(start for start, _, _ in counts)
    named += counts
    if named:
        taken = {at for start, end, _ in named for at in range(start, end)}
        found = [each for each in found if taken.isdisjoint(range(each.start, each.end))]
        found += (_near_mention(passage.text, *each) for each in named)
        found.sort(key=lambda mention: mention.start)
    heard = list(heard_options.find(tokens, found, places, lexicon))
    if heard:
        found += (_near_mention(passage.text, *each) for each in heard)
        found.sort(key=lambda mention: mention.start)
    if passage.respelt:
        found = [
            replace(each, qualifiers=each.qualifiers | {"near"})
            if passage.is_respelt(each.start, each.end)
            else each
            for each in passage.asked(found)
        ]
    doc._.words = tokens
    doc._.terms = found


STAGE = terms
