"""How words sound, and how near two of them are to each other by ear."""

from __future__ import annotations

import re
from functools import lru_cache

import jellyfish

_VOICED = str.maketrans("BJG", "PXK")


@lru_cache(maxsize=20_000)
def sound(key: str) -> str:
    """Phonetic key (Metaphone) of a word key, with voiced and unvoiced consonants as one.

    English flapping makes "cotter" and "coder" alike, so T and D are one sound here; "whole" begins
    as "hole" does.
    """
    return str(jellyfish.metaphone(re.sub(r"^who", "ho", key))).replace(" ", "").replace("0", "T")


def alike(said: str, meant: str) -> float:
    """How much two keys have in common as they are written (Jaro-Winkler, 0 to 1)."""
    return float(jellyfish.jaro_winkler_similarity(said, meant))


@lru_cache(maxsize=20_000)
def _keys(phrase: str) -> tuple[str, str]:
    """(letters, sounds) of a phrase, its words run together as they are in speech."""
    letters = re.sub(r"[^a-z]", "", phrase.casefold())
    return letters, sound(letters).translate(_VOICED)


def likeness(said: str, meant: str) -> float:
    """How near two phrases are by ear, from 0 to 1, wherever their words begin.

    Mean of what edits leave of the sounds and of the letters: Metaphone keeps no vowels.
    """
    (said_letters, said_sounds), (letters, sounds) = _keys(said), _keys(meant)
    if not said_sounds or not sounds:
        return 0.0
    edits = jellyfish.damerau_levenshtein_distance(said_letters, letters)
    left = 1.0 - edits / max(len(said_letters), len(letters))
    return (of_sounds(said, meant) + left) / 2


def of_sounds(said: str, meant: str) -> float:
    """What edits leave of the sounds alone, from 0 to 1."""
    said_sounds, sounds = _keys(said)[1], _keys(meant)[1]
    if not said_sounds or not sounds:
        return 0.0
    edits = jellyfish.levenshtein_distance(said_sounds, sounds)
    return 1.0 - edits / max(len(said_sounds), len(sounds))
