"""Repetition: what a model says again that was said once, and how to tell it from speech.

Where little silence stands behind the speech, a model may not know that it has ended, and goes on.
"""

from __future__ import annotations

import re

from voicelog.speech.critical import items

_FASTEST = 8.0
"""Words a second, silence included. Talk has two to four, and quick reading out of digits five."""


def too_fast(text: str, seconds: float) -> bool:
    """Whether nobody can say as much in that time: a model that went on by itself."""
    return len(text.split()) > _FASTEST * seconds


def over_again(text: str, other: str) -> bool:
    """Whether `text` is what `other` is, in words or in figures, twice and more, and no more."""
    said, once = ([item.norm for item in items(each)] for each in (text, other))
    times = len(said) // max(1, len(once))
    rest = text
    for item in reversed(items(text)):
        rest = rest[: item.start] + rest[item.end :]
    return times > 1 and said == once * times and not re.search(r"\w", rest)


def says_twice(text: str) -> bool:
    """Whether a word or a phrase is said again at once."""
    keys = [word.strip(".,;:!?").casefold() for word in text.split()]
    return any(
        keys[at : at + size] == keys[at + size : at + 2 * size]
        for size in range(1, len(keys) // 2 + 1)
        for at in range(len(keys) - 2 * size + 1)
    )


def unrepeated(text: str) -> str:
    """`text` without a phrase of three or more words that is repeated at once.

    A model that has come to the end of the sound says its last phrases again. Shorter
    repetitions ("zero zero") are speech, unless there are eight and more of them.
    """
    words = text.split()
    keys = [word.strip(".,;:!?").casefold() for word in words]
    at = 0
    while at < len(keys):
        for size in range(1, min(24, (len(keys) - at) // 2) + 1):
            times = 1
            while keys[at + times * size : at + (times + 1) * size] == keys[at : at + size]:
                times += 1
            if times > (1 if size >= 3 else 7):
                del keys[at + size : at + times * size]
                del words[at + size : at + times * size]
                break
        at += 1
    return " ".join(words)
