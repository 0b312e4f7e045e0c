"""Renewals: that a thing was renewed, told of one that some check wants so ("Wick renewed", "New
O-ring in") in words for the new one: "new wicks in one and two", "the ring's a new one"."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.deeds import ARTICLES
from voicelog.reading.denials import Denials
from voicelog.reading.kinds import kind_of
from voicelog.reading.negation import BREAKS
from voicelog.reading.renewing import ONES, Renewing
from voicelog.reading.states import with_qualifiers

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from collections.abc import Set as AbstractSet

    from voicelog.objects import Mention
    from voicelog.reading.lexicon import Lexicon
    from voicelog.reading.things import Thing
    from voicelog.reading.words import Token


class Renewals(Denials):
    """Reads what is told to be new of the things that have to be."""

    def __init__(
        self,
        text: str,
        tokens: Sequence[Token],
        things: Mapping[int, Thing],
        lexicon: Lexicon,
        positions: Sequence[Mention] = (),
        longer_names: AbstractSet[int] = frozenset(),
    ) -> None:
        super().__init__(text, tokens, things, lexicon, positions, longer_names)
        self.renewals = lexicon.renewals
        self.renewing = Renewing(tokens, positions)

    def _renewed(self, index: int) -> tuple[Mention | None, int]:
        if not self._spent(index):
            return None, 0
        inner = self.things.get(index)
        ahead = inner or self.things.get(index + 1)
        end = index + 1 + (self.word(index + 1) in ONES) if ahead is None else ahead[0]
        name = self._thing_before(index) if ahead is None else ahead[1]
        named = ahead is not None or end > index + 1
        put = named and self.renewing.is_put(index, end)
        put = put or (ahead is None and self.renewing.is_new(index, end))
        if name not in self.renewals or not put:
            return None, 0
        told = self.renewing.in_place(end) if named else end
        if told == end and ahead is not None and inner is None:
            told = index + 1  # "new tubes": the name is read by itself
        found = self._verdict(index, told, "state", "pass")
        says = " ".join(self.renewals[name])
        if found is not None and says:
            found = with_qualifiers(found, "predicate", f"says:{says}")
        return found, told - index

    def _thing_before(self, index: int) -> str:
        """The thing that was named last before in the sentence."""
        for at in range(index - 1, -1, -1):
            if self.words[at] in BREAKS - {","}:
                break
            thing = self.things.get(at)
            if thing is not None and thing[0] <= index:
                return thing[1]
        return ""

    def _is_noun_too(self, index: int, end: int) -> bool:
        """Whether "door locks" only names the locks: "door locks: two seized", "the door locks",
        "door locks on two and four good", but not "door locks on two and four"."""
        if self.words[end - 1] != "locks" or end - index < 2:
            return False
        if kind_of(self.tokens[end - 2].key) == "fastener":
            return False  # "pin locks": a pin has none
        told = self.renewing.past_places(end)
        heads = self.word(index - 1) in {"", ".", ";"} and self.word(end) in BREAKS
        return heads or self.word(index - 1) in ARTICLES or not self._ends_clause(told)
