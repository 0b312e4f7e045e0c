"""Labels: what the label of a field speaks of, where the card gives no other name."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING

from voicelog import units
from voicelog.reading.talk import talk
from voicelog.reading.trade import conditions, faults
from voicelog.reading.words import tokenise, word_key

if TYPE_CHECKING:
    from collections.abc import Iterable

    from voicelog.objects import Field

WHERE = frozenset({"in", "on", "at", "from", "below", "above", "under", "behind", "near"})


def head(field: Field) -> str:
    """What a label speaks of, without where it is or what is to be so: "Oxygen in the wet well",
    "Alarm received at control room"; "" when it says no more than that."""
    words = field.label.split()
    where = next((at for at, word in enumerate(words) if at and word.lower() in WHERE), 0)
    if not where or where == len(words) - 1 or words[0].lower() in NEGATIVE:
        return ""
    if field.type == "check":
        while where > 1 and words[where - 1].lower().endswith("ed"):
            where -= 1
    return " ".join(words[:where])


_SHORT = {
    r"\bno\.(?=\s|$)": "number", r"\bdiam?\.": "diameter", r"\bcond\.": "condition",
    r"\btemp\.": "temperature", r"\bpress\.": "pressure", r"\bhydr\.": "hydraulic",
    r"\bser\.": "serial", r"\bcal\.": "calibration", r"\bconc\.": "concentration",
    r"(?<=\d )h\b": "hour", r"(?<=\d )min\b": "minute", r"(?<=\d )s\b": "second",
    r"\bs/n\b": "serial number", r"\bp/n\b": "part number",
}  # fmt: skip


@lru_cache(maxsize=20_000)
def _in_full(label: str) -> str:
    full = label
    for short, word in _SHORT.items():
        full = re.sub(short, word, full, flags=re.IGNORECASE)
    return "" if full == label else full


def in_full(field: Field) -> str:
    """The label as it is said, where it is written short: "Winding motor number" for "Winding
    motor no.", "Next 500 hour check"; "" when it is written so already."""
    return _in_full(field.label)


_STATE = r"cond\.|condition|state|appearance|colou?r|finish|level|look|surface"
_STATE_OF = re.compile(
    rf"(?:{_STATE}) of (?:the )?(?P<thing>.+)|(?P<its>.+) (?:{_STATE})",
    re.IGNORECASE,
)


def thing(field: Field) -> str:
    """The thing whose state is chosen: "roller face" for "Cond. of roller face", "oil" for "Oil
    colour"; "" where the label asks for something else, or the card says how it is called."""
    asked = _STATE_OF.fullmatch(field.label) if field.type == "choice" and not field.say else None
    return "" if asked is None else asked["thing"] or asked["its"]


def belonging(field: Field) -> str:
    """What a label is about that goes on with what it belongs to: "Sump" for "Sump of chamber"."""
    first, of, _ = field.label.partition(" of ")
    return first if of and " " not in first and not _STATE_OF.fullmatch(field.label) else ""


def names(field: Field) -> tuple[str, ...]:
    """What a field is called: by `say`, by its label, by that in full, and by its thing."""
    more = tuple(filter(None, (in_full(field), thing(field))))
    return (*field.say, field.label, *more)


def keys_of(field: Field) -> frozenset[str]:
    """Keys of the words by which a field is named."""
    return _keys(names(field))


@lru_cache(maxsize=20_000)
def _keys(names: tuple[str, ...]) -> frozenset[str]:
    return frozenset(token.key for name in names for token in tokenise(name))


def before_comma(field: Field) -> str:
    """The name in a label that tells more of it behind a comma: "Broken wires, worst lay"; "" when
    it is a word that others may be told by as well."""
    name, comma, _ = field.label.partition(",")
    several = len(name.split()) > 1 and name.split()[0].lower() not in NEGATIVE
    return name if comma and several else ""


_SO = ("ed", "ing")
"""Endings of words that say how the things are which are counted."""
RELATING = WHERE | {
    "after", "and", "as", "before", "between", "by", "during", "for", "if", "of", "or", "over",
    "per", "to", "until", "when", "with",
}  # fmt: skip


def tails(field: Field) -> tuple[str, ...]:
    """What is left of a label without words in front that describe it, where the card gives no
    other name: "clamp bolts slack" for "Seal clamp bolts slack", "seating torque" for "Axle nut,
    seating torque", but not "collar bolts" for "Loose collar bolts"."""
    if field.say:
        return ()
    words = (head(field) or before_comma(field) or field.label).split()
    so = words[-1].endswith(_SO) or word_key(words[-1]) in conditions()
    measured = field.type == "measurement"
    ends = [words[first:] for first in range(1, len(words) - 1)]
    ends = ends if _is_plain(words) and (measured or (field.type == "count" and so)) else []
    behind = field.label.partition(", ")[2].split()
    ends += [behind] if measured and len(behind) > 1 and _is_plain(behind) else []
    return tuple(map(" ".join, ends))


def _is_plain(words: Iterable[str]) -> bool:
    return RELATING.isdisjoint(word.lower() for word in words)


