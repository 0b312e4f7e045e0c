"""Stage: which bolt, cylinder or side is spoken of ("bolts one to four", "left", "all eight").

A position word of the card is followed (or preceded) by positions that the card has; what
comes behind them is the value, however the recogniser ran the figures together: "bolt four
ninety four" is 94 at bolt 4. Where the same figures could be one number, what the card's
limits leave possible decides, and what stays open is marked in doubt.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading import unit_words
from voicelog.reading.chain import stage
from voicelog.reading.fused import CLAIM as NAME
from voicelog.reading.fused_rows import FusedRows
from voicelog.reading.leaving import WAS
from voicelog.reading.position_rows import TO
from voicelog.reading.running_list import CLOCK
from voicelog.reading.words import is_plural

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from spacy.tokens import Doc

    from voicelog.objects import Mention
    from voicelog.reading.passage import Passage
    from voicelog.reading.position_words import PositionGroup, PositionWord
    from voicelog.reading.running_list import Found

_OPENERS = frozenset({
    "all", "both", "each", "every", "rest", "other", "others", "remaining", "last", "number",
    "numbers", "no", "nos", "nr", "#", "on", "for", "in", "into", "at", "the", "across",
    "throughout", "everyone", "everything", "everywhere", "odd", "odds", "even", "evens",
})  # fmt: skip
"""Words that may begin the mention of a place, besides figures and the card's own."""


@stage(NAME)
def positions(doc: Doc) -> None:
    """Read positions of the card; without a card there are none."""
    passage: Passage = doc._.passage
    glued = passage.cues.glued
    if not glued.keys().isdisjoint(passage.texts):
        for index in reversed(range(len(passage.atoms))):
            length = glued.get(passage.texts[index])
            if length is not None and not passage.claims[index]:
                passage.split(index, length)
    doc._.positions = passage.asked_places(_Finder(passage).run()) if passage.cues.groups else []


