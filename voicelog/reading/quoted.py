"""Quoted: what was read out from somewhere, where only the words behind it tell.

"Ten to fourteen millimetres, the manual says", "don't open it, that's what it says here". The
words are [quoted] of models_config/talk.toml. Common practice, no source.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.reading.talk import quoting_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

_ENDS = re.compile(
    r"\s*(?:here|now|on (?:here|it)|on (?:the|this) [a-z]+)?\s*(?=$|[,.;!?]|(?:and|but|so)\b)", re.I
)
_ENDED = re.compile(r"\s*(?:$|[,.;!?])")
""" "Sixty six decibels it says": the gauge, perhaps, and not the book."""
_PAUSE = re.compile(r"[,.;!?](?=\s|$)")
_NUMBERS = frozenset({"quantity", "count", "ratio", "range"})


def find(text: str, mentions: Sequence[Mention]) -> Iterator[Mention]:
    """Aside mentions over what is quoted in `text`: the last number of the clause, or all of a
    clause without one. A value at a place may be what was found there, too: it is "recited"."""
    pauses: list[int] | None = None
    for words in quoting_words().find(text):
        if _ENDS.match(text, words.end()) is None:
            continue
        if pauses is None:
            pauses = [-1, *(mark.start() for mark in _PAUSE.finditer(text))]
        index = bisect_left(pauses, words.start()) - 1
        if not text[pauses[index] + 1 : words.start()].strip():
            index -= 1  # "..., the manual says": a clause of its own
        start = pauses[max(index, 0)] + 1
        inside = [m for m in mentions if start <= m.start and m.end <= words.start()]
        numbers = [mention for mention in inside if mention.kind in _NUMBERS]
        start = numbers[-1].start if numbers else start
        start += len(text[start:]) - len(text[start:].lstrip())
        placed = any(mention.kind == "position" for mention in inside)
        gauge = words[0] == "it says" and _ENDED.match(text, words.end()) is not None
        if (placed or gauge) and numbers and numbers[-1].kind != "range":
            said = text[words.start() : words.end()]
            yield Mention("procedure", said, *words.span(), "recited", stage="asides")
        elif inside:
            quote = text[start : words.end()]
            yield Mention("procedure", quote, start, words.end(), "limit", stage="asides")
