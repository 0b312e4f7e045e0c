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

from voicelog.objects import Ratio
from voicelog.reading import unit_words
from voicelog.reading.chain import stage

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from spacy.tokens import Doc

    from voicelog.objects import Mention, Value
    from voicelog.reading.atoms import Atom
    from voicelog.reading.cues import PositionGroup
    from voicelog.reading.numerals import Numerals
    from voicelog.reading.passage import Passage

NAME = "positions"

_NUMBER_SIGNS = (("number",), ("numbers",), ("no", "."), ("no",), ("nos",), ("nr",), ("#",))
_TO = (("to",), ("through",), ("thru",), ("-",), ("–",), ("—",))
_LINKS = frozenset({"is", "was", "at", "reads", "reading", "read", "=", ":", "now", "are", "were"})
_BREAKS = frozenset(",;.:")
_REACH = 60
"""Atoms behind a position after which a bare "two" no longer continues the list."""
_AFTER_AS = frozenset({"as", "all", "turn", "turned", "have", "has", "had", "been", "that's"})
"""Words before "left" and "right" that make them something else ("as left", "all right")."""

_BEFORE_TO = frozenset(
    {"the", "this", "that", "each", "every", "torque", "torqued", "tighten", "tightened", "set"}
)
"""Words before "bolt to ninety eight" that make the "to" a preposition."""


@dataclass(slots=True)
class _Context:
    """The list of positions that the passage is in."""

    groups: tuple[PositionGroup, ...] = ()
    last: int = 0
    """The highest position so far."""
    used: set[int] = field(default_factory=set)
    at: int = -_REACH
    """Where the list was last heard of."""
    resume: int = -1
    """Index behind the last value: there a new position may follow without a pause."""

    def expects(self, number: int, at: int) -> bool:
        """Whether `number` is the next position of the list."""
        if not self.groups or at - self.at > _REACH or number in self.used:
            return False
        following = [p for p in self.groups[0].numbers if p > self.last and p not in self.used]
        return bool(following) and number == min(following)


@stage(NAME)
def positions(doc: Doc) -> None:
    """Read positions of the card; without a card there are none."""
    passage: Passage = doc._.passage
    doc._.positions = list(_Finder(passage).run()) if passage.cues.groups else []


