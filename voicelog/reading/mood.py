"""Mood: whether a state that is named is so at all, or wanted, planned, asked about or heard of.

"Guards are to be refitted", "once the guards are refitted", "I'd like the guards refitted", "have
the guards been refitted", "Jim reckons the guards are refitted": common practice, no source.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from voicelog.reading.negation import BREAKS, Negation
from voicelog.reading.state_words import trade

if TYPE_CHECKING:
    from collections.abc import Sequence

_ADVERBS = frozenset({
    "again", "all", "also", "back", "both", "freshly", "fully", "just", "newly", "now", "only",
    "properly", "still", "then", "wire",
})  # fmt: skip
_SHOWN = frozenset({
    "appear", "appeared", "appears", "found", "happened", "happens", "known", "looked", "out",
    "proved", "proves", "seem", "seemed", "seems", "reported", "said",
})  # fmt: skip
"""Words before "to be" that tell what is so: "found to be seized", "turned out to be loose"."""
_WANTING = frozenset({"need", "needs", "require", "requires", "want", "wants", "wanted"})
_WISHED = _WANTING | {"like", "love", "prefer", "expect"}
_OBJECT = frozenset({"a", "all", "both", "it", "my", "our", "that", "the", "them", "this"})
_IF = frozenset({
    "assuming", "before", "if", "once", "provided", "providing", "supposing", "till", "unless",
    "until", "whether",
})  # fmt: skip
_WHEN = frozenset({"when", "whenever"})
_SO_LONG = {("as", "long", "as"), ("as", "soon", "as"), ("in", "case", "the")}
_PRESENT = frozenset({"is", "are", "isnt", "arent"})
_SUBJECTS = frozenset({
    "a", "all", "an", "both", "he", "i", "it", "my", "our", "she", "that", "the", "these", "they",
    "this", "we", "you", "your",
})  # fmt: skip
"""Words that begin what a clause speaks of."""
_SEEKING = frozenset({
    "check", "checked", "checking", "examine", "examined", "inspect", "inspected", "listen", "look",
    "looked", "looking", "search", "searched", "searching", "watch",
})  # fmt: skip
_ASKING = frozenset({"are", "did", "does", "has", "have", "is", "was", "were"})
_ASKED = frozenset({"all", "any", "both", "my", "our", "the", "these", "those", "your"})
_HEARSAY = frozenset({
    "allegedly", "always", "apparently", "assumed", "believes", "claims", "generally", "hopefully",
    "mainly", "normally", "often", "presumably", "reckoned", "reckons", "said", "supposedly",
    "swears", "thinks", "thought", "typically", "usually",
})  # fmt: skip
_REFUSING = frozenset({
    "ceased", "ceases", "quit", "quits", "refused", "refuses", "stopped", "stops",
})  # fmt: skip
"""Words before a verb that turn it round: "stopped working", "refuses to turn"."""
_FAR_FROM = {("anything", "but"), ("far", "from"), ("nowhere", "near"), ("nothing", "like")}
_TOLD_BY = frozenset({"he", "she", "they"})
_CALLED = frozenset({"claim", "claims", "reckon", "reckons", "said", "say", "says", "think"})
_NEARLY = frozenset({"almost", "nearly", "practically"})
_BAR = frozenset({"bar", "save"})
"""Words that except, besides those of [procedure] except in models_config/talk.toml."""
_UNTIL = frozenset({"till", "unless", "until"})
_FOR_NOW = {("for", "now"), ("for", "the")}
_BUT = frozenset({"although", "but", "though"})
_WE = frozenset({"i", "we", "you", "they"})
_EASILY = frozenset({"a", "any", "effort", "fail", "force", "fuss", "help", "problems", "trouble"})
_OF_IT = frozenset({
    "gets", "goes", "has", "he", "it", "its", "just", "makes", "needs", "not", "only", "she",
    "smells", "takes", "that", "thats", "they", "this", "wants", "with", "you",
})  # fmt: skip
"""Words behind a "but" with which it goes on about the same thing."""
_SPLITS = frozenset({"and", "but", "so", "then"})
_REACH = 9
"""Words of a clause that are looked at before a state, at most."""

NOT_SO = "not so"
"""What is told is wanted, planned or asked about, and is no finding."""


class Mood(Negation):
    """Reads whether what is told is so, from the words of its clause."""

    def _mood(self, index: int, end: int) -> str:
        """NOT_SO, a doubt about what the words from `index` to `end` tell, or ""."""
        before = index - 1
        while self.word(before) in _ADVERBS:
            before -= 1
        if self._is_to_be(before) or self._is_wished(index, before):
            return NOT_SO
        first = self._clause(index)
        clause = self.words[first:index]
        if self._is_condition(first, end) or self._is_question(first) or self._used_to(clause):
            return NOT_SO
        after = self.words[end : end + 3]
        if not _NEARLY.isdisjoint(clause[-3:]) or self._is_partly(after):
            return "partial"
        if not _HEARSAY.isdisjoint(clause) or self._they_say(end):
            return "hedged"
        return "reserved" if self._is_reserved(end) else ""

    def _is_reserved(self, end: int) -> bool:
        """ "Rings but you can hardly hear it", "held till I wet it", "holds for now", "worked
        before I touched it", "refitted without bolts", "lights when it should not"."""
        after = tuple(self.words[end : end + 2])
        if self.word(end) in _UNTIL or after in _FOR_NOW or self._is_lacking(end):
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
        return word in _OF_IT | self.talk.not_ or faulty or (ends and word.isalpha())

    def _is_lacking(self, end: int) -> bool:
        """ "Refitted without bolts", but not "releases without sticking"."""
        if self.word(end) != "without" or end + 1 >= len(self.words):
            return False
        lacked = self.words[end + 1]
        return not (
            lacked.endswith("ing") or lacked in _EASILY or self.keys[end + 1] in trade("CONDITION")
        )

    def _is_well(self, at: int) -> bool:
        """Whether what goes on at `at` is good as well: "but it's fine"."""
        return not self.talk.passed.isdisjoint(self.words[at : at + 5])

    def _is_refused(self, index: int) -> bool:
        """Whether the words before turn round what is told: "stopped working", "far from fine"."""
        before = index - 1 - (self.word(index - 1) == "to")
        if tuple(self.words[max(0, index - 2) : index]) in _FAR_FROM:
            return True
        verb = self.words[index].endswith("ing") or before < index - 1
        return verb and self.word(before) in _REFUSING

    def _they_say(self, end: int) -> bool:
        """ "Refitted by the last shift, they say"."""
        for at in range(end, min(end + _REACH, len(self.words))):
            if self.words[at] in _TOLD_BY and self.word(at + 1) in _CALLED:
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
        return not (put_off == "to" and self.word(at - 2) in _SHOWN)

    def _is_wished(self, index: int, before: int) -> bool:
        """ "Guards want refitting", "I'd like the guards refitted", "get the guards refitted"."""
        if self.words[index].endswith("ing") and self.word(before) in _WANTING:
            return True
        first = self._clause(index)
        clause = self.words[first : before + 1]
        wished = [at for at, word in enumerate(clause) if word in _WISHED]
        if wished and not _OBJECT.isdisjoint(clause[wished[-1] + 1 :]):
            return True
        lead = self.word(first) in {"please", "now", "go"}
        return self.word(first + lead) == "get"

    def _is_condition(self, first: int, end: int) -> bool:
        """Whether the words from `first` to `end` tell on what something else hangs: "once the
        guards are refitted", "when the valve weeps", but not "once we bled it the brake held"."""
        for at in range(first, end):
            word = self.words[at]
            so_long = any(tuple(self.words[at : at + 3]) == words for words in _SO_LONG)
            whenever = at == first and word in _WHEN and self._is_present(at, end)
            if (word in _IF or whenever or so_long) and not self._is_over(at + 1, end):
                return True
        return False

    def _is_present(self, at: int, end: int) -> bool:
        last = self.words[end - 1]
        return not _PRESENT.isdisjoint(self.words[at:end]) or last.endswith("s")

    def _is_over(self, at: int, end: int) -> bool:
        """Whether a second subject has begun since `at`: what is told of it is so."""
        subjects = [word for word in self.words[at:end] if word in _SUBJECTS]
        return len(subjects) - (subjects[-1:] == ["it"]) > 1

    def _is_sought(self, index: int) -> bool:
        """ "Look for cracks", "checking the welds for cracks", "any cracks mean a fail", "there
        used to be a crack": none was found."""
        first = self._clause(index)
        clause = self.words[first:index]
        if not _SEEKING.isdisjoint(clause) and "for" in clause:
            return True
        opens = self.word(first) in {"any", "anything"}
        return opens or self._used_to(clause) or self._is_condition(first, index + 1)

    def _used_to(self, clause: Sequence[str]) -> bool:
        return any(pair == ("used", "to") for pair in pairwise(clause))

    def _is_question(self, first: int) -> bool:
        """ "Have the guards been refitted", at the beginning of a sentence."""
        begins = first == 0 or self.words[first - 1] in BREAKS - {","}
        return begins and self.word(first) in _ASKING and self.word(first + 1) in _ASKED

    def _is_partly(self, after: Sequence[str]) -> bool:
        """ "Refitted bar one", "greased but for the rear one"."""
        return not _BAR.isdisjoint(after[:1]) or tuple(after[:2]) == ("but", "for")
