"""Rows of places and values that a recogniser ran together: "temps 152, 255, 361, 460".

Where number by number begins with the next place of the card, and what is left of it is what its
field may hold while not each of them may be as it stands, the row is taken apart; every value is
asked about.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.sides import Sides

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.objects import Mention
    from voicelog.reading.position_words import PositionGroup
    from voicelog.reading.running_list import Found

_LEAST = 3
"""Places that a row must have: two numbers may begin with 1 and 2 by chance."""


class FusedRows(Sides):
    """Reads such rows."""

    def _fused_row(self, at: int) -> Found | None:
        """The whole row that begins at `at` with the first place of the card."""
        text = self._text(at)
        if not text.isdigit() or len(text) < 2 or text[0] == "0":
            return None
        groups = self._numeric_here(at)
        order = groups[0].order if groups else ()
        if len(order) < _LEAST or not text.startswith(str(order[0])):
            return None
        members = self._members(at, groups, order)
        if len(members) < _LEAST:
            return None
        mentions: list[Mention] = []
        cut = 0  # atoms that were added so far
        last = at
        for value, (index, length) in zip(order, members, strict=False):
            first = index + cut
            if length:
                whole = self._figures(first)
                self._passage.split(first, length)
                cut += 1
                self._passage.doubted[self._atoms[first + 1].start] = ("fused_position", (whole,))
            named = (groups[0].numbers[value],)
            mentions += self._mentions(first, first + 1, named, groups, set(), ("fused_position",))
            self._enter(groups, (value,), first + 1)
            last = first + 1
        return mentions, self._skip_value(last)

    def _members(
        self, at: int, groups: Sequence[PositionGroup], order: Sequence[int]
    ) -> list[tuple[int, int]]:
        """(atom, length of the place where its value is run into it, else 0) of each place."""
        found: list[tuple[int, int]] = []
        wild = False
        for number in order:
            text, place = self._text(at), str(number)
            if not self._free(at) or not text.isdigit():
                break
            if text == place and not self._dotted(at):
                value_at, length = at + 1, 0
                if not self._free(value_at) or not self._text(value_at).isdigit():
                    break
                value = self._figures(value_at)
            else:
                rest = text.removeprefix(place)
                if rest == text or not rest or rest[0] == "0":
                    break
                wild = wild or self._implausible(self._figures(at), groups)
                value_at, length = at, len(place)
                value = Decimal(str(self._figures(at))[length:])
            if not self._plausible(value, groups):
                break
            found.append((at, length))
            at = self._past_value(value_at)
        return found if wild else []

    def _figures(self, at: int) -> Decimal:
        """The number as it is written at `at`."""
        tail = f".{self._text(at + 2)}" if self._dotted(at) else ""
        return Decimal(self._text(at) + tail)

    def _past_value(self, at: int) -> int:
        """Index behind the value at `at`, its unit and the pause behind it."""
        last = at + (3 if self._dotted(at) else 1)
        unit = unit_words.find(self._atoms, last, self._passage.barrier(last))
        last = last if unit is None else unit[1]
        last += self._text(last) == ","
        return last + (self._text(last) == "and")
