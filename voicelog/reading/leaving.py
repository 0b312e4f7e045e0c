"""Leaving: whether "left" tells what somebody did, where it is a place of the card, too."""

from __future__ import annotations

from voicelog.reading.groups import Groups
from voicelog.reading.running_list import BREAKS

_LEAVERS = frozenset({"i", "we", "he", "she", "they", "i've", "we've", "you"})
WAS = frozenset({"was", "were", "is", "are", "been", "being", "be", "and", "then"})
_THINGS = frozenset({"it", "them", "that", "this", "these", "those", "him", "her"})
_AT = frozenset({"at", "as", "with", "on"})
_REACH = 24
_POINTS = frozenset({"at", "for", "in", "on", "the", "to"})


class Leaving(Groups):
    """Knows a "left" that is no place."""

    def _is_verb(self, at: int) -> bool:
        """Whether "left" at `at` tells what somebody did: "I left it at ninety", "was left at",
        "3.3 found, 2.5 left"."""
        before, after = self._text(at - 1), self._text(at + 1)
        if before in _POINTS:
            return False  # "on left it is four"
        if before in _LEAVERS or after in _THINGS:
            return True
        if before in WAS and after in _AT:
            return True
        if after == "at" and self._answers_found(at):
            return True
        return self._is_of_pair(at) or (self._may_be_left(at) and not self._may_be_side(at))

    def _may_be_left(self, at: int) -> bool:
        """Whether a value as found stands before "left" and another behind: "two found nine, left
        eighteen"."""
        first = self._value_before(self._past_pause(at))
        found = first is not None and self._text(first - 1) == "found"
        return found and self._value_follows(at + 1)

    def _past_pause(self, at: int) -> int:
        """Index behind what stands before the pause that ends at `at`."""
        while at > 1 and self._text(at - 1) in BREAKS:
            at -= 1
        return at

    def _may_be_side(self, at: int) -> bool:
        """Whether the field that is spoken of has such a place."""
        return any(("left",) in group.phrases for group in self._groups_here(at))

    def _is_of_pair(self, at: int) -> bool:
        """Whether values as found and as left end in these words: "3.3 found, 2.5 left"."""
        first = self._value_before(at)
        if first is None or self._text(at + 1) not in (*BREAKS, ""):
            return False
        found = self._past_pause(first) - 1
        return self._text(found) == "found" and self._value_ends(found)

    def _answers_found(self, at: int) -> bool:
        """Whether a value that was found stands before "left at": "found at 0.51, left at 0.62";
        with a side between, it may be the other one."""
        for index in range(at - 1, max(-1, at - _REACH), -1):
            text = self._text(index)
            decimal = text == "." and self._atoms[index + 1].glued
            if text in ("left", "right", ";") or (text == "." and not decimal):
                return False
            if text == "found":
                return self._text(index - 1) != "as"
        return False
