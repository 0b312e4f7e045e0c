"""Word error rate between what was said in words and what a recogniser wrote with figures.

Both sides are brought to one form first: figures digit by digit, units in words, no
punctuation. "ninety eight newton metres" and "98 Nm" are the same; "one niner five" and
"195" too. The form is the bench's own and knows nothing of the reading that is measured.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.errors import ConfigError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

_ONES = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen "
    "fifteen sixteen seventeen eighteen nineteen"
)
_TENS = "twenty thirty forty fifty sixty seventy eighty ninety"
_NUMBERS = {word: value for value, word in enumerate(_ONES.split())}
_NUMBERS |= {word: 10 * value for value, word in enumerate(_TENS.split(), 2)}
_NUMBERS |= {"oh": 0, "nought": 0, "niner": 9, "fife": 5, "fower": 4, "tree": 3}
_ORDINALS = {"first": "one", "second": "two", "third": "three", "fifth": "five",
             "eighth": "eight", "ninth": "nine", "twelfth": "twelve", "twentieth": "twenty",
             "thirtieth": "thirty"}  # fmt: skip
_UNITS = {"nm": "newton metres", "n·m": "newton metres", "psi": "p s i", "mm": "millimetres",
          "kg": "kilograms", "kgs": "kilograms", "lb": "pounds", "lbs": "pounds", "lbf": "pounds",
          "°c": "degrees celsius", "°": "degrees", "ft": "foot", "%": "percent"}  # fmt: skip
_SPELLINGS = {"meter": "metre", "meters": "metres", "millimeter": "millimetre",
              "millimeters": "millimetres", "tire": "tyre", "ok": "okay", "whisky": "whiskey",
              "juliet": "juliett", "alpha": "alfa", "&": "and"}  # fmt: skip
_TOKEN = re.compile(r"\d+|[^\W\d_][\w']*|[°%&]c?|[./](?=\d)")


def _tokens(text: str) -> Iterator[str]:
    """Words, runs of digits, and the signs that are spoken."""
    plain = re.sub(r"(?<=\d),(?=\d{3}\b)", "", text.casefold().replace("’", "'"))
    plain = re.sub(r"\bp\.?\s?s\.?\s?i\b\.?", "psi", plain)
    plain = re.sub(r"(?<=\d)(st|nd|rd|th)\b", "", plain)
    signs = {".": "point", "/": "over"}
    for said in _TOKEN.findall(plain):
        if said in _UNITS:
            yield from _UNITS[said].split()
        else:
            yield signs.get(said) or _SPELLINGS.get(said) or _cardinal(said)


def _cardinal(word: str) -> str:
    if word in _ORDINALS:
        return _ORDINALS[word]
    stem = word.removesuffix("th")
    return stem if stem != word and stem in _NUMBERS else word


def _figures(words: list[str]) -> Iterator[str]:
    """Number words as figures: "two hundred and five" and "two oh five" both as 205."""
    at = 0
    while at < len(words):
        value, end = _number(words, at, 1000)
        yield words[at] if value is None else str(value)
        at = end


_SCALES = {1000: ("thousand", 100), 100: ("hundred", 1)}


def _number(words: list[str], at: int, scale: int) -> tuple[int | None, int]:
    """The number that begins at `at`, counted in at most `scale`, and where it ends."""
    if scale == 1:
        return _small(words, at)
    word, below = _SCALES[scale]
    value, end = _number(words, at, below)
    if value and words[end : end + 1] == [word]:
        value, end = value * scale, end + 1
        rest, after = _number(words, end + (words[end : end + 1] == ["and"]), below)
        if rest:
            return value + rest, after
    return value, end


def _small(words: list[str], at: int) -> tuple[int | None, int]:
    """A number below a hundred."""
    value = _NUMBERS.get(words[at]) if at < len(words) else None
    if value is not None and value >= 20:
        ones = _NUMBERS.get(words[at + 1], 0) if at + 1 < len(words) else 0
        if 1 <= ones <= 9:
            return value + ones, at + 2
    return value, at + 1


def normal(text: str) -> str:
    """`text` in the form that is compared."""
    out: list[str] = []
    for word in _figures(list(_tokens(text))):
        out.extend(word if word.isdigit() else [word])
    return " ".join(out)


def error_rate(pairs: Iterable[tuple[str, str]]) -> float | None:
    """Word errors a word over all (said, written) pairs; None when nothing was said.

    Raises ConfigError when jiwer is not installed.
    """
    try:
        import jiwer
    except ImportError as error:
        raise ConfigError(
            "jiwer is not installed, which counts word errors; "
            "install what measuring needs with: pip install 'voicelog[dev]'"
        ) from error
    said, written = [], []
    for reference, hypothesis in pairs:
        if normal(reference):
            said.append(normal(reference))
            written.append(normal(hypothesis))
    return float(jiwer.wer(said, written)) if said else None
