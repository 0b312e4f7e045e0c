"""States: how a thing is said to be in the words of some label of the card, or their opposites."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from voicelog.reading.kinds import kind_of
from voicelog.reading.labels import WHERE
from voicelog.reading.negation import BREAKS
from voicelog.reading.statements import OF_IT, is_wanted
from voicelog.reading.talk import talk
from voicelog.reading.verdicts import ON_CONDITION, PERSONS, THE, TRIED, Verdicts
from voicelog.reading.words import verb_stem, word_key

if TYPE_CHECKING:
    from voicelog.objects import Mention

_SAYS = "says:"
DOERS = PERSONS | {"he", "she", "they"}
_FAILING = frozenset({"properly", "fully", "right", "easily", "freely", "anymore", "again", "home"})
"""Words behind the verb of what a thing fails to do."""
_WHERE = frozenset({"in", "on", "off", "out", "up", "down"})
_MOVED = frozenset(
    map(verb_stem, ("fitted", "refitted", "installed", "removed", "applied", "lowered", "raised"))
)
"""Stems that say where a thing is, and those that say what was done with it."""
_IS_MOVED = _MOVED | frozenset(
    map(verb_stem, ("drawn", "engaged", "inserted", "taken", "withdrawn"))
)
"""The same of labels: "latches in" where they have to be engaged."""
_PUT = _WHERE | _MOVED
_PART_WAY = (["half"], ["halfway"], ["part"])
_SHORT = 5
"""Words behind "stops" among which it is told that it does so short of where it should."""
_GOING = ["up", "and", "running"]
_OUT_OF = ["out", "of"]
_LINKING = frozenset({
    "is", "are", "was", "were", "now", "back", "all", "both", "still", "put", "taken", "left",
})  # fmt: skip
_AT_PLACES = frozenset({"all", "at", "both", "on"})
_GOES_ON = frozenset({"", "again", "and", "now", "then", "but", "ok", "fully"})
_LEAVING_OUT = frozenset({"apart", "aside"})
""" "Clips all in bar two": what is said ends before the exception."""
_BETWEEN = frozenset({"all", "are", "both", "is", "not", "now", "still", "was", "were"})
_ARTICLES = frozenset({"a", "an", "the", "my", "our", "its", "their"})
_BEING = frozenset({"is", "are", "was", "were"})
_HELPING = frozenset({"did", "do", "does", "made", "make", "saw", "to", "will", "would"})
_NOTHING_NAMED = frozenset({"", "it", "its", "thats"})
_STOPPED = frozenset({"stopped", "stopping"})
_STOPPED_ONES = frozenset(
    {"he", "her", "him", "it", "she", "that", "them", "these", "they", "which"}
)
EACH = frozenset({"all", "at", "both", "each", "everywhere", "on"})
IS = frozenset({"'s", "’s"})


def told_state(mention: Mention) -> tuple[str, ...] | None:
    """The stems of the state that a remark says of a thing, in the words of a label; None where it
    says none."""
    says = next((name for name in mention.qualifiers if name.startswith(_SAYS)), None)
    return None if says is None else tuple(says.removeprefix(_SAYS).split())


class States(Verdicts):
    """Reads what is said in the words of labels, within the scope of a negation."""

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
        become = self._comes_to_be(index, stem)
        if become is not None:
            return self._state(index, 1, become), 1
        if stem in self.openings and not self._is_a_stop(index):
            for count in range(3, 0, -1):
                said, length = self._stems(index, count)
                if said not in self.predicates or not self._closes(index, length):
                    continue
                if self._stops_short(index, stem):
                    return None, 1
                if self._is_of_name(index, length):
                    return None, 1
                if not self._names_place(index, length):
                    return self._state(index, length, said), length
            whole = self._verb_of(index, stem)
            if whole is not None:
                return self._state(index, 1, whole), 1
        failed = None if self.negation is None else self._fails_to(index, stem)
        if failed is not None:
            return failed, 1
        opposite = self.talk.opposites.get(stem)
        if opposite and (opposite,) in self.predicates and self._closes(index, 1):
            return self._opposite(index, stem), 1
        found = self._put(index, stem) if stem in _PUT else None
        if found is not None:
            return found, 1
        carried = self.carried.get(stem)
        ends = self._ends_clause(index + 1) or self.word(index + 1) in EACH | ON_CONDITION
        told = ends and self.word(index - 1) not in BREAKS | _NOTHING_NAMED
        if carried is not None and told:
            return self._state(index, 1, carried), 1  # "gearbox quiet": it runs so
        if stem in self.alike and self.words[index].endswith("ed"):
            return self._state(index, 1, self.alike[stem]), 1  # "wired" where it is wirelocked
        if self.words[index] in self.talk.either_way and self._ends_clause(index + 1):
            return self._state(index, 1, (stem,)), 1
        if stem in self.talk.staying:
            kept = verb_stem(self.word(index + 1))
            opposites = {self.talk.opposites.get(kept), "out" if kept == "on" else None}
            if any(len(said) == 2 and said[1] in opposites for said in self.predicates):
                return self._state(index, 2, (stem, kept)), 2
        return None, 1

    def _stops_short(self, index: int, stem: str) -> bool:
        """ "Stops half way", "stops a finger short": that it moves no further."""
        after = self.words[index + 1 : index + _SHORT]
        return stem == "stop" and (after[:1] in _PART_WAY or "short" in after)

    def _stems(self, index: int, count: int) -> tuple[tuple[str, ...], int]:
        """`count` verb stems from the word at `index` on, past articles between them, and the
        number of words: "in its bracket" is (in, bracket)."""
        stems: list[str] = []
        at = index
        while at < len(self.words) and len(stems) < count:
            if not stems or self.words[at] not in OF_IT:
                stems.append(verb_stem(self.words[at]))
            at += 1
        return tuple(stems), at - index

    def _is_of_name(self, index: int, length: int) -> bool:
        """ "The drain pump" where the label has "drained": part of another name; and so are "the
        paint marks are ..." where it has "marked"."""
        if self.words[index + length - 1].endswith("s") and self.word(index + length) in _BEING:
            return True
        return self.word(index - 1) in _ARTICLES and not self._ends_clause(index + length)

    def _verb_of(self, index: int, stem: str) -> tuple[str, ...] | None:
        """What a label says by the verb that ends the clause here: "pawl drops" where it has
        "Pawl drops freely"."""
        word = self.words[index]
        halted = self.word(index + 1) in self.talk.exactly and self._is_halted(index + 1)
        ended = halted or (word.endswith("s") and self._ends_clause(index + 1))
        if not (ended and self._is_verb(index)):
            return None
        whole = [said for said in self.predicates if said[0] == stem and "and" not in said]
        return whole[0] if len(whole) == 1 else None

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
        out = self.negation is None and self.words[max(0, index - 2) : index] == _OUT_OF
        if out:
            self.negate(index - 1)  # "out of tune"
        found = self._verdict(index, index + length, "state", "pass")
        if out:
            self.clear()
        if found is None:
            return None
        if self.word(index - 1) == "still" and said not in self.predicates:
            found = replace(found, doubts=(*found.doubts, "left_to_do"))  # "clamp still on"
        return with_qualifiers(found, "predicate", f"{_SAYS}{' '.join(said)}")

    def _opposite(self, index: int, stem: str) -> Mention | None:
        """The opposite of what a label asks for; it may be just what is wanted when something
        else is done: "the fan stops when I let go"."""
        found = self._state(index, 1, (stem,))
        if found is not None and self.word(index + 1) in ON_CONDITION:
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
        if wanted in (_WHERE if moved else _IS_MOVED):
            return self._state(index, 1, (stem,))
        if moved or not subject:
            return None
        works = wanted is not None and is_wanted("lamp", wanted)
        if stem in {"on", "off"} and works and kind_of(named) == "lamp":  # "nav lights all on"
            lit = self._verdict(index, index + 1, "state", "pass" if stem == "on" else "fail")
            doubts = ("state_meaning",) * (stem == "off")  # somebody may have put it out
            return lit and replace(lit, doubts=(*lit.doubts, *doubts))
        if stem not in {"in", "on"} or {named, _noun(subject)}.isdisjoint(self.talk.fittings):
            # "pit light on": for the card to say whether that is good
            alone = stem in {"on", "off"} and not wanted and not self._is_of_another(index)
            return self._state(index, 1, (stem,)) if alone else None
        return self._verdict(index, index + 1, "state", "pass")

    def _comes_to_be(self, index: int, stem: str) -> tuple[str, ...] | None:
        """What the label says of a thing that came to be so: "caption out" where it goes out."""
        if stem not in _WHERE or not (self.comes_to_be and self._closes(index, 1)):
            return None
        becomes = self.comes_to_be.get(self._subject(index)[1])
        return becomes if becomes is not None and becomes[1] == stem else None

    def _headed(self, named: str) -> str:
        """The one name that ends in a word: "pin out" where only the arming pin has to be out."""
        headed = [name for name in self.asked if named and _noun(name) == named]
        return headed[0] if len(headed) == 1 else ""

    def _is_of_another(self, index: int) -> bool:
        """Whether a particle belongs to a verb before its object, or tells of one of several:
        "locked the isolator off", "has a lamp off"."""
        first = next((at for at, thing in self.things.items() if thing[0] == index), index)
        while self.word(first - 1) in THE:
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
        while self.word(after) in THE:
            after += 1
        thing = self.things.get(after)
        return "", thing[1] if thing is not None and thing[2] == "subject" else ""

    def _is_halted(self, index: int) -> bool:
        """Whether "dead" at `index` tells how a thing stops: "stopped her dead", "both stop dead",
        but not "the end stops dead", where they are things."""
        verb = index - 1 - (self.word(index - 1) in _STOPPED_ONES)
        if verb_stem(self.word(verb)) != "stop" or self.tokens[verb].text[-2:] in IS:
            return False
        if self.words[verb] in _STOPPED or verb < index - 1:
            return True
        return self.word(verb - 1) in _STOPPED_ONES | EACH or self._is_place(verb - 1)

    def _is_a_stop(self, index: int) -> bool:
        """ "Hit the emergency stop": a thing, where nothing before it makes it a verb."""
        before = self.word(index - 1)
        verb = before in self.talk.not_ | EACH | _STOPPED_ONES | _HELPING or before.endswith("s")
        return self.words[index] == "stop" and not (verb or self._is_place(index - 1))

    def _past_places(self, at: int) -> int:
        while self.word(at) in EACH | THE or (
            self.keys[at : at + 1] and self.keys[at] in self.known
        ):
            at += 1
        place = at < len(self.tokens) and self._is_place(at)
        while place and not (self._ends_clause(at) and self.word(at) != "and"):
            if self._begins(self.mood.for_later, at):
                break
            at += 1
        return at

    def _is_place(self, index: int) -> bool:
        return 0 <= index < len(self.tokens) and self.tokens[index].start in self.place_words

    def _closes(self, index: int, length: int) -> bool:
        """Whether a particle ("in", "out") stands as a statement, not before a noun."""
        if self.words[index] not in self.talk.particles or length > 1:
            return True
        after = self.word(index + length)
        if after in _AT_PLACES or self._is_place(index + length):
            # "clips in on two and three", "clip in both sides", "clips in left and right"
            thing = index - 1
            while self.word(thing) in _BETWEEN:
                thing -= 1
            name = self.known.get(word_key(self.word(thing)), "")
            asked = self.asked.get(name) or self.asked.get(self._subject_ends.get(thing + 1, ""))
            return asked == self.words[index] or asked in _IS_MOVED
        if after in {"each", "every"} and self.word(index + length + 1) in TRIED:
            return True  # "greens on every time"
        leaving_out = _LEAVING_OUT | talk().everyday.excepting
        return after in BREAKS or after in leaving_out or after in _GOES_ON


def _noun(subject: str) -> str:
    """The word that a name is about: "pin" for "safety pin at the tailplane"."""
    words = subject.lower().split()
    where = next((at for at, word in enumerate(words) if at and word in WHERE), len(words))
    return words[where - 1]


def with_qualifiers(mention: Mention, *qualifiers: str) -> Mention:
    return replace(mention, qualifiers=mention.qualifiers | frozenset(qualifiers))
