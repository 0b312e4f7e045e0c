"""Begun lists: where a list of places begins without their word.

Behind the name of its field, at what is told of several places or measured of one, at an
exception from all of them, and at a range where only one group can be meant.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.phonetics import alike
from voicelog.reading import unit_words
from voicelog.reading.corrected import Corrected
from voicelog.reading.fused import EXCEPT_PAIRS
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.position_rows import TO
from voicelog.reading.running_list import BREAKS, REACH, STOPS
from voicelog.reading.talk import talk
from voicelog.reading.trade import conditions
from voicelog.reading.words import is_plural, word_key

if TYPE_CHECKING:
    from voicelog.reading.position_words import PositionGroup
    from voicelog.reading.running_list import Found

_MUCH_ALIKE = 0.85
"""Least likeness (Jaro-Winkler) of a position word and what was written for it."""
_OPENING = 6
"""Atoms behind the name of a field within which its list may begin."""
_ONE_TOLD, _HEADING = 4, 18
"""Atoms between a name at the head of a sentence and a colon that opens its list."""
_LONGEST_PLACE = 4
"""Atoms of a place that is a number."""
MAY_EXCEPT = frozenset({"but", "accept", "expect"})
""" "But" does many things, and a recogniser writes "accept" for "except"."""
ONLY = frozenset({"just", "only"})
_OF_ALL = frozenset({"all", "both", "each", "every", "everywhere", "throughout"})
"""Words that these except from."""
_LOOK_BACK = 14
"""Atoms before them among which those stand."""
_NAME = 4
"""Words of a name at the head of a sentence, at most."""
_A_PAIR = 2
"""Two sentences that begin so may count what there is to say."""
_TOLD = 6
"""Atoms of what is told of a place before its number."""
_WHO_DID = frozenset({"", "and", "have", "i", "i've", "just", "then", "we", "we've"})
_HAVE = frozenset({"have", "had", "read", "took", "got"})
TELLING = frozenset({"is", "was", "reads", "read"})


class BegunLists(Corrected):
    """Begins a list where none is running."""

    def _begin_heard(self, at: int) -> bool:
        """Begin a list behind the name of a field: "blade angles, one is eleven point one"."""
        context = self._context
        groups = context.heard if at - context.heard_at <= _OPENING else ()
        groups = self._heading(at) or groups
        if not groups or not groups[0].order:
            return False
        if not any(value == groups[0].order[0] for value, _ in self._prefixes(at)):
            return False
        context.heard = groups
        context.groups, context.used, context.last = groups, set(), None
        context.at = at
        if self._told_one_by_one(at) or self._told_together(at, context.heard):
            self._told = at
        return True

    def _heading(self, at: int) -> tuple[PositionGroup, ...]:
        """The groups of the field at the head of the sentence, where a colon opens the list: "wheel
        nuts off and on again for the tyre change: one ..."."""
        context = self._context
        since = self._texts[context.headed_at + 1 : at - 1] if context.headed_at >= 0 else [":"]
        alone = len(since) <= _HEADING and {".", ";", ":"}.isdisjoint(since)
        return context.headed if alone and self._text(at - 1) == ":" else ()

    def _told_one_by_one(self, at: int) -> bool:
        """Whether each place from the first on has a state of its own, where the figures can be no
        counts, which would be too many: "bushes: one good, two good, three broken" of four."""
        order, last, told = self._context.heard[0].order, at, 0
        for number in order:
            figure = next(self._prefixes(last), None)
            if figure is None or figure[0] != number or not self._state_behind(figure[1]):
                break
            told += number
            last = figure[1]
            while self._text(last) not in (*BREAKS, ""):
                last += 1
            last += self._text(last) in (",", ";", "and")
        return told > len(order)

    def _begin_told(self, at: int) -> bool:
        """Begin a list at the head of a sentence that tells how several places of the field spoken
        of are: "I haven't tried the gong on three. One and two rang all right."."""
        context = self._context
        heard = context.heard if at - context.heard_at <= REACH else ()
        if at and self._text(at - 1) not in (".", ";"):
            if self._text(at - 1) != "," or not (self._are_told(at) or self._are_others(at)):
                return False
            heard = tuple(group for group in self._recent or heard if group.numbers)
        heard = heard or self._numeric_here(at)
        if not heard or not heard[0].order:
            return False
        if self._are_others(at):
            self._others_at = at
        elif not self._told_together(at, heard) and not self._one_and_rest(at, heard):
            return False
        context.groups, context.used, context.last, context.at = heard, set(), None, at
        self._told = at
        return True

    def _one_and_rest(self, at: int, groups: tuple[PositionGroup, ...]) -> bool:
        """Whether the state of one place is told at `at`, and then that of all others: "bells. Two
        bad, one, three and four good"."""
        figure = next(self._prefixes(at), None)
        if figure is None or not self._state_behind(figure[1]):
            return False
        rest = self._texts[figure[1] : figure[1] + _ONE_TOLD]
        others = figure[1] + rest.index(",") + 1 if "," in rest else 0
        listed = self._numbers_at(others, groups) if others else None
        if listed is None or sorted((figure[0], *listed[0])) != sorted(groups[0].order):
            return False
        return self._told_together(others, groups)

    def _begin_done(self, at: int) -> bool:
        """Begin a list behind what was done to several places by number, where the label has it:
        "locked one, two and four"."""
        verb, before = self._text(at - 1), self._text(at - 2)
        if not (verb.endswith("ed") and (before in BREAKS or before in _WHO_DID)):
            return False
        groups = tuple(g for g in self._groups_here(at) if g.numbers and self._wants(g, verb))
        listed = self._numbers_at(at, groups) if len(groups) == 1 else None
        if listed is None or len(listed[0]) < 2 or self._text(listed[1]) not in (*BREAKS, ""):
            return False
        if "or" in self._texts[at : listed[1]]:
            return False
        context = self._context
        context.groups, context.used, context.last, context.at = groups, set(), None, at
        self._told = self._done_to = at
        return True

    def _wants(self, group: PositionGroup, verb: str) -> bool:
        """Whether the label of just one check at these places has the word."""
        card = self._cues.card
        steps = (step for step in card.steps if step.number in group.steps) if card else ()
        fields = (field for step in steps for field in step.fields if field.type == "check")
        labels = [each.label.lower() for each in fields if each.positions == group.positions]
        return sum(verb in label.split() for label in labels) == 1

    def _told_together(self, at: int, groups: tuple[PositionGroup, ...]) -> bool:
        """Whether it is told at `at` how several places are: "one and two rang all right", but not
        "one or two are cracked", which are some of them."""
        listed = self._numbers_at(at, groups)
        if listed is None or len(listed[0]) < 2 or "or" in self._texts[at : listed[1]]:
            return False
        if self._are_so(listed[1]) or self._are_measured(listed[1]):
            return True
        if self._makes_up_row(*listed, groups):
            return True
        number = self._passage.numerals(at).number(at)
        return self._measured_at(listed[1]) and (number is None or number.last <= listed[1])

    def _measured_at(self, at: int) -> bool:
        """Whether a measure or a ratio stands at `at`, perhaps behind a verb of several: "one and
        three sixty bar", "one, two and three are seventy eight over eighty"."""
        at += self._text(at) in ("are", "were")
        number = self._passage.numerals(at).number(at) if self._free(at) else None
        return number is not None and self._is_value(number.last)

    def _are_measured(self, at: int) -> bool:
        """Whether a verb of several and a number with its unit stand at `at`: "one and two pull
        two point two amps each"."""
        verb = self._text(at)
        if not verb.isalpha() or is_plural(verb) or not self._number_at(at + 1):
            return False
        plain = verb in talk().everyday.plain and verb not in _HAVE
        known = plain or unit_words.find(self._atoms, at, at + 1) is not None
        number = self._passage.numerals(at + 1).number(at + 1)
        return not known and number is not None and self._is_value(number.last)

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
        coded = self._claims[verb + 1 : verb + 2] == ["identifiers"]
        measured = number is not None and self._is_value(number.last)
        if self._text(verb) not in TELLING or not (coded or measured):
            return False
        if value == 1 and not self._other_is_told(verb, set(groups[0].numbers)):
            return False  # "one is two millimetres proud": which of them
        context = self._context
        context.groups, context.used, context.last, context.at = groups, set(), None, at
        self._told = at
        return True

    def _begin_in_turn(self, at: int) -> bool:
        """Begin a list at the head of a sentence where each place in turn heads one of its own:
        "One, basket clean, six drips. Two, hair in it, eleven drips. Three, clean, four drips"."""
        groups = self._numeric_here(at)
        if not groups or len(groups[0].order) <= _A_PAIR:
            return False
        order = groups[0].order
        begin = self._sentence_start(at)
        named = 0 < at - begin <= _NAME and all(map(str.isalpha, self._texts[begin:at]))
        first = next((each for each in order if self._heads(at, each, named=named)), None)
        if first is None:
            return False
        heads = [at]
        for number in order[order.index(first) + 1 :]:
            ahead = range(heads[-1] + 1, len(self._atoms))
            head = next((each for each in ahead if self._heads(each, number)), None)
            if head is None:
                break
            heads.append(head)
        whole = len(heads) == len(order) and not named
        if not whole and not self._are_headed(heads, _A_PAIR if named else _A_PAIR + 1):
            return False
        self._take_turns(at, groups, heads)
        return True

    def _take_turns(self, at: int, groups: tuple[PositionGroup, ...], heads: list[int]) -> None:
        context = self._context
        context.groups, context.used, context.last, context.at = groups, set(), None, at
        self._told = context.resume = at
        self._in_turn = frozenset(heads)

    def _are_headed(self, heads: list[int], least: int) -> bool:
        """Whether each of some places, `least` of them, has its value right behind it: "1, 75/80.
        2, 74/80. 3, 76/80", "Leakage 4, 74/80. 5, 78/80"."""
        ends = (next(last for _, last in self._prefixes(at)) + 1 for at in heads)
        return len(heads) >= least and all(self._measured_at(end) for end in ends)

    def _heads(self, at: int, number: int, *, named: bool = False) -> bool:
        """Whether a place by its bare number, and a pause, head a sentence, or stand behind what
        is `named` there."""
        if at and not named and self._text(at - 1) not in STOPS:
            return False
        figures = (last for value, last in self._prefixes(at) if value == number)
        return any(self._text(last) in (",", ":") for last in figures)

    def _begin_behind(self, at: int) -> bool:
        """Begin a list at another place of which a number is told, where the places before it stood
        behind their values: "54 amps on one, 55 on two. Three pulls 66"."""
        context = self._context
        figure = next(self._prefixes(at), None)
        if not context.behind or at - context.behind_at > REACH or figure is None:
            return False
        value, last = figure
        known = value in context.behind[0].numbers and value not in context.behind_used
        if not known or not (self._is_measured(last) or self._is_told_of(last)):
            return False
        context.groups, context.last, context.at = context.behind, None, at
        context.used = set(context.behind_used)
        self._told = at
        return True

    def _is_told_of(self, last: int) -> bool:
        """Whether a verb of one thing and a number stand behind a figure that ends at `last`."""
        return self._is_alone(last) and self._text(last) != "has" and self._value_follows(last)

    def _is_measured(self, last: int) -> bool:
        """Whether what is told of one thing behind a figure that ends at `last` comes to a number:
        "five pulls 66", "four's gone soft, seven ninety"."""
        verb = self._text(last)
        if is_plural(verb) and self._free(last) and self._number_at(last + 1):
            known = word_key(verb) in lexicon_of(self._cues.card).exact
            return not known and unit_words.find(self._atoms, last, last + 1) is None
        if not self._is_alone(last):
            return False
        for at in range(last, last + _TOLD):
            if self._text(at) == ",":
                return at > last and self._number_at(at + 1)
            if self._text(at) in (".", ";", ":", "") or self._number_at(at):
                return False
        return False

    def _other_is_told(self, at: int, numbers: set[int]) -> bool:
        """Whether a value of another place is told soon behind `at`, in the same way."""
        for index in range(at, at + _LOOK_BACK):
            if self._text(index + 1) in TELLING:
                figure = next(self._prefixes(index), None)
                if figure is not None and figure[1] == index + 1 and figure[0] in numbers - {1}:
                    return True
        return False

    def _are_told(self, at: int) -> bool:
        """Whether a plural verb stands behind figures at `at`: "one two and four are clean"."""
        last = at
        while self._free(last) and (
            self._passage.words[last] is not None or self._text(last) in ("and", ",", "to")
        ):
            last += 1
        return self._text(last) in ("are", "were")

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

    def _begin_contrary(self, at: int) -> bool:
        """Begin a list at one place that `_is_contrary`."""
        context = self._context
        heard = context.heard if at - context.heard_at <= REACH else ()
        groups = tuple(group for group in self._recent or heard if group.numbers)
        if not groups or not self._is_contrary(at, groups):
            return False
        context.groups, context.used, context.last, context.at = groups, set(), None, at
        self._told = at
        return True

    def _is_contrary(self, at: int, groups: tuple[PositionGroup, ...]) -> bool:
        """Whether something is told of one place behind what was told of all: "hoses all good, only
        four is chafed". "One" may be any of them, and "only two missing" tells how many."""
        only = self._text(at - 1) in ONLY
        figure = next(self._prefixes(at), None)
        if self._text(at - 1 - only) not in BREAKS:
            return False
        if figure is None or figure[0] == 1 or figure[0] not in groups[0].numbers:
            return False
        so = self._is_alone(figure[1]) and (
            self._state_behind(figure[1]) or self._is_state(self._text(figure[1] + 1))
        )
        if only and (self._value_follows(figure[1]) or self._does_unknown(figure[1])):
            so = True  # "hoses all eight bar, only four six point five", "only four streaks"
        of_all = _OF_ALL.intersection(self._texts[max(0, at - _LOOK_BACK) : at])
        return so and bool(of_all)

    def _does_unknown(self, at: int) -> bool:
        """Whether a verb of one thing that nothing knows stands at `at`."""
        verb = self._text(at)
        if not is_plural(verb) or verb.endswith("ss") or not self._free(at):
            return False
        word = word_key(verb)
        known = word in lexicon_of(self._cues.card).exact or word in conditions()
        known = known or self._is_state(self._text(at + 1))  # "two screws missing"
        return not known and unit_words.find(self._atoms, at, at + 1) is None

    def _is_excepted(self, at: int) -> bool:
        """Whether an exception from a group is named: "..., except five which is ninety six"."""
        at -= self._text(at - 1) == "the"
        at -= self._text(at - 1) in ("for", "on", "at", "not")
        before = self._text(at - 1)
        if before in talk().everyday.excepting or (self._text(at - 2), before) in EXCEPT_PAIRS:
            return True
        since = max(0, at - _LOOK_BACK)
        if before not in MAY_EXCEPT or self._text(at - 2) in ("i", "we"):
            return False
        return not _OF_ALL.isdisjoint(self._texts[since:at])

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
        if last is None or len(values) < 2 or not self._values_follow(last, len(values)):
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
