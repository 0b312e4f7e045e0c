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
