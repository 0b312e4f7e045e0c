"""States and verdicts: what is said of a thing, plainly or denied."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from voicelog.objects import Mention
from voicelog.reading.labels import WHERE
from voicelog.reading.mood import NOT_SO, Mood
from voicelog.reading.negation import BREAKS
from voicelog.reading.state_words import work_stems
from voicelog.reading.talk import talk
from voicelog.reading.words import verb_stem

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.reading.lexicon import Lexicon
    from voicelog.reading.things import Thing
    from voicelog.reading.words import Token

_CLAUSE_ENDS = frozenset({"", "and", "but", "because", "so", "as", "since", "until"})
_PERSONS = frozenset({"i", "we", "you"})
DOERS = _PERSONS | {"he", "she", "they"}
_DID_NOT = frozenset({"cannot", "cant", "couldnt", "didnt"})
_DID_NOT_TOO = ["did", "not"]
_FAILING = frozenset({"properly", "fully", "right", "easily", "freely", "anymore", "again", "home"})
"""Words behind the verb of what a thing fails to do."""
_NOBODY = frozenset({"nobody", "nobodys", "noone", "noones"})
_NO_SUBJECT = frozenset({"", "still", "and", "but", "just"})
"""Before "haven't" these tell that somebody did not do it: no part is spoken of."""

_BUT_ONLY = frozenset({"but", "only", "though", "although"})
_ON_CONDITION = frozenset({"when", "if", "once", "as", "until", "unless", "whenever", "after"})
_ONLY_IF = frozenset({"if", "unless"})
_AS = frozenset({"as", "like"})
_WHERE_WHEN = frozenset({"where", "when"})
_OFF_FROM = WHERE | {
    "after", "before", "beyond", "from", "of", "off", "over", "past", "than", "to", "until",
}  # fmt: skip
_PAST = frozenset({"past", "beyond", "short"})
_ONLY = frozenset({"only"})
_ALMOST = frozenset({"almost", "half", "nearly"})
_NEARLY = frozenset({"almost", "near", "nearly", "nothing", "than"})
_WISHED = frozenset({
    "can", "could", "get", "if", "make", "must", "should", "to", "until", "will", "wish", "would",
})  # fmt: skip
_TOLD_APART = BREAKS | {"and", "but"}
_POORLY_REACH = 8
"""Words behind a state within which it may be told that it is so poorly."""
_WHERE = frozenset({"in", "on", "off", "out", "up", "down"})
_MOVED = frozenset(
    map(verb_stem, ("fitted", "refitted", "installed", "removed", "applied", "lowered", "raised"))
)
"""Stems that say where a thing is, and those that say what was done with it."""
_PUT = _WHERE | _MOVED
_GOING = ["up", "and", "running"]
_LINKING = frozenset({
    "is", "are", "was", "were", "now", "back", "all", "both", "still", "put", "taken", "left",
})  # fmt: skip
_OWN = frozenset({"a", "an", "its", "my", "our", "the", "their"})
_BEING = frozenset({"is", "are", "was", "were"})
EACH = frozenset({"all", "at", "both", "each", "everywhere", "on"})
IS = frozenset({"'s", "’s"})
_THE = frozenset({"the", "all", "both", "my", "that", "those"})

Polarity = Literal["pass", "fail"]


class States(Mood):
    """Reads verdicts and states within the scope of a negation."""

    def __init__(
        self, text: str, tokens: Sequence[Token], things: Mapping[int, Thing], lexicon: Lexicon
    ) -> None:
        super().__init__(tokens)
        self.text = text
        self.tokens = tokens
        self.undone: int | None = None
        """The verb of what was said last not to have been done."""
        self.things = things
        self.predicates = lexicon.predicates
        self.known = lexicon.exact
        self.fault_ends = {end for end, _, how in things.values() if how in {"fault", "counted"}}
        self._subject_ends = {end: name for end, name, how in things.values() if how == "subject"}
        self.asked = lexicon.asked
        self.doers = lexicon.doers
        self.kindred = lexicon.kindred
        self.placed = lexicon.placed
        self.told = False
        """Whether something was said of a thing already."""
        self.told_to = 0
        """Index behind the words that said it last."""
        self._verbs = talk().everyday.verbs
        self.openings = {predicate[0] for predicate in lexicon.predicates}

    def mention(
        self,
        first: int,
        end: int,
        value: str,
        *qualifiers: str,
        negated: bool = False,
        doubts: tuple[str, ...] = (),
    ) -> Mention:
        start, stop = self.tokens[first].start, self.tokens[end - 1].end
        return Mention(
            "remark",
            self.text[start:stop],
            start,
            stop,
            value,
            negated=negated,
            stage="remarks",
            qualifiers=frozenset(qualifiers),
            doubts=doubts,
        )

    def _verdict(self, index: int, end: int, carrier: str, polarity: Polarity) -> Mention | None:
        word = self.words[index]
        if word in {"pass", "passed", "passes"} and end < len(self.words):
            # "pass me that torch"; "leak passed the valve" is how "past" gets written
            handed = self.words[end] in self.talk.handed_over or (
                word != "passes" and self.words[end] == "the"
            )
            if handed:
                return None
        if not self._spent(index) and not self._is_own_verdict(index, carrier, polarity):
            return self._denied(index, end, carrier, polarity)
        if word == "serviceable" and self.word(index - 1) in {
            "and",
            "an",
            "on",
            "in",
            "under",
            "a",
        }:
            return self.mention(index - 1, end, "pass", carrier, doubts=("misheard_polarity",))
        if word == "serviceable" and self.word(index - 1) in {"un", "non"}:
            return self.mention(index - 1, end, "fail", carrier)
        if polarity == "pass" and self._is_refused(index):
            return self.mention(index, end, "fail", carrier)
        limits = (
            {"limits"}
            if {"limit", "limits", "tolerance", "spec"} & set(self.words[index:end])
            else set()
        )
        if carrier == "state":
            mood = self._mood(index, end)
            if mood == NOT_SO and word.endswith("ing"):
                return None  # "before greasing"
            if mood == NOT_SO:
                return self.mention(index, end, "not done", carrier, doubts=("left_to_do",))
            poorly = polarity == "pass" and self._poorly(index, end)
            doubts = ("severity",) * poorly + (mood,) * bool(mood)
            return self.mention(index, end, polarity, carrier, *limits, doubts=doubts)
        return self.mention(index, end, polarity, carrier, *limits)

    def _poorly(self, index: int, end: int) -> bool:
        """Whether a thing does what it has to, and not well: "rings but only faintly", "the alarm
        was received late", "barely holds"."""
        if self.word(index - 1) in self.talk.poorly | _ALMOST | _ONLY or self.word(end) in _ONLY_IF:
            return True
        for at in range(end, min(end + _POORLY_REACH, len(self.words))):
            word = self.words[at]
            if word in self.talk.poorly or (word in _PAST and self.word(at + 1) in _WHERE_WHEN):
                return True
            if word == "only" and self.word(at + 1) in _ON_CONDITION:
                return True
            goes_on = word in _BUT_ONLY or (word == "," and self.word(at + 1) in _BUT_ONLY)
            if word in BREAKS | _CLAUSE_ENDS and not goes_on:
                return False
        return False

    def _only_compares(self, index: int) -> bool:
        """Whether "as it should" is no verdict of its own: "as high as it should be", "wish it
        would trip as it should", and behind a state of the same clause."""
        if self.words[index] not in _AS:
            return False
        if self.word(index - 1) in _NEARLY or self.word(index - 2) == "as":
            return True
        at = index
        while at > self.told_to and self.word(at - 1) not in _TOLD_APART:
            at -= 1
            if self.words[at] in _WISHED | self.talk.poorly:
                return True
        return 0 < self.told_to == at

    def _only_tells_where(self, index: int) -> bool:
        """ "Eighty where it should be ninety", "past where it should": a comparison, and no
        verdict as in "stopped it where it should"."""
        if self.words[index] not in _WHERE_WHEN:
            return False
        end = index + 3 + (self.word(index + 3) == "be")
        return not self._ends_clause(end) or self.word(index - 1) in _OFF_FROM

    def _is_own_verdict(self, index: int, carrier: str, polarity: Polarity) -> bool:
        """ "Latch does not close, fail" is no failure denied; "did not fail" is."""
        between = set(self.words[(self.negation or 0) + 1 : index]) - {"a", "an", "been", "really"}
        return carrier == "verdict" and polarity == "fail" and bool(between)

    def _denied(self, index: int, end: int, carrier: str, polarity: Polarity) -> Mention:
        first = self.negation or 0
        doubts: tuple[str, ...] = ("misheard_polarity",) if self.misheard else ()
        between = self.words[first:index]
        if self.negations > 1 or self.words[index].startswith("un"):
            doubts += ("double_negation",)
        if self.talk.vague.intersection(between) or {"say", "sure", "tell"}.intersection(between):
            doubts += ("hedged",)
        doubts += self._cut_doubts()
        none = ("none",) if self.words[first] in {"none", "nothing"} else ()
        undone = self._nobody_did(index) or self._put_off(first, end)
        undone = undone or self._left_work(index)
        self.clear()
        # "I haven't tripped it": somebody did not do what is a fault elsewhere
        by_hand = self.word(first - 1) in _PERSONS and index == first + 1
        nobody = self.words[first] in _NOBODY or self._is_no_one(first)
        by_hand = carrier == "state" and (by_hand or nobody)
        if by_hand or (carrier == "state" and polarity == "pass" and undone):
            return self.mention(first, end, "not done", carrier, negated=True, doubts=doubts)
        if self.words[index] in self.talk.work and not none:
            doubts += ("left_to_do",)
        flipped = "fail" if polarity == "pass" else "pass"
        return self.mention(first, end, flipped, carrier, *none, negated=True, doubts=doubts)

    def _nobody_did(self, index: int) -> bool:
        """Whether the word tells behind a "not" that something was left out."""
        return self.words[index] in self.talk.undone

    def _left_work(self, index: int) -> bool:
        """Whether somebody did not do the work that is denied: "didn't clean it"."""
        helped = self.word(index - 1) in _DID_NOT or self.words[index - 2 : index] == _DID_NOT_TOO
        return helped and verb_stem(self.words[index]) in work_stems()

    def _put_off(self, first: int, end: int) -> bool:
        """Whether what is denied from `first` was not done so far, and is no fault: "isn't locked
        yet", "haven't wire locked the bolts"."""
        until = end
        while self.word(until) not in BREAKS | _CLAUSE_ENDS:
            until += 1
        near = {*self.words[first : end + 2], self.word(max(end, until - 1))}
        if not self.talk.not_yet.isdisjoint(near):
            return True
        verb = first - 1 if self.words[first] == "not" else first
        before = self.word(verb - 1)
        nobody = before in BREAKS | _NO_SUBJECT
        if self.words[verb] in {"havent", "have"} and nobody:
            return True
        if self.words[verb] in {"didnt", "did"} and nobody and self.word(end) in _THE:
            return True  # "didn't dry the seat": what somebody does
        return self.words[verb] in {"havent", "have", "didnt", "did"} and before in _PERSONS

    def _predicate(self, index: int) -> tuple[Mention | None, int]:
        """A state that some label of the card names, or the opposite of one.

        Whether it is good depends on the field: "closed" is what one valve has to be and
        another must not be. So the remark says which state ("says:<stems>"), as "pass".
        """
        if self.tokens[index].text[-2:] in IS:
            return None, 1  # "lock's off": the lock is
        stem = verb_stem(self.words[index])
        thing = self.word(index - 1)
        if thing in self.talk.vague and (verb_stem(thing), stem) in self.predicates:
            return self._state(index, 1, (verb_stem(thing), stem)), 1  # "fully opened"
        if stem in self.openings:
            for count in range(3, 0, -1):
                said, length = self._stems(index, count)
                known = said in self.predicates
                if known and self._closes(index, length) and not self._names_place(index, length):
                    return self._state(index, length, said), length
        failed = None if self.negation is None else self._fails_to(index, stem)
        if failed is not None:
            return failed, 1
        opposite = self.talk.opposites.get(stem)
        if opposite and (opposite,) in self.predicates and self._closes(index, 1):
            return self._opposite(index, stem), 1
        found = self._put(index, stem) if stem in _PUT else None
        if found is not None:
            return found, 1
        if self.words[index] in self.talk.either_way and self._ends_clause(index + 1):
            return self._state(index, 1, (stem,)), 1
        if stem in self.talk.staying:
            kept = verb_stem(self.word(index + 1))
            opposites = {self.talk.opposites.get(kept), "out" if kept == "on" else None}
            if any(len(said) == 2 and said[1] in opposites for said in self.predicates):
                return self._state(index, 2, (stem, kept)), 2
        return None, 1

    def _stems(self, index: int, count: int) -> tuple[tuple[str, ...], int]:
        """`count` verb stems from the word at `index` on, past articles between them, and the
        number of words: "in its bracket" is (in, bracket)."""
        stems: list[str] = []
        at = index
        while at < len(self.words) and len(stems) < count:
            if not stems or self.words[at] not in _OWN:
                stems.append(verb_stem(self.words[at]))
            at += 1
        return tuple(stems), at - index

    def _names_place(self, index: int, length: int) -> bool:
        """ "The lamp on the panel does nothing": it only tells which, where the label has "Lamp on
        panel"."""
        if self.words[index] not in WHERE or length == 1 or self._ends_clause(index + length):
            return False
        after, before = self.word(index + length), self.word(index - 1)
        linked = before in _LINKING or before in self.talk.not_ or before.endswith("s")
        return after not in EACH and not linked

    def _is_placed(self, index: int, end: int) -> bool:
        """Whether the name of a check that tells where a thing has to be says that it is there:
        "the locking bar's across the spokes"."""
        if not _BEING.isdisjoint(self.words[index:end]):
            return True
        return any(token.text[-2:] in IS for token in self.tokens[index:end])

    def _state(self, index: int, length: int, said: tuple[str, ...]) -> Mention | None:
        found = self._verdict(index, index + length, "state", "pass")
        if found is None:
            return None
        if self.word(index - 1) == "still" and said not in self.predicates:
            found = replace(found, doubts=(*found.doubts, "left_to_do"))  # "clamp still on"
        return with_qualifiers(found, "predicate", f"says:{' '.join(said)}")

    def _opposite(self, index: int, stem: str) -> Mention | None:
        """The opposite of what a label asks for; it may be just what is wanted when something
        else is done: "the fan stops when I let go"."""
        found = self._state(index, 1, (stem,))
        if found is not None and self.word(index + 1) in _ON_CONDITION:
            return replace(found, doubts=(*found.doubts, "state_meaning"))
        return found

    def _fails_to(self, index: int, stem: str) -> Mention | None:
        """What a thing does not do: "won't turn" where the label says "turns freely", the whole
        of which is denied, and where no label has the verb, "the lock doesn't catch"."""
        first = self.negation
        if first is None or self.soft or index - first > 2:
            return None
        if self.words[first] not in self.talk.not_:
            return None
        if stem in self.openings and self._is_verb(index):
            for said in self.predicates:
                if len(said) > 1 and said[0] == stem:
                    return self._state(index, 1, said)
        if self._does_not(first, index + 1):
            for said in self.predicates:  # "opens but doesn't reseat": it has to do both
                if "and" in said and stem in said:
                    return self._state(index, 1, said)
        if self.words[index] in self.talk.functions and self._does_not(first, index + 1):
            return self._verdict(index, index + 1, "state", "pass")
        return None

    def _does_not(self, first: int, end: int) -> bool:
        """Whether the "not" at `first` tells what a thing, and no person, does or will not do,
        and that is all: "doesn't run rough", "doesn't catch on the frame" are no faults."""
        if self.word(first - 1) in DOERS:
            return False
        helped = self.words[first] == "not" and self.word(first - 1) in {"does", "will", "would"}
        helped = helped or self.words[first] in {"doesnt", "wont", "wouldnt"}
        end += self.word(end) in self.talk.particles
        ended = self._ends_clause(end) or self.words[end : end + 2] == ["at", "all"]
        return helped and (ended or self.word(end) in _FAILING)

    def _is_verb(self, index: int) -> bool:
        """Whether the word is a verb as labels have it, in any form."""
        word = self.words[index]
        return not {word, f"{word}s"}.isdisjoint(self._verbs) and word not in self.talk.particles

    def _put(self, index: int, stem: str) -> Mention | None:
        """What "in", "off", "removed" and the like say of a thing: "cotter pin's in" where it has
        to be fitted, "safety pin still in" where it has to be removed."""
        moved = stem in _MOVED
        if not moved and (stem not in _WHERE or not self._closes(index, 1)):
            return None
        if self.words[index : index + 3] == _GOING:
            return None
        named, subject = self._subject(index)
        subject = subject or self._headed(named)
        wanted = self.asked.get(subject)
        if wanted in (_WHERE if moved else _MOVED):
            return self._state(index, 1, (stem,))
        if moved or not subject:
            return None
        if stem not in {"in", "on"} or {named, _noun(subject)}.isdisjoint(self.talk.fittings):
            # "pit light on": for the card to say whether that is good
            alone = stem in {"on", "off"} and not wanted and not self._is_of_another(index)
            return self._state(index, 1, (stem,)) if alone else None
        return self._verdict(index, index + 1, "state", "pass")

    def _headed(self, named: str) -> str:
        """The one name that ends in a word: "pin out" where only the arming pin has to be out."""
        headed = [name for name in self.asked if named and _noun(name) == named]
        return headed[0] if len(headed) == 1 else ""

    def _is_of_another(self, index: int) -> bool:
        """Whether a particle belongs to a verb before its object, or tells of one of several:
        "locked the isolator off", "has a lamp off"."""
        first = next((at for at, thing in self.things.items() if thing[0] == index), index)
        while self.word(first - 1) in _THE:
            first -= 1
        before = self.word(first - 1)
        return before in {"a", "an"} or before.endswith(("ed", "ing"))

    def _subject(self, index: int) -> tuple[str, str]:
        """(key of the last word, canonical name) of what a state at `index` is said of: the name
        before it ("pin is in"), or behind a verb ("removed the pin"); "" when there is none."""
        before = index - 1
        while self.word(before) in _LINKING | self.talk.not_:
            before -= 1
        named = self.tokens[before].key if before >= 0 else ""
        subject = self._subject_ends.get(before + 1, "")
        if subject or self.words[index] in self.talk.particles:
            return named, subject
        after = index + 1
        while self.word(after) in _THE:
            after += 1
        thing = self.things.get(after)
        return "", thing[1] if thing is not None and thing[2] == "subject" else ""

    def _closes(self, index: int, length: int) -> bool:
        """Whether a particle ("in", "out") stands as a statement, not before a noun."""
        if self.words[index] not in self.talk.particles or length > 1:
            return True
        after = self.word(index + length)
        return after in BREAKS or after in {"", "and", "now", "then", "but", "ok", "fully"}

    def _ends_clause(self, index: int) -> bool:
        return self.word(index) in BREAKS or self.word(index) in {"", "and", "now", "then", "but"}

    def _misheard_verdict(self, index: int) -> Mention | None:
        """A lone word that sounds like a verdict ("Ass." for "Pass.")."""
        before, after = self.word(index - 1), self.word(index + 1)
        if (before and before not in BREAKS) or (after and after not in BREAKS):
            return None
        word = self.words[index]
        if word in self.talk.sounds_like_pass or word in self.talk.sounds_like_fail:
            value = "pass" if word in self.talk.sounds_like_pass else "fail"
            return self.mention(index, index + 1, value, "verdict", doubts=("misheard_polarity",))
        return None


def _noun(subject: str) -> str:
    """The word that a name is about: "pin" for "safety pin at the tailplane"."""
    words = subject.lower().split()
    where = next((at for at, word in enumerate(words) if at and word in WHERE), len(words))
    return words[where - 1]


def with_qualifiers(mention: Mention, *qualifiers: str) -> Mention:
    return replace(mention, qualifiers=mention.qualifiers | frozenset(qualifiers))
