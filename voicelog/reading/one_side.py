"""One side: places of which the card has several there, "both left ones", "front, both sides"."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.atoms import key
from voicelog.reading.fused import CLAIM as NAME
from voicelog.reading.left_out import LeftOut
from voicelog.reading.running_list import BREAKS
from voicelog.reading.spoken import spoken

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.reading.position_words import PositionGroup
    from voicelog.reading.running_list import Found

ONES = frozenset({"ones", "pair"})
TWO = frozenset({"sides", "ends", "ways", "directions", "times", "hands"})
"""Of what things have two: "starts it both ways"."""
_SHORT = 3


class OneSide(LeftOut):
    """Reads all the places of one side by its name."""

    _sided = False
    """All the places of one side were named by it: then the other side names all of its own."""

    def _is_told_behind_places(self, at: int) -> bool:
        """ "Slew left and slew right both cut out": places were named in the clause already."""
        claims = self._passage.claims
        if self._text(at - 1) == "," and claims[at - 2] == "positions":
            return True  # "at the main and the plunge, both clear"
        while at and (self._text(at - 1) not in BREAKS or self._in_decimal(at)):
            at -= 1
            if claims[at] == "positions":
                return True
        return False

    def _in_decimal(self, at: int) -> bool:
        return self._atoms[at].shape == "digits" and self._atoms[at].glued

    def _of_one_side(self, at: int) -> Found | None:
        """ "Both left ones", "all the right blocks", "the left pair": places of which the card
        has several on one side ("L1", "L2")."""
        first = at
        both = self._text(at) == "both"
        if both or self._text(at) == "all":
            at += 1 + (self._text(at + 1) in ("the", "of"))
            at += self._text(at) == "the"
        size = next((n for n, end in self._prefixes(at) if end == at + 1), None)
        at += size is not None  # "the two top bolts"
        pointed = (
            size is not None and self._text(at) in ("on", "at") and self._text(at + 1) == "the"
        )
        if pointed and self._ends_number(first, at):
            return None  # "thirty two on the right"
        at += 2 * pointed  # "the two on the left hand side"
        side = self._text(at)
        known_sides = spoken().sides
        if side not in known_sides and not self._is_part(side):
            plural, side = side, side.removesuffix("s").removesuffix("'")  # "the front's nine mm"
            if plural == side or not (side in known_sides or self._is_part(side)):
                return None
            if any(group.word == side for group in self._passage.cues.groups):
                return None  # "all the ports" of which each has a number
        last = at + 1
        while self._text(last) in ("hand", "side"):
            last += 1
        counted = self._few_of_side(at, last)
        last = last if counted is None else counted[0]
        word = self._position_word(last)
        if word is not None and (word[0].many or self._text(word[1] - 1).endswith("s")):
            last = word[1] if side == self._text(at) else last
        elif self._text(last) in ONES:
            last += 1
        elif pointed:
            last += self._text(last) in ("both", "each")
        elif size is not None:
            return None
        elif (
            at == first
            and not self._is_joined(at)
            and (behind := self._both_behind(self._past_things(last))) is not None
        ):
            last, both = behind
        elif side != self._text(at):
            if at == first and not self._value_follows(last):
                return None  # "both fronts", "fronts fifty psi"
        elif counted is not None:
            if not self._value_follows(last) or counted[1] is None:
                return None
        elif at == first and not (self._sided and self._value_follows(last)):
            return None
        for group, members in self._on_side(side, at):
            size = 2 if both else size
            if size is None or len(members) == size:
                same = tuple(g for g in self._groups_here(at) if g.positions == group.positions)
                self._sided = True
                doubts = () if counted is None or word is not None else counted[1] or ()
                return self._mentions(first, last, members, same, {"group"}, doubts), last
        return None

    def _is_joined(self, at: int) -> bool:
        """Whether a place stands before "and" at `at`: "left front and rear both ten"."""
        return self._text(at - 1) in ("and", "&") and self._claims[at - 2] == NAME

    def _ends_number(self, at: int, end: int) -> bool:
        """Whether the atoms from `at` to `end` are but the end of a number that begins before."""
        number = self._passage.numerals(at - 1).number(at - 1) if at else None
        return number is not None and number.last >= end

    def _past_things(self, at: int) -> int:
        """Index behind the things that have the places: "elevator cables both"."""
        word = self._text(at)
        many = len(word) > _SHORT and word.isalpha() and word.endswith("s")
        return at + (many and word not in (*TWO, *BREAKS) and word not in spoken().sides)

    def _both_behind(self, at: int) -> tuple[int, bool] | None:
        """Index behind the "both sides" or "each" at `at`, or `at` where it is behind a value, and
        whether they are two: "front, both sides", "front seven mm each"."""
        end = at
        if self._text(at) not in ("both", ",") and self._value_follows(at):
            first = self._past_links(at)
            number = self._passage.numerals(first).number(first)
            if number is None:
                return None
            unit = unit_words.find(self._atoms, number.last, self._passage.barrier(number.last))
            end = number.last if unit is None else unit[1]
        after = end + (self._text(end) == ",")
        both = self._text(after) == "both"
        if not both and self._text(after) != "each":
            return None
        after += 1 + (self._text(after + 1) in TWO)
        if self._text(after) not in (*BREAKS, "") and not (
            end == at and self._value_follows(after)
        ):
            return None
        return after if end == at else at, both

    def _on_side(self, side: str, at: int) -> Iterator[tuple[PositionGroup, tuple[str, ...]]]:
        """The groups spoken of that have several places on `side` and none that is `side`."""
        here = self._groups_here(at)
        alone = any((side,) in group.phrases for group in here)
        for group in here:
            known = group.phrases
            if (side, self._text(at + 1)) in known:
                return  # "right one"
            longer = [words for words in known if words[1:]]
            heads = [words for words in longer if words[0] == side and _begins(side, known[words])]
            ways = heads or [words for words in longer if side in words and not alone]
            members = tuple(dict.fromkeys(known[words] for words in ways))
            if (side,) not in known and len(members) > 1:
                yield group, members

    def _few_of_side(self, at: int, last: int) -> tuple[int, tuple[str, ...] | None] | None:
        """The "two" of "top two side bolts", where the card has as many at the top: (index behind,
        doubts). Without a noun the figure may be part of the value, "bottom two ninety": what is
        plausible decides (None: the value is), else it is asked about."""
        figures = [figure for figure in self._prefixes(last) if not self._is_value(figure[1], last)]
        if not figures:
            return None
        members = next(self._on_side(self._text(at), at), None)
        end = next((end for value, end in figures if members and value == len(members[1])), None)
        if members is None or end is None:
            return None
        whole, rest = (self._passage.numerals(each).number(each) for each in (last, end))
        if whole is None or rest is None or whole.last != rest.last:
            return end, ()
        if not self._implausible(whole.value, members[:1]):
            known = self._implausible(rest.value, members[:1])
            return end, None if known else ("fused_position",)
        return end, ()

    def _is_part(self, word: str) -> bool:
        """Whether several places of the card are told apart by `word` and another: "uphill left"
        and "uphill right"."""
        return len(word) > 2 and any(
            len({place for words, place in group.phrases.items() if words[1:] and word in words})
            > 1
            for group in self._passage.cues.groups
        )


def _begins(side: str, position: str) -> bool:
    """Whether a place is told by `side` first, as the card has it: "left" of "left front"."""
    first = key(position)[0]
    return side == first or side in spoken().sides.get(first, ())
