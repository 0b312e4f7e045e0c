"""Phrases: rows of atoms looked up by their first or their last word."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.reading.atoms import Atom

Phrases = dict[str, tuple[tuple[str, ...], ...]]
"""Phrases by their first or their last word."""


def _by(place: int, phrases: Sequence[tuple[str, ...]]) -> Phrases:
    table: dict[str, list[tuple[str, ...]]] = {}
    for phrase in phrases:
        table.setdefault(phrase[place], []).append(phrase)
    return {word: tuple(found) for word, found in table.items()}


def by_first(phrases: Sequence[tuple[str, ...]]) -> Phrases:
    """`phrases` for `after_phrase`."""
    return _by(0, phrases)


def by_last(phrases: Sequence[tuple[str, ...]]) -> Phrases:
    """`phrases` for `before_phrase`."""
    return _by(-1, phrases)


def matches(atoms: Sequence[Atom], at: int, stop: int, phrase: tuple[str, ...]) -> bool:
    """Whether the atoms from `at` say `phrase`."""
    if at < 0 or at + len(phrase) > stop:
        return False
    return all(atoms[at + offset].text == part for offset, part in enumerate(phrase))


def after_phrase(atoms: Sequence[Atom], at: int, stop: int, phrases: Phrases) -> int | None:
    """Index behind the first of `phrases` (by their first word) that stands at `at`."""
    if not 0 <= at < stop:
        return None
    for phrase in phrases.get(atoms[at].text, ()):
        if matches(atoms, at, stop, phrase):
            return at + len(phrase)
    return None


def before_phrase(atoms: Sequence[Atom], at: int, start: int, phrases: Phrases) -> int | None:
    """Index where the first of `phrases` (by their last word) that ends at `at` begins, not
    before `start`."""
    if at - 1 > start and atoms[at - 1].text == ",":
        at -= 1  # a pause: "about, two kilos"
    if at <= start:
        return None
    for phrase in phrases.get(atoms[at - 1].text, ()):
        first = at - len(phrase)
        if first >= start and matches(atoms, first, at, phrase):
            return first
    return None
