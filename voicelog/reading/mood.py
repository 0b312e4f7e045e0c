"""Mood: whether a state that is named is so at all, or wanted, planned, asked about or heard of.

"Guards are to be refitted", "once the guards are refitted", "I'd like the guards refitted", "have
the guards been refitted", "Jim reckons the guards are refitted": common practice, no source.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.reading.negation import BREAKS, Negation
from voicelog.reading.state_words import trade
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from collections.abc import Set as AbstractSet

    from voicelog.reading.words import Token

_WHEN = frozenset({"when", "whenever"})
_PRESENT = frozenset({"is", "are", "isnt", "arent"})
_TOLD_BY = frozenset({"he", "she", "they"})
_BUT = frozenset({"although", "but", "though"})
_WE = frozenset({"i", "we", "you", "they"})
_IT = frozenset({"it", "them"})
_AS_WE = frozenset({"after", "as", "before", "when", "whenever", "while"})
_SPLITS = frozenset({"and", "but", "so", "then"})
_SENTENCE_ENDS = frozenset({".", ";", "!", "?"})
_REACH = 9
"""Words of a clause that are looked at before a state, at most."""

NOT_SO = "not so"
"""What is told is wanted, planned or asked about, and is no finding."""


_MEANWHILE = frozenset({"when", "while", "whilst"})


class Mood(Negation):
    """Reads whether what is told is so, from the words of its clause."""

    def __init__(self, tokens: Sequence[Token]) -> None:
        super().__init__(tokens)
        self.mood = talk().mood

    def _mood(self, index: int, end: int) -> str:
        """NOT_SO, a doubt about what the words from `index` to `end` tell, or ""."""
        before = index - 1
        while self.word(before) in self.mood.adverbs:
            before -= 1
        if self.word(before - 1) in {"be", "being"}:
            before -= 1  # "still to be paint-marked"
        if self._is_to_be(before) or self._is_wished(index, before):
            return NOT_SO
        first = self._clause(index)
        clause = self.words[first:index]
        if self._is_condition(first, end) or self._is_question(first) or self._used_to(clause):
            return NOT_SO
        if self._is_for_later(index, end):
            return NOT_SO
        if not self.mood.nearly.isdisjoint(clause[-3:]) or self._is_partly(end):
            return "partial"
        if not self.mood.hearsay.isdisjoint(clause) or self._they_say(end):
            return "hedged"
        return "reserved" if self._is_reserved(end) else ""

    def _is_for_later(self, index: int, end: int) -> bool:
        """ "Wire-locking tomorrow", "greasing left and right still to do": work that is named."""
        if self.words[index].endswith("ing"):
            end = self._past_places(end)
        return self._begins(self.mood.for_later, end)

    def _past_places(self, at: int) -> int:
        """Where the places that are named from `at` on end; only the card tells."""
        return at

    def _is_partly(self, end: int) -> bool:
        return self._begins(self.mood.partly, end) and self.word(end + 1) != "none"  # "bar none"

    def _is_reserved(self, end: int) -> bool:
        """ "Rings but you can hardly hear it", "held till I wet it", "holds for now", "worked
        before I touched it", "refitted without bolts", "lights when it should not"."""
        if self.word(end) in self.mood.until or self._begins(self.mood.for_now, end):
            return True
        if self._is_lacking(end):
            return True
        if self.word(end) == "before" and self.word(end + 1) in _WE:
            return True
        for at in range(end, min(end + _REACH, len(self.words))):
            word = self.words[at]
            if word in BREAKS - {","}:
                return False
            if word == "shouldnt" or tuple(self.words[at : at + 2]) == ("should", "not"):
                return True
            if word in _BUT:
                return self._is_of_it(at + 1) and not self._is_well(at + 1)
        return False

    def _is_of_it(self, at: int) -> bool:
        """Whether a "but" goes on at `at` about the same thing: "but it smells", "but leaks", "but
        blank"."""
        word = self.word(at)
        key = self.keys[at] if at < len(self.keys) else ""
        faulty = word in trade("FAULT") or key in trade("CONDITION")
        ends = self.word(at + 1) in BREAKS | {""} and not word.isdigit()
        return word in self.mood.of_it | self.talk.not_ or faulty or (ends and word.isalpha())

    def _is_lacking(self, end: int) -> bool:
        """ "Refitted without bolts", but not "releases without sticking"."""
        if self.word(end) != "without" or end + 1 >= len(self.words):
            return False
        lacked = self.words[end + 1]
        return not (
            lacked.endswith("ing")
            or lacked in self.mood.easily
            or self.keys[end + 1] in trade("CONDITION")
        )

    def _is_well(self, at: int) -> bool:
        """Whether what goes on at `at` is good as well: "but it's fine"."""
        return not self.talk.passed.isdisjoint(self.words[at : at + 5])

    def _is_refused(self, index: int) -> bool:
        """Whether the words before turn round what is told: "stopped working", "far from fine"."""
        before = index - 1 - (self.word(index - 1) == "to")
        if self._ends(self.mood.far_from, index):
            return True
        verb = self.words[index].endswith("ing") or before < index - 1
        return verb and self.word(before) in self.mood.refusing

    def _they_say(self, end: int) -> bool:
        """ "Refitted by the last shift, they say"."""
        for at in range(end, min(end + _REACH, len(self.words))):
            if self.words[at] in _TOLD_BY and self.word(at + 1) in self.mood.calling:
                return True
            if self.words[at] in BREAKS - {","}:
                break
        return False

    def _clause(self, index: int) -> int:
        """Where the clause begins that the word at `index` is in."""
        at = index
        while at > 0 and index - at < _REACH and self.words[at - 1] not in BREAKS | _SPLITS:
            at -= 1
        return at

    def _is_to_be(self, at: int) -> bool:
        """Whether the words before a state that end at `at` put it off: "has to be", "can be",
        "is being", but not "seems to be"."""
        if self.word(at) == "being":
            return True
        if self.word(at) not in {"be", "get"}:
            return False
        put_off = self.word(at - 1)
        if put_off == "not":
            put_off = self.word(at - 2)
        return not (put_off == "to" and self.word(at - 2) in self.mood.shown)

    def _is_wished(self, index: int, before: int) -> bool:
        """ "Guards want refitting", "I'd like the guards refitted", "get the guards refitted"."""
        if self.words[index].endswith("ing") and self.word(before) in self.mood.wanting:
            return True
        first = self._clause(index)
        clause = self.words[first : before + 1]
        wishing = self.mood.wanting | self.mood.wishing
        wished = [at for at, word in enumerate(clause) if word in wishing]
        if wished and not self.mood.objects.isdisjoint(clause[wished[-1] + 1 :]):
            return True
        lead = self.word(first) in {"please", "now", "go"}
        return self.word(first + lead) == "get"

    def _is_condition(self, first: int, end: int) -> bool:
        """Whether the words from `first` to `end` tell on what something else hangs: "once the
        guards are refitted", "when the valve weeps", but not "once we bled it the brake held"."""
        conditions = self.mood.conditions | self.mood.until
        for at in range(first, end):
            word = self.words[at]
            so_long = self._begins(self.mood.so_long, at)
            whenever = at == first and word in _WHEN and self._is_present(at, end)
            if (word in conditions or whenever or so_long) and not self._is_over(at + 1, end):
                return True
        return False

    def _is_circumstance(self, index: int) -> bool:
        """Whether the word tells in what state something else was found: "the drive kept running
        with it open", "slipped when we stopped loaded", "opened every guard while running"."""
        link, subject = self.word(index - 2), self.word(index - 1)
        if subject in _MEANWHILE and self.words[index].endswith("ing"):
            return True
        return (link == "with" and subject in _IT) or (link in _AS_WE and subject in _WE)

    def _is_present(self, at: int, end: int) -> bool:
        last = self.words[end - 1]
        return not _PRESENT.isdisjoint(self.words[at:end]) or last.endswith("s")

    def _is_over(self, at: int, end: int) -> bool:
        """Whether a second subject has begun since `at`: what is told of it is so."""
        subjects = [word for word in self.words[at:end] if word in self.mood.subjects]
        return len(subjects) - (subjects[-1:] == ["it"]) > 1

    def _is_sought(self, index: int) -> bool:
        """ "Look for cracks", "checking the welds for cracks", "any cracks mean a fail", "there
        used to be a crack": none was found."""
        first = self._clause(index)
        clause = self.words[first:index]
        if not self.mood.seeking.isdisjoint(clause) and "for" in clause:
            return True
        opens = self.word(first) in {"any", "anything"}
        return opens or self._used_to(clause) or self._is_condition(first, index + 1)

    def _used_to(self, clause: Sequence[str]) -> bool:
        return any(pair == ("used", "to") for pair in pairwise(clause))

    def _is_question(self, first: int) -> bool:
        """ "Have the guards been refitted", at the beginning of a sentence."""
        begins = first == 0 or self.words[first - 1] in BREAKS - {","}
        asks = self.word(first) in self.mood.asking and self.word(first + 1) in self.mood.asked
        return begins and asks

    def _begins(self, phrases: Iterable[str], at: int) -> bool:
        """Whether one of `phrases` begins at `at`: "bar", "for now"."""
        return any(self.words[at : at + len(said)] == said for said in map(str.split, phrases))

    def _ends(self, phrases: Iterable[str], at: int) -> bool:
        """Whether one of `phrases` ends right before `at`: "far from"."""
        return any(
            self.words[max(0, at - len(said)) : at] == said for said in map(str.split, phrases)
        )

    def _is_held_up(self, end: int) -> bool:
        """Whether the sentence goes on with what somebody had not got or could not get at: "not
        skimmed, no ladle here"."""
        if self._is_behind(self.mood.held_up, end):
            return True
        for at in range(end, len(self.words) - 1):
            if self.words[at] in _SENTENCE_ENDS:
                return False
            opens = self.words[at] in self.talk.no and self.words[at - 1] in BREAKS
            if opens and any(self._begins(self.mood.no_means, at + n) for n in (2, 3)):
                return True
        return False

    def _is_behind(self, phrases: AbstractSet[str], end: int) -> bool:
        """Whether the sentence goes on with one of `phrases` as the reason for what was denied:
        "not proved, ran out of time", but not "ran out of time to look for the leak"."""
        for at in range(end, len(self.words)):
            if self.words[at] in _SENTENCE_ENDS:
                return False
            for said in map(str.split, phrases):
                behind = at + len(said)
                if self.words[at:behind] == said and self.word(behind) != "to":
                    return True
        return False