class _Finder:
    def __init__(self, passage: Passage) -> None:
        self._passage = passage
        self._context = _Context()
        self._longest = max((len(words) for words in passage.cues.words), default=0)
        self._sides = {
            phrase: tuple(group for group in passage.cues.groups if phrase in group.phrases)
            for group in passage.cues.groups
            for phrase in group.phrases
        }
        self._longest_side = max(map(len, self._sides), default=0)
        self._said: set[str] = set()

    @property
    def _atoms(self) -> tuple[Atom, ...]:
        return self._passage.atoms

    def _text(self, at: int) -> str:
        return self._atoms[at].text if 0 <= at < len(self._atoms) else ""

    def _free(self, at: int) -> bool:
        return at < len(self._atoms) and not self._passage.claims[at]

    def run(self) -> Iterator[Mention]:
        """All positions, in order."""
        index = 0
        while index < len(self._atoms):
            if not self._free(index):
                index += 1
                continue
            last = index + 1
            for read in (self._whole_group, self._numbered, self._worded, self._side,
                         self._continued):  # fmt: skip
                found = read(index)
                if found is not None:
                    mentions, last = found
                    yield from mentions
                    break
            index = max(last, index + 1)

    # --- groups as a whole ------------------------------------------------------

    def _whole_group(self, at: int) -> tuple[list[Mention], int] | None:
        """ "all eight", "all bolts", "both wheels", "the rest"."""
        text = self._text(at)
        if text not in ("all", "both", "each", "every", "rest", "others", "remaining"):
            return None
        after = at + 1
        if text == "all" and self._text(after) == "the":
            after += 1
        number = self._passage.numerals(after).whole_number(after)
        counted = None
        if number is not None and text in ("all", "remaining"):
            counted = self._counted(after)
            if counted is not None:
                after = counted[1]
        word = self._position_word(after)
        if word is not None:
            groups, after, _ = word
        elif counted is not None or text == "both":
            groups = self._groups_here()
        elif text in ("rest", "others"):
            groups = self._context.groups
        else:
            return None
        size = 2 if text == "both" else None if counted is None else counted[0]
        remaining = text in ("rest", "others", "remaining")
        for group in groups:
            members = tuple(p for p in group.positions if not (remaining and p in self._said))
            if members and (size is None or size == len(members)):
                same = tuple(other for other in groups if other.positions == group.positions)
                return self._mentions(at, after, members, same, {"group"}, ()), after
        return None

    def _counted(self, at: int) -> tuple[int, int] | None:
        """The "eight" of "all eight": a cardinal that some group has as many places as."""
        numerals = self._passage.numerals(at)
        sizes = {len(group.positions) for group in self._passage.cues.groups}
        for value, last in _prefixes(numerals, self._atoms, at):
            if value in sizes and not self._is_value(last):
                return value, last
        return None

    def _groups_here(self) -> tuple[PositionGroup, ...]:
        """The groups spoken of: the running list's, else those of the step, else all."""
        if self._context.groups:
            return self._context.groups
        cues = self._passage.cues
        step = cues.card.step(cues.step) if cues.card and cues.step else None
        if step is not None:
            here = {(each.position_word or "", each.positions) for each in step.fields}
            groups = tuple(g for g in cues.groups if (g.word, g.positions) in here)
            if groups:
                return groups
        return cues.groups

    # --- position words ---------------------------------------------------------

    def _position_word(self, at: int) -> tuple[tuple[PositionGroup, ...], int, bool] | None:
        """(groups, index behind, plural) of the longest position word at `at`."""
        for length in range(min(self._longest, len(self._atoms) - at), 0, -1):
            words = tuple(atom.text for atom in self._atoms[at : at + length])
            known = self._passage.cues.words.get(words)
            if known is not None and self._passage.free(at, at + length):
                return known[0], at + length, known[1]
        return None

    def _number_sign(self, at: int) -> int:
        for sign in _NUMBER_SIGNS:
            if all(self._text(at + offset) == part for offset, part in enumerate(sign)):
                return at + len(sign)
        return at

    def _numbered(self, at: int) -> tuple[list[Mention], int] | None:
        """ "number three bolt", "the third bolt", and "number two ..." inside a list."""
        numerals = self._passage.numerals(at)
        ordinal = numerals.ordinal(at)
        if ordinal is not None:
            word = self._position_word(ordinal.last)
            if word is not None:
                return self._of_value(at, word[1], int(ordinal.value), word[0])
            return None
        after = self._number_sign(at)
        if after == at:
            return None
        for value, last in _prefixes(numerals, self._atoms, after):
            word = self._position_word(last)
            if word is not None:
                return self._of_value(at, word[1], value, word[0])
        groups = self._groups_here() if self._context.groups else ()
        for value, last in _prefixes(numerals, self._atoms, after):
            fits = tuple(group for group in groups if value in group.numbers)
            if fits and not self._is_value(last):
                return self._list(at, after, fits, many=False, continued=True)
        return None

    def _of_value(
        self, first: int, last: int, value: int, groups: tuple[PositionGroup, ...]
    ) -> tuple[list[Mention], int]:
        fits = tuple(group for group in groups if value in group.numbers)
        if not fits:
            return [self._unknown(first, last, groups)], last
        self._enter(fits, (value,), last)
        mentions = self._mentions(first, last, (fits[0].numbers[value],), fits, set(), ())
        return mentions, self._skip_value(last)

    def _unknown(self, first: int, last: int, groups: tuple[PositionGroup, ...]) -> Mention:
        self._passage.claim(first, last, NAME)
        return self._passage.mention(
            "position",
            first,
            last,
            NAME,
            qualifiers=frozenset(f"of:{group.word}" for group in groups if group.word),
            doubts=("unknown_position",),
        )

    def _worded(self, at: int) -> tuple[list[Mention], int] | None:
        """A position word and what follows it."""
        word = self._position_word(at)
        if word is None:
            return None
        groups, after, many = word
        after = self._number_sign(after)
        if self._text(after) in (":",):
            after += 1
        lettered = self._lettered(after, groups)
        if lettered is not None:
            position, last, fits = lettered
            return self._mentions(at, last, (position,), fits, set(), ()), last
        return self._list(at, after, groups, many=many)

    def _lettered(
        self, at: int, groups: tuple[PositionGroup, ...]
    ) -> tuple[str, int, tuple[PositionGroup, ...]] | None:
        """A position that is a word or a letter, behind its position word."""
        for length in range(min(self._longest_side, len(self._atoms) - at), 0, -1):
            words = tuple(atom.text for atom in self._atoms[at : at + length] if atom.text != "-")
            fits = tuple(group for group in groups if words in group.phrases)
            if fits and self._passage.free(at, at + length):
                return fits[0].phrases[words], at + length, fits
        return None

    # --- numbers behind a position word -------------------------------------------

    def _list(
        self,
        first: int,
        at: int,
        groups: tuple[PositionGroup, ...],
        *,
        many: bool,
        continued: bool = False,
    ) -> tuple[list[Mention], int] | None:
        numbers = {value for group in groups for value in group.numbers}
        if not numbers:
            return None
        doubts: list[str] = []
        qualifiers: set[str] = {"continued"} if continued else set()
        head = self._head(
            first, at, groups, numbers, many=many, doubts=doubts, qualifiers=qualifiers
        )
        if head is None:
            return None
        values, last = head
        if not values:
            return [self._unknown(first, last, groups)], last
        last = self._more(values, last, numbers, many=many)
        fits = tuple(group for group in groups if set(values) <= set(group.numbers))
        if not fits:
            fits = groups
        if len(values) > 1:
            qualifiers.add("group")
        named = tuple(fits[0].numbers[value] for value in values if value in fits[0].numbers)
        mentions = self._mentions(first, last, named, fits, qualifiers, tuple(doubts))
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
        doubts: list[str],
        qualifiers: set[str],
    ) -> tuple[list[int], int] | None:
        """The first position: ([values], index behind); [] when the card has no such one."""
        if at >= len(self._atoms) or not self._free(at):
            return None
        numerals = self._passage.numerals(at)
        fused = self._fused(at, groups, numbers, many=many)
        if fused is not None:
            doubts.append("fused_position")
            return fused
        for value, last in _prefixes(numerals, self._atoms, at):
            if value in numbers and not self._is_value(last, at):
                if self._whole_is_meant(at, last, groups, numerals):
                    return None
                return [value], last
        heard = None if self._text(first - 1) in _BEFORE_TO else numerals.by_ear(at)
        if heard is not None and heard in numbers and numerals.number(at + 1) is not None:
            qualifiers.add("homophone")
            if not self._context.expects(heard, at):
                doubts.append("homophone_position")
            return [heard], at + 1
        number = numerals.whole_number(at)
        if (
            number is not None
            and number.last - at <= 3
            and not self._is_value(number.last, at)
            and number.value < 100
            and not many
            and self._implausible(number.value, groups)
        ):
            return [], number.last
        return None

    @staticmethod
    def _implausible(value: Decimal, groups: Sequence[PositionGroup]) -> bool:
        return all(group.plausible(value) is False for group in groups)

    def _is_value(self, last: int, first: int | None = None) -> bool:
        """Whether the number that ends at `last` is a value: a unit or decimals follow, or it
        is the reading of a ratio."""
        if last >= len(self._atoms):
            return False
        stop = self._passage.barrier(last)
        text = self._text(last)
        at = last + 1 if text == "-" and self._atoms[last].glued else last
        if unit_words.find(self._atoms, at, stop) is not None:
            return True
        numerals = self._passage.numerals(last)
        if text in ("over", "/", "%", "point", "decimal", "hundred", "thousand", "and a half"):
            return True
        if text == "." and last + 1 < stop and self._atoms[last + 1].glued:
            return self._atoms[last + 1].shape == "digits" and self._atoms[last].glued
        if text == "and" and numerals.fraction(last + 1) is not None:
            return True
        if first is not None and last == first + 1 and self._atoms[last].shape == "word":
            return self._atoms[last].glued and self._atoms[first].shape == "digits"
        return False

    def _whole_is_meant(
        self, at: int, last: int, groups: tuple[PositionGroup, ...], numerals: Numerals
    ) -> bool:
        """Whether the figures at `at` are one value without a position: "bolt one oh two"."""
        whole = numerals.number(at)
        rest = numerals.number(last)
        if whole is None or rest is None or whole.last <= last:
            return False
        if whole.last != rest.last:
            return False
        if numerals.is_weak_zero(last):
            self._passage.doubted[self._atoms[at].start] = ("ambiguous_number", (rest.value,))
            return True
        if self._reference(whole.last) is not None:
            return False
        likely = any(group.plausible(whole.value) for group in groups)
        if likely and self._implausible(rest.value, groups):
            self._passage.doubted[self._atoms[at].start] = ("ambiguous_number", (rest.value,))
            return True
        return False

    def _reference(self, at: int) -> Decimal | None:
        """The reference of a ratio that goes on at `at`: "over eighty"."""
        if self._text(at) not in ("over", "/"):
            return None
        number = self._passage.numerals(at + 1).number(at + 1)
        return None if number is None else number.value

    def _check_value(self, first: int, last: int, groups: tuple[PositionGroup, ...]) -> None:
        """Mark the value behind a position when the same figures could be one number."""
        numerals = self._passage.numerals(first)
        whole, rest = numerals.number(first), numerals.number(last)
        if whole is None or rest is None or whole.last != rest.last or whole.last <= last:
            return
        reference = self._reference(whole.last)
        if reference is not None:
            if whole.value <= reference:
                self._doubt(last, whole.value, reference)
            return
        if self._implausible(whole.value, groups):
            return
        singly = "digits" in whole.qualifiers
        both = any(group.plausible(whole.value) for group in groups)
        if singly or both:
            self._doubt(last, whole.value)

    def _doubt(self, at: int, value: Decimal, reference: Decimal | None = None) -> None:
        other: Value = value if reference is None else Ratio(value, reference)
        self._passage.doubted[self._atoms[at].start] = ("fused_position", (other,))

    # --- figures run together -------------------------------------------------------

    def _fused(
        self, at: int, groups: tuple[PositionGroup, ...], numbers: set[int], *, many: bool
    ) -> tuple[list[int], int] | None:
        """Numerals that hold a position and a value, or both ends of a range."""
        atom = self._atoms[at]
        if atom.shape != "digits" or (len(atom.text) < 2 and not self._dotted(at)):
            return None
        if many:
            return self._fused_range(at, numbers)
        if int(atom.text[:9]) in numbers and not self._dotted(at):
            return None
        if self._dotted(at):
            return self._fused_decimal(at, groups, numbers)
        for length in (1, 2):
            head, tail = atom.text[:length], atom.text[length:]
            if not tail or tail[0] == "0" or len(tail) > 4 or int(head) not in numbers:
                continue
            whole, rest = Decimal(atom.text), Decimal(tail)
            reference = self._reference(at + 1)
            if reference is not None:
                split = whole > reference >= rest
            else:
                split = self._implausible(whole, groups) and any(
                    group.plausible(rest) for group in groups
                )
            if split:
                self._passage.split(at, length)
                self._doubt(at + 1, whole, reference)
                return [int(head)], at + 1
            if not self._known_range(groups) and reference is None and len(atom.text) > 2:
                self._passage.doubted[atom.start] = ("fused_position", (rest,))
        return None

    @staticmethod
    def _known_range(groups: Sequence[PositionGroup]) -> bool:
        return any(group.low is not None for group in groups)

    def _dotted(self, at: int) -> bool:
        """Whether the numeral at `at` goes on with a full stop and figures."""
        return (
            at + 2 < len(self._atoms)
            and self._text(at + 1) == "."
            and self._atoms[at + 1].glued
            and self._atoms[at + 2].glued
            and self._atoms[at + 2].shape == "digits"
            and self._passage.free(at, at + 3)
        )

    def _fused_decimal(
        self, at: int, groups: tuple[PositionGroup, ...], numbers: set[int]
    ) -> tuple[list[int], int] | None:
        """ "cylinder 3.68" for "cylinder three, sixty eight"."""
        head, tail = self._text(at), self._text(at + 2)
        if int(head[:9]) not in numbers or len(head) > 2 or tail[0] == "0":
            return None
        whole, rest = Decimal(f"{head}.{tail}"), Decimal(tail)
        reference = self._reference(at + 3)
        likely = any(group.plausible(rest) for group in groups)
        if reference is not None:
            likely = rest <= reference and rest * 3 >= reference > 3 * whole
        elif not self._implausible(whole, groups):
            likely = False
        if not likely:
            return None
        self._passage.claim(at + 1, at + 2, NAME)
        self._doubt(at + 2, whole, reference)
        return [int(head)], at + 1

    def _fused_range(self, at: int, numbers: set[int]) -> tuple[list[int], int] | None:
        """ "bolts 128" and "bolts 1.8" for "bolts one to eight"."""
        text = self._text(at)
        if self._dotted(at):
            low, high, last = text, self._text(at + 2), at + 3
        elif len(text) == 3 and text[1] == "2" and int(text) not in numbers:
            low, high, last = text[0], text[2], at + 1
        else:
            return None
        ends = int(low[:9]), int(high[:9])
        if ends[0] >= ends[1] or not set(ends) <= numbers or self._is_value(last):
            return None
        return [n for n in sorted(numbers) if ends[0] <= n <= ends[1]], last

    # --- more than one position -------------------------------------------------------

    def _more(self, values: list[int], last: int, numbers: set[int], *, many: bool) -> int:
        """Extend `values` by what follows: "to four", ", two and three", "two three four"."""
        while last < len(self._atoms) and self._free(last):
            step = self._to(values, last, numbers) or self._and(values, last, numbers, many=many)
            if step is None:
                return last
            last = step
        return last

    def _to(self, values: list[int], at: int, numbers: set[int]) -> int | None:
        for phrase in _TO:
            if self._text(at) != phrase[0]:
                continue
            found = self._next_position(at + 1, numbers)
            if found is None or found[0] <= values[-1]:
                return None
            values.extend(n for n in sorted(numbers) if values[-1] < n <= found[0])
            return found[1]
        return None

    def _and(self, values: list[int], at: int, numbers: set[int], *, many: bool) -> int | None:
        after = at
        if self._text(after) == "," and many:
            after += 1
        if self._text(after) in ("and", "&", "or"):
            after += 1
        found = self._next_position(after, numbers)
        if found is None or found[0] in values or found[0] in self._context.used:
            return None
        numerals = self._passage.numerals(at)
        if numerals.is_weak_zero(found[1]) or (self._text(at) == "," and found[0] < values[-1]):
            return None  # "five to eight, one oh two"
        if after == at and (not many or found[0] != values[-1] + 1):
            return None
        if not many and not self._ends_list(found[1]):
            return None
        values.append(found[0])
        return found[1]

    def _ends_list(self, at: int) -> bool:
        """Whether what follows two positions is a value or a break, not the second's value."""
        return at >= len(self._atoms) or not self._passage.numerals(at).starts_number(at)

    def _next_position(self, at: int, numbers: set[int]) -> tuple[int, int] | None:
        if not self._free(at):
            return None
        numerals = self._passage.numerals(at)
        for value, last in _prefixes(numerals, self._atoms, at):
            if value in numbers and not self._is_value(last, at):
                return value, last
        return None

    # --- sides and lists that go on ----------------------------------------------------

    def _side(self, at: int) -> tuple[list[Mention], int] | None:
        """A position that is a word of its own: "left", "inboard right"."""
        for length in range(min(self._longest_side, len(self._atoms) - at), 0, -1):
            words = tuple(atom.text for atom in self._atoms[at : at + length] if atom.text != "-")
            groups = self._sides.get(words)
            if groups is None or not self._passage.free(at, at + length):
                continue
            if len(words) == 1 and len(words[0]) < 2:
                continue  # a letter is a position behind its position word only
            if words[0].isdigit() or self._text(at - 1) in _AFTER_AS:
                continue
            last = at + length
            position = groups[0].phrases[words]
            word = self._position_word(last)
            if word is not None and not word[2]:
                last = word[1]
            return self._mentions(at, last, (position,), groups, set(), ()), last
        return None

    def _continued(self, at: int) -> tuple[list[Mention], int] | None:
        """The next position of a running list: "bolt one ninety eight, two ninety nine"."""
        context = self._context
        if not context.groups or at - context.at > _REACH:
            return None
        fresh = at == context.resume or self._text(at - 1) in (*_BREAKS, "and", "then")
        if not fresh:
            return None
        numbers = {value for group in context.groups for value in group.numbers}
        numerals = self._passage.numerals(at)
        if self._dotted(at):
            return self._continued_decimal(at, numbers)
        for value, last in _prefixes(numerals, self._atoms, at):
            if value not in numbers or not context.expects(value, at):
                continue
            if self._is_value(last, at):
                continue
            values = [value]
            end = self._more(values, last, numbers, many=True)
            if len(values) == 1:
                end = last
            link = end
            while link < len(self._atoms) and (
                self._text(link) in _LINKS or self._text(link) == ","
            ):
                link += 1
            rest = self._passage.numerals(link).number(link)
            if rest is None:
                continue
            if link == end and len(values) == 1:
                if self._whole_is_meant(at, end, context.groups, numerals):
                    return None
                if numerals.is_weak_zero(end):
                    return None
            groups = context.groups
            qualifiers = {"continued"} | ({"group"} if len(values) > 1 else set())
            named = tuple(groups[0].numbers[v] for v in values if v in groups[0].numbers)
            mentions = self._mentions(at, end, named, groups, qualifiers, ())
            self._enter(groups, values, end)
            if len(values) == 1 and link == end:
                self._check_value(at, end, groups)
            return mentions, self._skip_value(link)
        return None

    def _continued_decimal(self, at: int, numbers: set[int]) -> tuple[list[Mention], int] | None:
        """ "6.85" and "6.185" for "six, eighty five" and "six was eighty five"."""
        head, tail = int(self._text(at)[:9]), self._text(at + 2)
        groups = self._context.groups
        if head not in numbers or not self._context.expects(head, at):
            return None
        split = self._fused_decimal(at, groups, numbers)
        if split is None:
            others = [Decimal(tail)]
            if len(tail) > 1 and tail[0] == "1" and tail[1] != "0":
                others.insert(0, Decimal(tail[1:]))
            self._passage.doubted[self._atoms[at].start] = ("fused_position", tuple(others))
            return None
        mentions = self._mentions(
            at, at + 1, (groups[0].numbers[head],), groups, {"continued"}, ("fused_position",)
        )
        self._enter(groups, (head,), at + 1)
        return mentions, self._skip_value(at + 2)

    # --- book-keeping ---------------------------------------------------------------

    def _enter(self, groups: tuple[PositionGroup, ...], values: Sequence[int], at: int) -> None:
        context = self._context
        if not context.groups or context.groups[0] is not groups[0] or (set(values) & context.used):
            context.used = set()
        context.groups = groups
        context.used |= set(values)
        context.last = max(values)
        context.at = at

    def _skip_value(self, at: int) -> int:
        """Index behind the value that follows at `at`, so that its figures are left whole."""
        numerals = self._passage.numerals(at)
        link = at
        while link < len(self._atoms) and (self._text(link) in _LINKS or self._text(link) == ","):
            link += 1
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


def _prefixes(numerals: Numerals, atoms: Sequence[Atom], at: int) -> Iterator[tuple[int, int]]:
    """Small cardinals that begin at `at`, longest first: (value, index behind)."""
    if at >= len(atoms):
        return
    if atoms[at].shape == "digits":
        if len(atoms[at].text) <= 4:
            yield int(atoms[at].text), at + 1
        return
    pair = numerals.pair(at)
    if pair is not None:
        yield int(pair[0]), pair[1]
        return
    single = numerals.figures(at)
    if single is not None and len(single[0]) == 1:
        yield int(single[0]), single[1]


STAGE = positions