class _Finder(FusedRows):
    """Tries every way in which a position may begin, atom by atom."""

    def __init__(self, passage: Passage) -> None:
        super().__init__(passage)
        self._named_to = 0
        """Index behind the name of a field that was said last."""
        self._clocked = not CLOCK.isdisjoint(passage.texts)

    def run(self) -> Iterator[Mention]:
        """All positions, in order."""
        index = 0
        while index < len(self._atoms):
            self._note_hull(index)
            found = self._at(index) if self._free(index) else None
            mentions, last = found if found is not None else ([], index)
            yield from mentions
            index = max(last, index + 1)

    def _at(self, index: int) -> Found | None:
        """The place that begins at `index`, in whatever way."""
        if not self._may_begin(index):
            return self._by_sound(index) if self._atoms[index].shape == "word" else None
        for read in (self._fused_row, self._whole_group, self._as_many_as_all, self._shared_end,
                     self._all_ends, self._out_of, self._numbered, self._half_said, self._worded,
                     self._abridged, self._by_sound, self._half_alone, self._side, self._continued,
                     self._bare_range, self._behind_value):  # fmt: skip
            found = read(index)
            if found is not None:
                return found
        return None

    def _may_begin(self, at: int) -> bool:
        """A quick look whether any of these ways can begin at `at`."""
        text, words, cues = self._text(at), self._passage.words, self._cues
        if words[at] is not None or text in _OPENERS or "'" in text:
            return True
        one = text.removesuffix("s")  # "fronts", "mains"
        head = text in cues.word_heads or text in cues.phrase_heads or one in cues.phrase_heads
        head = head or text in cues.parted or text in cues.place_ends or one in cues.tails
        after = self._past_hyphen(at + 1)
        return head or (after < len(words) and words[after] is not None)

    # --- number before or behind the position word ---------------------------------

    def _numbered(self, at: int) -> Found | None:
        """ "number three bolt", "the third outer bolt", "number two ..." inside a list."""
        numbered = self._passage.words[at] is not None
        ordinal = self._passage.numerals(at).ordinal(at) if numbered else None
        if ordinal is not None:
            return self._ordinal(at, ordinal.last, int(ordinal.value))
        if self._text(at) == "last":
            few = self._few(at, at + 1, of_end=True)
            if few is not None:
                return few
            word = self._word_ahead(at + 1)
            if word is None and self._is_excepted(at):  # "every circuit bar the last"
                word = self._numeric_groups(at), at + 1
            order = word[0][0].order if word is not None and word[0] else ()
            return self._of_value(at, word[1], order[-1], word[0]) if word and order else None
        after = self._number_sign(at)
        if after == at:
            named = self._figure_named(at)
            if named is not None:
                return self._of_value(at, named[1], named[0], named[2])
            return self._clock(at) if self._clocked else None
        if self._text(at - 1 - (self._text(at - 1) in WAS)) in self._cues.numbered:
            return None  # "riser number two": what is counted is no place
        for value, last in self._prefixes(after):
            word = self._word_ahead(last)
            if word is not None:
                return self._of_value(at, word[1], value, word[0])
        groups = self._numeric_groups(at)
        if not groups:
            return None
        many = self._is_excepted(at)
        if many:  # "all sixty five but number six and eight": what is said of all is not of these
            self._context.used = set()
        return self._list(at, after, groups, many=many, qualifiers={"continued"}, signed=True)

    def _numeric_groups(self, at: int) -> tuple[PositionGroup, ...]:
        """`_numeric_here`; at an exception those of what was named as a whole."""
        recent = self._recent if self._is_excepted(at) else ()
        return tuple(group for group in recent if group.numbers) or self._numeric_here(at)

    def _few(self, at: int, last: int, *, of_end: bool) -> Found | None:
        """ "The first four gates", "the last two": as many places from one end of the row."""
        for value, after in self._prefixes(last):
            word = self._plural_ahead(after) or self._named_before(at, after)
            order = word[0][0].order if word is not None else ()
            if word is not None and 1 < value < len(order):
                values = order[-value:] if of_end else order[:value]
                groups = tuple(g for g in word[0] if set(values) <= set(g.numbers))
                named = [groups[0].numbers[each] for each in values]
                self._enter(groups, values, word[1])
                mentions = self._mentions(at, word[1], named, groups, {"group"}, ())
                return mentions, self._skip_value(word[1])
        return None

    def _ordinal(self, at: int, last: int, value: int) -> Found | None:
        few = self._few(at, last, of_end=False) if value == 1 else None
        if few is not None:
            return few
        word = self._word_ahead(last)
        if word is not None:
            spelt = tuple(atom.text for atom in self._atoms[at:last])
            fits = tuple(group for group in word[0] if spelt in group.phrases)
            if fits:  # the card counts its places in words: "second floor"
                named = (fits[0].phrases[spelt],)
                self._enter(fits, (), word[1])
                mentions = self._mentions(at, word[1], named, fits, set(), ())
                return mentions, self._skip_value(word[1])
            return self._of_value(at, word[1], value, word[0])
        heard = self._heard_ahead(last)
        if heard is not None and self._value_follows(heard[1]):
            return self._of_value(at, heard[1], value, heard[0], doubts=("misheard_term",))
        if self._is_excepted(at):  # "every circuit bar the third"
            groups = self._numeric_groups(at)
            return self._of_value(at, last, value, groups, {"continued"}) if groups else None
        context = self._context
        listed = context.expects(value, at)
        listed = listed or (self._text(at - 1) == "the" and context.returns(value, at))
        if listed and self._value_follows(last) and not self._is_value(last):
            return self._of_value(at, last, value, self._context.groups, {"continued"})
        return None

    def _heard_ahead(self, at: int) -> tuple[tuple[PositionGroup, ...], int] | None:
        """A word that sounds like a position word, behind words of its group: "2nd prop bowled"."""
        while any(self._text(at) in group.tokens for group in self._cues.groups):
            at += 1
        meant = self._sounds_like(at)
        return None if meant is None else (self._meant(meant.groups, at), at + 1)

    def _clock(self, at: int) -> Found | None:
        """ "twelve o'clock", where the card's places are those of a clock face."""
        for value, last in self._prefixes(at):
            if self._text(last) in CLOCK:
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
        doubts: tuple[str, ...] = (),
    ) -> Found:
        fits = tuple(group for group in groups if value in group.numbers)
        if not fits:
            return [self._unknown(first, last, groups)], last
        self._enter(fits, (value,), last)
        named = (fits[0].numbers[value],)
        mentions = self._mentions(first, last, named, fits, qualifiers or set(), doubts)
        return mentions, self._skip_value(last)

    def _worded(self, at: int) -> Found | None:
        """A position word, or a field that has positions, and what follows it."""
        word = self._position_word(at)
        heard = () if word is not None else ("misheard_term",)
        self._guessed = () if word is not None else self._guessed
        word = word or self._heard_word(at)
        if word is None:
            return None
        known, after = word[0], self._past_hyphen(word[1])
        whole = self._whole_place(at, word[1], known.groups)
        if whole is not None:
            return self._worded_phrase(at, whole)
        cut = self._cut_short(at, after, known.groups)
        if cut is not None:
            return cut
        groups = self._meant(known.groups, at)
        if known.weak and word[1] == at + 1 and self._is_of_another_step(at, groups):
            return None
        if not (known.weak and at < self._named_to):  # "play" goes on with the name "link play"
            self._name(groups, at, word[1], weak=known.weak)
        if known.weak and self._is_unit(at, word[1]):
            return None  # "447 volts on red"
        colon = self._text(after) == ":"
        signed = self._number_sign(after)
        after = signed + 1 if self._text(signed) == ":" else signed
        link = self._text(after)
        listed = link == "from" and known.weak and self._listed_from(after + 1, groups)
        # "brush is one to four, thirty one": a recogniser's "brushes"
        alone = known.weak or not heard
        listed = listed or (
            link in ("is", "'s") and self._listed_from(after + 1, groups, by_range=alone)
        )
        if listed or (known.weak and link in ("at", "on", "for", "under", "in")):
            after += 1
        phrase = None if self._is_bare_article(after) else self._phrase(after, groups)
        if phrase is not None and (not known.weak or self._value_follows(phrase[1])):
            return self._worded_phrase(at, phrase)
        left_out = self._leaves_out(after)
        if left_out is not None:
            # "spray even on all but four": the name of a field is no place
            return self._all_but(after if known.weak else at, left_out)
        two = self._text(after) == "both" and len(groups[0].positions) == len(("one", "other"))
        shared = (two or self._text(after) == "all") and (
            known.many or (after == word[1] and self._is_shared(after + 1, known))
        )
        if shared:
            return self._all_named(at, after + 1, groups)
        one = known.many and not colon and self._one_is_told(after)
        if one:
            heard = (*heard, "misheard_term")
        excepted = self._is_excepted(at)  # "except ways six which I left at four point five"
        if known.many and not (one or excepted or self._names_places(after, colon=colon)):
            return None
        if self._text(at - 1) == "by" and self._is_row_of_all(after, groups):
            return self._all_named(at, word[1], groups)  # "wires by rope: two, none, one"
        if known.weak and self._are_many_at(after, groups):
            return None  # "pins spring back at one, two and four"
        if known.weak and self._is_of_open_place(at, after, groups):
            return None
        self._many_named = known.weak and is_plural(self._text(word[1] - 1))
        are_in = known.weak and link == "in" and self._is_asked(link)  # "clips in one to six"
        used = self._leave_behind(at)
        found = self._list(
            after if are_in else at,
            after,
            groups,
            many=known.many,
            weak=known.weak and not are_in,
            signed=signed > word[1] or (link == "on" and self._is_on_a_place(after)),
            heard=heard,
        )
        self._many_named = False
        if found is None:
            self._context.used = used
        return found

    def _name(self, groups: tuple[PositionGroup, ...], at: int, last: int, *, weak: bool) -> None:
        """Take down whose places are spoken of from `at` on; a `weak` word is a field's name."""
        self._context.heard, self._context.heard_at = groups, at
        if not at or self._text(at - 1) in (".", ";"):
            self._context.headed, self._context.headed_at = groups, at
        self._named_to = last if weak else at
        if weak:
            self._field_named(at, last)

    def _is_unit(self, at: int, last: int) -> bool:
        """Whether a name of a field at `at` is the unit of the number before it."""
        unit = unit_words.find(self._atoms, at, last)
        return unit is not None and unit[1] == last and self._value_ends(at)

    def _is_shared(self, at: int, known: PositionWord) -> bool:
        """Whether a value of every place stands at `at`: "inlet all (at) 0.25 millimetres"."""
        at += self._text(at) == "at"
        number = self._passage.numerals(at).number(at) if self._free(at) else None
        measured = number is not None and self._is_value(number.last)
        return known.weak and measured and self._counted(at) is None

    def _names_places(self, at: int, *, colon: bool) -> bool:
        """Whether the number behind a plural names a place: "bolts four ninety eight" does,
        "loose bolts: three" counts them."""
        if self._free(at) and self._dotted(at):
            return True
        for _, last in self._prefixes(at):
            goes_on = self._text(last) in TO or self._text(last) in (",", "and", "&")
            return goes_on or (self._value_follows(last) and not colon)
        return True

    def _worded_phrase(
        self, at: int, phrase: tuple[str, int, tuple[PositionGroup, ...], bool]
    ) -> Found:
        position, last, fits, by_ear = phrase
        named, last = self._row(position, at, last, fits) if not by_ear else ((position,), last)
        doubts = ["homophone_position"] if by_ear or self._by_a_figure(at, last, fits) else []
        if self._glued_figures(last, fits):
            doubts.append("fused_position")
        told = {"group"} if len(named) > 1 else set()
        mentions = self._mentions(at, last, named, fits, told, tuple(doubts))
        self._enter(fits, (), last)
        return mentions, self._skip_value(last)

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
        heard: tuple[str, ...] = (),
    ) -> Found | None:
        numbers = {value for group in groups for value in group.numbers}
        if not numbers:
            return None
        self._listing = groups
        doubts, told = list(heard), set(qualifiers or ())
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
        if self._many_named or not set(groups) & set(self._context.groups):
            self._context.used = set()  # another field, or the places of one named as many
        if not values:
            return [self._unknown(first, last, groups)], last
        last = self._several(values, last, numbers, many=many)
        if first < self._heard_two < last:
            doubts.append("homophone_position")
        # "seal on 13 is missing", "seal two brittle", but "seals two missing" counts them
        pointed = self._text(at - 1) in ("at", "for", "on")
        told_of = len(values) > 1 or pointed or not (many or self._many_named)
        told_of = told_of or self._another_told(last, numbers - set(values))
        acts = len(values) > 1 or is_plural(self._text(last))  # "pawl four drops home"
        acts = (acts and self._are_so(last)) or (len(values) == 1 and self._acts(last))
        told_of = told_of and (acts or self._state_follows(last))
        told_of = told_of or self._row_behind(last, len(values)) or self._is_so_too(first, last)
        told_of = told_of or (not many and self._is_judged(first, at, last))
        if weak and not signed and not (told_of or self._value_follows(last)):
            return None
        if not signed and self._is_for_all(at, last, named=not (weak or many)):
            return None
        fits = tuple(group for group in groups if set(values) <= set(group.numbers)) or groups
        if len(values) > 1:
            told.add("group")
        named = tuple(fits[0].numbers[value] for value in values if value in fits[0].numbers)
        pointed = self._text(last) == "," and self._text(last + 1) in ("point", "decimal")
        if pointed and len(values) == 1 and weak and not signed:
            doubts.append("fused_position")  # "gravity one, point one nine eight"
        mentions = self._mentions(first, last, named, fits, told, tuple(doubts))
        self._enter(fits, values, last)
        if len(values) == 1:
            self._check_value(at, last, fits)
        else:
            self._cut_row(last, len(values), fits)
            self._check_value(last - 1, last, fits)
        return mentions, self._skip_values(last, len(values), fits)


STAGE = positions
