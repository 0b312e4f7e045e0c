"""Named rows: places that have names, and those that are named with them.

"Upper and lower", "P T and A", "boom one front and rear".
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.atoms import key
from voicelog.reading.half_places import HalfPlaces
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.position_rows import JOINTS, TO
from voicelog.reading.running_list import BREAKS, STOPS
from voicelog.reading.spoken import spoken
from voicelog.reading.state_words import state_words, trade
from voicelog.reading.talk import talk
from voicelog.reading.words import is_plural, word_key

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.reading.position_words import PositionGroup

_TWO_BY_EAR = frozenset({"to", "too"})
_WHERE = frozenset({"at", "in", "on"})
_FROM = frozenset({"by", "for", "from", "with"})
PERSONS = frozenset({"i", "i'd", "i'm", "we", "we'd", "we're", "he", "she", "they", "you"})
_ALONE = frozenset({
    "is", "was", "has", "not", "needs", "wants", "still", "yet", "to", "down", "up", "next",
    "later", "tomorrow", "will", "only", "just", "at", "now",
})  # fmt: skip
"""Words behind a place that tell of this one alone, when a value stands before it."""
_NAME = 3
"""Words of a name behind a place, at most."""
_NEAR = 8
_LOOK_AHEAD = 24
"""Atoms behind a list of places within which the others are named."""
_SENTENCES = 2
"""Sentences among which that is."""
_PRONOUNS = frozenset({"it", "it's", "that", "there", "there's", "they"})


class NamedRows(HalfPlaces):
    """Reads the names of places that stand together."""

    def _tells_anew(self, first: int, end: int) -> bool:
        """Whether a state is told before the row at `first`, and another behind its last place:
        "good in the cockpit and mid, tail one's grooved", "dry middle and output, input weeping";
        or what was named before is named again there: "clips in left and right, balance clip"."""
        link = first - 2 if self._text(first - 1) == "the" else first - 1
        link -= self._text(link) in ("at", "in", "on")
        if link < 0 or not self._is_told(end):
            return False
        return self._is_state(self._text(link)) or self._named_again(first, end)

    def _is_so_itself(self, first: int, end: int) -> bool:
        """Whether a state stands before the row at `first`, and another right behind the place
        that ends at `end`: "fine on the left and on the right it's not"."""
        link = first - 1 - (self._text(first - 1) == "the")
        behind = end + (self._text(end) in _PRONOUNS)
        return self._is_state(self._text(link - 1)) and self._state_follows(behind)

    def _named_again(self, first: int, end: int) -> bool:
        """Whether a state stands behind a word at `end` that was said before `first`."""
        for at in range(end, end + _NAME):
            if not self._text(at).isalpha():
                return False
            if self._state_follows(at + 1):
                before = self._texts[max(0, first - _NEAR) : first]
                return word_key(self._text(at)) in {word_key(word) for word in before}
        return False

    def _row(
        self, position: str, first: int, last: int, groups: Sequence[PositionGroup]
    ) -> tuple[tuple[str, ...], int]:
        """`position`, which stands at `first`..`last`, and those named with it: "upper and
        lower", "P T and A"."""
        named, ended = [position], False
        before = first - 1 - (self._text(first - 1) == "the")
        if (self._text(before - 1), self._text(before)) == ("same", "as"):
            return (position,), last  # "C the same as A and D nine"
        ranged = self._up_to(position, last, groups)
        if ranged is not None:
            named, last = ranged
        while True:
            joint = self._past_thing(last, groups)
            after = joint
            while self._text(after) in JOINTS:
                after += 1
            whole = self._phrase(after, groups) if after > last else None
            again = self._past_where(after, first) if whole is None else after  # a place "on load"
            found = self._phrase(again, groups) if after > last or len(position) == 1 else None
            if found is None and after > last:
                found = self._same_letter(position, after, groups)
                found = found or self._same_beginning(position, again, groups)
                found = found or self._half(again, groups)
            if found is None or found[3] or found[0] in named:
                return tuple(named), last
            if joint > last and not self._thing_again(last, joint, found[1]):
                return tuple(named), last
            if self._value_follows(found[1]) and self._text(found[1] - 1) != "and":
                before_value = self._text(last) in ("and", "&", "or", "nor")
                # "gap A, and B six": a pause, where the first has no value of its own
                paused = (self._text(last), self._text(last + 1)) == (",", "and")
                before_value = before_value or (paused and not self._value_ends(first - 1))
                if not before_value or (again > after and not self._denied_too(last, found[1])):
                    return tuple(named), last
            if self._begins_anew(first, joint, found[1]) or self._names_field(again):
                return tuple(named), last
            if self._heads_value(first, found[1], paused=self._text(last) == ","):
                return tuple(named), last
            if not first and self._text(first) in talk().everyday.openers and after == last + 1:
                return tuple(named), last  # "right, left lining twelve"
            joints = [self._text(at) for at in range(joint, after)]
            if joints == [","] and len(named) == 1 and self._two_told(first, found[1], groups):
                return tuple(named), last
            own = self._strong_word(found[1]) is not None or self._tells_anew(first, found[1])
            if ended and joints == [","] and own:
                return tuple(named), last  # "sound on north, east and south, west dial cracked"
            if again > after and self._is_so_itself(first, found[1]):
                return tuple(named), last  # "fine on the left and on the right no good"
            ended = ended or "and" in joints
            named.append(found[0])
            last = found[1]

    def _two_told(self, first: int, last: int, groups: Sequence[PositionGroup]) -> bool:
        """Whether the place at `first` stands behind its value, and the one that ends at `last`
        with another before theirs: "6.2 mm left, right and middle both 5.8"."""
        link = first - (self._text(first - 1) == "the")
        link -= self._text(link - 1) in _WHERE
        if self._text(last) not in ("and", "&") or not self._value_ends(link):
            return False
        other = self._phrase(last + 1 + (self._text(last + 1) == "the"), groups)
        end = last if other is None else other[1]
        end += self._text(end) in ("are", "were")
        return end > last and self._value_follows(end + (self._text(end) == "both"))

    def _up_to(
        self, position: str, at: int, groups: Sequence[PositionGroup]
    ) -> tuple[list[str], int] | None:
        """ "L1 to L3", "A to D": the places from `position` on that differ in their number alone,
        or are letters of one row."""
        if self._text(at) not in TO:
            return None
        if len(position) == 1:
            return self._up_to_letter(position, at + 1, groups)
        letters = position.rstrip("0123456789")
        if letters in ("", position):
            return None
        found = self._phrase(at + 1, groups) or self._same_letter(position, at + 1, groups)
        if found is None or found[0].rstrip("0123456789") != letters:
            return None
        first, last = (int(each.removeprefix(letters)) for each in (position, found[0]))
        between = [f"{letters}{number}" for number in range(first, last + 1)]
        known = len(between) > 1 and set(between) <= set(found[2][0].positions)
        return (between, found[1]) if known else None

    def _up_to_letter(
        self, position: str, at: int, groups: Sequence[PositionGroup]
    ) -> tuple[list[str], int] | None:
        """Those of "A to D"; of two, "A to B", the "to" may be a two."""
        for group in groups:
            end = group.phrases.get((self._text(at),)) if self._free(at) else None
            if end is None or len(end) != 1 or position not in group.positions:
                continue
            row = group.positions[group.positions.index(position) :]
            row = row[: row.index(end) + 1] if end in row else ()
            alphabet = [chr(ord(position) + index) for index in range(len(row))]
            plural = is_plural(self._text(at - 3))
            if len(row) > (1 if plural else 2) and list(row) == alphabet:
                return alphabet, at + 1
        return None

    def _heads_value(self, first: int, at: int, *, paused: bool) -> bool:
        """Whether the place that ends at `at` heads the name of the next value, where the one at
        `first` belongs to the value before: "13.5 on right and left lamp current 18.9 amps"."""
        link = first - (self._text(first - 1) == "the")
        pointed = self._text(link - 1) in _WHERE
        link -= pointed
        name = self._position_word(at) if pointed or self._value_ends(link) else None
        if name is None or not name[0].weak:
            return False
        return self._value_follows(name[1]) or (pointed and paused)

    def _past_thing(self, at: int, groups: Sequence[PositionGroup]) -> int:
        """Index behind the name of the field between a place and a joint: "receiver drain and
        cyclone drain okay"."""
        word = self._position_word(at) if self._free(at) else None
        if word is None or self._text(word[1]) not in JOINTS:
            return at
        return at if set(groups).isdisjoint(word[0].groups) else word[1]

    def _thing_again(self, at: int, joint: int, last: int) -> bool:
        """Whether the name of the field at `at`..`joint` stands behind the next place as well, of
        which a value is told only where "and" joins them."""
        end = last + joint - at
        if self._texts[at:joint] != self._texts[last:end]:
            return False
        return self._text(joint) in ("and", "&") or not self._value_follows(end)

    def _past_where(self, at: int, first: int) -> int:
        """Index behind the words that say "at" once more: "at the drum end or in the middle"; or
        that lead to the row at `first`, too: "from the panel and also from the door"."""
        link = first - 1 - (self._text(first - 1) == "the")
        also = at + (self._text(at) == "also")
        if self._text(also) in _WHERE or (link >= 0 and self._text(also) == self._text(link)):
            at = also + (self._text(also) in _WHERE | _FROM)
        return at + (self._text(at) == "the")

    def _denied_too(self, joint: int, last: int) -> bool:
        """Whether the place that ends at `last` was joined for good: "at the drum end or in the
        middle, three at the hook end", but not "8 on the left and on the right 9"."""
        return self._text(joint) in ("or", "nor") or self._text(last) in BREAKS

    def _begins_anew(self, first: int, joint: int, at: int) -> bool:
        """Whether the place that ends at `at` begins a clause of its own behind the one at
        `first`: "seven on the port side, starboard I couldn't get at"."""
        text = self._text(at)
        paused = self._text(joint) == ","
        if text in PERSONS or (paused and text in _PRONOUNS):
            return True  # "good on the left, on the right it sticks"
        if paused and self._text(first - 1) in _WHERE and self._leaks(at):
            return True  # "dry on A, B leaks"
        linked = self._text(first - 1 - (self._text(first - 1) == "the")) in _WHERE
        if paused and linked and self._did_something(self._past_own_thing(at)):
            return True  # "okay at the loading end, unloading end let me turn the wheel"
        if paused and self._text(joint + 1) not in JOINTS and self._is_undone(first):
            return self._is_told(at)  # "I couldn't see the top hose, bottom hose good"
        if text in BREAKS or text in ("", "or", "nor", "both", "each"):
            return False
        alone = text in _ALONE or text.endswith(("n't", "'ll", "'ve")) or text in state_words()
        if not (paused or alone):
            return False
        link = first - (self._text(first - 1) == "the")
        link -= self._text(link - 1) in _WHERE
        return (paused and alone) or self._value_ends(link)

    def _past_own_thing(self, at: int) -> int:
        """Index behind the word for such places, or "one", that stands behind a place."""
        word = self._position_word(at) if self._free(at) else None
        return word[1] if word is not None else at + (self._text(at) == "one")

    def _leaks(self, at: int) -> bool:
        """Whether a verb of one thing stands at `at` that tells of a fault."""
        return is_plural(self._text(at)) and word_key(self._text(at)) in trade("CONDITION")

    def _same_letter(
        self, position: str, at: int, groups: Sequence[PositionGroup]
    ) -> tuple[str, int, tuple[PositionGroup, ...], bool] | None:
        """The "two" of "L one, two and three"."""
        letters = position.rstrip("0123456789")
        if not letters or letters == position:
            return None
        for value, last in self._prefixes(at):
            fits = tuple(group for group in groups if f"{letters}{value}" in group.positions)
            if fits and not self._is_value(last, at) and not self._value_follows(last):
                return f"{letters}{value}", last, fits, False
        return None

    def _same_beginning(
        self, position: str, at: int, groups: Sequence[PositionGroup]
    ) -> tuple[str, int, tuple[PositionGroup, ...], bool] | None:
        """The "rear" of "boom one front and rear", "left front and rear", and of "left front ten,
        rear eleven": a place of two words, or with a number in it, whose other words are those of
        `position`."""
        beginning, end = key(position)[:-1], self._text(at)
        numbered = len(beginning) > 1 and any(map(str.isdigit, beginning))
        worded = len(beginning) == 1 and self._passage.words[at : at + 1] == [None]
        sided = worded and beginning[0] in spoken().sides and self._text(at - 1) in ("and", "&")
        if not (numbered or worded) or not self._free(at):
            return None
        words = (*beginning, end)
        whole = numbered or sided
        fits = tuple(g for g in groups if words in g.phrases and (whole or (end,) not in g.phrases))
        if not fits or fits[0].phrases[words] == position:
            return None
        return fits[0].phrases[words], at + 1, fits, False

    def _by_a_figure(self, at: int, last: int, groups: Sequence[PositionGroup]) -> bool:
        """Whether a "to" between two places may be a two: "left to right three"."""
        if self._text(at - 1) in _TWO_BY_EAR:
            # "thirty five degrees to port", "even to port"
            return not (self._measured(at - 1) or self._is_so(at - 2))
        behind = self._phrase(last + 1, groups) if self._text(last) in _TWO_BY_EAR else None
        if behind is None or behind[0][-1:].isdigit():  # "L1 to L3"
            return False
        first = self._phrase(at, groups)
        return first is None or self._up_to(first[0], last, groups) is None

    def _is_so(self, at: int) -> bool:
        """Whether a word says how a thing is, or is an option of a choice."""
        text = self._text(at)
        options = lexicon_of(self._cues.card).option_words
        return text in state_words() or word_key(text) in options

    def _measured(self, at: int) -> bool:
        """Whether a number with its unit ends right before `at`."""
        word = self._passage.words[at - 1]  # "seconds" is an ordinal, too
        return self._value_ends(at) and (word is None or word.kind in ("ordinal", "ordinals"))

    def _glued_figures(self, at: int, groups: Sequence[PositionGroup]) -> bool:
        """Whether figures are glued to a place some of which may be its own: "L12.5", where the
        card has L1; of "blade B2.8" with blades A, B and C all are the value's."""
        places = [place for group in groups for place in group.positions]
        if not any(char.isdigit() for place in places for char in place):
            return False
        return self._free(at) and self._atoms[at].glued and self._atoms[at].shape == "digits"

    def _is_plainly_so(self, at: int) -> bool:
        """Whether it is plain that something is told of the places that end at `at`, and that they
        count nothing: "two, three, four pits", "one and two scored rings"."""
        ends = self._text(at + 1) in (*BREAKS, "")
        return self._text(at) in ("are", "have", "is", "show", "was", "were") or (
            ends and not self._text(at).endswith("s") and self._is_state(self._text(at))
        )

    def _makes_up_row(
        self, values: list[int], last: int, groups: tuple[PositionGroup, ...]
    ) -> bool:
        """Whether some places, with those that were named right before or head one of the next
        clauses, are just all that there are: "1 and 5 are choked. 2, 3 and 4 run well"."""
        left = set(groups[0].numbers) - set(values)
        since = self._sentence_start(max(0, self._sentence_start(last) - 1))
        told = {name for first, name in self._placed if first >= since}
        left -= {number for number, name in groups[0].numbers.items() if name in told}
        if not left or self._is_value(last):
            return not left and len(values) < len(groups[0].order) and self._is_plainly_so(last)
        ends = 0
        for index in range(last, min(last + _LOOK_AHEAD, len(self._atoms))):
            ends += self._text(index - 1) in STOPS
            if ends >= _SENTENCES:
                return False
            if self._text(index - 1) not in BREAKS or not self._free(index):
                continue
            listed = self._numbers_at(self._number_sign(index), groups)
            if listed is not None and self._text(listed[1]) not in (*BREAKS, ""):
                left -= set(listed[0])
            if not left:
                return True
        return False
