"""Verdicts: whether what is said of a thing is good, plainly or denied."""

from __future__ import annotations

from bisect import bisect_left
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.reading.labels import WHERE
from voicelog.reading.mood import NOT_SO, Mood
from voicelog.reading.negation import BREAKS
from voicelog.reading.state_words import verdicts, work_stems
from voicelog.reading.statements import state_stems
from voicelog.reading.talk import talk
from voicelog.reading.words import verb_stem

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from collections.abc import Set as AbstractSet

    from voicelog.reading.lexicon import Lexicon
    from voicelog.reading.state_words import Polarity
    from voicelog.reading.things import Thing
    from voicelog.reading.words import Token

_CLAUSE_ENDS = frozenset({"", "and", "but", "because", "so", "as", "since", "until"})
PERSONS = frozenset({"i", "we", "you"})
_DID_NOT = frozenset({"cannot", "cant", "couldnt", "didnt"})
_CANNOT = frozenset({"cannot", "cant"})
_DID_NOT_TOO = ["did", "not"]
_NOBODY = frozenset({"nobody", "nobodys", "noone", "noones"})
_NO_SUBJECT = frozenset({"", "still", "and", "but", "just"})
"""Before "haven't" these tell that somebody did not do it: no part is spoken of."""
_OF_THIS = frozenset({"for", "in", "on", "to", "with"})
_THIS = frozenset({"our", "that", "these", "this"})
TRIED = frozenset({"round", "test", "time"})
""" "Passed this time"."""
_SAT_THERE = WHERE | {"back", "by", "down", "inside", "there", "up"}
_PUT_THERE = frozenset({"equipped", "fitted", "installed", "supplied"})
_BUT_ONLY = frozenset({"but", "only", "though", "although"})
ON_CONDITION = frozenset({"when", "if", "once", "as", "until", "unless", "whenever", "after"})
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
_TO_PLACE = 4
"""Words from one that leaves out to the place which it leaves out, at most."""
THE = frozenset({"the", "all", "both", "my", "that", "those"})
_BASE_FORMS = frozenset({"clean", "clear", "dry", "free", "secure"})
_OBJECTS = frozenset({"it", "them", "him", "her"})
_WORKED = frozenset({"work", "worked", "working"})
_OF_WORK = frozenset({
    "am", "are", "had", "have", "just", "mostly", "only", "still", "to", "was", "were",
})  # fmt: skip
"""Words between somebody and "worked" that leave the work with them."""
_AT_WORK = PERSONS | {"im", "ive", "id", "weve", "wed"}
_REASON = 6
"""Words behind what was not done within which its reason begins."""
_NOT_GOT = frozenset({"didnt", "havent", "never", "not"})
_GET = frozenset({"get", "got", "gotten"})


