"""Lost apostrophes: "threes loose" and "rear rights milky", as a recogniser writes "three's loose".

Behind a number, or a place of the card by its whole name, and before a word that says how it is,
where the card has no such plural and nothing tells of several.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.cues import of_card
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.percard import per_card
from voicelog.reading.spoken import lexemes
from voicelog.reading.state_words import state_words
from voicelog.reading.words import phrase_key, word_key

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.objects import Card
    from voicelog.reading.atoms import Atom
    from voicelog.reading.cues import Cues

_SEVERAL = frozenset({
    "a", "all", "both", "each", "every", "few", "in", "no", "of", "other", "our", "several",
    "some", "the", "these", "those", "two",
})  # fmt: skip
_LONGEST = 4
"""Words of a place, at most."""


def mended(atoms: list[Atom], cues: Cues) -> list[Atom]:
    """`atoms` with these apostrophes."""
    card = cues.card
    if card is None:
        return atoms
    for at in range(len(atoms) - 1):
        text = atoms[at].text
        if len(text) < _LONGEST or text[-1] != "s" or text[-2] in "s'" or not text.isalpha():
            continue
        if _is_state(atoms[at + 1].text, card) and _is_one(atoms, at, cues, card):
            stem = "six" if text == "sixes" else text[:-1]
            atoms[at] = atoms[at]._replace(text=f"{stem}'s")
    return atoms


def _is_state(text: str, card: Card) -> bool:
    return text in state_words() or word_key(text) in lexicon_of(card).option_words


def _is_one(atoms: Sequence[Atom], at: int, cues: Cues, card: Card) -> bool:
    """Whether one place by its number or its whole name ends with the atom `at`."""
    text, stem = atoms[at].text, atoms[at].text[:-1]
    lexeme = lexemes().get(("six" if text == "sixes" else stem,))
    if lexeme is not None and lexeme.kind in ("figure", "teen"):
        return not _are_several(atoms, at)
    lexicon = lexicon_of(card)
    if stem not in _last_words(card) or (text,) in cues.words or text in cues.phrase_heads:
        return False
    if phrase_key(text) in lexicon.exact or phrase_key(text) in lexicon.option_words:
        return False
    for length in range(min(_LONGEST, at + 1), 0, -1):
        first = at + 1 - length
        words = (*(atom.text for atom in atoms[first:at]), stem)
        if words in cues.phrases:
            return not _are_several(atoms, first) and not (length == 1 and _is_side(stem, cues))
    return False


def _is_side(stem: str, cues: Cues) -> bool:
    """Whether the card has places of that side: "rights" are both of them."""
    places = (place.lower().split() for group in cues.groups for place in group.positions)
    return any(len(words) > 1 and stem in words for words in places)


def _are_several(atoms: Sequence[Atom], first: int) -> bool:
    before = atoms[first - 1] if first else None
    return before is not None and (before.text in _SEVERAL or before.shape == "digits")


@per_card
def _last_words(card: Card | None) -> frozenset[str]:
    """The last words of its places."""
    return frozenset(phrase[-1] for phrase in of_card(card).phrases if phrase)
