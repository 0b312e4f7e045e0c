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
    r"zero|nought|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve"
    r"|(?:thir|four|fif|six|seven|eigh|nine)teen|(?:twen|thir|for|fif|six|seven|eigh|nine)ty"
    r"|hundred|thousand|half|quarter|double|triple",
    re.IGNORECASE,
)
_WORD = re.compile(r"[^\W\d_][\w'-]*|\d[\w.,/-]*")


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """`phrases` in falling order of worth; the recogniser takes as many as it has room for."""

    phrases: tuple[str, ...]
    identifiers: bool = False
    """The step asks for an identifier, so letters are spelt."""
    units: tuple[str, ...] = ()
    """Units of the step's fields as spoken."""

    @property
    def prompt(self) -> str:
        """The whole prompt as one text."""
        return " ".join(self.phrases)


def of(card: Card | None = None, step: Step | None = None) -> Vocabulary:
    """The vocabulary of `step`, with the terms of its neighbours; general without a card."""
    wording = settings.load().vocabulary
    if card is None:
        return Vocabulary(tuple(_clean(wording.general)))
    steps = [step] if step is not None else list(card.steps)
    fields = [field for each in steps for field in each.fields]
    units = tuple(dict.fromkeys(_spoken_units(fields, wording)))
    identifiers = any(field.type == "identifier" for field in fields)
    own = [_sentence([*_cues(fields)])]
    own += [_sentence(units)]
    if step is not None:
        own.append(_sentence([step.title, *step.sequence]))
    own.append(_sentence(_said(card, step)))
    if identifiers:
        own.append(wording.alphabet)
    neighbours = _sentence(_neighbours(card, step))
    phrases = _clean([*own, *wording.general, neighbours])
    return Vocabulary(tuple(phrases), identifiers, units)


def _cues(fields: Iterable[Field]) -> Iterator[str]:
    for field in fields:
        yield from field.say or (field.label,)
        if field.position_word:
            yield field.position_word
        yield from (place for place in field.positions if place.isalpha() and len(place) > 1)
        yield from field.options


def _spoken_units(fields: Iterable[Field], wording: Prompting) -> Iterator[str]:
    for field in fields:
        if field.unit in wording.units:
            yield wording.units[field.unit]


def _said(card: Card, step: Step | None) -> Iterator[str]:
    """How the card's terms are said, those that the step speaks of first."""
    own = " ".join(_cues(step.fields)).casefold() if step else ""
    ranked = sorted(card.terms, key=lambda term: term[0].casefold() not in own)
    for _, sayings in ranked:
        yield from sayings


def _neighbours(card: Card, step: Step | None) -> Iterator[str]:
    if step is None:
        return
    at = card.steps.index(step)
    for each in card.steps[max(0, at - 1) : at + 2]:
        if each is not step:
            yield from _cues(each.fields)


def _sentence(words: Iterable[str]) -> str:
    unique = dict.fromkeys(word.strip() for word in words if word.strip())
    return f"{', '.join(unique)}." if unique else ""


def _is_number(word: str) -> bool:
    return word[0].isdigit() or any(_NUMBER_WORD.fullmatch(part) for part in word.split("-"))


def _clean(phrases: Iterable[str]) -> Iterator[str]:
    """Phrases without any number, each once, capitalised like written speech."""
    seen = set()
    for phrase in phrases:
        kept = _WORD.sub(lambda match: "" if _is_number(match[0]) else match[0], phrase)
        kept = re.sub(r"\s+([,.])", r"\1", re.sub(r"(,\s*)+", ", ", kept))
        kept = re.sub(r"\s{2,}", " ", kept).strip(" ,")
        if re.search(r"\w", kept) and kept not in seen:
            seen.add(kept)
            yield kept[0].upper() + kept[1:]
