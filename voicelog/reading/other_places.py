"""Other places: "the other", where but one place of what was named is left."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.long_places import LongPlaces
from voicelog.reading.running_list import BREAKS

if TYPE_CHECKING:
    from voicelog.reading.running_list import Found

_AHEAD = 5
"""Words within which a place stands ahead of its name: "south rack failed, the other fine"."""
_ONE = frozenset({"one", "end", "side"})
_MODIFYING = frozenset({"also", "no", "not", "still"})

_BY_EAR = frozenset({"ate", "for", "free", "to", "too", "won"})
"""Words that may have been a figure."""
_ENDS = frozenset({".", ";"})


class OtherPlaces(LongPlaces):
    """Reads the one place that was not named."""

    def _other_one(self, at: int) -> Found | None:
        """ "On tail fail, the other okay": the one place that was not named with its field."""
        last = at + 1 + (self._text(at + 1) in _ONE)
        further = last + (self._text(last) in _MODIFYING)
        linked = self._text(at - 2) in ("on", "at", "for") and self._text(last) in ("", *BREAKS)
        told = linked or self._state_follows(further) or self._value_follows(further)
        for group in (self._recent or self._context.groups) if told else ():
            heard = self._context.heard_at
            since = {name for first, name in self._placed if first >= heard}
            since = since or {n for first, n in self._placed[-1:] if heard - first < _AHEAD}
            members = tuple(place for place in group.positions if place not in since)
            if len(members) == 1 < len(group.positions):
                return self._mentions(at, last, members, (group,), set(), ()), last
        return None

    def _one_is_lost(self, at: int) -> bool:
        """Whether a place that was named in this sentence may be lost, and is none of the others:
        "horse to the stirrup is bent, ..., the others are sound"."""
        for index in range(at - 1, -1, -1):
            if self._text(index) in _ENDS:
                return False
            known = self._position_word(index) if self._text(index + 1) in _BY_EAR else None
            if known is not None and known[1] == index + 1:
                return True
        return False
