"""About: the words around a number that leave it open by a little: "roughly", "or so"."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.reading.phrases import after_phrase, before_phrase, by_first, by_last

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.reading.atoms import Atom
    from voicelog.reading.thousandths import Measure

_BEFORE = by_last((
    ("about",), ("approximately",), ("approx",), ("approx", "."), ("roughly",), ("around",),
    ("circa",), ("nearly",), ("almost",), ("just", "under"), ("just", "over"), ("close", "to"),
    ("somewhere", "near"), ("more", "or", "less"), ("best", "part", "of"), ("say",), ("maybe",),
    ("perhaps",), ("getting", "on", "for"), ("round",), ("round", "about"), ("somewhere", "round"),
    ("somewhere", "around"), ("somewhere", "about"), ("call", "it"), ("not", "far", "off"),
    ("just", "shy", "of"), ("shy", "of"), ("a", "shade", "under"), ("a", "shade", "over"),
    ("a", "touch", "under"), ("a", "touch", "over"), ("a", "bit", "under"), ("a", "bit", "over"),
    ("well", "over"), ("well", "under"), ("best", "guess"), ("best", "guess", "is"),
    ("at", "a", "guess"), ("my", "guess", "is"), ("i'd", "guess"),
    ("i'd", "say"), ("i", "would", "say"), ("in", "the", "neighbourhood", "of"),
    ("in", "the", "region", "of"), ("~",), ("≈",),
))  # fmt: skip
_AFTER = by_first((
    ("or", "so"), ("ish",), ("-", "ish"), ("or", "thereabouts"), ("give", "or", "take"),
    ("roughly",), ("approximately",), ("approx",), ("or", "near", "enough"), ("near", "enough"),
    ("odd",), ("thereabouts",), ("at", "a", "guess"), ("or", "close", "to", "it"),
    ("or", "near", "it"), ("or", "something", "like", "that"), ("something", "like", "that"),
))  # fmt: skip
_AT_END = by_first((
    ("something",), ("and", "something"), ("or", "something"), ("in", "something"),
    ("an", "something"), ("and", "a", "bit"),
    ("plus", "a", "bit"), ("and", "a", "little"), ("and", "change"),
))  # fmt: skip
"""Only at the end of a clause: "three minutes and something", but not "and something rattles"."""
_ENDS = frozenset({",", ".", ";", "but", "and", "so"})


def with_about(atoms: Sequence[Atom], measure: Measure, start: int, stop: int) -> Measure:
    """`measure` with the words around it, between `start` and `stop`, that say so."""
    before = before_phrase(atoms, measure.first, start, _BEFORE)
    after = after_phrase(atoms, measure.last, stop, _AFTER)
    if after is None and measure.last < stop and atoms[measure.last].text == ",":
        after = after_phrase(atoms, measure.last + 1, stop, _AFTER)  # "..., roughly"
        if after is not None and after < stop and atoms[after].text not in _ENDS:
            after = None
    if after is None:
        after = after_phrase(atoms, measure.last, stop, _AT_END)
        if after is not None and after < stop and atoms[after].text not in _ENDS:
            after = None
    if before is None and after is None:
        return measure
    doubts = measure.doubts if "about" in measure.doubts else (*measure.doubts, "about")
    return replace(
        measure,
        first=measure.first if before is None else before,
        last=measure.last if after is None else after,
        qualifiers=measure.qualifiers | {"about"},
        doubts=doubts,
    )
