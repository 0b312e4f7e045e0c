"""The words a step leads one to expect, as a prompt for the recogniser. Never a number.

The prompt matters more than the size of the model, and it is a danger: what stands in it
may come back although nobody said it. So it holds no numbers, and `recognise` drops what
came from the prompt alone.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicelog.speech import settings

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from voicelog.objects import Card, Field, Step
    from voicelog.speech.settings import Prompting

# Spoken numbers are kept out as digits are. "first" and "second" are words of the trade
# ("second pilot", "seconds") and stay.
_NUMBER_WORD = re.compile(
    r"zero|nought|one|two|three|four|five|six|seven|eight|niner?|ten|eleven|twelve"
    r"|(?:thir|four|fif|six|seven|eigh|nine)teen|(?:twen|thir|for|fif|six|seven|eigh|nine)ty"
    r"|oh|tree|fower|fife|ait|wun|hundred|thousand|half|quarter|double|triple",
    re.IGNORECASE,
)
_LONGEST_SIGN = 4
"""Letters of a unit's sign: "mm", "mbar"."""
_WORD = re.compile(r"[\w'-]+(?:[.,/]\d[\w.,/-]*)?")


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """`phrases` in falling order of worth; the recogniser takes as many as it has room for."""

    phrases: tuple[str, ...]
    identifiers: bool = False
    """The step asks for an identifier, so letters are spelt."""
    units: tuple[str, ...] = ()
    """Units of the step's fields as spoken."""
    terms: tuple[str, ...] = ()
    """Phrases whose words are looked for by their sound: the card's, those of the step first."""

    @property
    def prompt(self) -> str:
        """The whole prompt as one text."""
        return " ".join(self.phrases)


def of(card: Card | None = None, step: Step | str | None = None) -> Vocabulary:
    """The vocabulary of `step` (or its number), then its neighbours; general without a card."""
    wording = settings.load().vocabulary
    if card is None:
        return Vocabulary(tuple(_clean(wording.general)))
    here = card.step(step) if isinstance(step, str) else step
    fields = [field for each in ([here] if here else card.steps) for field in each.fields]
    units = tuple(dict.fromkeys(way for field in fields for way in _ways(field, wording)))
    identifiers = any(field.type == "identifier" for field in fields)
    phrases = [phrase for field in fields for phrase in _expected(field, wording)]
    if identifiers:
        phrases.append(wording.alphabet)
    phrases += [*wording.general, *_said(card, phrases), *_neighbours(card, here, wording)]
    return Vocabulary(tuple(_clean(phrases)), identifiers, units, _terms(card, here, wording))


def _terms(card: Card, here: Step | None, wording: Prompting) -> tuple[str, ...]:
    """All that the card calls things, places and states, and what is said at every job."""
    steps = sorted(card.steps, key=lambda step: step is not here)
    terms = dict.fromkeys(saying for _, sayings in card.terms for saying in sayings)
    for field in (field for step in steps for field in step.fields):
        named = (field.label, *field.say, field.position_word or "", _spoken_unit(field, wording))
        terms |= dict.fromkeys((*named, *field.positions, *field.options))
    return tuple(dict.fromkeys((*filter(None, terms), *wording.shop)))


def _expected(field: Field, wording: Prompting) -> Iterator[str]:
    """How a finding in `field` begins and ends, in the words that are dictated.

    A verdict is never put beside its cue: the model might repeat it.
    """
    if field.type in ("text", "computed"):
        return
    cue, *others = field.say or (field.label,)
    places = [place for place in field.positions if place.isalpha() and len(place) > 1]
    words = [cue]
    if field.position_word and field.position_word != cue:
        words.append(field.position_word)
    words += [*places, *field.options, _spoken_unit(field, wording)]
    yield " ".join(filter(None, words))
    yield from others[:2]


def _spoken_unit(field: Field, wording: Prompting) -> str:
    """The field's unit in words; a unit named in full ("volt") is its own word."""
    if field.unit is None:
        return ""
    if field.unit in wording.units:
        return wording.units[field.unit]
    named = re.fullmatch(r"[a-z]{3,}", field.unit)
    return f"{field.unit}s" if named else ""


def _ways(field: Field, wording: Prompting) -> Iterator[str]:
    """The field's unit in words, and its sign as the recogniser may write it."""
    yield from filter(None, (_spoken_unit(field, wording),))
    if field.unit is not None and field.unit.isalpha() and len(field.unit) <= _LONGEST_SIGN:
        yield field.unit


def _said(card: Card, phrases: Iterable[str]) -> Iterator[str]:
    """The card's other terms, those that the step speaks of first."""
    own = " ".join(phrases).casefold()
    ranked = sorted(card.terms, key=lambda term: term[0].casefold() not in own)
    for _, sayings in ranked:
        yield from (saying for saying in sayings if saying.casefold() not in own)


def _neighbours(card: Card, step: Step | None, wording: Prompting) -> Iterator[str]:
    if step is None:
        return
    at = card.steps.index(step)
    for each in card.steps[max(0, at - 1) : at + 2]:
        if each is not step:
            for field in each.fields:
                yield from _expected(field, wording)


def _is_number(word: str) -> bool:
    return any(sign.isdigit() for sign in word) or any(
        _NUMBER_WORD.fullmatch(part) for part in word.split("-")
    )


def _clean(phrases: Iterable[str]) -> Iterator[str]:
    """Phrases without any number, each once, one long enumeration.

    The style of a prompt carries over into the text: after full stops the model writes
    "Station 1.0.65 millimetres", after commas "Station 1, 0.65 millimetres".
    """
    seen: set[str] = set()
    for phrase in phrases:
        kept = _WORD.sub(lambda match: "" if _is_number(match[0]) else match[0], phrase)
        kept = re.sub(r"\s+([,.])", r"\1", re.sub(r"(,\s*)+", ", ", kept))
        kept = re.sub(r"\s{2,}", " ", kept).strip(" ,.").replace(". ", ", ")
        if re.search(r"\w", kept) and kept not in seen:
            seen.add(kept)
            yield kept[0].upper() + kept[1:] + ","
