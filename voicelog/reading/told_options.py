"""Options of a choice in other words than the card's: "won't budge" of what the card calls seized.

They count where the field is named, nothing denies them, and the words tell how the thing is. What
only describes it is asked about, and so are words that stand as a part of something longer. Where
an option is told of the same thing as the card spells it, that is the one.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.reading.negation import BREAKS
from voicelog.reading.option_scan import ENDS, GOES_ON, IS, SIGNS, SO, OptionScan
from voicelog.reading.option_words import longest
from voicelog.reading.spoken import lexemes

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from voicelog.reading.lexicon import Lexicon, Place
    from voicelog.reading.option_words import Meant
    from voicelog.reading.words import Token

TOLD = "in other words"
"""Qualifier of an option in other words."""
GUESS = "described"
"""Qualifier of one that is only described."""
_NAME = 0.51
"""How plainly the field needs to be named: by more than a mere word of its name."""
_MAY_BE = frozenset({
    "about", "be", "before", "can", "could", "for", "if", "in", "may", "might", "must", "need",
    "needs", "needed", "prevent", "should", "stop", "to", "till", "until", "want", "wants", "will",
    "would",
})  # fmt: skip
"""Words before them that make them what may be, or part of something else."""
_SAYS = frozenset({
    "all", "also", "and", "are", "as", "been", "came", "come", "comes", "feels", "found", "got",
    "had", "has", "have", "i", "i've", "is", "it's", "just", "look", "looked", "looking", "looks",
    "now", "only", "pretty", "really", "seem", "seems", "so", "still", "that's", "there's",
    "they're", "was", "we", "we've", "were", "where", "with",
})  # fmt: skip
"""Words before them that tell that it is so."""
_PRONOUNS = frozenset({
    "all", "both", "each", "everything", "he", "it", "one", "ones", "other", "others", "rest",
    "she", "that", "them", "these", "they", "this", "those",
})  # fmt: skip

_PLAIN = _SAYS | IS | _PRONOUNS | {
    "an", "at", "back", "badly", "bottom", "end", "front", "here", "in", "left", "nearly", "no",
    "number", "of", "on", "pretty", "rear", "really", "right", "side", "the", "there", "to", "top",
    "totally", "which",
}  # fmt: skip
"""Words before it that are no other thing."""
_CAME = frozenset({"came", "come", "comes"})
_WHO = frozenset({"i", "i've", "we", "we've"})
_PARTICLES = frozenset({"away", "back", "down", "in", "off", "on", "out", "over", "up"})
_OBJECTS = frozenset({
    "a", "all", "an", "both", "it", "my", "old", "one", "our", "some", "that", "the", "them",
    "these", "this", "those",
})  # fmt: skip
_STOPS = SIGNS | SO | GOES_ON | {"apart", "bar", "barring", "except", "excepting", "save"}
_OF_ALL = frozenset({"all", "other", "others", "these", "those"})


def find(
    text: str,
    tokens: Sequence[Token],
    terms: Sequence[Mention],
    positions: Sequence[Mention],
    lexicon: Lexicon,
) -> Iterator[Mention]:
    """The options of `lexicon` in other words, as terms."""
    if not lexicon.option_phrases:
        return
    scan = _Scan(tokens, terms, positions, lexicon)
    past = 0
    for index, token in enumerate(tokens):
        told = scan.told_at(index) if index >= past else None
        if told is not None:
            past, option, marks = told
            end = tokens[past - 1].end
            yield Mention(
                "term", text[token.start : end], token.start, end, option, stage="terms",
                qualifiers=marks,
            )  # fmt: skip


class _Scan(OptionScan):
    """Looks for the words."""

    def told_at(self, index: int) -> tuple[int, str, frozenset[str]] | None:
        """Where other words for an option that begin at `index` end, the option, and its
        qualifiers; the longest words count."""
        if self.word(index - 1) in _MAY_BE:
            return None
        found = longest(self.lexicon.option_phrases, self.word, index)
        return None if found is None else self._meant(index, *found)

    def _meant(
        self, index: int, end: int, fields: Mapping[Place, Meant]
    ) -> tuple[int, str, frozenset[str]] | None:
        option = None if self.is_denied(index) else self._option(index, fields)
        if option is None:
            return None
        meant = {place: each for place, each in fields.items() if each.option == option}
        good = any(each.good for each in meant.values())
        work = all(each.work for each in meant.values())
        if self._names_other(index, end, meant, option) or self._is_placed(index):
            return None
        if not work and (self.word(index - 1) in _WHO or self._is_work(index, end)):
            return None
        single = end == index + 1
        if single and (self._is_name(index) or self._is_past(index)):
            return None
        so, ends = self._is_told(index), self._ends_at(end, alone=good or single)
        whole = so and ends
        if not (whole if good or single else so or ends):
            return None
        if good and self._is_of_other(index):
            return None
        sure = whole and not all(each.told for each in meant.values())
        sure = sure and (work or not self._is_of_part(index))
        sure = sure and not (good and (self._is_aside(index, end) or self._is_of_one(index)))
        plain = self._is_plain_beside(index, end, meant, sure=sure)
        if plain or (not sure and self._spells(index, end, option)):
            return None
        return end, option, frozenset({TOLD, *["renewed"] * work, *[GUESS] * (not sure)})

    def _option(self, index: int, fields: Mapping[Place, Meant]) -> str | None:
        """The option of the field that is spoken of at `index`, here or one sentence before."""
        options = {place: each.option for place, each in fields.items()}
        option = self.named(index, options, _NAME)
        if option is None and not self.names_any(index, _NAME):
            option = self.named_before(index, options, _NAME)
        return option

    def _is_work(self, index: int, end: int) -> bool:
        """Whether it is told what somebody did to something: "ripped out the old curtain"."""
        if end > index + 1 or self.word(index - 1) not in SIGNS | {"and", "so", "then"}:
            return False
        at = end + (self.word(end) in _PARTICLES)
        return self.word(at) in _OBJECTS or (at > end and self.word(at) not in SIGNS)

    def _is_name(self, index: int) -> bool:
        """Whether a word is part of a name, and does not only sound like one."""
        start = self.tokens[index].start
        at = bisect_right(self.starts, start) - 1
        if at < 0 or self.terms[at].end <= start:
            return False
        return "misheard_term" not in self.terms[at].doubts

    def _is_past(self, index: int) -> bool:
        """Whether a verb tells what a thing did once, and not how it is: "leaked"."""
        word = self.words[index]
        return word.endswith("ed") and word not in self.lexicon.option_phrases

    def _names_other(self, first: int, end: int, fields: Iterable[Place], option: str) -> bool:
        """Whether the words from `first` to `end` hold another option of `fields` as the card
        spells it, part of an option (the "a flat" of "a flat spot"), or the name of a field."""
        start, stop = self.tokens[first].start, self.tokens[end - 1].end
        at = max(0, bisect_right(self.starts, start) - 1)
        while at < len(self.terms) and self.terms[at].start < stop:
            term = self.terms[at]
            if term.end > start and "misheard_term" not in term.doubts:
                cut = term.start < start or stop < term.end
                if self._is_option_of(term, None if cut else fields):
                    if cut or str(term.value) != option:
                        return True
                elif self.lexicon.plainness(str(term.value)) >= _NAME and self.places(at):
                    return True
            at += 1
        return False

    def _spells(self, first: int, end: int, option: str) -> bool:
        """Whether the option stands there as the card spells it."""
        own = range(self.tokens[first].start, self.tokens[end - 1].end)
        at = bisect_left(self.starts, own.start)
        spelt = self.terms[at : at + end - first]
        return any(term.start in own and str(term.value) == option for term in spelt)

    def _is_option_of(self, term: Mention, fields: Iterable[Place] | None) -> bool:
        options = self.lexicon.options
        where = options if fields is None else fields
        return any(str(term.value) in options.get(place, ()) for place in where)

    def _is_plain_beside(
        self, first: int, end: int, fields: Iterable[Place], *, sure: bool
    ) -> bool:
        """Whether an option of `fields` is told as the card spells it, of the same thing: in the
        same clause, or for a mere guess in the same sentence."""
        stops = BREAKS if sure else ENDS
        own = range(self.tokens[first].start, self.tokens[end - 1].end)
        while first and self.words[first - 1] not in stops and not self._starts_place(first):
            first -= 1
        while end < len(self.words) and self.words[end] not in stops:
            if self._starts_place(end) and not sure:
                break
            end += 1
        stop = self.tokens[end - 1].end
        at = bisect_left(self.starts, self.tokens[first].start)
        while at < len(self.terms) and self.terms[at].start < stop:
            term = self.terms[at]
            if term.start not in own and self._is_option_of(term, fields):
                return True
            at += 1
        return False

    def _is_told(self, index: int) -> bool:
        """Whether what begins at `index` is told of a thing: at the head of a clause, behind its
        name or place, or behind a word such as "looks"."""
        before = self.word(index - 1)
        if (
            index == 0
            or self._came_to(index)
            or before in SIGNS | IS | _SAYS | _PRONOUNS
            or before.endswith("'s")
        ):
            return True
        return self._is_named(index - 1)

    def _came_to(self, index: int) -> bool:
        """ "It came up spotless"."""
        return self.word(index - 1) in _PARTICLES and self.word(index - 2) in _CAME

    def _is_of_other(self, index: int) -> bool:
        """Whether a good word is told of something that no field is: "the figures are all right",
        or of a number."""
        at = index - 1
        if self._came_to(index):
            at -= 2
        while at >= 0 and self.words[at] in IS | _SAYS | {"looking", "not", "very"}:
            at -= 1
        if at < 0:
            return False
        word = self.words[at]
        if word in SIGNS:
            return at > 0 and self._is_figure(at - 1)
        if self.word(at - 1) in _OF_ALL and (word,) in lexemes():
            return False  # "all three fine"
        strange = word.isalpha() and word not in _PRONOUNS and not self._is_named(at)
        return strange or self._is_figure(at)

    def _is_of_part(self, index: int) -> bool:
        """Whether something else stands between the name and what is told, of which it may be told:
        "damper cover three, the tape round it is ripped"."""
        at = index - 1
        while at >= 0 and self.words[at] not in BREAKS and not self._is_named(at):
            word = self.words[at]
            plain = word in _PLAIN or not word.isalpha() or len(word) == 1 or (word,) in lexemes()
            if not plain:
                return True
            at -= 1
        return False

    def _is_aside(self, index: int, end: int) -> bool:
        """Whether a good word stands all by itself: "okay, next one"."""
        return self.word(index - 1) in SIGNS and self.word(end) in SIGNS and end == index + 1

    def _is_of_one(self, index: int) -> bool:
        """Whether it is told of a "one" that may be a place: "two a bit slack, one's fine"."""
        opens = self.word(index - 2) in SIGNS | {"and", "but"}
        return opens and self.word(index - 1) in {"one", "one's"}

    def _is_figure(self, index: int) -> bool:
        word = self.words[index]
        number = word.isdigit() or (word != "one" and (word,) in lexemes())
        return number and not self._is_placed(index)

    def _is_named(self, index: int) -> bool:
        return self.is_known(self.tokens[index]) or self._is_placed(index)

    def _is_placed(self, index: int) -> bool:
        start = self.tokens[index].start
        return any(first <= start < end for first, end in self.placed.items())

    def _ends_at(self, index: int, *, alone: bool) -> bool:
        """Whether nothing more is said of it from `index` on than where, or of another thing."""
        if alone and self.word(index) == "to":
            return False  # "fine to look at", "hard to reach"
        return self.word(index) in _STOPS or self._is_named(index)

    def _starts_place(self, index: int) -> bool:
        return self.tokens[index].start in self.placed