class Verdicts(Mood):
    """Reads verdicts and states within the scope of a negation."""

    def __init__(
        self,
        text: str,
        tokens: Sequence[Token],
        things: Mapping[int, Thing],
        lexicon: Lexicon,
        positions: Sequence[Mention] = (),
        longer_names: AbstractSet[int] = frozenset(),
    ) -> None:
        super().__init__(tokens)
        starts = [token.start for token in tokens]
        self.place_words = {
            start
            for place in positions
            for start in starts[bisect_left(starts, place.start) : bisect_left(starts, place.end)]
        }
        """Where the words of places begin."""
        self.place_ends = {place.end: place for place in positions}
        self.text = text
        self.tokens = tokens
        self.undone: int | None = None
        """The verb of what was said last not to have been done."""
        self.things = things
        self.predicates, self.alike = lexicon.predicates, lexicon.alike
        self.known = lexicon.exact
        self.names = lexicon.places
        self.fault_ends = {end for end, _, how in things.values() if how in {"fault", "counted"}}
        self._subject_ends = {end: name for end, name, how in things.values() if how == "subject"}
        self.asked = lexicon.asked
        self.comes_to_be = lexicon.comes_to_be
        self.doers = lexicon.doers
        self.doers_at = lexicon.doers_at
        self.kindred = lexicon.kindred
        self.placed = lexicon.placed
        self.longer_names = longer_names
        """Where names of several words begin."""
        self.told: Mention | None = None
        """What was said last of a thing."""
        self.told_to = 0
        """Index behind the words that said it last."""
        self._verbs = talk().everyday.verbs
        self.openings = {predicate[0] for predicate in lexicon.predicates}
        self.carried = {
            said[1]: said
            for said in lexicon.predicates
            if len(said) == 2 and said[0] in self.talk.carrying and said[1] in state_stems()
        }
        """How a thing is while it does something, by that alone: "quiet" of "runs quiet"."""

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
            again = self.words[end] == "this" and self.word(end + 1) in TRIED
            if handed and not again:
                return None
        if word == "sat" and self.word(end) in _SAT_THERE:  # "sat in each row"
            return None
        if carrier == "state" and self._is_circumstance(index):
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

    def _is_partly(self, end: int) -> bool:
        """ "Lit bar a few", but not "lit bar number five", which is read by its place."""
        behind = self.tokens[end + 1 : end + _TO_PLACE]
        placed = any(token.start in self.place_words for token in behind)
        return super()._is_partly(end) and not placed

    def _is_of_it(self, at: int) -> bool:
        """Not in "all close but three, it hangs", which leaves the third out."""
        placed = at < len(self.tokens) and self.tokens[at].start in self.place_words
        return super()._is_of_it(at) and not (placed and self._ends_clause(at + 1))

    def _poorly(self, index: int, end: int) -> bool:
        """Whether a thing does what it has to, and not well: "rings but only faintly", "the alarm
        was received late", "barely holds"."""
        if self.word(index - 1) in self.talk.poorly | _ALMOST | _ONLY or self.word(end) in _ONLY_IF:
            return True
        for at in range(end, min(end + _POORLY_REACH, len(self.words))):
            word = self.words[at]
            if word in self.talk.poorly or (word in _PAST and self.word(at + 1) in _WHERE_WHEN):
                return True
            if word == "only" and (self.word(at + 1) in ON_CONDITION or self._ends_clause(at + 1)):
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

    def _at_work(self, index: int) -> bool:
        """ "I worked alone": somebody did, and the thing spoken of may not."""
        if self.words[index] not in _WORKED:
            return False
        before = index - 1
        while self.word(before) in _OF_WORK - _AT_WORK:
            before -= 1
        return self.word(before) in _AT_WORK

    def _is_done(self, index: int, after: str) -> bool:
        """ "Had to free it twice": what somebody does, and not how it is."""
        to = self.word(index - 1) == "to" and self.word(index - 2) not in verdicts()
        done = after in _OBJECTS or to
        return done and self.words[index] in _BASE_FORMS and self._spent(index)

    def _is_own_verdict(self, index: int, carrier: str, polarity: Polarity) -> bool:
        """ "Latch does not close, fail" is no failure denied; "did not fail" and "none of the six
        failed" are."""
        first = self.past_one((self.negation or 0) + 1)
        first = self.things[first][0] if first in self.things else first
        between = set(self.words[first:index]) - {"a", "an", "been", "really"}
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
        work = carrier == "state" and polarity == "pass" and self._is_work(index)
        undone = undone or (work and self._is_behind(self.mood.no_time, end))
        elsewhere, doubts = self._of_another_sort(index, end, doubts)
        undone = undone or elsewhere
        self.clear()
        # "I haven't tripped it": somebody did not do what is a fault elsewhere
        by_hand = self.word(first - 1) in PERSONS | {"im"} and index == first + 1
        nobody = self.words[first] in _NOBODY or self._is_no_one(first)
        nobody = nobody and verb_stem(self.words[index]) not in self.talk.replies
        by_hand = carrier == "state" and (by_hand or nobody)
        if by_hand or (carrier == "state" and polarity == "pass" and undone):
            return self.mention(first, end, "not done", carrier, negated=True, doubts=doubts)
        if (
            (self.words[index] in self.talk.work and not none)
            or (carrier == "state" and polarity == "pass" and self._is_at_it(first))
            or (work and self._is_held_up(end))
        ):
            doubts += ("left_to_do",)
        flipped = "fail" if polarity == "pass" else "pass"
        return self.mention(first, end, flipped, carrier, *none, negated=True, doubts=doubts)

    def _is_at_it(self, first: int) -> bool:
        """ "The pin I can't get in": somebody is still at it, and what comes of it is open."""
        return self.words[first] in _CANNOT and self.word(first - 1) in PERSONS | BREAKS | {
            "",
            "still",
        }

    def _of_another_sort(
        self, index: int, end: int, doubts: tuple[str, ...]
    ) -> tuple[bool, tuple[str, ...]]:
        """ "Not fitted on this machine", "doesn't apply to this type": such a machine has none,
        and nothing is wrong with it. Where the words leave that open it is asked about."""
        this = self.word(end) in _OF_THIS and self.word(end + 1) in _THIS
        if this and self.word(end + 2) in self.talk.sorts:
            return True, doubts
        if self.words[index] == "apply" and self.word(end) == "here":
            return True, doubts
        this = (this and self.word(end + 2) == "one") or self.word(end) == "here"
        open_ = self.words[index] == "apply" or (this and self.words[index] in _PUT_THERE)
        return False, (*doubts, *("left_to_do",) * open_)

    def _nobody_did(self, index: int) -> bool:
        """Whether the word tells behind a "not" that something was left out."""
        return self.words[index] in self.talk.undone

    def _left_work(self, index: int) -> bool:
        """Whether somebody did not do the work that is denied: "didn't clean it"."""
        helped = self.word(index - 1) in _DID_NOT or self.words[index - 2 : index] == _DID_NOT_TOO
        return helped and verb_stem(self.words[index]) in work_stems()

    def _is_work(self, index: int) -> bool:
        """Whether somebody brings about the state at `index`, as "locked", "in" and "set" are, and
        "working" and "turns" are not."""
        word = self.words[index]
        if word in self.talk.work:
            return False  # which may be missing as found, as well
        done = word.endswith(("ed", "en")) or word in self.talk.particles
        return done or word in talk().everyday.worked

    def _put_off(self, first: int, end: int) -> bool:
        """Whether what is denied from `first` was not done so far, and is no fault: "isn't locked
        yet", "haven't wire locked the bolts"."""
        until = end
        while self.word(until) not in BREAKS | _CLAUSE_ENDS:
            until += 1
        near = {*self.words[first : end + 2], self.word(max(end, until - 1))}
        if not self.talk.not_yet.isdisjoint(near):
            return True
        done = self.words[end - 1].endswith("ed") or self.words[end - 1] in self.talk.work
        if done and self._did_not_get(first):
            return True
        verb = first - 1 if self.words[first] == "not" else first
        before = self.word(verb - 1)
        nobody = before in BREAKS | _NO_SUBJECT
        if self.words[verb] in {"havent", "have"} and nobody:
            return True
        if self.words[verb] in {"didnt", "did"} and nobody and self.word(end) in THE:
            return not self._is_only_named(verb - 1)  # "didn't dry the seat": what somebody does
        return self.words[verb] in {"havent", "have", "didnt", "did"} and before in PERSONS

    def _is_only_named(self, comma: int) -> bool:
        """Whether a thing stands before the `comma` of which nothing is told yet: "pull cord at
        the tail, did not stop the belt"."""
        first = comma
        while first and self.words[first - 1] not in BREAKS:
            first -= 1
        named = any(at in self.things for at in range(first, min(first + 3, comma)))
        worked = verb_stem(self.word(first)) in work_stems() | talk().everyday.verbs
        return self.word(comma) == "," and named and not worked and self.told_to <= first

    def _is_reason(self, index: int) -> bool:
        """ "Filter not changed, wrong one in the box": why it was not done, and no fault."""
        told = self.told is not None and "left_to_do" in self.told.doubts
        return told and index - self.told_to < _REASON and self._begins(self.mood.held_up, index)

    def _did_not_get(self, first: int) -> bool:
        """ "Didn't get the strainer cleaned": nobody did."""
        return self.words[first] in _NOT_GOT and self.word(first + 1) in _GET

    def _breaks_off(self, index: int) -> bool:
        """ "I've stopped there", "I stopped on the button": nothing was put right, as in "I stopped
        the leak"."""
        halts = self.words[index] == "stopped" and self.word(index - 1) in _AT_WORK
        return halts and self.word(index + 1) not in THE | _OBJECTS

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
