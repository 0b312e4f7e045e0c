"""Conditions: what was found on a part, or denied, alone or as one of several.

"No cracks or surface rust" denies both; "no cracks, slight corrosion" denies one and tells of
the other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.negation import BREAKS
from voicelog.reading.spoken import lexemes
from voicelog.reading.states import States
from voicelog.reading.talk import everyday_words
from voicelog.reading.words import is_plural

if TYPE_CHECKING:
    from voicelog.objects import Mention

_ANY = frozenset({"any", "single"})
_LINKS = frozenset({"and", "or", "nor"})
ALTERNATIVES = frozenset({"or", "nor"})
_ARE = frozenset({"are", "is", "was", "were"})
_FIGURES = frozenset({"figure", "teen", "tens"})
_OBJECT = 6
"""Words between "haven't looked" and what it was not looked at, at most."""
_TOLD = BREAKS | {
    "and", "because", "but", "cause", "has", "is", "are", "so", "since", "there", "theres", "was",
    "were", "with",
}  # fmt: skip
"""Words behind which a fault is told after all."""


class Conditions(States):
    """Reads what is found on a part within the scope of a negation."""

    def _condition(self, index: int, end: int, canonical: str) -> Mention:
        name = f"is:{canonical}"
        before = self.word(index - 1)
        if self._is_there(index):
            self.clear()
        if self.negation is not None:
            doubts: tuple[str, ...] = ("misheard_polarity",) if self.misheard else ()
            between = self.words[self.negation : index]
            if self.negations > 1 or "say" in between or self.talk.vague.intersection(between):
                doubts += ("double_negation",)
            carried_on = self.listed and (self.soft or before in _LINKS)
            alternative = self._or_before(index) or self._or_ahead(index)
            if self.listed and not alternative:
                doubts += ("negation_scope",)
            doubts += self._cut_doubts()
            if between[0] == "nothing" and self.word(self.negation + 1) in self.talk.told_about:
                doubts += ("negation_scope",)  # "nothing on the sections": none, or not looked at
            thing = self.things.get(index)
            if self._names_more(end) and (thing is None or thing[2] != "counted"):
                doubts += ("negation_scope",)  # "no leak detector in stores"
            first = index if carried_on else self.negation
            self.listed, self.listed_to = True, end
            return self.mention(first, end, "pass", "condition", name, negated=True, doubts=doubts)
        if self._is_sought(index):
            return self.mention(index, end, "not done", "condition", name, doubts=("left_to_do",))
        severity = self._severity(index)
        found = bool(
            self.talk.seen.intersection(self.words[end : end + 2])
            or self.word(end) in self.talk.where
            or self.talk.present.intersection(self.words[max(0, index - 2) : index])
        )
        qualifiers = severity or (() if found else ("bare",))
        first = self.severity[0] if severity and self.severity else index
        return self.mention(first, end, "fail", "condition", name, *qualifiers)

    def _found(self, index: int, end: int, canonical: str) -> tuple[Mention, int]:
        """What `_condition` reads, with its length; a "crack free" thing has none."""
        free = end + (self.word(end) == "-")
        if self.word(free) != "free" or is_plural(self.word(end - 1)):
            return self._condition(index, end, canonical), end - index
        denied = not self._spent(index)
        first, value = (self.negation or 0, "fail") if denied else (index, "pass")
        self.clear()
        name = f"is:{canonical}"
        found = self.mention(first, free + 1, value, "condition", name, negated=not denied)
        return found, free + 1 - index

    def _is_there(self, index: int) -> bool:
        """Whether the denial is over, and what stands at `index` was found: "no cracks, slight
        corrosion", "no broken wires and some rust", but not "no cracks or slight corrosion"."""
        if not self.listed:
            return False
        if self._is_numbered(index):
            return True
        degrees = self.talk.light | self.talk.heavy | self.talk.some
        for at in range(index - 1, max(self.listed_to, index - 4) - 1, -1):
            if self.words[at] in degrees:
                first = at
                while self.word(first - 1) in degrees | {"a", "of"}:
                    first -= 1
                sure = not self.talk.some.isdisjoint(self.words[first : at + 1])
                return self.word(first - 1) not in {*ALTERNATIVES, *(() if sure else ("and",))}
        return False

    def _is_numbered(self, index: int) -> bool:
        """ "No drips and five dead turns": what is counted behind what was denied is there."""
        before = self.word(index - 1)
        figure = lexemes().get((before,))
        numbered = before.isdigit() or (figure is not None and figure.kind in _FIGURES)
        return self.listed and numbered and before not in self.talk.no

    def _or_before(self, index: int) -> bool:
        """Whether what stands at `index`, perhaps with a word that describes it, is one more of
        the things denied: "no cracks or surface rust"."""
        degrees = self.talk.light | self.talk.heavy
        at = index - 1
        while self.word(at) in degrees | {"any", "of", "sign", "signs"}:
            at -= 1
        if at == index - 1 and at >= 0 and self.tokens[at].key not in self.known:
            at -= self.word(at - 1) in ALTERNATIVES
        return self.word(at) in ALTERNATIVES

    def _denies_all(self, index: int, end: int) -> bool:
        """Whether the negation leaves none: "no", or "couldn't find any", but not "none of the
        broken wires is at the socket"."""
        first = self.negation or 0
        if self.word(first + 1) == "of" and self.word(end) in _ARE:
            return False
        denied = self.misheard or self.words[first] in self.talk.no
        denied = denied or index == self.past_one(first + 1) > first + 1  # "not one loose stud"
        return denied or not _ANY.isdisjoint(self.words[first:index])

    def _describes(self, index: int) -> bool:
        """Whether a word for a fault begins the name of a part that is denied: "no split pin in
        stores"."""
        return self.negation is not None and index in self.longer_names

    def _names_more(self, end: int) -> bool:
        """Whether what is denied goes on with a word that nothing explains: "no wear pads"."""
        word = self.word(end)
        if not word.isalpha() or self.words[end - 1].endswith("s") or end in self.things:
            return False
        known = self.talk.seen, self.talk.where, self.talk.beyond, everyday_words()
        if any(word in words for words in known):
            return False
        sign = self.text[self.tokens[end - 1].end : self.tokens[end].start].strip()
        return not sign and not word.endswith(("ed", "ing", "ly"))

    def _is_object(self, index: int) -> bool:
        """Whether a fault is what was not looked for: "I haven't looked for fuel leaks"."""
        if self.undone is None or self.negation is not None:
            return False
        between = self.words[self.undone + 1 : index]
        return len(between) <= _OBJECT and _TOLD.isdisjoint(between)
