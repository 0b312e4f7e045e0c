"""Words: how a text is cut into words, and the keys by which words are compared."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence


class Token(NamedTuple):
    """A word, a number or a sign of the text; `key` is how words are compared."""

    text: str
    key: str
    start: int
    end: int

    @property
    def is_word(self) -> bool:
        return bool(self.key)


_TOKEN = re.compile(
    r"(?:[a-z]\.)+[a-z](?=\.(?:\W|$))|[^\W_]+(?:['’][a-z]+)?|[^\w\s]|_", re.IGNORECASE
)
""" "O.K." is one word, and the full stop behind it a sign as ever."""
_NUMBER_WORDS = {
    word: str(number)
    for number, word in enumerate(
        [
            "zero",
            "one",
            "two",
            "three",
            "four",
            "five",
            "six",
            "seven",
            "eight",
            "nine",
            "ten",
            "eleven",
            "twelve",
        ]
    )
}
_SPELLINGS = {
    "center": "centre", "tire": "tyre", "gage": "gauge", "fiber": "fibre", "temp": "temperature",
    "temps": "temperature", "pres": "pressure", "press": "pressure", "lefthand": "left",
    "righthand": "right", "colour": "color", "nr": "number", "qty": "quantity",
    "cal": "calibration", "insp": "inspection", "serials": "serial", "teeth": "tooth",
    "vibe": "vibration", "gray": "grey", "analyzer": "analyser",
    "mold": "mould", "plow": "plough", "aluminum": "aluminium", "vibes": "vibration",
    "sulfide": "sulphide", "sulfur": "sulphur", "cyl": "cylinder", "brg": "bearing",
    "assy": "assembly", "hyd": "hydraulic",
    "theater": "theatre", "caliper": "calliper", "disk": "disc", "vapor": "vapour",
    "leveling": "levelling", "leveled": "levelled", "leveler": "leveller",
    "signaler": "signaller", "signaling": "signalling", "fueling": "fuelling",
    "fueled": "fuelled", "traveler": "traveller", "traveling": "travelling",
    "auto": "automatic",
    "labeled": "labelled", "dialed": "dialled", "channeled": "channelled",
}  # fmt: skip
_ONE_OF = {"buse": "bus", "gase": "gas", "knive": "knife", "len": "lens", "lense": "lens"}
"""What looks like a plural, and its singular: "lenses" and "lens"."""
_ALSO: dict[str, list[str]] = {}
for _other, _usual in _SPELLINGS.items():
    _ALSO.setdefault(_usual, []).append(_other)
FILLERS = {
    "",
    "the",
    "a",
    "an",
    "its",
    "their",
    "of",
    "all",
    "both",
    "is",
    "are",
    "was",
    "were",
    "been",
}
_GLUE = {"-", "/", "'", "’"}


@lru_cache(maxsize=20_000)
def word_key(word: str) -> str:
    """How a word is compared: case, plural, spelling and number words set aside."""
    key = word.lower().replace("’", "'")
    key = key.removesuffix("'s").replace("'", "")
    if key in _NUMBER_WORDS:
        return _NUMBER_WORDS[key]
    if key in _SPELLINGS:
        return _SPELLINGS[key]
    if len(key) > 3 and key.endswith("s") and not key.endswith(("ss", "us", "is")):
        if key.endswith("ies"):
            key = key[:-3] + "y"
        elif key.endswith(("ches", "shes", "xes", "sses")):
            key = key[:-2]
        else:
            key = key[:-1]
    return _SPELLINGS.get(key) or _ONE_OF.get(key, key)


def is_plural(word: str) -> bool:
    """Whether a word in lower case has a plural ending."""
    return word.endswith("s") and word_key(word) == word_key(word[:-1])


def other_spellings(word: str) -> Sequence[str]:
    """How else a word is spelt or shortened: "analyzer" for analyser."""
    return _ALSO.get(word, ())


def lowered(text: str) -> str:
    """`text` in lower case, character by character: every place of it stays where it was."""
    lower = text.lower()
    if len(lower) == len(text):
        return lower
    return "".join(low if len(low := char.lower()) == 1 else char for char in text)


def tokenise(text: str) -> list[Token]:
    """Words, numbers and signs of `text` with their spans."""
    tokens = []
    for match in _TOKEN.finditer(text):
        word = match[0]
        if word[0].isalnum():
            word = word.replace(".", "")
            tokens.append(Token(word, word_key(word), *match.span()))
        else:
            tokens.append(Token(word, "", *match.span()))
    return tokens


@lru_cache(maxsize=20_000)
def phrase_key(phrase: str) -> str:
    """The key of a whole phrase; articles don't count."""
    return "".join(token.key for token in tokenise(phrase) if token.key not in FILLERS)


_IRREGULAR = {
    "went": "go", "goes": "go", "gone": "go", "came": "com", "shut": "clos", "told": "tell",
    "held": "hold", "sent": "send", "taken": "tak", "took": "tak", "given": "giv", "gave": "giv",
    "drawn": "draw", "drew": "draw", "hung": "hang", "kept": "keep", "wound": "wind",
    "bled": "bleed", "ran": "run", "shown": "show", "lubed": "greas", "lubricated": "greas",
    "oiled": "greas", "shuts": "clos", "bleed": "bleed", "bleeds": "bleed",
    "sprang": "spring", "sprung": "spring", "swung": "swing",
}  # fmt: skip


_VOWELS = frozenset("aeiouy")
_DOUBLED = frozenset("bdgmnpr")
"""Consonants that an ending doubles: "running", "stopped"."""


def third_person(verb: str) -> str:
    """What one thing does: "opens", "presses", "applies"."""
    if verb.endswith("y") and verb[-2:-1] not in _VOWELS:
        return f"{verb[:-1]}ies"
    return f"{verb}es" if verb.endswith(("s", "x", "z", "ch", "sh", "o")) else f"{verb}s"


@lru_cache(maxsize=20_000)
def verb_stem(word: str) -> str:
    """A verb without its ending: "turns", "turned" and "turning" are one, "runs" and "running";
    "spring" has no ending."""
    key = word.lower()
    if key in _IRREGULAR:
        return _IRREGULAR[key]
    for ending in ("ing", "ed", "es", "s"):
        rest = key.removesuffix(ending)
        if rest != key and len(rest) >= 3 and not _VOWELS.isdisjoint(rest):
            key = rest
            break
    if len(key) > 3 and key[-1] == key[-2] and key[-1] in _DOUBLED:
        key = key[:-1]
    return key.removesuffix("e") if len(key) > 3 else key
