"""The running list of positions: which places the passage is going through, and how far.

"Bolt one ninety eight, two ninety nine": behind a value the next place of the list may be
said without its word.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from voicelog.reading import heard_units, unit_words
from voicelog.reading.fused import CLAIM as NAME
from voicelog.reading.fused import Fused
from voicelog.reading.numerals import Numerals

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.objects import Mention
    from voicelog.reading.passage import Passage
    from voicelog.reading.position_words import PositionGroup

REACH = 60
"""Atoms behind a position after which a bare "two" no longer continues the list."""
SAME = frozenset({"same", "ditto", "likewise"})
_PAIR = 2
_LEAD = 6
"""Words before a value that are looked for again before the next one, at most."""
_TO_NUMBER = frozenset({"at", "by", "in", "on", "to", "with"})
BREAKS = frozenset({",", ";", ".", ":", "and", "then", "but"}) | SAME

STOPS = frozenset({".", ";"})
CLOCK = frozenset({"o'clock", "oclock"})
_VERBS = frozenset({"at", "is", "was", "reads", "reading", "read", "got"})

Found = tuple[list["Mention"], int]


@dataclass(slots=True)
class RunningList:
    """The list of positions that the passage is in."""

    groups: tuple[PositionGroup, ...] = ()
    last: int | None = None
    used: set[int] = field(default_factory=set)
    at: int = -REACH
    """Where the list was last heard of."""
    resume: int = -1
    """Index behind the last value: there a new position may follow without a pause."""
    told_at: int = -1
    """Index behind the place that was named last, where its value is told."""
    filled: bool = True
    """Whether the place that was named last has a number behind it."""
    again: frozenset[int] = frozenset()
    """The place behind one that was corrected: the list may go on from there once more."""
    heard: tuple[PositionGroup, ...] = ()
    """Groups whose field was named."""
    heard_at: int = -REACH
    headed: tuple[PositionGroup, ...] = ()
    """Groups whose field was named at the head of a sentence."""
    headed_at: int = -REACH
    behind: tuple[PositionGroup, ...] = ()
    """Groups of places that stood behind their values, and began no list of their own."""
    behind_used: frozenset[int] = frozenset()
    behind_at: int = -REACH

    def running(self, at: int) -> bool:
        """Whether a list is running at `at`."""
        return bool(self.groups) and at - self.at <= REACH

    def expects(self, number: int, at: int) -> bool:
        """Whether `number` is the next position of the list, in the order of the card."""
        if self.running(at) and number in self.again:
            return True
        if not self.running(at) or number in self.used:
            return False
        order = self.groups[0].order
        begin = order.index(self.last) + 1 if self.last in order else 0
        after = next((n for n in order[begin:] if n not in self.used), None)
        if after is None and self.filled and len(order) > _PAIR:  # "four ..., three ..., two ..."
            left = len(order) - len(self.used)
            after = order[left - 1] if left and {*order[left:]} == self.used else None
        return number == after

    def returns(self, number: int, at: int) -> bool:
        """Whether `number` is the first place that the list has passed over ("one, three and
        five ..., two, four and six ...")."""
        if not self.running(at) or self.last is None or len(self.used) < 2:
            return False
        skipped = (n for n in self.groups[0].order if n not in self.used and n < max(self.used))
        return number == next(skipped, None)


class Listed(Fused):
    """Keeps the running list while positions are read."""

    def __init__(self, passage: Passage) -> None:
        super().__init__(passage)
        self._context = RunningList()
        self._listing: tuple[PositionGroup, ...] = ()
        """Groups of the list that is being read."""
        self._many_named = False
        """The name of the field before the list is a plural: "gaps one and two eighteen thou"."""
        self._heard_two = -1
        """Where a "two" was taken for a "to" last."""
        self._link = ""
        """The word that leads to the row that is being read: "on" of "on one and on four"."""
        self._behind = False
        """The letters of the list stand behind their values."""
        self._told = -1
        """Where a place begins of which a state is told, though no state was told before it."""
        self._others_at = -1
        """Where a list of places begins that are not among some that were told of before."""
        self._done_to = -1
        """Where a list of places begins behind what was done to them."""
        self._in_turn: frozenset[int] = frozenset()
        """Where places begin that head a sentence each, one after the other."""
        self._named: tuple[str, ...] = ()
        """The name of a field that was said last."""
        self._newly_named = -1
        """Where it was said first."""
        self._since = 0
        """Where its first place stands, before it or behind."""
        self._placed: list[tuple[int, str]] = []
        """Where each place was named."""
        self._all_placed: set[str] = set()
        """All these places."""
        self._recent: tuple[PositionGroup, ...] = ()
        """Groups of the place that was named last."""

    def _groups_here(self, at: int) -> tuple[PositionGroup, ...]:
        """The groups spoken of: the running list's, else the named field's, else the step's; those
        of a field that was named behind the list come first."""
        context = self._context
        if context.running(at) and context.heard_at <= context.at:
            return context.groups
        if context.heard and at - context.heard_at <= REACH:
            return context.heard
        return self._in_step(self._passage.cues.groups, at)

    def _numeric_here(self, at: int) -> tuple[PositionGroup, ...]:
        """The groups of `_groups_here` when they all count the same places."""
        groups = tuple(group for group in self._groups_here(at) if group.numbers)
        same = {tuple(group.numbers) for group in groups}
        return groups if len(same) == 1 else ()

    def _enter(self, groups: Sequence[PositionGroup], values: Sequence[int], at: int) -> None:
        context = self._context
        new = not context.groups or context.groups[0] is not groups[0]
        if new or set(values) & context.used:
            context.used = set()
            context.last = None
        context.groups = tuple(groups)
        context.again = frozenset()
        context.used |= set(values)
        context.at = context.told_at = at
        context.filled = False
        if values:
            context.last = values[-1]

    def _past_links(self, at: int) -> int:
        """The same, and behind the words that led to the value of the place before: "one trips in
        twenty two, two trips in twenty four, three in twenty one"."""
        link = super()._past_links(at)
        before = self._context.told_at
        if not self._context.running(link) or not 0 <= before < link:
            return link
        words = [self._text(before + each) for each in range(_LEAD)]
        for count in range(1, _LEAD + 1):
            again = [self._text(link + each) for each in range(count)]
            told = again == words[:count] or (count == 1 and again[0] in words)
            if again[-1] in _TO_NUMBER and told:
                return super()._past_links(link + count)
        return link

    def _trail(self, groups: Sequence[PositionGroup], values: Sequence[int], at: int) -> None:
        """Note places that stood behind their value."""
        context = self._context
        same = context.behind == tuple(groups) and at - context.behind_at <= REACH
        context.behind_used = frozenset(values) | (context.behind_used if same else frozenset())
        context.behind, context.behind_at = tuple(groups), at

    def _sentence_start(self, at: int) -> int:
        """Index of the first word of the sentence that holds the one at `at`."""
        while at and self._text(at - 1) not in STOPS:
            at -= 1
        return at

    def _skip_value(self, at: int) -> int:
        """Index behind the value that follows at `at`, so that its figures are left whole."""
        link = self._past_links(at)
        if not self._free(link):
            return at
        numerals = self._passage.numerals(link)
        number = numerals.number(link)
        if number is None or (
            self._text(link - 1) == "," and self._is_place_again(link, number.last)
        ):
            return at  # "34 on two, three is at 27"
        self._context.filled = True
        last = self._before_name(link, number.last)
        if self._reference(last) is not None:
            reference = numerals.number(last + 1 + (self._text(last) == ","))
            last = last if reference is None else reference.last
        barrier = self._passage.barrier(last)
        unit = unit_words.find(self._atoms, last, barrier)
        unit = unit or heard_units.listed(self._passage, last, barrier)
        place = self._place_within(link, last)
        if place is not None:
            last = place
        else:
            last = self._before_place(link, last) if unit is None else self._of_unit(last, unit[1])
        return self._filled_to(last)

    def _skip_values(self, at: int, count: int, groups: Sequence[PositionGroup]) -> int:
        """Index behind a row of as many values as places, or behind the one value at `at`."""
        end = self._past_values(at, count, groups)
        return self._filled_to(end) if end > at else self._skip_value(at)

    def _filled_to(self, last: int) -> int:
        """`last`, where the values of the place or places that were named last end."""
        self._context.filled = True
        self._context.resume = self._context.at = last
        return last

    def _is_place_again(self, at: int, last: int) -> bool:
        """Whether the figures at `at`..`last` are no value of the place before a pause."""
        return self._is_alone(last) or self._both_at(at) is not None

    def _both_at(self, at: int) -> tuple[int, int] | None:
        """The two places at `at` of which one value is told: "pocket 1, 3 and 4 both 461 g"."""
        value, last = next(self._prefixes(at), (0, at))
        other = next(self._prefixes(last + 1), None) if last > at else None
        if other is None or self._text(last) not in ("and", "&"):
            return None
        end = other[1] + (self._text(other[1]) in ("are", "were"))
        told = self._text(end) == "both" and self._value_follows(end + 1)
        return (value, other[0]) if told else None

    def _before_name(self, first: int, last: int) -> int:
        """Index behind the number at `first`..`last`, without its end where that begins a place:
        "hour bell 91 and quarter bell 95"."""
        for index in range(first + 1, last):
            longest = self._cues.phrase_heads.get(self._text(index), 0)
            for words, end in self._walk(index, self._cues.phrase_heads) if longest > 1 else ():
                if end > last and words in self._cues.phrases:
                    return index - (self._text(index - 1) == "and")
        return last

    def _of_unit(self, at: int, last: int) -> int:
        """Index behind the unit at `at`, without a word at its end that is a place of the list: "up
        68 degrees, down 12", and "0.35 B, 0.20 C"."""
        place = (self._text(last - 1),)
        own = any(place in group.phrases for group in self._recent)
        ends = len(place[0]) > 1 if last - 1 > at else self._behind
        return last - 1 if own and ends else last

    def _place_within(self, first: int, last: int) -> int | None:
        """Where the next place of the list stands among figures that are too many for one value:
        "three four oh five four four twenty five four twelve", "over eighty two seventy five"."""
        start = next((at + 1 for at in range(first, last) if self._text(at) == "over"), first)
        whole = self._passage.numerals(start).number(start)
        ratio = start > first
        if whole is None or (
            not ratio and not self._implausible(whole.value, self._context.groups)
        ):
            return None
        for at in range(start + 1, last):
            figure = next(self._prefixes(at), None)
            if figure is None or figure[1] != at + 1 or not self._context.expects(figure[0], at):
                continue
            value = Numerals(self._atoms, at, self._passage.words).number(start)
            if value is None or value.last != at or not self._number_next(at + 1):
                continue
            if ratio or self._plausible(value.value, self._context.groups):
                return at
        return None

    def _before_place(self, first: int, last: int) -> int:
        """Index behind the value at `first`..`last`, without a figure at its end that is the next
        place: "pads one ten point eight two ten point nine", "two ninety three eighty nine"."""
        figure = next(self._prefixes(last - 1), None)
        single = figure is not None and figure[1] == last and self._atoms[last - 1].shape == "word"
        if self._text(last) in CLOCK and not single:
            self._passage.doubted[self._atoms[first].start] = ("joined_digits", ())
        if figure is None or not single or last - 1 <= first:
            return last
        if self._text(last) in CLOCK:
            return last - 1  # "three o'clock one point five six o'clock one point five"
        if not self._context.expects(figure[0], last) or not self._number_next(last):
            return last
        if self._text(last - 2) in ("point", "decimal", "over"):
            return last
        spoken = self._atoms[first:last]
        if not any(atom.text in ("point", "decimal", "over") for atom in spoken):
            whole = self._passage.numerals(first).number(first)
            if whole is not None:
                self._passage.doubted[self._atoms[first].start] = ("fused_position", (whole.value,))
        return last - 1

    def _number_next(self, at: int) -> bool:
        """Whether a number stands at `at` without a pause, perhaps behind a verb."""
        while self._free(at) and self._text(at) in _VERBS:
            at += 1
        if not self._free(at) or self._atoms[at].shape != "word":
            return False
        return self._passage.numerals(at).number(at) is not None

    def _mentions(
        self,
        first: int,
        last: int,
        named: Sequence[str],
        groups: Sequence[PositionGroup],
        qualifiers: set[str],
        doubts: tuple[str, ...],
    ) -> list[Mention]:
        self._passage.claim(first, last, NAME)
        self._part_decimal(last)
        self._placed += [(first, name) for name in named]
        self._all_placed.update(named)
        self._recent = tuple(groups)
        words = {f"of:{group.word}" for group in groups if group.word}
        if not set(groups).isdisjoint(self._guessed):
            doubts = tuple(dict.fromkeys((*doubts, "misheard_term")))
        return [
            self._passage.mention(
                "position",
                first,
                last,
                NAME,
                value=position,
                qualifiers=frozenset(qualifiers | words),
                doubts=doubts,
            )
            for position in named
        ]

    def _field_named(self, at: int, last: int) -> None:
        """Note that the name of a field stands at `at`..`last`."""
        if self._named != tuple(self._texts[at:last]):
            self._named = tuple(self._texts[at:last])
            self._newly_named = at
            headed = at > 0 and self._claims[at - 1] == NAME and bool(self._placed)
            self._since = self._placed[-1][0] if headed else at

    def _leave_behind(self, at: int) -> set[int]:
        """The places told of so far, which are told anew where the name of another field begins a
        row at `at`: "flat on wheel two, ..., wheel diameters one and two ..."."""
        used = self._context.used
        if self._many_named and self._newly_named == at:
            self._context.used = set()
        return used

    def _said(self) -> set[str]:
        """The places that were named of the field spoken of, else all."""
        own = {name for first, name in self._placed if first >= self._since}
        return own or self._all_placed

    def _part_decimal(self, at: int) -> None:
        """ "Boom.04 stick.06": a decimal behind a place, and no full stop; asked about where it may
        be one ("blade C.55")."""
        figures = self._atoms[at + 1 : at + 2]
        if self._text(at) != "." or not self._atoms[at].glued or not figures:
            return
        if (
            figures[0].shape == "digits"
            and figures[0].glued
            and self._atoms[at - 1].shape == "word"
        ):
            self._passage.begin_at(at)
            if not figures[0].text.startswith("0"):
                self._passage.doubted[self._atoms[at].start] = ("joined_digits", ())

    def _unknown(self, first: int, last: int, groups: Sequence[PositionGroup]) -> Mention:
        self._passage.claim(first, last, NAME)
        return self._passage.mention(
            "position",
            first,
            last,
            NAME,
            qualifiers=frozenset(f"of:{group.word}" for group in groups if group.word),
            doubts=("unknown_position",),
        )