def counted_as(field: Field) -> tuple[str, ...]:
    """What a label counts, by the word that says how the things are, in both orders: "broken wires"
    and "wires broken" for "Broken wires in one lay"; none where it only names the things."""
    told = [name for name in (head(field) or field.label, before_comma(field)) if name]
    found = []
    for words in (name.split() for name in told):
        if len(words) > 1 and _is_plain(words):
            if _tells_state(words[0]):
                found += [words, [*words[1:], words[0]]]
            elif _tells_state(words[-1]):
                found += [words, [words[-1], *words[:-1]]]
    return tuple(" ".join(words).lower() for words in found)


_RATE = re.compile(
    r"(?:.+, )?(?P<thing>[a-z]+) (?:per|a|in a) (?:min|minute|hour)\b.*", re.IGNORECASE
)


def rated(field: Field) -> str:
    """What a label counts by the minute: "drops" for "Gland, drops per min"; else ""."""
    rate = _RATE.fullmatch(field.label)
    return "" if rate is None else rate["thing"].lower()


def _tells_state(word: str) -> bool:
    """Whether a word of a label says how the things are that are counted."""
    return word.endswith("ed") or word.lower() in faults() or word_key(word) in conditions()


OWN = 0.51
"""How plainly the noun of a label names its field, when the card says no other way to name it and
no other label has the word: "oil" for "Seal chamber oil"."""


def noun(field: Field) -> str:
    """The key of the word that a label is about."""
    words = tokenise(thing(field) or head(field) or field.label.partition(",")[0])
    return words[-1].key if field.type != "check" and words else ""


def apart(field: Field, others: Iterable[Field]) -> str:
    """The key of the one word by which a label is told apart from another that measures alike:
    "seating" of "Seating torque" where there is a "Final torque" as well; else ""."""
    words = {token.key for token in tokenise(field.label)}
    for other in others:
        theirs = {token.key for token in tokenise(other.label)}
        alike = other.type == field.type and other.unit == field.unit and words & theirs
        told = (words - theirs) - talk().remarks.particles  # "travel up" and "travel down"
        if alike and len(told) == len(theirs - words) == len(words - theirs) == 1:
            return told.pop()
    return ""


def past(word: str) -> str:
    """ "Seated at 270" tells of the seating torque, "reseated" of what a valve reseats at."""
    return f"{word.removesuffix('ing')}ed"


def nouns(thing: str) -> tuple[str, ...]:
    """The last word of the name of things, as it is and of one of them: "rings" and "ring"."""
    noun = thing.rsplit(maxsplit=1)[-1]
    one = noun.removesuffix("s")
    return (noun,) if one == noun or noun.endswith("ss") else (noun, one)


def numbered(field: Field) -> tuple[str, ...]:
    """One of the things that a label has in plural, where their numbers are all that the card says
    of the places: "wedge bolt" and "bolt" for "Torque of wedge bolts"."""
    if field.position_word or not field.positions or not all(map(str.isdigit, field.positions)):
        return ()
    things = field.label.partition(" of ")[2].lower().split()
    one = nouns(things[-1])[-1] if things else ""
    return (" ".join((*things[:-1], one)), one) if things and one != things[-1] else ()


_FREE = re.compile(r"(.+?)[ -]([a-z]+)[ -]free", re.IGNORECASE)


@lru_cache(maxsize=20_000)
def free_of(label: str) -> str:
    """A label that ends in the fault which its thing is free of, in other words: "housing free of
    leaks" for "Housing leak free"."""
    found = _FREE.fullmatch(label)
    if found is None or word_key(found[2].lower()) not in conditions():
        return label
    return f"{found[1]} free of {found[2]}s"


NEGATIVE = frozenset({"no", "free", "nil", "absence", "without"})
NOT = frozenset({"not", "never"})


@lru_cache(maxsize=20_000)
def denies(label: str) -> bool:
    """Whether a label tells what must not have come to its thing: "Heat strip not turned"."""
    return not NOT.isdisjoint(label.lower().split()[1:-1])


_LEAST_STEM = 4


def denies_deed(label: str, stem: str) -> bool:
    """Whether a label says that there must be none of what a verb with that stem tells: "No
    detection with thick gauge" where something "detects"."""
    first, *rest = label.lower().split()
    told = next((at for at, word in enumerate(rest) if word in WHERE or word == "with"), len(rest))
    long = len(stem) >= _LEAST_STEM and stem not in conditions()
    return first in NEGATIVE and long and any(word.startswith(stem) for word in rest[:told])


_DOING = re.compile(r"\b([a-z]{3,})ing\s+(?:time|interval)\b")


def verbs_of(field: Field) -> set[str]:
    """The verb of a time that is named by its noun: "seconds to apply" is the application time,
    "to lower" the lowering time."""
    if field.type != "measurement" or not units.compatible(field.unit or "", "s"):
        return set()
    phrases = [phrase.lower() for phrase in (*field.say, field.label)]
    words = {word for phrase in phrases for word in phrase.split()}
    doing = {found[1] for phrase in phrases if (found := _DOING.search(phrase))}
    undoubled = {stem[:-1] for stem in doing if stem[-1] == stem[-2]}
    verbs = {f"{word.removesuffix('ication')}y" for word in words if word.endswith("ication")}
    verbs |= doing | undoubled | {f"{stem}e" for stem in doing}
    return verbs | {f"{word.removesuffix('ion')}e" for word in words if word.endswith("ation")}
