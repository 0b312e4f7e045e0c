"""Stage: which bolt, cylinder or side is spoken of ("bolts one to four", "left", "all eight").

A position word of the card is followed (or preceded) by positions that the card has; what
comes behind them is the value, however the recogniser ran the figures together: "bolt four
ninety four" is 94 at bolt 4. Where the same figures could be one number, what the card's
limits leave possible decides, and what stays open is marked in doubt.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.chain import stage
from voicelog.reading.fused import CLAIM as NAME
from voicelog.reading.fused import Fused
from voicelog.reading.places import LINKS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from spacy.tokens import Doc

    from voicelog.objects import Mention
    from voicelog.reading.cues import PositionGroup
    from voicelog.reading.passage import Passage

_TWO_BY_EAR = frozenset({"to", "too"})
_TO = frozenset({"to", "through", "thru", "-", "–", "—"})
_BREAKS = frozenset({",", ";", ".", ":", "and", "then", "but"})
_REACH = 60
"""Atoms behind a position after which a bare "two" no longer continues the list."""
_NUMBER_REACH = 10
"""Atoms of a number with its unit, looked back on."""
_OPENING = 6
"""Atoms behind the name of a field within which its list may begin."""
_AFTER_AS = frozenset({"as", "all", "turn", "turned", "have", "has", "had", "been", "that's"})
"""Words before "left" and "right" that make them something else ("as left", "all right")."""
_BEFORE_TO = frozenset(
    {"the", "this", "that", "each", "every", "torque", "torqued", "tighten", "tightened", "set"}
)
"""Words before "bolt to ninety eight" that make the "to" a preposition."""
_VERDICTS = frozenset({
    "good", "ok", "okay", "fine", "bad", "failed", "fail", "fails", "checked", "clear", "clean",
    "dry", "has", "had", "is", "are", "was", "were", "closed", "locked", "tight", "free",
})  # fmt: skip
"""Words behind a letter that make it a place of which something is found."""
_VERBS = LINKS - {"=", ":", "to", "now", "just", "still"}

Found = tuple[list["Mention"], int]


@dataclass(slots=True)
class _Context:
    """The list of positions that the passage is in."""

    groups: tuple[PositionGroup, ...] = ()
    last: int | None = None
    used: set[int] = field(default_factory=set)
    at: int = -_REACH
    """Where the list was last heard of."""
    resume: int = -1
    """Index behind the last value: there a new position may follow without a pause."""
    heard: tuple[PositionGroup, ...] = ()
    """Groups whose field was named."""
    heard_at: int = -_REACH

    def running(self, at: int) -> bool:
        """Whether a list is running at `at`."""
        return bool(self.groups) and at - self.at <= _REACH

    def expects(self, number: int, at: int) -> bool:
        """Whether `number` is the next position of the list, in the order of the card."""
        if not self.running(at) or number in self.used:
            return False
        order = self.groups[0].order
        begin = order.index(self.last) + 1 if self.last in order else 0
        return number == next((n for n in order[begin:] if n not in self.used), None)


@stage(NAME)
def positions(doc: Doc) -> None:
    """Read positions of the card; without a card there are none."""
    passage: Passage = doc._.passage
    doc._.positions = list(_Finder(passage).run()) if passage.cues.groups else []


class _Finder(Fused):
    def __init__(self, passage: Passage) -> None:
        super().__init__(passage)
        self._context = _Context()
        self._listing: tuple[PositionGroup, ...] = ()
        """Groups of the list that is being read."""
        self._said: set[str] = set()

    def run(self) -> Iterator[Mention]:
        """All positions, in order."""
        index = 0
        while index < len(self._atoms):
            last = index + 1
            if self._free(index):
                for read in (self._whole_group, self._numbered, self._worded, self._side,
                             self._continued, self._bare_range, self._behind_value):  # fmt: skip
                    found = read(index)
                    if found is not None:
                        mentions, last = found
                        yield from mentions
                        break
            index = max(last, index + 1)

    def _groups_here(self, at: int) -> tuple[PositionGroup, ...]:
        """The groups spoken of: the running list's, else the named field's, else the step's."""
        context = self._context
        if context.running(at):
            return context.groups
        if context.heard and at - context.heard_at <= _REACH:
            return context.heard
        return self._in_step(self._passage.cues.groups, at)

    def _numeric_here(self, at: int) -> tuple[PositionGroup, ...]:
        """The groups of `_groups_here` when they all count the same places."""
        groups = tuple(group for group in self._groups_here(at) if group.numbers)
        same = {tuple(group.numbers) for group in groups}
        return groups if len(same) == 1 else ()

    # --- groups as a whole ------------------------------------------------------

    def _whole_group(self, at: int) -> Found | None:
        """ "all eight", "all outer ring bolts", "both wheels", "the rest"."""
        text = self._text(at)
        if text not in ("all", "both", "each", "every", "rest", "others", "remaining"):
            return None
        after = at + 1
        if self._text(after) == "of" and self._text(after + 1) in ("them", "those"):
            return self._all_of_them(at, after + 2)
        if text == "all" and self._text(after) in ("round", "around"):
            return self._all_of_them(at, after + 1)
        if self._text(after) in ("the", "of", "other"):
            after += 1
        counted = self._counted(after) if text in ("all", "remaining") else None
        if counted is not None:
            after = counted[1]
        word = self._word_ahead(after)
        if word is not None:
            groups, after = word
        elif counted is not None or text == "both":
            groups = self._groups_here(at)
        elif text in ("rest", "others"):
            groups = self._context.groups
        else:
            return None
        size = 2 if text == "both" else None if counted is None else counted[0]
        remaining = text in ("rest", "others", "remaining") or self._text(at + 1) == "other"
        for group in groups:
            members = tuple(p for p in group.positions if not (remaining and p in self._said))
            if members and (size is None or size == len(members)):
                same = tuple(other for other in groups if other.positions == group.positions)
                return self._mentions(at, after, members, same, {"group"}, ()), after
        return None

    def _all_of_them(self, at: int, last: int) -> Found | None:
        """ "clamps forty eight foot pounds, all of them"."""
        groups = self._context.heard if at - self._context.heard_at <= _REACH else ()
        if not groups or self._text(at) not in ("all", "both", "each"):
            return None
        return self._mentions(at, last, groups[0].positions, groups, {"group"}, ()), last

    def _counted(self, at: int) -> tuple[int, int] | None:
        """The "eight" of "all eight": a cardinal that some group has as many places as."""
        sizes = {len(group.positions) for group in self._passage.cues.groups}
        for value, last in self._prefixes(at):
            if value in sizes and (self._word_ahead(last) or not self._is_value(last, at)):
                return value, last
        return None

    def _word_ahead(self, at: int) -> tuple[tuple[PositionGroup, ...], int] | None:
        """A position word at `at`, or behind words by which the card calls its group."""
        index = at
        while index < at + 4 and self._free(index):
            word = self._strong_word(index)
            if word is not None:
                return self._meant(word[0].groups, index), word[1]
            text = self._text(index)
            if text != "-" and not any(text in g.tokens for g in self._passage.cues.groups):
                return None
            index += 1
        return None

    # --- number before or behind the position word ---------------------------------

    def _numbered(self, at: int) -> Found | None:
        """ "number three bolt", "the third outer bolt", "number two ..." inside a list."""
        ordinal = self._passage.numerals(at).ordinal(at)
        if ordinal is not None:
            return self._ordinal(at, ordinal.last, int(ordinal.value))
        if self._text(at) == "last":
            word = self._word_ahead(at + 1)
            order = word[0][0].order if word is not None else ()
            return self._of_value(at, word[1], order[-1], word[0]) if word and order else None
        after = self._number_sign(at)
        if after == at:
            return self._clock(at)
        for value, last in self._prefixes(after):
            word = self._word_ahead(last)
            if word is not None:
                return self._of_value(at, word[1], value, word[0])
        groups = self._numeric_here(at)
        if not groups:
            return None
        return self._list(at, after, groups, many=False, qualifiers={"continued"}, signed=True)

    def _ordinal(self, at: int, last: int, value: int) -> Found | None:
        word = self._word_ahead(last)
        if word is not None:
            return self._of_value(at, word[1], value, word[0])
        listed = self._context.expects(value, at) and self._value_follows(last)
        if listed and not self._is_value(last):
            return self._of_value(at, last, value, self._context.groups, {"continued"})
        return None

    def _clock(self, at: int) -> Found | None:
        """ "twelve o'clock", where the card's places are those of a clock face."""
        for value, last in self._prefixes(at):
            if self._text(last) in ("o'clock", "oclock"):
                groups = tuple(g for g in self._passage.cues.groups if value in g.numbers)
                return (
                    self._of_value(at, last + 1, value, self._meant(groups, at)) if groups else None
                )
        return None

    def _of_value(
        self,
        first: int,
        last: int,
        value: int,
        groups: Sequence[PositionGroup],
        qualifiers: set[str] | None = None,
    ) -> Found:
        fits = tuple(group for group in groups if value in group.numbers)
        if not fits:
            return [self._unknown(first, last, groups)], last
        self._enter(fits, (value,), last)
        named = (fits[0].numbers[value],)
        mentions = self._mentions(first, last, named, fits, qualifiers or set(), ())
        return mentions, self._skip_value(last)

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

    def _worded(self, at: int) -> Found | None:
        """A position word, or a field that has positions, and what follows it."""
        word = self._position_word(at)
        if word is None:
            return None
        known, after = word
        groups = self._meant(known.groups, at)
        self._context.heard, self._context.heard_at = groups, at
        colon = self._text(after) == ":"
        signed = self._number_sign(after)
        after = signed + 1 if self._text(signed) == ":" else signed
        if known.weak and self._text(after) in ("at", "on", "for"):
            after += 1
        phrase = self._phrase(after, groups)
        if phrase is not None and (not known.weak or self._value_follows(phrase[1])):
            return self._worded_phrase(at, phrase)
        if known.many and self._text(after) in ("all", "both"):
            last = after + 1
            counted = self._counted(last)
            if counted is not None and counted[0] == len(groups[0].positions):
                last = counted[1]
            return self._mentions(at, last, groups[0].positions, groups, {"group"}, ()), last
        if known.many and not self._names_places(after, colon=colon):
            return None
        return self._list(
            at, after, groups, many=known.many, weak=known.weak, signed=signed > word[1]
        )

    def _names_places(self, at: int, *, colon: bool) -> bool:
        """Whether the number behind a plural names a place: "bolts four ninety eight" does,
        "loose bolts: three" counts them."""
        if self._free(at) and self._dotted(at):
            return True
        for _, last in self._prefixes(at):
            goes_on = self._text(last) in _TO or self._text(last) in (",", "and", "&")
            return goes_on or (self._value_follows(last) and not colon)
        return True

    def _worded_phrase(
        self, at: int, phrase: tuple[str, int, tuple[PositionGroup, ...], bool]
    ) -> Found:
        position, last, fits, by_ear = phrase
        named, last = self._row(position, last, fits) if not by_ear else ((position,), last)
        doubts = ["homophone_position"] if by_ear or self._by_a_figure(at, last, fits) else []
        if self._glued_figures(last):
            doubts.append("fused_position")
        told = {"group"} if len(named) > 1 else set()
        mentions = self._mentions(at, last, named, fits, told, tuple(doubts))
        self._enter(fits, (), last)
        return mentions, self._skip_value(last)

    def _by_a_figure(self, at: int, last: int, groups: Sequence[PositionGroup]) -> bool:
        """Whether a "to" between two places may be a two: "left to right three"."""
        if self._text(at - 1) in _TWO_BY_EAR:
            return True
        return self._text(last) in _TWO_BY_EAR and self._phrase(last + 1, groups) is not None

    def _glued_figures(self, at: int) -> bool:
        return self._free(at) and self._atoms[at].glued and self._atoms[at].shape == "digits"

    # --- numbers behind a position word -------------------------------------------

    def _list(
        self,
        first: int,
        at: int,
        groups: tuple[PositionGroup, ...],
        *,
        many: bool,
        weak: bool = False,
        signed: bool = False,
        qualifiers: set[str] | None = None,
    ) -> Found | None:
        numbers = {value for group in groups for value in group.numbers}
        if not numbers:
            return None
        self._listing = groups
        doubts: list[str] = []
        told = set(qualifiers or ())
        head = self._head(
            first,
            at,
            groups,
            numbers,
            many=many,
            weak=weak and not signed,
            doubts=doubts,
            told=told,
        )
        if head is None:
            return None
        values, last = head
        if not set(groups) & set(self._context.groups):
            self._context.used = set()
        if not values:
            return [self._unknown(first, last, groups)], last
        last = self._several(values, last, numbers, many=many)
        if weak and not signed and not self._value_follows(last):
            return None
        fits = tuple(group for group in groups if set(values) <= set(group.numbers)) or groups
        if len(values) > 1:
            told.add("group")
        named = tuple(fits[0].numbers[value] for value in values if value in fits[0].numbers)
        mentions = self._mentions(first, last, named, fits, told, tuple(doubts))
        self._enter(fits, values, last)
        if len(values) == 1:
            self._check_value(at, last, fits)
        return mentions, self._skip_value(last)

    def _head(
        self,
        first: int,
        at: int,
        groups: tuple[PositionGroup, ...],
        numbers: set[int],
        *,
        many: bool,
        weak: bool,
        doubts: list[str],
        told: set[str],
    ) -> tuple[list[int], int] | None:
        """The first position: ([values], index behind); [] when the card has no such one."""
        if not self._free(at):
            return None
        numerals = self._passage.numerals(at)
        fused = None if weak else self._fused(at, groups, numbers, many=many)
        if fused is not None:
            doubts.append("fused_position")
            return fused
        for value, last in self._prefixes(at):
            if value in numbers and self._point_splits(at, last, groups, mark=True):
                return [value], last
            if value in numbers and not self._is_value(last, at):
                if not many and self._whole_is_meant(at, last, groups, numerals):
                    return None
                return [value], last
        if weak:
            return None
        heard = None if self._text(first - 1) in _BEFORE_TO else numerals.by_ear(at)
        if heard is not None and heard in numbers and numerals.number(at + 1) is not None:
            told.add("homophone")
            if not self._context.expects(heard, at):
                doubts.append("homophone_position")
            return [heard], at + 1
        number = numerals.whole_number(at)
        if (
            number is not None
            and number.last - at <= 3
            and number.value < 100
            and not many
            and not self._is_value(number.last, at)
            and self._implausible(number.value, groups)
        ):
            return [], number.last
        return None

    # --- more than one position -------------------------------------------------------

    def _more(self, values: list[int], last: int, numbers: set[int], *, many: bool) -> int:
        """Extend `values` by what follows: "to four", ", two and three", "two three four"."""
        ranged = False
        while self._free(last):
            step = self._to(values, last, numbers)
            ranged = ranged or step is not None
            if step is None:
                step = self._and(values, last, numbers, many=many, ranged=ranged)
            if step is None:
                return last
            last = step
        return last

    def _several(self, values: list[int], last: int, numbers: set[int], *, many: bool) -> int:
        """`_more`; a singular word may head a row too: "latch one two three closed"."""
        if not many and len(values) == 1:
            row = list(values)
            end = self._more(row, last, numbers, many=True)
            if len(row) > 2 and not self._value_follows(end):
                values[:] = row
                return end
        return self._more(values, last, numbers, many=many)

    def _to(self, values: list[int], at: int, numbers: set[int]) -> int | None:
        if self._text(at) not in _TO:
            return None
        found = self._next_position(at + 1, numbers)
        if found is None or found[0] <= values[-1]:
            if (
                found is None
                and self._free(at + 1)
                and self._passage.numerals(at + 1).starts_number(at + 1)
            ):
                self._passage.doubted[self._atoms[at + 1].start] = ("fused_position", ())
            return None
        values.extend(n for n in sorted(numbers) if values[-1] < n <= found[0])
        return found[1]

    def _and(
        self, values: list[int], at: int, numbers: set[int], *, many: bool, ranged: bool
    ) -> int | None:
        after = at
        if self._text(after) == "," and many:
            after += 1
        if self._text(after) in ("and", "&", "or"):
            after += 1
        found = self._next_position(after, numbers)
        if found is None or found[0] in values or found[0] in self._context.used:
            return None
        if self._passage.numerals(at).is_weak_zero(found[1]):
            return None  # "five to eight, one oh two"
        if self._text(at) == "," and found[0] < values[-1]:
            return None
        if after == at and (not many or ranged or found[0] != values[-1] + 1):
            return None
        if not many and self._passage.numerals(found[1]).starts_number(found[1]):
            return None
        values.append(found[0])
        return found[1]

    def _next_position(self, at: int, numbers: set[int]) -> tuple[int, int] | None:
        for value, last in self._prefixes(at):
            if value not in numbers:
                continue
            if not self._is_value(last, at) or self._point_splits(at, last, self._listing):
                return value, last
        return None

    # --- sides and lists that go on ----------------------------------------------------

    def _side(self, at: int) -> Found | None:
        """A position that is a word of its own: "left", "inboard right"; a letter inside a
        list ("B forty three")."""
        for words, last in self._walk(at, self._longest_phrase):
            groups = self._phrases.get(words)
            if groups is None or words[0].isdigit() or self._text(at - 1) in _AFTER_AS:
                continue
            groups = self._spelt_so(groups, words, at)
            short = len(words) == 1 and len(words[0]) < 2
            if short:
                here = tuple(g for g in self._groups_here(at) if g in groups)
                listed = self._context.running(at) or self._context.heard
                if not here or not listed:
                    continue
                followed = self._value_follows(last) or self._text(last) in _VERDICTS
                if not followed and len(self._row(here[0].phrases[words], last, here)[0]) < 2:
                    continue
                groups = here
            groups = self._in_step(groups, at)
            word = self._strong_word(last)
            end = word[1] if word is not None and not word[0].many else last
            doubts: tuple[str, ...] = ()
            if short and self._glued_figures(last):
                doubts += ("fused_position",)
            if self._by_a_figure(at, last, groups):
                doubts += ("homophone_position",)
            position = groups[0].phrases[words]
            named, end = self._row(position, end, groups)
            told = {"group"} if len(named) > 1 else set()
            mentions = self._mentions(at, end, named, groups, told, doubts)
            if short:
                self._enter(groups, (), end)
                return mentions, self._skip_value(end)
            return mentions, end
        return None

    def _spelt_so(
        self, groups: tuple[PositionGroup, ...], words: tuple[str, ...], at: int
    ) -> tuple[PositionGroup, ...]:
        """Those of `groups` that mean one position by `words`: of the field spoken of, else
        those that spell it just so ("top" is "top" before it is "upper")."""
        spoken = self._groups_here(at)
        groups = tuple(group for group in groups if group in spoken) or groups
        exact = tuple(g for g in groups if " ".join(words) == g.phrases[words].casefold())
        groups = exact or groups
        return tuple(g for g in groups if g.phrases[words] == groups[0].phrases[words])

    def _row(
        self, position: str, last: int, groups: Sequence[PositionGroup]
    ) -> tuple[tuple[str, ...], int]:
        """`position` and those named with it: "upper and lower", "P T and A"."""
        named = [position]
        while True:
            after = last
            while self._text(after) in (",", "and", "&"):
                after += 1
            found = self._phrase(after, groups) if after > last or len(position) == 1 else None
            if found is None or found[3] or found[0] in named:
                return tuple(named), last
            if self._value_follows(found[1]) and self._text(found[1] - 1) != "and":
                before_value = self._text(last) in ("and", "&")
                if not before_value:
                    return tuple(named), last
            named.append(found[0])
            last = found[1]

    def _continued(self, at: int) -> Found | None:
        """The next position of a running list: "bolt one ninety eight, two ninety nine"."""
        context = self._context
        if not context.running(at) and not self._begin_heard(at):
            return None
        if at != context.resume and self._text(at - 1) not in _BREAKS:
            return None
        start = at + 1 if self._text(at) in ("at", "on") else at
        if self._text(at - 1) == "and" and self._passage.numerals(at).fraction(at) is not None:
            return None  # "twenty three and three quarters"
        numbers = {value for group in context.groups for value in group.numbers}
        if start < len(self._atoms) and self._dotted(start):
            return self._continued_decimal(start, numbers)
        for value, last in self._prefixes(start):
            if value not in numbers or not context.expects(value, at):
                continue
            if not self._is_value(last, start):
                return self._goes_on(start, value, last, numbers)
        return None

    def _begin_heard(self, at: int) -> bool:
        """Begin a list behind the name of a field: "blade angles, one is eleven point one"."""
        context = self._context
        if not context.heard or at - context.heard_at > _OPENING or not context.heard[0].order:
            return False
        if not any(value == context.heard[0].order[0] for value, _ in self._prefixes(at)):
            return False
        context.groups, context.used, context.last = context.heard, set(), None
        context.at = at
        return True

    def _goes_on(self, start: int, value: int, last: int, numbers: set[int]) -> Found | None:
        self._listing = self._context.groups
        values = [value]
        end = self._more(values, last, numbers, many=True)
        link = self._past_links(end)
        verb = self._text(end) in _VERBS or (self._text(end), self._text(end + 1)) == (
            "the",
            "same",
        )
        if not self._value_follows(end) and not verb and self._contracted(end - 1) is None:
            return None
        groups = self._context.groups
        if link == end and len(values) == 1:
            numerals = self._passage.numerals(start)
            if numerals.is_weak_zero(end):
                return None
            if self._whole_is_meant(start, end, groups, numerals):
                return None
        told = {"continued"} | ({"group"} if len(values) > 1 else set())
        named = tuple(groups[0].numbers[v] for v in values if v in groups[0].numbers)
        mentions = self._mentions(start, end, named, groups, told, ())
        self._enter(groups, values, end)
        if len(values) == 1 and link == end:
            self._check_value(start, end, groups)
        return mentions, self._skip_value(end)

    def _continued_decimal(self, at: int, numbers: set[int]) -> Found | None:
        """ "6.85" and "6.185" for "six, eighty five" and "six was eighty five"."""
        head, tail = int(self._text(at)[:9]), self._text(at + 2)
        groups = self._context.groups
        if head not in numbers or not self._context.expects(head, at):
            return None
        split = self._fused_decimal(at, groups, numbers)
        if split is None:
            others = [Decimal(tail[:9])]
            if len(tail) > 1 and tail[0] == "1" and tail[1] != "0":
                others.insert(0, Decimal(tail[1:9]))
            self._passage.doubted[self._atoms[at].start] = ("fused_position", tuple(others))
            return None
        named = (groups[0].numbers[head],)
        mentions = self._mentions(at, at + 1, named, groups, {"continued"}, ("fused_position",))
        self._enter(groups, (head,), at + 1)
        return mentions, self._skip_value(at + 2)

    def _bare_range(self, at: int) -> Found | None:
        """ "one to eight, one hundred newton metres" where only one group can be meant."""
        groups = self._numeric_here(at)
        if not groups or (at and self._text(at - 1) in ("from", "between")):
            return None
        self._listing = groups
        numbers = set(groups[0].numbers)
        head = self._next_position(at, numbers)
        if head is None or self._text(head[1]) not in _TO:
            return None
        values = [head[0]]
        last = self._to(values, head[1], numbers)
        if last is None or len(values) < 2 or not self._value_follows(last):
            return None
        if set(values) != numbers and not self._context.running(at):
            return None
        named = tuple(groups[0].numbers[value] for value in values)
        mentions = self._mentions(at, last, named, groups, {"group", "continued"}, ())
        self._enter(groups, values, last)
        return mentions, self._skip_value(last)

    def _behind_value(self, at: int) -> Found | None:
        """ "forty five foot pounds on one and three, forty four on two"."""
        if at == 0 or self._text(at) not in ("on", "for"):
            return None
        context = self._context
        running = context.running(at)
        heard = context.heard if at - context.heard_at <= _REACH else ()
        groups = tuple(g for g in (context.groups if running else heard) if g.numbers)
        if not groups and not self._value_ends(at):
            return None
        groups = groups or self._numeric_here(at)
        start = self._number_sign(at + 1)
        phrase = self._phrase(start, self._groups_here(at))
        if phrase is not None and not phrase[3] and self._text(phrase[1]) in (*_BREAKS, ""):
            named, last = self._row(phrase[0], phrase[1], phrase[2])
            return self._mentions(start, last, named, phrase[2], {"continued"}, ()), last
        if not groups:
            return None
        self._listing = groups
        numbers = set(groups[0].numbers)
        head = self._next_position(start, numbers)
        if head is None:
            return None
        values = [head[0]]
        last = self._more(values, head[1], numbers, many=True)
        if self._free(last) and self._text(last) not in _BREAKS:
            return None
        named = tuple(groups[0].numbers[value] for value in values)
        told = {"continued"} | ({"group"} if len(values) > 1 else set())
        mentions = self._mentions(start, last, named, groups, told, ())
        context.at = last
        return mentions, last

    def _value_ends(self, at: int) -> bool:
        """Whether a number, perhaps with its unit, ends right before `at`."""
        for first in range(max(0, at - _NUMBER_REACH), at):
            if self._free(first):
                number = self._passage.numerals(first).number(first)
                if number is not None:
                    unit = unit_words.find(self._atoms, number.last, at)
                    if at in (number.last, number.last if unit is None else unit[1]):
                        return True
        return False

    # --- book-keeping ---------------------------------------------------------------

    def _enter(self, groups: Sequence[PositionGroup], values: Sequence[int], at: int) -> None:
        context = self._context
        new = not context.groups or context.groups[0] is not groups[0]
        if new or set(values) & context.used:
            context.used = set()
            context.last = None
        context.groups = tuple(groups)
        context.used |= set(values)
        context.at = at
        if values:
            context.last = values[-1]

    def _skip_value(self, at: int) -> int:
        """Index behind the value that follows at `at`, so that its figures are left whole."""
        link = self._past_links(at)
        if not self._free(link):
            return at
        numerals = self._passage.numerals(link)
        number = numerals.number(link)
        if number is None:
            return at
        last = number.last
        if self._reference(last) is not None:
            reference = numerals.number(last + 1)
            last = last if reference is None else reference.last
        unit = unit_words.find(self._atoms, last, self._passage.barrier(last))
        last = last if unit is None else unit[1]
        self._context.resume = last
        self._context.at = last
        return last

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
        self._said |= set(named)
        words = {f"of:{group.word}" for group in groups if group.word}
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


STAGE = positions
