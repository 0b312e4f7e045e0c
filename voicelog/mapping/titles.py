"""Titles: numbers that belong to the name of the card or of a step ("leg two", "unit 3")."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.reading.percard import per_card
from voicelog.reading.words import tokenise

if TYPE_CHECKING:
    from collections.abc import Set as AbstractSet

    from voicelog.objects import Card, Mention

_NUMBERED = re.compile(r"([^\W\d_]{3,})\s+(?:(?:no\.?|number)\s+)?(\d{1,4})\b")
_BEFORE = re.compile(r"([^\W\d_]{3,})\s+(?:(?:no\.?|number)\s+)?$", re.IGNORECASE)
_PAUSE = re.compile(r"\s*(?:[,.;:]|$)")


@per_card
def _of_card(card: Card | None) -> AbstractSet[tuple[str, str]]:
    titles = (card.title, *(step.title for step in card.steps)) if card is not None else ()
    return {pair for title in titles for pair in _NUMBERED.findall(title.lower())}


@per_card
def words_of(card: Card | None) -> AbstractSet[str]:
    """Keys of the words in the title of a card."""
    return {token.key for token in tokenise(card.title)} if card is not None else set()


def named(number: Mention, text: str, card: Card) -> bool:
    """Whether a number only goes on with a name that stands in a title, before a pause: "Leg two,
    head pulley"."""
    known = _of_card(card)
    if not known or number.kind != "count" or not _PAUSE.match(text, number.end):
        return False
    word = _BEFORE.search(text[max(0, number.start - 24) : number.start])
    return word is not None and (word[1].lower(), str(number.value)) in known
