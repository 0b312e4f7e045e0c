"""Lists that go on: the next place without its word, before its value."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.reading.begun_lists import ONLY, TELLING
from voicelog.reading.labels import WHERE
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.places import LINKS
from voicelog.reading.running_list import BREAKS, SAME
from voicelog.reading.turns import Turns

if TYPE_CHECKING:
    from voicelog.reading.running_list import Found

_ROW = 3
"""Places that stand in the order of the card by no chance."""
_VERBS = LINKS - {"=", ":", "to", "now", "just", "still"}
_WE = frozenset({"i", "we"})
_DONE = frozenset({"did", "done", "finished"})
"""Words before places that are told of together: "did two, four and six, those took ..."."""
_PARTS_OF_IT = frozenset({"corner", "edge", "end", "face", "flank", "side"})
_UNDONE = frozenset({"i'll", "we'll", "i'm", "not", "haven't", "next", "later", "tomorrow", "will"})
"""Words behind places that are still to be done."""
_OF_DAY = frozenset({"am", "clock", "o", "o'clock", "past", "pm"})
_PAIR = 8
"""Words back in which the value before, and its "at", stand."""


class Continued(Turns):
    """Reads the places of a running list."""

    def _continued(self, at: int) -> Found | None:
        """The next position of a running list: "bolt one ninety eight, two ninety nine"."""
        context = self._context
        if self._text(at - 1) == "and" and self._text(at - 2) in ("hundred", "thousand"):
            return None
        if not context.running(at):
            known = context.groups, context.used, context.last, context.at
            begun = self._begin_done(at) or self._begin_in_turn(at) or self._begin_measures(at)
            begun = begun or self._begin_heard(at)
            begun = begun or self._begin_excepted(at)
            begun = begun or self._begin_told(at)
            begun = begun or self._begin_measured(at) or self._begin_behind(at)
            begun = begun or self._begin_contrary(at) or self._begin_both(at)
            found = self._next_of(at) if begun else None
            if found is None and self._begin_turns(at):
                found = self._next_of(at)
            if found is None:
                context.groups, context.used, context.last, context.at = known
            return found
        return self._next_of(at)

    def _begin_both(self, at: int) -> bool:
        """Begin a list at two places of which one value is told, where the places before them
        stood behind theirs: "455 g pocket 1, 2 and 3 both 461"."""
        groups = tuple(group for group in self._recent if group.numbers)
        pair = self._both_at(at)
        if not groups or pair is None or not set(pair) <= set(groups[0].numbers):
            return False
        context = self._context
        context.groups, context.used, context.last, context.at = groups, set(), None, at
        return True

    def _next_of(self, at: int) -> Found | None:
        """The next position of the list that is running."""
        context = self._context
        corrected = self._corrects(at)
        if corrected is not None:
            return self._told_again(at, *corrected)
        excepted = self._is_excepted(at)
        done = self._text(at - 1) in _DONE or self._so_is(at) or at == self._done_to
        if self._in_decimal(at):
            return None
        pause = at - 1 - (self._text(at - 1) in ONLY)  # "all good, only four is chafed"
        begins = at in (0, context.resume) or self._text(pause) in BREAKS or done
        another = self._is_another_pair(at)
        begins = begins or another or self._is_row(at)
        if not begins and not excepted:
            return None
        start = at + 1 if self._text(at) in ("at", "on") else at
        if self._text(at - 1) == "and" and self._passage.numerals(at).fraction(at) is not None:
            return None  # "twenty three and three quarters"
        numbers = {value for group in context.groups for value in group.numbers}
        if start < len(self._atoms) and self._dotted(start):
            return self._continued_decimal(start, numbers)
        following = self._follower(start)
        fused = following and self._fused_end(start, following - 1, context.groups, {following})
        if fused:
            return self._goes_on(start, *fused, numbers)
        for value, last in self._prefixes(start):
            if value not in numbers:
                continue
            listed = context.expects(value, at) or context.returns(value, at) or at == self._told
            down = context.last is not None and value < context.last
            listed = listed and not (down and self._is_repair(at))
            listed = listed or start in self._in_turn
            again = value == context.last and at == context.at + 1  # "except six, six is ..."
            again = again and not context.filled and self._text(last) not in (*BREAKS, "")
            again = again or self._pair_returns(value, last) or self._only_as_place(start, last)
            again = again or self._has_own(at, value, last, numbers) or self._so_is(start)
            again = again or self._tells_one_by_one(value, last) or self._is_nil(last)
            again = again or self._is_contrary(at, context.groups)
            again = again or self._heads_piece(start, value, last) or another
            if not (self._others_told(start) or excepted or listed or again):
                continue
            split = self._point_splits(start, last, context.groups)
            if split or not self._is_value(last, start):
                return self._goes_on(start, value, last, numbers)
        return None

    def _is_another_pair(self, at: int) -> bool:
        """Whether a list of places, each with its value behind "at", goes on: "except four at two
        thirty and six at two eighteen". As many as are left may be the rest."""
        context, places = self._context, len(self._context.groups[0].positions)
        told = context.at == at - 1 and "at" in self._texts[max(0, at - _PAIR) : at]
        figure = next(self._prefixes(at), None) if told else None
        if figure is None or self._text(at - 1) not in ("and", ","):
            return False
        rest = places - len(context.used)
        known = figure[0] in context.used and rest > 1  # "all but four at ..." has used the others
        behind = self._texts[figure[1] + 1 : figure[1] + 4]  # "and three at four o'clock"
        told = self._text(figure[1]) == "at" and _OF_DAY.isdisjoint(behind)
        told = told and self._value_follows(figure[1])
        return told and not known and (rest < 2 or figure[0] != rest)

    def _is_row(self, at: int) -> bool:
        """Whether the first places of the card stand here in its order, each with a value, where
        no pause parts them from the name: "temperature after the run one fifty five, two fifty
        eight, three sixty one"."""
        order, last = self._context.groups[0].order[:_ROW], at
        if len(order) < _ROW or self._context.used:
            return False
        for place in order:
            figure = next((each for each in self._prefixes(last) if each[0] == place), None)
            if figure is None or not self._number_next(figure[1]):
                return False
            last = figure[1]
            while self._text(last) not in (*BREAKS, ""):
                last += 1
            last += 1
        return True

    def _in_decimal(self, at: int) -> bool:
        """Whether the figures at `at` are those behind a decimal sign: "two and 85.3 at one"."""
        signed = at > 1 and self._text(at - 1) == "." and self._text(at - 2).isdigit()
        return signed and self._atoms[at].glued and self._atoms[at - 1].glued

    def _others_told(self, at: int) -> bool:
        """Whether places that were not named yet are told of together at `at`, where a state was
        told of the ones before: "pulley three is seized, one two and four run free"."""
        context = self._context
        words = self._passage.words[context.at : at]
        apart = self._text(at - 1) in (".", ";")
        if at == context.at or (any(words) and not apart):
            return False
        listed = self._numbers_at(at, context.groups)
        if listed is None or not context.used.isdisjoint(listed[0]):
            return False
        if self._told_together(at, context.groups):
            self._told = at
        return self._told == at

    def _told_again(self, at: int, place: int, last: int) -> Found:
        """A place that the list goes back to, to correct its value."""
        context = self._context
        groups, used = context.groups, set(context.used)
        mentions = self._mentions(at, last, (groups[0].numbers[place],), groups, {"continued"}, ())
        self._enter(groups, (place,), last)
        context.used |= used
        self._go_back(place)
        return mentions, self._skip_value(last)

    def _follower(self, at: int) -> int:
        """The next place of the list in the order of the card, where several figures stand at `at`
        of which it is the first; 0 otherwise."""
        text, order = self._text(at), self._context.groups[0].order
        if not text.isdigit() or len(text) < 2:
            return 0
        expected = (n for n in order if self._context.expects(n, at))
        return next((n for n in expected if n and text.startswith(str(n))), 0)

    def _only_as_place(self, at: int, last: int) -> bool:
        """Whether the figures at `at`, behind a pause, can be no value unless the first is a place:
        "soft foot one nought point nought two, four nought point nought seven"."""
        if self._text(at - 1) != ",":
            return False
        whole, rest = (self._passage.numerals(each).number(each) for each in (at, last))
        if whole is None or rest is None or whole.last != rest.last or whole.last <= last:
            return False
        reference = self._reference(whole.last)
        if reference is not None:
            return whole.value > reference >= rest.value
        groups = self._context.groups
        return self._implausible(whole.value, groups) and self._plausible(rest.value, groups)

    def _is_of_last(self, at: int, end: int) -> bool:
        """Whether the figures at `at` are the value of the place before them, which has none yet:
        "number three's running hot, four eighty five"; it is asked about."""
        whole, rest = (self._passage.numerals(each).number(each) for each in (at, end))
        if whole is None or rest is None or whole.last != rest.last or whole.last <= end:
            return False
        if not self._plausible(whole.value, self._context.groups):
            return False
        self._passage.doubted[self._atoms[at].start] = ("ambiguous_number", (rest.value,))
        return True

    def _pair_returns(self, value: int, last: int) -> bool:
        """Whether two places that were passed over follow together: "number two ..., one and
        three both at ninety"."""
        context = self._context
        if value in context.used or self._text(last) not in ("and", "&"):
            return False
        other = next(self._prefixes(last + 1), None)
        if other is None or other[0] in context.used | {value}:
            return False
        known = {value, other[0]} <= set(context.groups[0].order)
        return known and self._text(other[1]) in _VERBS | {"both", "are", "were"}

    def _tells_one_by_one(self, value: int, last: int) -> bool:
        """Whether places that were named together, without a value, are told of one after the
        other: "new chucks on heads one and four. One is Q205, four is Q206"."""
        context = self._context
        named = value in context.used and len(context.used) > 1 and not context.filled
        if not named or self._text(last) not in TELLING or not self._value_follows(last):
            return False
        return value != 1 or self._other_is_told(last, context.used)

    def _has_own(self, at: int, value: int, last: int, numbers: set[int]) -> bool:
        """Whether a verb of one thing and a number stand behind a figure, which is then a place
        that was passed over: "35 psi on hose one, 34 on two, three's down at 27"; or a state, and
        behind a "one", which may be any of them, the next place: "one's clear, three is iced"."""
        if value in self._context.used:
            return False
        if self._is_told_of(last) or self._is_measured(last) or self._does_else(value, last):
            return True
        if self._other_is_so(at):
            return True
        if not self._is_alone(last) or self._text(last) == "has":
            return False
        told = self._state_goes_on(at, last)
        return told and (value != 1 or self._another_told(last, numbers - {1}))

    def _heads_piece(self, at: int, value: int, last: int) -> bool:
        """Whether a place that was not next heads what is said between two stops, with its value
        behind a pause: "one, 26 newton metres; three, 24"."""
        if value in self._context.used or not self._context.filled:
            return False
        before = self._text(at - 1 - (self._text(at - 1) in ("at", "on")))
        paused = before in (".", ";") and self._text(last) == ","
        return paused and self._number_at(last + 1)

    def _does_else(self, value: int, last: int) -> bool:
        """Whether a verb of one thing that nothing knows stands behind a figure, where states were
        told of other places: "one, two and four shut tight, three dribbles"."""
        context = self._context
        left = set(context.groups[0].numbers) - context.used
        if context.filled or not context.used or (value == 1 and left != {1}):
            return False
        if len(context.used) < 2 and left != {value}:
            return False
        unknown = value != 1 and len(context.used) > 1 and self._does_unknown(last)
        return unknown or self._did_something(last)

    def _goes_on(self, start: int, value: int, last: int, numbers: set[int]) -> Found | None:
        self._listing = self._context.groups
        if self._is_excepted(start):
            self._context.used = set()  # what was said of all is not said of these
        bare = self._bare_row(value, last, numbers)
        values, end = bare if bare is not None else ([value], last)
        if bare is None and not self._is_whole(last, numbers):
            end = self._more(values, last, numbers, many=True)
            if self._is_place_and_value(start, last, end):
                values, end = [value], last
        link, groups = self._past_links(end), self._context.groups
        verb = self._text(end) in _VERBS | _UNDONE or self._is_same(end)
        stated = verb or self._is_alone(end) or self._value_follows(end) or self._is_nil(end)
        stated = stated or self._state_goes_on(start, end) or self._is_measured(end)
        stated = stated or self._was_left(end) or self._does_else(value, end)
        stated = stated or self._is_our_work(end)
        stated = stated or self._last_does(value, end)
        stated = stated or (len(values) > 1 and self._are_measured(end))
        stated = stated or (
            len(values) > 1 and start == self._told and self._makes_up_row(values, end, groups)
        )
        stated = stated or (self._text(start - 1) in _DONE and len(values) > 1)
        stated = stated or start in self._in_turn or start in (self._done_to, self._others_at)
        excepted = self._is_excepted(start) or self._text(start - 1) in SAME  # "ditto five"
        excepted = (excepted or self._so_is(start)) and self._text(end) in (*BREAKS, "")
        if not stated and not excepted:
            return None
        if link == end and len(values) == 1:
            numerals = self._passage.numerals(start)
            if numerals.is_weak_zero(end):
                return None
            if self._whole_is_meant(start, end, groups, numerals):
                return None
            if not self._context.filled and self._is_of_last(start, end):
                return None
        told = {"continued"} | ({"group"} if len(values) > 1 else set())
        named = tuple(groups[0].numbers[v] for v in values if v in groups[0].numbers)
        doubts = ("homophone_position",) if start < self._heard_two < end else ()
        mentions = self._mentions(start, end, named, groups, told, doubts)
        self._enter(groups, values, end)
        if link == end:
            self._check_value(start if len(values) == 1 else end - 1, end, groups)
        after = self._past_same_as(end, numbers)
        if after > end:
            self._context.at = after
            return mentions, after
        return mentions, self._skip_value(end)

    def _past_same_as(self, at: int, numbers: set[int]) -> int:
        """Index behind a place whose value another one has: "four the same as three, five free"."""
        last = at + (self._text(at) == ",")
        last += self._text(last) in ("is", "was", "'s")
        last += self._text(last) == "the"
        if (self._text(last), self._text(last + 1)) != ("same", "as"):
            return at
        last += 2 + (self._text(last + 2) == "number")
        return next((end for value, end in self._prefixes(last) if value in numbers), at)

    def _is_place_and_value(self, start: int, last: int, end: int) -> bool:
        """Whether two figures are all that is said between two stops, with a pause between them:
        the place that ends at `last`, and its value ("two, five point five; three, five; four")."""
        before = self._text(start - 1 - (self._text(start - 1) in ("at", "on")))
        apart = before in (".", ";") and self._text(end) in (".", ";", "")
        return (
            apart
            and self._text(last) == ","
            and self._passage.numerals(last + 1).number(last + 1) is not None
            and end > last + 1
        )

    def _state_goes_on(self, start: int, end: int) -> bool:
        """ "One and two tight, three loose": behind a place of which a state was told, and no
        number, a figure with a state is the next place, unless the card counts what is so."""
        since = range(self._context.at, start)
        figures = any(
            self._passage.words[at] is not None and not self._is_a_part(at) for at in since
        )
        told = (bool(since) and not figures) or start == self._told
        so = self._state_behind(end) or (start == self._told and self._are_so(end))
        if not told or not (so or self._is_so_somewhere(start, end)):
            return False
        ends = self._text(end + 1) in (*BREAKS, "")
        if not ends and any(self._is_a_part(at) for at in since):
            return False  # "pitted on one side, two clean strokes with the stone"
        counted = lexicon_of(self._cues.card).counted
        return not any(self._text(end) in name.split() for name in counted)

    def _is_our_work(self, at: int) -> bool:
        """ "Six I reground", but not "two I clean next week"."""
        did, ends = self._text(at + 1), self._text(at + 2) in (*BREAKS, "")
        return self._text(at) in _WE and ends and self._is_state(did)

    def _is_a_part(self, at: int) -> bool:
        """Whether the "one" at `at` is one part of the place before it: "worn on one side"."""
        return self._text(at) == "one" and self._text(at + 1) in _PARTS_OF_IT

    def _is_so_somewhere(self, start: int, end: int) -> bool:
        """Whether the next place is told to be so at one of its ends: "3 loose at the bracket"."""
        figure = next(self._prefixes(start), None)
        listed = figure is not None and self._context.expects(figure[0], start)
        return listed and self._is_state(self._text(end)) and self._text(end + 1) in WHERE

    def _is_whole(self, at: int, numbers: set[int]) -> bool:
        """Whether the figure at `at` begins the value of the place before it: "three four ten" is
        410 at three, in a list of such values."""
        figure = next(self._prefixes(at), None)
        if figure is None or figure[0] not in numbers or not self._free(figure[1]):
            return False
        numerals = self._passage.numerals(at)
        whole, rest = numerals.number(at), numerals.number(figure[1])
        joined = whole is not None and rest is not None and whole.last == rest.last > figure[1]
        return joined and whole is not None and self._plausible(whole.value, self._listing)

    def _continued_decimal(self, at: int, numbers: set[int]) -> Found | None:
        """ "6.85" and "6.185" for "six, eighty five" and "six was eighty five"."""
        head, tail = int(self._text(at)[:9]), self._text(at + 2)
        groups = self._context.groups
        if head not in numbers or not self._context.expects(head, at):
            return None
        if self._dotted(at + 2):
            split = self._fused_thrice(at, numbers)
        else:
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
