"""The windows of a recording put back together, and what was cut apart read from the overlap.

Windows are cut where nobody speaks. Only speech that goes on without a rest for longer than a
window is cut in the middle, and then the two windows overlap by some seconds: a value that
straddles the cut is whole in at least one of them. There the two texts are joined where they
say the same; where they never do, what stands at the seam is in doubt.
"""

from __future__ import annotations

from dataclasses import replace
from difflib import SequenceMatcher
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.alignment import counterpart
from voicelog.heard import Suspicion, Word
from voicelog.speech.passage import Passage

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.speech.voice import Window

APART = "speech without a rest was cut here, and its two sides do not meet"
_DOUBTED = 4
"""Words on either side of a seam that does not meet."""

Joined = tuple[tuple[Word, ...], tuple[Suspicion, ...], str]


def joined(passages: Sequence[Passage], windows: Sequence[Window], least_s: float) -> Joined:
    """All words in order, the suspicions where these words now stand, and a second reading.

    The second reading of windows that overlap is cut where their words are.
    Windows that share at least `least_s` of the sound overlap on purpose.
    """
    parts = list(passages)
    for at, (window, after) in enumerate(pairwise(windows)):
        start_s, end_s = after.time_s(0), window.time_s(window.duration_s)
        if end_s - start_s >= least_s:
            parts[at], parts[at + 1] = _met(parts[at], parts[at + 1], start_s, end_s)
    words: list[Word] = []
    suspicions: list[Suspicion] = []
    length = 0
    for part in parts:
        suspicions += [
            replace(each, start=each.start + length, end=each.end + length)
            for each in part.suspicions
        ]
        words += part.words
        length += sum(len(word.text) + 1 for word in part.words)
    seconds = [part.second or part.text for part in parts]
    second = " ".join(filter(None, seconds)) if any(part.second for part in parts) else ""
    return tuple(words), tuple(suspicions), second


def _met(before: Passage, after: Passage, start_s: float, end_s: float) -> tuple[Passage, Passage]:
    """Two passages without what both of them heard between `start_s` and `end_s`."""
    first = sum(word.end_s <= start_s for word in before.words)
    last = sum(word.start_s < end_s for word in after.words)
    tail, head = before.words[first:], after.words[:last]
    matcher = SequenceMatcher(None, [*map(_plain, tail)], [*map(_plain, head)], autojunk=False)
    block = matcher.find_longest_match()
    if block.size:
        return _part(before, 0, first + block.a + block.size), _part(after, block.b + block.size)
    middle = (start_s + end_s) / 2
    kept = first + sum(word.start_s < middle for word in tail)
    left = _part(before, 0, kept)
    right = _part(after, sum(word.start_s < middle for word in head))
    return _doubted(left, -_DOUBTED), _doubted(right, _DOUBTED)


def _plain(word: Word) -> str:
    return word.text.strip(".,;:!?").casefold()


def _part(passage: Passage, first: int, last: int | None = None) -> Passage:
    """The words from `first` up to `last`, with the suspicions and the second reading of these."""
    words = passage.words[first:last]
    gone = sum(len(word.text) + 1 for word in passage.words[:first])
    length = len(" ".join(word.text for word in words))
    kept = [
        replace(each, start=max(0, each.start - gone), end=min(length, each.end - gone))
        for each in passage.suspicions
        if each.end > gone and each.start - gone < length
    ]
    start, end = counterpart(passage.text, gone, gone + length, passage.second)
    return Passage(words, tuple(kept), passage.second[start:end])


def _doubted(passage: Passage, count: int) -> Passage:
    """The first `count` words, or the last when it is negative, in doubt."""
    words = [word.text for word in passage.words]
    length = len(" ".join(words))
    some = len(" ".join(words[count:] if count < 0 else words[:count]))
    if not some:
        return passage
    start, end = (length - some, length) if count < 0 else (0, some)
    doubt = Suspicion(start, end, (), 0.0, APART)
    return replace(passage, suspicions=(*passage.suspicions, doubt))
