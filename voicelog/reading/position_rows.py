"""Rows of positions: the first place of a list and those that are named with it.

"Bolts one to four", "latch one two three closed", "upper and lower", "P T and A".
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.atoms import key
from voicelog.reading.kinds import deed_length
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.running_list import BREAKS, Listed
from voicelog.reading.state_words import state_phrases, state_words
from voicelog.reading.talk import talk
from voicelog.reading.words import verb_stem, word_key

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.reading.position_words import PositionGroup

TO = frozenset({"to", "through", "thru", "-", "–", "—"})
_TWO_BY_EAR = frozenset({"to", "too"})
_BEFORE_TO = frozenset(
    {"the", "this", "that", "each", "every", "torque", "torqued", "tighten", "tightened", "set"}
)
"""Words before "bolt to ninety eight" that make the "to" a preposition."""


_JOINTS = frozenset({",", "and", "&", "or", "nor"})
_WHERE = frozenset({"at", "in", "on"})
PERSONS = frozenset({"i", "i'd", "i'm", "we", "we'd", "we're", "he", "she", "they", "you"})
_ALONE = frozenset({
    "is", "was", "has", "not", "needs", "wants", "still", "yet", "to", "down", "up", "next",
    "later", "tomorrow", "will", "only", "just", "at", "now",
})  # fmt: skip
"""Words behind a place that tell of this one alone, when a value stands before it."""


_CLAUSE = 8
"""Words of a clause that are looked back on."""
_PAUSES = frozenset({",", ".", ";", ":", ""})
_VERDICTS = frozenset({
    "good", "ok", "okay", "fine", "bad", "failed", "fail", "fails", "checked", "clear", "clean",
    "dry", "has", "had", "is", "are", "was", "were", "closed", "locked", "tight", "free", "which",
    "aren't", "didn't", "doesn't", "don't", "does", "hasn't", "isn't", "wasn't", "weren't", "won't",
})  # fmt: skip
"""Words behind a place that make it one of which something is found."""

_PRONOUNS = frozenset({"it", "that", "they"})


class Rows(Listed):
    """Reads the places that stand together."""

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
            if value in numbers and self._point_splits(at, last, groups, mark=not weak):
                return [value], last
            pointed = not weak and not many and self._text(last) in ("point", "decimal")
            if value in numbers and pointed and numerals.number(last) is not None:
                doubts.append("fused_position")  # bolt one, point two five; or 1.25?
                return [value], last
            if value in numbers and not self._is_value(last, at):
                if not many and self._whole_is_meant(at, last, groups, numerals):
                    return None
                return [value], last
        if weak:
            return None
        heard = None if self._text(first - 1) in _BEFORE_TO else numerals.by_ear(at)
        after = at + 2 if self._text(at + 1) == "," else at + 1
        if heard is not None and heard in numbers and numerals.number(after) is not None:
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

    def _more(self, values: list[int], last: int, numbers: set[int], *, many: bool) -> int:
        """Extend `values` by what follows: "to four", ", two and three", "two three four"."""
        ranged = closed = False
        while self._free(last):
            unjoined = self._text(last) not in _JOINTS
            if closed and (unjoined or self._next_is_told(last, numbers - set(values))):
                return last  # "rings on one and two, three is silent": "and" ends the row
            closed = self._text(last) in ("and", "&")
            step = self._to(values, last, numbers) or self._to_by_ear(
                values, last, numbers, many=many
            )
            ranged = ranged or step is not None
            if step is None:
                step = self._and(values, last, numbers, many=many, ranged=ranged)
            if step is None:
                return last
            last = step
        return last

    def _several(self, values: list[int], last: int, numbers: set[int], *, many: bool) -> int:
        """`_more`; a singular word may head a row too: "latch one two three closed"."""
        if many and len(values) == 1:
            bare = self._bare_row(values[0], last, numbers)
            if bare is not None:
                values[:] = bare[0]
                return bare[1]
        if not many and len(values) == 1:
            row = list(values)
            end = self._more(row, last, numbers, many=True)
            if len(row) > 2 and not self._value_follows(end):
                values[:] = row
                return end
        return self._more(values, last, numbers, many=many)

    def _bare_row(self, first: int, at: int, numbers: set[int]) -> tuple[list[int], int] | None:
        """ "Bolts one three five and seven forty two": rising figures, the last behind "and"."""
        row, last = [first], at
        joined = False
        while not joined and self._free(last):
            joined = self._text(last) == "and"
            figure = next(self._prefixes(last + joined), None)
            if figure is None or figure[0] not in numbers or figure[0] <= row[-1]:
                return None
            row.append(figure[0])
            last = figure[1]
        told = self._text(last) in ("are", "were")
        told = told or (self._value_follows(last) and not self._is_value(last))
        return (row, last) if joined and len(row) > 2 and told else None

    def _to(self, values: list[int], at: int, numbers: set[int]) -> int | None:
        at += self._text(at) == "-" and self._text(at + 1) == "to"
        if self._text(at) not in TO:
            return None
        at += self._text(at) == "to" and self._text(at + 1) == "-"  # "1-to-8"
        found = self._next_position(at + 1, numbers) or self._end_by_ear(at + 1, values[-1])
        found = found or self._fused_end(at + 1, values[-1], self._listing, numbers)
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

    def _end_by_ear(self, at: int, first: int) -> tuple[int, int] | None:
        """The "for" of "heads one to for fifteen inch pounds"; it is asked about."""
        heard = self._passage.numerals(at).by_ear(at) if self._free(at) else None
        if heard is None or heard <= first or not self._value_follows(at + 1):
            return None
        self._heard_two = at
        return heard, at + 1

    def _to_by_ear(
        self, values: list[int], at: int, numbers: set[int], *, many: bool
    ) -> int | None:
        """ "Bolts five two eight, one oh one": a "to" between two places that was heard as two;
        it is asked about."""
        if self._text(at) != "two" or len(values) != 1:
            return None
        found = self._next_position(at + 1, numbers)
        if found is None or found[0] <= max(values[-1], 3 if values[-1] == 1 else 0):
            return None
        paused = self._text(found[1]) == ","
        if not (paused or many) or not self._value_follows(found[1]):
            return None
        values.extend(n for n in sorted(numbers) if values[-1] < n <= found[0])
        self._heard_two = at
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
        if found is None and self._text(after - 1) in ("and", "&"):
            found = self._fused_end(after, values[-1], self._listing, numbers)
        if found is None or found[0] in values or found[0] in self._context.used:
            return None
        if self._passage.numerals(at).is_weak_zero(found[1]):
            return None  # "five to eight, one oh two"
        if self._text(at) == "," and (found[0] < values[-1] or self._is_cut(after, found[1])):
            return None
        if after == at and (not many or ranged or found[0] != values[-1] + 1):
            return None
        if after == at and self._is_longer_value(at, found[1]):
            return None  # "three four one five" is 415 at place three
        several = many or self._many_named
        if not several and self._passage.numerals(found[1]).starts_number(found[1]):
            return None
        values.append(found[0])
        return found[1]

    def _is_cut(self, at: int, last: int) -> bool:
        """Whether the figures at `at` are a value of the list that can be one, and can't be once a
        place has taken the first of them: "bolts one to three, five four zero"."""
        numerals = self._passage.numerals(at)
        whole, rest = numerals.number(at), numerals.number(last)
        if whole is None or rest is None or whole.last != rest.last or whole.last <= last:
            return False
        fits = self._plausible(whole.value, self._listing)
        return fits and self._implausible(rest.value, self._listing)

    def _is_longer_value(self, at: int, last: int) -> bool:
        """Whether the figures at `at` are one value of the list, of which a place would take
        the first."""
        numerals = self._passage.numerals(at)
        whole, rest = numerals.number(at), numerals.number(last)
        if whole is None or rest is None or whole.last != rest.last or whole.last <= last:
            return False
        return "digits" in whole.qualifiers and self._plausible(whole.value, self._listing)

    def _next_position(self, at: int, numbers: set[int]) -> tuple[int, int] | None:
        for value, last in self._prefixes(at):
            if value not in numbers:
                continue
            if not self._is_value(last, at) or self._point_splits(at, last, self._listing):
                return value, last
        return None

    def _row(
        self, position: str, first: int, last: int, groups: Sequence[PositionGroup]
    ) -> tuple[tuple[str, ...], int]:
        """`position`, which stands at `first`..`last`, and those named with it: "upper and
        lower", "P T and A"."""
        named, ended = [position], False
        while True:
            joint = self._past_thing(last, groups)
            after = joint
            while self._text(after) in _JOINTS:
                after += 1
            again = self._past_where(after)
            found = self._phrase(again, groups) if after > last or len(position) == 1 else None
            if found is None and after > last:
                found = self._same_letter(position, after, groups)
                found = found or self._same_beginning(position, again, groups)
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
            if self._begins_anew(first, joint, found[1]):
                return tuple(named), last
            joints = [self._text(at) for at in range(joint, after)]
            if ended and joints == [","] and self._strong_word(found[1]) is not None:
                return tuple(named), last  # "sound on north, east and south, west dial cracked"
            ended = ended or "and" in joints
            named.append(found[0])
            last = found[1]

    def _past_thing(self, at: int, groups: Sequence[PositionGroup]) -> int:
        """Index behind the name of the field between a place and a joint: "receiver drain and
        cyclone drain okay"."""
        word = self._position_word(at) if self._free(at) else None
        if word is None or self._text(word[1]) not in _JOINTS:
            return at
        return at if set(groups).isdisjoint(word[0].groups) else word[1]

    def _thing_again(self, at: int, joint: int, last: int) -> bool:
        """Whether the name of the field at `at`..`joint` stands behind the next place as well, of
        which a value is told only where "and" joins them."""
        end = last + joint - at
        if self._texts[at:joint] != self._texts[last:end]:
            return False
        return self._text(joint) in ("and", "&") or not self._value_follows(end)

    def _past_where(self, at: int) -> int:
        """Index behind the words that say "at" once more: "at the drum end or in the middle"."""
        at += self._text(at) in _WHERE
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
        if paused and self._text(joint + 1) not in _JOINTS and self._is_undone(first):
            return self._is_told(at)  # "I couldn't see the top hose, bottom hose good"
        if text in BREAKS or text in ("", "or", "nor", "both", "each"):
            return False
        alone = text in _ALONE or text.endswith(("n't", "'ll", "'ve")) or text in state_words()
        if not (paused or alone):
            return False
        link = first - (self._text(first - 1) == "the")
        link -= self._text(link - 1) in _WHERE
        return (paused and alone) or self._value_ends(link)

    def _is_told(self, at: int) -> bool:
        """Whether the clause goes on at `at` to tell how something is."""
        for index in range(at, at + _CLAUSE):
            if self._text(index) in _PAUSES:
                return False
            if self._state_follows(index) or self._is_state(self._text(index)):
                return True
        return False

    def _is_undone(self, at: int) -> bool:
        """Whether the clause has said before `at` that somebody did not do something."""
        for index in range(at - 1, max(-1, at - 1 - _CLAUSE), -1):
            text = self._text(index)
            if text in BREAKS:
                return False
            if text.endswith("n't") or text in ("cannot", "never", "not"):
                return True
        return False

    def _state_follows(self, at: int) -> bool:
        """Whether a verdict stands at `at`, or a state that ends the clause: "A chafed, B fine",
        but not "a chafed hose"."""
        text, after = self._text(at), self._text(at + 1)
        if text in _VERDICTS or f"{text} {after}" in state_phrases():
            return True
        ends = after in (*BREAKS, "") or after in _VERDICTS or self._text(at + 2) == "right"
        return (ends and self._is_state(text)) or self._deed_ends(at)

    def _deed_ends(self, at: int) -> bool:
        """Whether several words that end the clause tell what a thing does: "stayed quiet"."""
        said = (self._text(at), self._text(at + 1), self._text(at + 2))
        length = deed_length(said, lexicon_of(self._cues.card).kinds)
        return length > 1 and self._text(at + length) in (*BREAKS, "")

    def _next_is_told(self, at: int, numbers: set[int]) -> bool:
        """Whether another place with its state stands at `at`: "rings on one and two, three is
        silent"."""
        at += self._text(at) in (",", ";")
        figure = next(self._prefixes(at), None) if self._free(at) else None
        return figure is not None and figure[0] in numbers and self._state_behind(figure[1])

    def _another_told(self, at: int, numbers: set[int]) -> bool:
        """Whether the next clause tells of another place: "one good, two good", "one intact; on
        thirteen brittle"."""
        for index in range(at, at + _CLAUSE):
            if self._text(index) in (*_PAUSES, "and"):
                return self._next_is_told(index + 1, numbers)
        return False

    def _state_behind(self, at: int) -> bool:
        """`_state_follows`; a recogniser may set a pause before the state: "three, silent."."""
        if self._state_follows(at):
            return True
        text, after = self._text(at + 1), self._text(at + 2)
        return self._text(at) == "," and after in (".", ";", "") and self._is_state(text)

    def _is_state(self, text: str) -> bool:
        """Whether a word says how a thing is, by itself or by a label of the card."""
        stem = verb_stem(text)
        lexicon = lexicon_of(self._cues.card)
        asked = lexicon.predicates
        opposite = talk().remarks.opposites.get(stem)
        chosen = word_key(text) in lexicon.option_words
        told = text in state_words() or deed_length((text,), lexicon.kinds) > 0
        return chosen or told or (stem,) in asked or (opposite,) in asked

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
        """The "rear" of "boom one front and rear": a place with a number in it, whose other words
        are those of `position`."""
        beginning = key(position)[:-1]
        if len(beginning) < 2 or not any(map(str.isdigit, beginning)) or not self._free(at):
            return None
        words = (*beginning, self._text(at))
        fits = tuple(group for group in groups if words in group.phrases)
        return (fits[0].phrases[words], at + 1, fits, False) if fits else None

    def _by_a_figure(self, at: int, last: int, groups: Sequence[PositionGroup]) -> bool:
        """Whether a "to" between two places may be a two: "left to right three"."""
        if self._text(at - 1) in _TWO_BY_EAR:
            return not self._measured(at - 1)  # "thirty five degrees to port"
        return self._text(last) in _TWO_BY_EAR and self._phrase(last + 1, groups) is not None

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
