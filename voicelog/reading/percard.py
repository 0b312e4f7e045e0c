"""What is derived from a task card once, and kept for as long as the card is in use."""

from __future__ import annotations

from functools import lru_cache, wraps
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from voicelog.objects import Card, Field

Derived = TypeVar("Derived")

_CARDS = 256
"""Cards that are remembered at a time; what is derived from one takes about 0.2 MB."""


class _SameCard:
    """A card as a key of the cache: hashing a whole card for every note would cost more."""

    __slots__ = ("card",)

    def __init__(self, card: Card | None) -> None:
        self.card = card

    def __hash__(self) -> int:
        return id(self.card)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _SameCard) and self.card is other.card


def per_card(build: Callable[[Card | None], Derived]) -> Callable[[Card | None], Derived]:
    """`build`, called once for a loaded card; what it returns must not be changed."""

    @lru_cache(maxsize=_CARDS)
    def built(key: _SameCard) -> Derived:
        return build(key.card)

    @wraps(build)
    def of_card(card: Card | None) -> Derived:
        return built(_SameCard(card))

    return of_card


@per_card
def fields_of(card: Card | None) -> Mapping[tuple[str, str], Field]:
    """The fields of `card` by step and name."""
    steps = card.steps if card is not None else ()
    return {(step.number, each.name): each for step in steps for each in step.fields}


_INCHES = frozenset({"in", "inch", "mil", "thou"})


@per_card
def in_inches(card: Card | None) -> bool:
    """Whether `card`, as far as it is known, measures anything in inches."""
    if card is None:
        return True
    return any(field.unit in _INCHES for step in card.steps for field in step.fields)
