"""Lists that go on: a place without its word, before its value or behind it."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.phonetics import alike
from voicelog.reading.corrected import Corrected
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.places import LINKS
from voicelog.reading.position_rows import TO
from voicelog.reading.running_list import BREAKS, REACH, SAME
from voicelog.reading.talk import talk
from voicelog.reading.words import word_key

if TYPE_CHECKING:
    from voicelog.reading.position_words import PositionGroup
    from voicelog.reading.running_list import Found

_MUCH_ALIKE = 0.85
"""Least likeness (Jaro-Winkler) of a position word and what was written for it."""
_OPENING = 6
"""Atoms behind the name of a field within which its list may begin."""
_VERBS = LINKS - {"=", ":", "to", "now", "just", "still"}

_EXCEPT = frozenset({"except", "excepting", "excluding", "bar"})
MAY_EXCEPT = frozenset({"but", "accept", "expect"})
""" "But" does many things, and a recogniser writes "accept" for "except"."""
_EXCEPT_PAIRS = frozenset({("apart", "from"), ("other", "than"), ("aside", "from")})
_OF_ALL = frozenset({"all", "both", "each", "every", "everywhere", "throughout"})
"""Words that these except from."""
_LONGEST_PLACE = 4
"""Atoms of a place that is a number."""
_LOOK_BACK = 14
"""Atoms before them among which those stand."""
_DONE = frozenset({"did", "done", "finished"})
"""Words before places that are told of together: "did two, four and six, those took ..."."""
_TELLING = frozenset({"is", "was", "reads", "read"})
_SECOND = frozenset((two, verb) for two in ("two", "2") for verb in _TELLING)
_UNDONE = frozenset({"i'll", "we'll", "i'm", "not", "haven't", "next", "later", "tomorrow", "will"})
"""Words behind places that are still to be done."""


class Continued(Corrected):
    """Reads the places of a running list, and those behind their values."""

    def _continued(self, at: int) -> Found | None:
        """The next position of a running list: "bolt one ninety eight, two ninety nine"."""
        context = self._context
        if self._text(at - 1) == "and" and self._text(at - 2) in ("hundred", "thousand"):
            return None
        if not context.running(at):
            known = context.groups, context.used, context.last, context.at
            begun = self._begin_heard(at) or self._begin_excepted(at) or self._begin_told(at)
            begun = begun or self._begin_measured(at)
            found = self._next_of(at) if begun else None
            if found is None:
                context.groups, context.used, context.last, context.at = known
            return found
        return self._next_of(at)

    def _next_of(self, at: int) -> Found | None:
        """The next position of the list that is running."""
        context = self._context
        corrected = self._corrects(at)
        if corrected is not None:
            return self._told_again(at, *corrected)
        excepted = self._is_excepted(at)
        done = self._text(at - 1) in _DONE
        begins = at in (0, context.resume) or self._text(at - 1) in BREAKS or done
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
            again = value == context.last and at == context.at + 1  # "except six, six is ..."
            again = again or self._pair_returns(value, last) or self._only_as_place(start, last)
            if not (self._others_told(start) or excepted or listed or again):
                continue
            split = self._point_splits(start, last, context.groups)
            if split or not self._is_value(last, start):
                return self._goes_on(start, value, last, numbers)
        return None

    def _others_told(self, at: int) -> bool:
        """Whether places that were not named yet are told of together at `at`, where a state was
        told of the ones before: "pulley three is seized, one two and four run free"."""
        context = self._context
        words = self._passage.words[context.at : at]
        if at == context.at or any(words):
            return False
        listed = self._numbers_at(at, context.groups)
        if listed is None or len(listed[0]) < 2 or not context.used.isdisjoint(listed[0]):
            return False
        if self._are_so(listed[1]):
            self._told = at
        return self._told == at

    def _are_so(self, at: int) -> bool:
        """Whether a state stands at `at`, or behind the verb there: "run free"."""
        verb = self._text(at) not in (*BREAKS, "") and self._passage.words[at] is None
        return self._state_behind(at) or (verb and self._state_follows(at + 1))

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

    def _is_put_under(self, at: int) -> bool:
        """Whether a thing that was counted was put somewhere: "put one shim under three"."""
        if self._text(at) not in ("under", "behind", "beneath") or at < 2:
            return False
        words = self._passage.words[max(0, at - 3) : at]  # a number and one or two words
        counted = words[-1] is None and any(word is not None for word in words)
        return counted and not self._value_ends(at) and self._context.running(at)

    def _only_as_place(self, at: int, last: int) -> bool:
        """Whether the figures at `at`, behind a pause, can be no value unless the first is a place:
        "soft foot one nought point nought two, four nought point nought seven"."""
        if self._text(at - 1) != ",":
            return False
        whole, rest = (self._passage.numerals(each).number(each) for each in (at, last))
        if whole is None or rest is None or whole.last != rest.last or whole.last <= last:
            return False
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

    def _is_excepted(self, at: int) -> bool:
        """Whether an exception from a group is named: "..., except five which is ninety six"."""
        at -= self._text(at - 1) in ("for", "on", "at", "not")
        before = self._text(at - 1)
        if before in _EXCEPT or (self._text(at - 2), before) in _EXCEPT_PAIRS:
            return True
        since = max(0, at - _LOOK_BACK)
        if before not in MAY_EXCEPT or self._text(at - 2) in ("i", "we"):
            return False
        return not _OF_ALL.isdisjoint(self._texts[since:at])

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

    def _begin_told(self, at: int) -> bool:
        """Begin a list at the head of a sentence that tells how several places of the field spoken
        of are: "I haven't tried the gong on three. One and two rang all right."."""
        context = self._context
        heard = context.heard if at - context.heard_at <= REACH else ()
        if at and self._text(at - 1) not in (".", ";"):
            if self._text(at - 1) != "," or not self._are_told(at):
                return False
            heard = tuple(group for group in self._recent or heard if group.numbers)
        heard = heard or self._numeric_here(at)
        if not heard or not heard[0].order:
            return False
        listed = self._numbers_at(at, heard)
        if listed is None or len(listed[0]) < 2 or not self._state_follows(listed[1]):
            return False
        context.groups, context.used, context.last, context.at = heard, set(), None, at
        self._told = at
        return True

    def _begin_measured(self, at: int) -> bool:
        """Begin a list at the head of a clause with a bare number of which a measure is told, where
        the step has but one row of places: "four is 68 over 80, five is ..."."""
        if at and self._text(at - 1) not in BREAKS:
            return False
        groups = self._numeric_here(at)
        figure = next(self._prefixes(at), None)
        if not groups or figure is None or figure[0] not in groups[0].numbers:
            return False
        value, verb = figure
        number = self._passage.numerals(verb + 1).number(verb + 1) if verb else None
        if self._text(verb) not in _TELLING or number is None or not self._is_value(number.last):
            return False
        if value == 1 and not any(pair in self._pairs_behind(verb) for pair in _SECOND):
            return False  # "one is two millimetres proud": which of them
        context = self._context
        context.groups, context.used, context.last, context.at = groups, set(), None, at
        self._told = at
        return True

    def _pairs_behind(self, at: int) -> set[tuple[str, str]]:
        return set(pairwise(self._texts[at : at + _LOOK_BACK]))

    def _are_told(self, at: int) -> bool:
        """Whether a plural verb stands behind figures at `at`: "one two and four are clean"."""
        last = at
        while self._free(last) and (
            self._passage.words[last] is not None or self._text(last) in ("and", ",", "to")
        ):
            last += 1
        return self._text(last) in ("are", "were")

    def _numbers_at(
        self, at: int, groups: tuple[PositionGroup, ...]
    ) -> tuple[list[int], int] | None:
        """The places of `groups` that are listed by number from `at` on, and the index behind."""
        self._listing = groups
        numbers = set(groups[0].numbers)
        head = self._next_position(at, numbers)
        if head is None:
            return None
        values = [head[0]]
        bare = self._bare_row(*head, numbers)
        return bare or (values, self._more(values, head[1], numbers, many=True))

    def _begin_excepted(self, at: int) -> bool:
        """Begin a list at an exception from a group that was named as a whole: "all wheels
        except four"."""
        context = self._context
        heard = context.heard if at - context.heard_at <= REACH else ()
        groups = tuple(group for group in self._recent or heard if group.numbers)
        if not groups or not self._is_excepted(at):
            return False
        context.groups, context.used, context.last, context.at = groups, set(), None, at
        return True

    def _goes_on(self, start: int, value: int, last: int, numbers: set[int]) -> Found | None:
        self._listing = self._context.groups
        if self._is_excepted(start):
            self._context.used = set()  # what was said of all is not said of these
        bare = self._bare_row(value, last, numbers)
        values, end = bare if bare is not None else ([value], last)
        if bare is None and not self._is_whole(last, numbers):
            end = self._more(values, last, numbers, many=True)
        link = self._past_links(end)
        verb = self._text(end) in _VERBS | _UNDONE or self._is_same(end)
        stated = verb or self._contracted(end - 1) is not None or self._value_follows(end)
        stated = stated or self._state_goes_on(start, end)
        stated = stated or (self._text(start - 1) in _DONE and len(values) > 1)
        excepted = self._is_excepted(start) or self._text(start - 1) in SAME  # "ditto five"
        excepted = excepted and self._text(end) in (*BREAKS, "")
        if not stated and not excepted:
            return None
        groups = self._context.groups
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
        return mentions, self._skip_value(end)

    def _state_goes_on(self, start: int, end: int) -> bool:
        """ "One and two tight, three loose": behind a place of which a state was told, and no
        number, a figure with a state is the next place, unless the card counts what is so."""
        words = self._passage.words[self._context.at : start]
        told = (bool(words) and not any(words)) or start == self._told
        if not told or not (self._state_behind(end) or (start == self._told and self._are_so(end))):
            return False
        counted = lexicon_of(self._cues.card).counted
        return not any(self._text(end) in name.split() for name in counted)

    def _is_same(self, at: int) -> bool:
        """Whether "the same", "same again", "ditto" stand at `at`."""
        return self._text(at + (self._text(at) in ("the", "all"))) in SAME

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

    def _bare_range(self, at: int) -> Found | None:
        """ "one to eight, one hundred newton metres" where only one group can be meant."""
        if TO.isdisjoint(self._texts[at + 1 : at + _LONGEST_PLACE + 1]):
            return None
        if not any(self._text(last) in TO for _, last in self._prefixes(at)):
            return None
        groups = self._numeric_here(at)
        if not groups or (at and self._text(at - 1) in ("from", "between")):
            return None
        self._listing = groups
        numbers = set(groups[0].numbers)
        head = self._next_position(at, numbers)
        if head is None or self._text(head[1]) not in TO:
            return None
        values = [head[0]]
        last = self._to(values, head[1], numbers)
        if last is None or len(values) < 2 or not self._value_follows(last):
            return None
        heard = self._is_heard(at - 1, groups[0].word)
        if set(values) != numbers and not heard and not self._context.running(at):
            return None
        named = tuple(groups[0].numbers[value] for value in values)
        doubts = ("misheard_term",) if heard else ()
        mentions = self._mentions(at, last, named, groups, {"group", "continued"}, doubts)
        self._enter(groups, values, last)
        return mentions, self._skip_value(last)

    def _is_heard(self, at: int, word: str) -> bool:
        """Whether a word that means nothing, before a row of places, is much like their own:
        "boles 1 to 6"."""
        text = self._text(at) if at >= 0 else ""
        if len(text) < _LONGEST_PLACE or text in talk().everyday.ordinary | talk().everyday.plain:
            return False
        known = word_key(text) in lexicon_of(self._cues.card).exact
        return not known and alike(text, f"{word}s") >= _MUCH_ALIKE

    def _behind_value(self, at: int) -> Found | None:
        """ "forty five foot pounds on one and three, forty four on two"."""
        under = self._is_put_under(at)
        if at == 0 or (self._text(at) not in ("on", "for", "into", "in") and not under):
            return None
        if self._text(at) == "in" and not self._value_ends(at):
            return None
        context = self._context
        running = context.running(at)
        heard = context.heard if at - context.heard_at <= REACH else ()
        groups = tuple(g for g in (context.groups if running else heard) if g.numbers)
        if not groups and not self._value_ends(at):
            return None
        groups = groups or self._numeric_here(at)
        start = self._number_sign(at + 2 if self._text(at + 1) == "," else at + 1)
        phrase = self._phrase(start, self._groups_here(at))
        if phrase is not None and not phrase[3] and self._text(phrase[1]) in (*BREAKS, ""):
            named, last = self._row(phrase[0], start, phrase[1], phrase[2])
            return self._mentions(start, last, named, phrase[2], {"continued"}, ()), last
        if not groups:
            return None
        if context.heard_at > context.at:
            context.used = set()  # another field was named since the last of these places
        listed = self._numbers_at(start, groups)
        if listed is None:
            return None
        values, last = listed
        goes_on = self._next_is_told(last, set(groups[0].numbers) - set(values))
        told = goes_on or self._state_follows(last)
        if self._free(last) and self._text(last) not in BREAKS and not (told or under):
            return None
        named = tuple(groups[0].numbers[value] for value in values)
        qualifiers = {"continued"} | ({"group"} if len(values) > 1 else set())
        mentions = self._mentions(start, last, named, groups, qualifiers, ())
        context.at = last
        if told or not (running or self._value_ends(at)):  # "intact on one and two; three is ..."
            self._enter(groups, values, last)
        if goes_on:
            context.resume = self._told = last + (self._text(last) in (",", ";"))
        return mentions, last
