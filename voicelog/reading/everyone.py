"""All the places of a field at once: "every one of the six bolts", "six bolts at ninety"."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.behind_values import AT
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.one_side import OneSide
from voicelog.reading.phrases import by_first
from voicelog.reading.running_list import BREAKS, REACH
from voicelog.reading.words import is_plural, phrase_key

if TYPE_CHECKING:
    from voicelog.reading.atoms import Key
    from voicelog.reading.number import Number
    from voicelog.reading.position_words import PositionGroup
    from voicelog.reading.running_list import Found

_EVERYONE = by_first((
    ("every", "single", "one"), ("every", "last", "one"), ("every", "one"), ("each", "one"),
    ("each", "and", "every", "one"), ("everyone",), ("the", "whole", "lot"), ("the", "lot"),
    ("the", "whole", "set"), ("across", "the", "board"), ("throughout",), ("everywhere",),
    ("each",),
))  # fmt: skip
"""Words for all the places of a field at once; "each" only before "of"."""
_LONGEST_NAME = 4
"""Words of a name of what is counted, at most."""
_POINTED = frozenset({"at", "for", "on"})
_NUMBERED = frozenset({"number", "no", "is", "was", "code"})


class Everyone(OneSide):
    """Reads words for all the places of a field."""

    def _as_many_as_all(self, at: int) -> Found | None:
        """ "Twelve ring bolts torqued to ninety", "sixty eight on the six brake bolts": as many as
        the field has places, with one value told of them."""
        counted = self._counted(at) if self._may_count(at) else None
        word = None if counted is None else self._plural_ahead(counted[1])
        if counted is None or word is None or self._is_counted(counted[1]):
            return None
        groups = tuple(group for group in word[0] if len(group.positions) == counted[0])
        before = at - (self._text(at - 1) == "the")
        ahead = not before or self._text(before - 1) in BREAKS
        ahead = ahead and self._value_follows(word[1])
        behind = self._text(before - 1) in _POINTED and self._value_ends(before - 1)
        if not groups or not (ahead or behind):
            return None
        return self._mentions(at, word[1], groups[0].positions, groups, {"group"}, ()), word[1]

    def _everyone(self, at: int) -> tuple[int, tuple[PositionGroup, ...]] | None:
        """Index behind words that mean every place of the field that was named, or is named in
        them: "every one of the eleven", "each of the six bolts", "the lot", "throughout"."""
        for words in _EVERYONE.get(self._text(at), ()):
            last = at + len(words)
            if tuple(self._texts[at:last]) == words:
                break
        else:
            return None
        coded = last < len(self._atoms) and not self._free(last)
        if words[-1] == "lot" and (coded or self._text(last) in _NUMBERED):
            return None  # "the lot number is ..."
        if self._text(last) != "of":
            return (last, ()) if words != ("each",) else None
        if words[0] not in ("each", "every"):
            return None
        after = last + 1 + (self._text(last + 1) == "the")
        if self._text(after) in ("them", "those", "these"):
            return after + 1, ()
        counted = self._counted(after)
        after = after if counted is None else counted[1]
        word = self._word_ahead(after)
        if word is not None:
            sizes = {counted[0]} if counted else {len(group.positions) for group in word[0]}
            groups = tuple(group for group in word[0] if len(group.positions) in sizes)
            return word[1], groups if len({group.positions for group in groups}) == 1 else ()
        return (after, ()) if counted is not None else None

    def _all_of_them(
        self, at: int, last: int, named: tuple[PositionGroup, ...] = ()
    ) -> Found | None:
        """ "clamps forty eight foot pounds, all of them"; of what is `named` with these words."""
        groups = named or (self._context.heard if at - self._context.heard_at <= REACH else ())
        if not groups or (self._text(at) == "both" and len(groups[0].positions) > 2):
            return None
        return self._mentions(at, last, groups[0].positions, groups, {"group"}, ()), last

    def _is_counted(self, at: int) -> bool:
        """Whether the name of something that the card counts stands at `at`, without a pause."""
        if self._text(at) in BREAKS:
            return False
        lexicon = lexicon_of(self._cues.card)
        names = (" ".join(self._texts[at : at + length]) for length in range(1, _LONGEST_NAME + 1))
        return any(lexicon.exact.get(phrase_key(name)) in lexicon.counted for name in names)

    def _plural_ahead(self, at: int) -> tuple[tuple[PositionGroup, ...], int] | None:
        """A position word in the plural at `at`: "the other floors"."""
        word = self._word_ahead(at)
        return word if word is not None and self._text(word[1] - 1).endswith("s") else None

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
            word = self._strong_word(index) or self._plural_word(index)
            if word is not None:
                return self._meant(word[0].groups, index), word[1]
            text = self._text(index)
            if text in BREAKS or (
                text != "-" and not any(text in g.tokens for g in self._passage.cues.groups)
            ):
                return None
            index += 1
        return None

    def _figure_named(self, at: int) -> tuple[int, int, tuple[PositionGroup, ...]] | None:
        """A figure at `at` before a name that takes no number, which stands behind another one as
        well: "four pulley failed, one pulley okay"."""
        for value, first in self._prefixes(at):
            for words, last in self._walk(first, self._cues.word_heads):
                known = self._cues.words.get(words)
                if known is None or known.many or is_plural(words[-1]):
                    continue
                named = not known.weak or self._is_judged(first, last, last)
                if named and self._again(words) and self._state_follows(last):
                    return value, last, self._meant(known.groups, first)
        return None

    def _again(self, words: Key) -> bool:
        """Whether a name stands behind two figures that differ."""
        length = len(words)
        figures = {
            self._text(index - 1)
            for index in range(1, len(self._texts) - length + 1)
            if tuple(self._texts[index : index + length]) == words
            and self._passage.words[index - 1] is not None
        }
        return len(figures) > 1

    def _is_for_all(self, at: int, last: int, *, named: bool) -> bool:
        """Whether the figures at `at` are one value of places behind it, and no place ends at
        `last`: "exhaust four twenty degrees on all cylinders", "load cells, four fifty kilonewtons
        on one and two", "temp four four zero on number five". Where the word of the places stands
        before them (`named`), that is asked about."""
        numerals = self._passage.numerals(at)
        whole, rest = numerals.number(at), numerals.number(last)
        if whole is None or rest is None or whole.last != rest.last or whole.last <= last:
            return False
        unit = unit_words.find(self._atoms, whole.last, self._passage.barrier(whole.last))
        end = whole.last if unit is None else unit[1]
        if self._is_at_one(end, bare=unit is not None):
            if named:
                self._passage.doubted[self._atoms[at].start] = ("ambiguous_number", (rest.value,))
            return True
        if unit is not None and not named and self._is_spelt_alone(at, whole, end):
            return True
        while self._text(end) in ("on", "at", "for", ","):
            end += 1
        of_all = self._text(end) in ("all", "every", "each", "both") or bool(self._everyone(end))
        return of_all and not named

    def _is_at_one(self, at: int, *, bare: bool) -> bool:
        """Whether a place by its number stands at `at`, behind a word that puts a value there:
        "on five", "for number five", "at bolt five"; `bare`: also without a word of its own."""
        if self._text(at) not in AT:
            return False
        sign = self._number_sign(at + 1)
        word = self._word_ahead(sign)
        start = sign if word is None else self._number_sign(word[1])
        figure = next(self._prefixes(start), None) if self._free(start) else None
        if figure is None or figure[0] not in self._listing[0].numbers:
            return False
        return (bare or start > at + 1) and self._text(figure[1]) in (*BREAKS, "")

    def _is_spelt_alone(self, at: int, whole: Number, end: int) -> bool:
        """Whether three figures or more, said one by one, stand at `at` before a unit that ends at
        `end`, and no list of places goes on there: "exhaust temp four four zero degrees"."""
        if "digits" not in whole.qualifiers or whole.last - at <= len(("one", "other")):
            return False
        while self._text(end) in BREAKS:
            end += 1
        return self._next_position(end, set(self._listing[0].numbers)) is None

    def _is_row_of_all(self, at: int, groups: tuple[PositionGroup, ...]) -> bool:
        """Whether as many numbers as there are places stand at `at`, with a pause between them."""
        count = 0
        while at < len(self._atoms) and self._passage.words[at] is not None:
            count, at = count + 1, at + 1
            if self._text(at) not in (",", "and"):
                break
            at += 1 + (self._text(at + 1) == "and")
        return count > 1 and count == len(groups[0].positions)

    def _all_named(self, at: int, last: int, groups: tuple[PositionGroup, ...]) -> Found:
        """All places of a field whose name begins at `at`: "inlets all", "inlets all four"."""
        counted = self._counted(last)
        if counted is not None and counted[0] == len(groups[0].positions):
            last = counted[1]
        mentions = self._mentions(at, last, groups[0].positions, groups, {"group"}, ())
        if groups[0].order:
            self._enter(groups, groups[0].order, last)
        return mentions, last
