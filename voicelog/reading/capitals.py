"""Capitals: letters that stand out, and those that are words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from voicelog.reading.passage import Passage


def in_capitals(passage: Passage, at: int) -> bool:
    """Whether the word at `at` stands out by its capitals."""
    atom = passage.atoms[at]
    return passage.text[atom.start : atom.end].isupper() and not passage.text.isupper()


def is_common(word: str) -> bool:
    """Whether two letters are an ordinary word."""
    return word in {
        "is", "at", "to", "of", "on", "in", "it", "no", "or", "by", "as", "we", "an", "so", "up",
        "be", "do", "go", "if", "me", "my", "us", "he", "am", "pm", "nr",
    }  # fmt: skip
