"""Groups of positions named as a whole: "all eight", "both wheels", "the other three"."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.reading.fused import CLAIM as NAME
from voicelog.reading.heard_groups import HeardGroups
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.one_side import ONES, TWO
from voicelog.reading.position_rows import TO
from voicelog.reading.running_list import BREAKS, REACH
from voicelog.reading.spoken import spoken
from voicelog.reading.talk import talk
from voicelog.reading.words import is_plural, phrase_key

if TYPE_CHECKING:
    from voicelog.reading.position_words import PositionGroup
    from voicelog.reading.running_list import Found

_EACH = frozenset({"both", "each"})
_AT = frozenset({"at", "in", "on"})
_TOGETHER = frozenset({"all", "both", "each", "every", "rest", "others", "remaining"})
_COMPARED = frozenset({"like", "than", "unlike"})
_REST = frozenset({"rest", "others", "remaining"})
_OUT_OF = frozenset({"any", "either", "neither", "none"})
_WE = frozenset({"we", "us"})
_ONE_OF_US = frozenset({"he", "her", "him", "i", "me", "myself", "she"})
_THESE = frozenset({"my", "our", "the", "these", "those"})
_WERE = frozenset({"are", "at", "had", "have", "took", "were"})
_SITS = frozenset({"comes", "is", "reads", "sits", "stands"})
_ONES = frozenset({"once", "one's"})
"""As "ones" sounds: "the even once at 630"."""
_JOINING = frozenset({",", "and", "&", *TO})


Told = tuple[tuple["PositionGroup", ...], int]
"""Groups of places, and the index behind the words for them."""


class Groups(HeardGroups):
    """Reads the places that are named together without naming each."""

    def _whole_group(self, at: int) -> Found | None:
        """ "all eight", "all outer ring bolts", "both wheels", "the rest", "the other three"."""
        text = self._text(at)
        if text in _TOGETHER and self._is_no_group(at):
            return None
        if text in ("both", "all", "i'll") or self._may_be_sided(at):
            side = self._all_by_ear(at) or self._of_one_side(at)
            if side is not None or text == "i'll":
                return side
        if text == "everywhere" and self._text(at + 1) == "else":
            return self._everywhere_else(at)
        left_out = self._leaves_out(at)
        if left_out is not None:
            return self._all_but(at, left_out)
        if text == "everything":
            return self._everything(at)
        if text == "the" and self._text(at + 1) == "pair":
            return self._the_pair(at)
        everyone = self._everyone(at)
        if everyone is not None:
            return self._all_of_them(at, *everyone)
        if text in ("odd", "even", "odds", "evens"):
            return self._every_second(at)
        if text == "other" and self._text(at - 1) != "all":
            return self._others(at)
        if text not in _TOGETHER or self._ends_name(at) or self._are_people(at):
            return None
        after = at + 1 + 2 * (text in _REST and self._is_of_them(at + 1))
        if self._is_of_them(after):
            two = self._those_two(at, after + 2) if text == "both" else None
            return two or self._all_of_them(at, after + 2)
        if text == "all" and self._text(after) in ("round", "around"):
            return self._all_of_them(at, after + 1)
        if self._text(after) in ("the", "of", "other", "single"):
            after += 1
            after += (self._text(after - 1), self._text(after)) == ("of", "the")
        beginning = self._all_beginning(at, after) if text in ("both", "all") else None
        if beginning is not None:
            return beginning
        counted = self._counted(after) if text in ("all", "remaining") else None
        if counted is not None:
            if self._is_counted(counted[1]):
                return None  # "all four rig pins drawn": how many there are
            after = counted[1]
        else_ = text == "rest" and self._text(after - 1) == "the" and self._counted(after)
        after = else_[1] if else_ else after  # "the rest of the eight"
        rest = text in _REST or self._text(at + 1) == "other"
        things = rest or (text, self._text(at + 1)) == ("all", "the")
        word = self._word_ahead(after) or self._things_ahead(after, counted=things)
        word = word if counted is None else self._so_many(after, counted[0], word)
        if word is not None:
            groups, after = word
        elif counted is not None or text == "both":
            groups = self._of_noun(at, after, 2 if counted is None else counted[0])
        elif text in ("rest", "others"):
            groups = self._recent or self._context.groups
        else:
            return None
        size = 2 if text == "both" else None if counted is None else counted[0]
        for group in groups:
            members = self._unsaid(group) if rest else group.positions
            if members and (size is None or size == len(members)):
                same = tuple(other for other in groups if other.positions == group.positions)
                found, end = self._told_apart(at, after, members, same)
                lost = rest and self._one_is_lost(at)
                if lost or (
                    text == "all" and counted is None and self._is_single(after - 1, group)
                ):
                    found = [replace(each, doubts=("ambiguous_place",)) for each in found]
                return found, end
        return self._those_two(at, at + 1) if text == "both" else None

    def _is_of_them(self, at: int) -> bool:
        return self._text(at) == "of" and self._text(at + 1) in ("them", "those")

    def _the_pair(self, at: int) -> Found | None:
        """ "Eighty foot pounds the pair": both places of what was named, where it has two."""
        last = at + 2
        last += 2 * (self._texts[last : last + 2] == ["of", "them"])
        groups = tuple(g for g in self._groups_here(at) if len(g.positions) == 2)
        ends = self._text(last) in (*BREAKS, "") and self._value_ends(at)
        if not ends or len({group.positions for group in groups}) != 1:
            return None
        return self._mentions(at, last, groups[0].positions, groups, {"group"}, ()), last

    def _so_many(self, at: int, size: int, word: Told | None) -> Told | None:
        """The places at `at`, of which `size` are named; where `word` has as many, these. A word
        before them may say more ("all six rope clamps", where a rope counts others), and the name
        of a field stands for its places where something is told of it ("all four ram glands
        dry")."""
        if word is not None and any(len(group.positions) == size for group in word[0]):
            return word
        text = self._text(at)
        described = text.isalpha() and not is_plural(text) and text not in talk().everyday.plain
        other = self._plural_ahead(at + 1) if described and text not in BREAKS else None
        if other is None:
            other = self._things_ahead(at, counted=True)
            other = None if other is None or self._text(other[1]) in (*BREAKS, "") else other
        sizes = {len(group.positions) for group in other[0]} if other is not None else set()
        return other if sizes == {size} else word

    def _is_no_group(self, at: int) -> bool:
        """Whether the words at `at` are said of the place before them ("the rear pair both 3.4"),
        tell where things are ("two cracked, both at the middle"), are only compared with ("up to
        300 like the rest"), or are a place of the step themselves ("both pumps" beside pump one and
        pump two)."""
        before = at - 1 - (self._text(at - 1) == "the")
        if self._text(at) in _REST and before >= 0 and self._text(before) in _COMPARED:
            return True
        behind = at > 0 and self._text(at) == "both" and self._claims[at - 1] == NAME
        if behind and self._value_follows(at + 1):
            return True
        step = self._passage.step_at(at)
        after = at + 2 + (self._text(at + 2) == "the")
        there = after if self._text(at) == "both" and self._text(at + 1) in _AT else at
        for words, _ in self._walk(there, self._cues.phrase_heads):
            groups = self._cues.phrases.get(words, ())
            here = any(step is None or step in group.steps for group in groups)
            if here and (len(words) > 1 or there > at):
                return True
        return False

    def _of_noun(self, at: int, noun: int, size: int) -> tuple[PositionGroup, ...]:
        """The groups spoken of; those of the step where none has so many places and theirs are
        named by the noun: "new plugs, RP 208. Both rows ..." in front row and rear row."""
        groups, word = self._groups_here(at), self._text(noun)
        if not is_plural(word) or any(len(group.positions) == size for group in groups):
            return groups
        others = self._in_step(self._passage.cues.groups, at)
        ends = ({place.casefold().split()[-1] for place in each.positions} for each in others)
        named = zip(others, ends, strict=True)
        return tuple(each for each, last in named if last == {word[:-1]}) or groups

    def _may_be_sided(self, at: int) -> bool:
        """Whether all the places of one side may be named at `at`, with no "both" ahead of them."""
        text, sides = self._text(at), spoken().sides
        one = text.removesuffix("s").removesuffix("'")
        if text in sides or one in sides or self._text(at + 1) in ONES:
            return True
        if one in self._cues.phrase_heads or one in self._cues.tails:
            return not _EACH.isdisjoint(self._texts[at : at + REACH])
        pointed = self._text(at + 1) in ("on", "at") and self._text(at + 2) == "the"
        return self._may_count(at) and (self._text(at + 1) in sides or pointed)

    def _are_people(self, at: int) -> bool:
        """ "Me and Dilip both had a go", "we both looked": these are no places."""
        two = self._text(at - 2) == "and"
        return self._text(at - 1) in _WE or (
            two and not _ONE_OF_US.isdisjoint((self._text(at - 3), self._text(at - 1)))
        )

    def _out_of(self, at: int) -> Found | None:
        """ "No leaks past any of the four deliveries", "none of the four leaks": all there are."""
        out_of = self._text(at - 2) == "of" and self._text(at - 3) in _OUT_OF
        counted = self._counted(at) if out_of and self._text(at - 1) in _THESE else None
        if counted is None:
            return None
        size, last = counted
        word = self._word_ahead(last) or self._things_ahead(last, counted=True)
        groups, last = word or (self._groups_here(at), last)
        same = tuple(group for group in groups if len(group.positions) == size)
        if len({group.positions for group in same}) != 1:
            return None
        return self._mentions(at, last, same[0].positions, same, {"group"}, ()), last

    def _everywhere_else(self, at: int) -> Found | None:
        """ "Eighty one at the spout, everywhere else ninety eight"."""
        for group in self._recent:
            members = self._unsaid(group)
            if 0 < len(members) < len(group.positions):
                same = tuple(other for other in self._recent if other.positions == group.positions)
                return self._mentions(at, at + 2, members, same, {"group"}, ()), at + 2
        return None

    def _everything(self, at: int) -> Found | None:
        """ "Everything on the suspension sits at 2.4", "hoses, everything at ninety bar": all of
        them, where a number is told."""
        last = at + 1
        if self._text(last) in ("in", "on"):
            word = self._position_word(last + 1 + (self._text(last + 1) == "the"))
            if word is None:
                return None
            groups, end = self._meant(word[0].groups, last), word[1]
        else:
            heard = at - self._context.heard_at <= REACH
            groups, end = self._context.heard if heard else (), last
        end += self._text(end) in _SITS
        same = {group.positions for group in groups}
        if len(same) != 1 or not self._value_follows(end):
            return None
        return self._mentions(at, last, groups[0].positions, groups, {"group"}, ()), last

    def _ends_name(self, at: int) -> bool:
        """Whether "remaining" at `at` is the end of a name: "tread remaining tyre one nine"."""
        ending = self._text(at)
        names = (words for words in self._cues.words if len(words) > 1 and words[-1] == ending)
        return any(
            tuple(self._texts[max(0, at + 1 - len(name)) : at + 1]) == name for name in names
        )

    def _is_single(self, at: int, group: PositionGroup) -> bool:
        """Whether the position word is no plural: "like all side" was no word for all sides, but
        "all hose is good" and "all the jaw gaps" are."""
        plural = self._text(at + 1) == "is" or is_plural(self._text(at + 1))
        return not plural and group.word.casefold().split()[-1:] == [self._text(at)]

    def _every_second(self, at: int) -> Found | None:
        """ "Odd numbers", "the even bolts", "even-numbered": every second place of the field that
        was named."""
        last = at + 1
        last += self._text(last) == "-" and self._text(last + 1) == "numbered"
        both = all(
            not ways.isdisjoint(self._texts) for ways in ({"odd", "odds"}, {"even", "evens"})
        )
        counted = self._text(last) == "numbers"  # as "on numbers ..." sounds
        last += self._text(last) in ("numbers", "numbered", "ones")
        if both and last == at + 1:
            last = self._past_heard_ones(last)
        if self._text(last) == "first":
            return None  # "odd ones first, one, ...": each is named
        word = self._word_ahead(last)
        groups, last = word if word is not None else (self._numeric_here(at), last)
        groups = tuple(group for group in groups if group.order)
        many = self._text(at).endswith("s") and self._value_follows(last)  # "evens ninety eight"
        if not groups or (word is None and last == at + 1 and not many):
            return None
        odd = self._meant_half(at) == "odd"
        values = [value for value in groups[0].order if value % 2 == odd]
        self._enter(groups, values, last)
        named = [groups[0].numbers[value] for value in values]
        doubts = ("every_second",) * (counted and not both)
        heard = "once" in self._texts[at:last] or not self._text(at).startswith(("odd", "even"))
        doubts += ("misheard_term",) * heard
        return self._mentions(at, last, named, groups, {"group"}, doubts), self._skip_value(last)

    def _past_heard_ones(self, at: int) -> int:
        """Index behind the "ones" at `at` as it sounds, or "number of": "the even once at 630"."""
        if self._text(at) in _ONES:
            return at + 1
        if self._text(at) != "number" or any(self._prefixes(at + 1)):
            return at  # "even number four is loose"
        at += 1 + (self._text(at + 1) == "of")
        return at + (self._text(at) == "the")

    def _things_ahead(
        self, at: int, *, counted: bool = False
    ) -> tuple[tuple[PositionGroup, ...], int] | None:
        """The plural name of a field that has places without a word of their own, at `at`; of one
        whose places are `counted` by a word, too: "the other rods" behind "rod on jack three"."""
        word = self._position_word(at)
        if word is None or not self._text(word[1] - 1).endswith("s"):
            return None
        lexicon = lexicon_of(self._cues.card)
        name = phrase_key(" ".join(self._texts[at : word[1]]))
        if lexicon.exact.get(name) in lexicon.statements:
            return None  # "every alarm sounds": one of them does
        groups = tuple(group for group in word[0].groups if counted or not group.word)
        return (self._meant(groups, at), word[1]) if groups else None

    def _others(self, at: int) -> Found | None:
        """ "The other three": as many as the places that were not named so far."""
        word = self._plural_ahead(at + 1) or self._things_ahead(at + 1, counted=True)
        if word is not None:
            members = self._unsaid(word[0][0])
            if 1 < len(members) < len(word[0][0].positions):
                return self._told_apart(at, word[1], members, word[0][:1])
        noun = self._text(at + 1)
        for group in self._recent if is_plural(noun) and word is None else ():
            members = self._unsaid(group)
            if noun[:-1] in group.tokens and 1 < len(members) < len(group.positions):
                return self._told_apart(at, at + 2, members, (group,))
        for value, last in self._prefixes(at + 1):
            word = self._word_ahead(last)
            groups = word[0] if word is not None else self._recent or self._context.groups
            for group in groups:
                members = self._unsaid(group)
                if len(members) == value > 1 and not self._is_value(last, at + 1):
                    end = last if word is None else word[1]
                    return self._told_apart(at, end, members, groups[:1])
        return self._other_one(at)

    def _unsaid(self, group: PositionGroup) -> tuple[str, ...]:
        """The places that were not named so far; where all were, not since the last field was."""
        said = self._said()
        rest = tuple(place for place in group.positions if place not in said)
        if rest:
            return rest
        since = [each for each in self._placed if each[0] >= self._context.heard_at]
        if len(since) > len(group.positions):  # "bolts one to ten, first five ..., the other five"
            size = Counter(first for first, _ in since)
            since = [each for each in since if size[each[0]] < len(group.positions)]
        said = {name for _, name in since}
        if said >= set(group.positions):  # all of another field
            start = since[-1][0]
            while start and self._text(start - 1) not in (".", ";"):
                start -= 1
            said = {name for first, name in since if first >= start}
        return tuple(place for place in group.positions if place not in said)

    def _told_apart(
        self, at: int, last: int, members: tuple[str, ...], groups: tuple[PositionGroup, ...]
    ) -> Found:
        """Places that were named together and perhaps one by one as well: "the other four blades,
        one, two, three and five"; where these are others, they are asked about."""
        numbers = groups[0].numbers
        listed = self._numbers_at(last + (self._text(last) in (",", ":")), groups[:1])
        values, end = listed if listed is not None else ([], last)
        named = tuple(numbers[value] for value in dict.fromkeys(values) if value in numbers)
        doubts: tuple[str, ...] = ()
        if set(named) == set(members) and not self._is_value(end):
            last = end
        elif (
            1 < len(named) < len(members) - 1
            and not _JOINING.isdisjoint(self._texts[last:end])  # "all six bolts five six five"
            and self._value_follows(end)
        ):
            last, members, doubts = end, named, ("list_length",)
        return self._mentions(at, last, members, groups, {"group"}, doubts), last

    def _named_before(self, at: int, after: int) -> tuple[tuple[PositionGroup, ...], int] | None:
        """ "Splice bolts, the first three were at ...": whose places they are was said before."""
        groups = self._numeric_here(at)
        heard = self._context.running(at) or self._context.heard
        told = self._text(after) in _WERE or (
            self._text(at - 1) == "the" and self._value_follows(after) and not self._is_value(after)
        )
        return (groups, after) if groups and heard and told else None

    def _those_two(self, at: int, last: int) -> Found | None:
        """ "Door 5 shuts in 2.6, door 6 in 2.7, belts good on both": the two of which was told. Of
        more than two it is open which, and so it is where "both" may be parts of the last."""
        groups = tuple(group for group in self._recent if len(group.positions) > 2)
        if not groups or "both" in groups[0].positions or self._is_told_behind_places(at):
            return None
        placed = [name for _, name in self._placed if name in groups[0].positions]
        named = tuple(dict.fromkeys(reversed(placed)))  # the last one first
        word = self._word_ahead(last)
        if len(named) < 2 - (word is not None) or self._text(last) in TWO:
            return None
        known = word is not None or self._position_word(last) is not None
        parts = not known and is_plural(self._text(last))
        parts = parts and self._text(last) not in talk().everyday.verbs
        doubts = ("ambiguous_place",) * (parts or len(named) != 2)
        last = last if word is None else word[1]
        return self._mentions(at, last, named[1::-1], groups, {"group"}, doubts), last
