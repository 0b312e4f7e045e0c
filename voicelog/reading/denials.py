"""Denials: what a "no", a "none" or a "nothing" says by itself, and the "doesn't" or "do" of
another thing that repeats what was said: "all the others do"."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.phonetics import sound
from voicelog.reading.deeds import Deeds
from voicelog.reading.labels import WHERE
from voicelog.reading.negation import BREAKS
from voicelog.reading.spoken import lexemes
from voicelog.reading.state_words import state_words, trade
from voicelog.reading.states import DOERS
from voicelog.reading.talk import spare_words
from voicelog.reading.words import verb_stem

if TYPE_CHECKING:
    from voicelog.objects import Mention

DOES = frozenset({"did", "do", "does"})
ECHOES = DOES | {"are", "is", "was", "were"}
_STILL = frozenset({"at", "for", "if", "in", "when", "whatever", "whenever"})
"""Words behind "does nothing" that carry on, with what was tried."""
_AT_ALL = frozenset({"a thing", "anything", "owt"})
_NOBODY_IS = frozenset({"", "and", "but", "he", "i", "she", "so", "then", "they", "we", "you"})
""" "We did nothing": before these no part is said to do nothing."""
_LACKS = frozenset(
    {"arent", "doesnt", "dont", "hasnt", "havent", "isnt", "wasnt", "werent", "didnt"}
)
_THAT_IS = frozenset({"is", "its", "thats", "theyre", "was", "were"})
_NONE_THERE = WHERE | {"either", "here", "there", "to"}
"""Words behind "hasn't got any" and "not one" that carry on with where that is."""
_LEAST = frozenset({
    "bead", "blemish", "drop", "hint", "mark", "scratch", "sign", "speck", "spot", "trace",
})  # fmt: skip
"""The least of a fault: "not a mark on it" finds none, as no part is called so."""
_ANYWHERE = frozenset({"anywhere", "around", "round"})
_STOCK = 5
"""Words that may tell where spare parts lie."""
_ARE = frozenset({"is", "are", "was", "were", "been", "being", "has", "have"})


_ANSWER = 12
"""Words behind what was told within which a bare "doesn't" denies it of another."""
_SCOPE = ("negation_scope",)


class Denials(Deeds):
    """Reads the words that deny, alone or for what stands behind them."""

    def _no(self, index: int, word: str, after: str) -> tuple[Mention | None, int]:
        alone = after in BREAKS or after == "" or after in self.talk.seen
        placed = after in _NONE_THERE or self._place_at(index + 1)  # "nil on the east, nil west"
        if word == "no" and after == "," and self.word(index - 1) == ",":
            return None, 1  # "splines good, no, fretted": taken back
        figures = index and (self.word(index - 1),) in lexemes()  # "two zero mm of play"
        if word == "zero" and (alone or figures):
            return None, 1  # "leak drops zero, oil temp forty four": a number
        if word == "none" and self._in_stock(index + 1):
            return None, 1
        if word == "none" and self._denies_behind(index):
            self.negate(index)
            return None, 1
        if word == "none" or (word == "nil" and (alone or placed)):
            of_them = after == "of" and self.word(index + 2) in {"them", "those", "these"}
            last = index + (3 if of_them else 1)
            return self.mention(
                index, last, "pass", "condition", "none", negated=True
            ), last - index
        if word == "nothing" and (
            after in self.talk.seen or after in {"wrong", "unusual", "abnormal"}
        ):
            return self.mention(index, index + 2, "pass", "condition", "none", negated=True), 2
        if (
            word == "nothing"
            and self.word(index - 1) in DOES
            and self._is_idle(index - 1, index + 1)
        ):
            return self.mention(index - 1, index + 1, "fail", "state", negated=True), 1
        if word in {"neither", "nor"} and self.negation is not None and not self.soft:
            return None, 1
        if self._tells_nothing(index):
            return self.mention(index, index + 2, "not done", "state", negated=True), 2
        self.negate(index)
        return None, 1

    def _perhaps_un(self, index: int, found: Mention) -> Mention:
        """`found`, in doubt where a recogniser may have cut an "un" off its word, which turns it:
        "boot on damaged", "clip an locked"; "corroded and damaged" is what it says."""
        word, before = self.words[index], self.word(index - 1)
        opposed = f"un{word}" in state_words()
        turned = word.endswith("ed") and word in state_words() and not word.startswith("un")
        if not (opposed or turned) or found.negated or not self._ends_clause(index + 1):
            return found
        cut = before in self.talk.cut_un
        after_it = before == "and" and any(end == index - 1 for end, *_ in self.things.values())
        cut = cut or (opposed and after_it)
        if not cut or "misheard_polarity" in found.doubts:
            return found
        return replace(found, doubts=(*found.doubts, "misheard_polarity"))

    def _tells_nothing(self, index: int) -> bool:
        """Whether a "no" denies that anything was told of what stands behind, which is not none of
        it: "no word on the sections", "no news of them yet", "nothing about the tines"."""
        if self.words[index] == "nothing":
            return self.word(index + 1) == "about"
        if self.words[index] != "no" or self.word(index + 1) not in self.talk.tellings:
            return False
        return self.word(index + 2) in self.talk.told_about or self._ends_clause(index + 2)

    def _place_at(self, index: int) -> bool:
        return index < len(self.tokens) and self.tokens[index].start in self.place_words

    def _in_stock(self, index: int) -> bool:
        """ "None in stock": of what was to be put in."""
        words = " ".join(self.words[index : index + _STOCK])
        return spare_words().pattern.match(words) is not None

    def _not_any(self, index: int) -> tuple[Mention | None, int]:
        """ "Port hasn't got any", "not a single one on port": none, and nothing is denied behind
        it; "not one loose stud" denies as "no loose studs" does. No words where it is neither."""
        at = index + 1
        if self.words[index] in _LACKS:
            at += self.word(at) in {"got", "have"}
            at = at + 1 if self.word(at) == "any" else index
        elif self.words[index] == "not" and self.word(index - 1) not in _THAT_IS:
            at = self.past_one(at)
        if at <= index + 1:
            return None, 0
        counted = at in self.things and self.things[at][2] == "counted"
        if counted:
            self.negate(index)
            return None, at - index
        if self.word(at) in _LEAST and self.word(at + 1) in WHERE | _ANYWHERE:
            at += 1  # "not a drop on either ram"
            none = self.mention(index, at, "pass", "condition", "none", negated=True)
            return none, at - index
        ends = self._ends_clause(at) or self.word(at) in _NONE_THERE
        if self.words[at - 1] == "a" or not ends:
            return None, 0
        none = self.mention(index, at, "pass", "condition", "none", "lacks", negated=True)
        return none, at - index

    def _is_idle(self, first: int, end: int) -> bool:
        """ "The stern one does nothing when I push it": at `first`..`end` it is told of a thing,
        and of nobody, that it does nothing."""
        ends = self._ends_clause(end) or self.word(end) in _STILL
        subject = self.word(first - 1)
        return ends and subject not in _NOBODY_IS and subject not in BREAKS

    def _not_done(self, index: int) -> bool:
        """Whether a "not" stands right before the verb: "didn't check", "couldn't get at"."""
        first = self.negation
        near = first is not None and not self.soft and 0 < index - first <= 2
        return near and self.words[first or 0] in self.talk.not_

    def _undone(self, index: int) -> Mention:
        first = self.negation or 0
        self.clear()
        self.undone = index
        return self.mention(first, index + 1, "not done", "state", negated=True)

    def _not_a_thing(self, index: int) -> tuple[Mention | None, int]:
        """ "The stern one doesn't do anything"; no words where that is not said at `index`."""
        first = self.negation or 0
        end = next((index + n for n in (2, 3) if self._spoken(index + 1, index + n) in _AT_ALL), 0)
        if self.words[index] != "do" or not end or not self._is_idle(first, end):
            return None, 0
        self.clear()
        return self.mention(first, end, "fail", "state", negated=True), end - index

    def _spoken(self, first: int, end: int) -> str:
        return " ".join(self.words[first:end])

    def _denies_behind(self, index: int) -> bool:
        """Whether "none" denies the state behind it ("none missing", "none of them checked"), and
        not what was named before it ("leaks none")."""
        before = self.tokens[index - 1].key if index else ""
        if before in trade("CONDITION") or index in self.fault_ends:
            return False
        at = self.past_one(index + 1)
        some = at > index + 2
        if some and at in self.things and self.things[at][2] == "subject":
            at = self.things[at][0]  # "none of the placards missing"
        at = self._past_are(at)
        if self.word(at) in self.talk.seen:
            return False
        verdicts = self.talk.passed | self.talk.failed if some else ()  # "none of the six failed"
        word = self.word(at)
        said = self._is_state(at) or (some and verb_stem(word) in self.openings)
        return said or word in self.talk.undone or word in verdicts

    def _past_are(self, index: int) -> int:
        while self.word(index) in _ARE:
            index += 1
        return index

    def _is_state(self, index: int) -> bool:
        """Whether a word that tells how a thing is stands at `index`."""
        key = self.tokens[index].key if index < len(self.tokens) else ""
        states = trade("FAULT").keys() | trade("GOOD").keys()
        return key in states or self.word(index) in states

    def _elliptic(self, index: int) -> Mention:
        """ "Stop buttons work at both ends, the one in the middle doesn't": what was said before is
        denied here."""
        undone = self.words[index] in {"havent", "hasnt", "hadnt"}
        value = "not done" if undone else "fail"
        doubts = () if self._answers(index) else _SCOPE
        return self.mention(index, index + 1, value, "state", negated=True, doubts=doubts)

    def _answers(self, index: int) -> bool:
        """Whether the "does not" or "isn't" at `index` has the form of what was told last, and so
        denies just that: "one and two respond, three does not", "left is tight, right isn't"."""
        told = self.told
        if told is None or told.value != "pass" or told.doubts or index - self.told_to > _ANSWER:
            return False
        said = told.text.lower().split()
        past = said[-1].endswith("ed")
        does = not past and any({word, f"{word}s"} & self._verbs for word in said)
        helper = self.words[index - (self.words[index] == "not")].removesuffix("nt")
        if helper in {"do", "does", "wo"}:
            return does
        return past if helper == "did" else helper in _ARE and not does

    def _is_echo(self, index: int) -> bool:
        """ "Three doesn't close square, all the others do": what was said is told of others."""
        subject = self.word(index - 1)
        named = subject not in DOERS | _NOBODY_IS | {"it", "that", "what"} and subject not in BREAKS
        after = index + 1 + (self.word(index + 1) in {"too", "also"})
        if self.words[index] in _ARE and (self.told is None or not self._is_denial(self.told)):
            return False
        return bool(self.told) and named and self._ends_clause(after) and self._spent(index)

    def _echo(self, index: int) -> Mention:
        said = self.told.text.lower() if self.told and self._is_denial(self.told) else ""
        verb = self.words[index]
        alike = verb in _ARE or (said[:1] == "d" and said.startswith("did") == (verb == "did"))
        doubts = () if said and alike else _SCOPE
        return self.mention(index, index + 1, "pass", "state", doubts=doubts)

    @staticmethod
    def _is_denial(told: Mention) -> bool:
        """ "Doesn't close", "isn't dry": what was told last denies that a thing is as it should."""
        return told.negated and told.value == "fail" and "condition" not in told.qualifiers

    def _sounds_like_nil(self, index: int) -> bool:
        key, before = self.tokens[index].key, self.word(index - 1)
        if self.words[index] in self.talk.sounds_like_no:
            if before in DOERS or before in self.talk.not_ or before == "to":
                return False  # "I know leaks"
        elif not (2 < len(key) < 6 and key.isalpha() and sound(key) == "NL"):
            return False
        after = self.tokens[index + 1].key if index + 1 < len(self.tokens) else ""
        return after in trade("CONDITION") or index + 1 in self.things
