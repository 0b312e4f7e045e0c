"""Deeds: what is told of a thing by what it does, as things of its kind do: "the bell rang", "siren
stayed silent", "seal's gone hard"."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.reading.conditions import Conditions
from voicelog.reading.kinds import deed_stem, deed_stems, does, kind_of, told_of
from voicelog.reading.labels import WHERE
from voicelog.reading.negation import BREAKS
from voicelog.reading.spoken import lexemes
from voicelog.reading.state_words import state_words
from voicelog.reading.states import with_qualifiers
from voicelog.reading.verdicts import ON_CONDITION

if TYPE_CHECKING:
    from voicelog.objects import Mention

_REACH = 7
"""Words between a thing and what it does, at most."""
_BY_IT = 25
"""Words between a thing and an "it" that speaks of it, at most."""
_IT = frozenset({"it", "its", "they", "theyre"})
_ONLY = frozenset({"just", "only"})
_BY_PLACE = frozenset({"and", "are", "is", "just", "number", "only", "the"})
_OTHERS = frozenset({"other", "others", "rest"})
_ONES = frozenset({"one", "ones"})
""" "The centre one only dribbles"."""
_ALL = frozenset({"all", "both", "each"})
""" "All rang apart from five"."""
_SHORT = 4
"""Words behind a comma with which a thing named before it is still spoken of: "aft one soft"."""
_FAR = 16
"""Words before a row of places among which their thing was named."""
_STUCK = frozenset({"froze", "frozen", "stuck"})
_IN_ROW = frozenset({",", "and", "all", "both", "each", "still", "to"})
_UNTIL = frozenset({"before", "till", "until"})
_JOINS = _UNTIL | {"and", "but", "so", "then", "while", "when", "because"}
_WHEN = frozenset({"at", "in", "on", "when", "though", "until", "from"})
_AT = frozenset({"at", "to"})
_ARE = frozenset({"is", "are", "was", "were"})
_BEFORE_PLACE = BREAKS | {"", "and", "but", "both", "so", "then", "while"}
_SIDES = frozenset({"end", "ends", "side", "sides"})
_ANOTHER = frozenset({
    "a", "an", "another", "he", "i", "my", "our", "she", "that", "the", "they", "this", "we", "you",
})  # fmt: skip
"""Words behind a conjunction that begin to speak of something else."""
_OF = WHERE | {"of", "for", "to", "with", "by", "over"}
_ONE = frozenset({"a", "an", "another"})
ARTICLES = frozenset({"a", "an", "the", "its", "my", "our", "that", "this"})
HELPERS = frozenset({
    "all", "both", "did", "do", "does", "each", "hear", "heard", "made", "saw", "see", "still",
    "watched", "will",
})  # fmt: skip
"""Words behind which the basic form of a verb tells of a deed: "saw the lamp flash"."""
_PERCEIVED = frozenset({"hear", "heard", "get", "got", "received"})
_HEARD_OR_SEEN = frozenset({"sounder", "lamp"})
_BADLY = frozenset({"solid", "tight"})
""" "Seized solid" tells how badly, and nothing good."""
_HANDLED = frozenset({
    "activated", "actuated", "cracked", "lifted", "moved", "opened", "operated", "released",
    "turned",
})  # fmt: skip
_HELD = frozenset({"it", "them"})
_DEEDS = frozenset({"cut", "cuts", "split"})
_SOMEBODY_DID = frozenset({"", "and", "i", "ive", "just", "then", "we", "weve"})
_SOMEBODY = frozenset({"i", "ive", "we", "weve"})
_BENT = frozenset({"back", "both", "it", "my", "that", "the", "them"})
""" "Bent the spring back": done to it, and no fault."""
_DONE_TO = frozenset({"a", "it", "its", "my", "off", "our", "out", "power", "the", "them"})
_BEYOND = frozenset({
    "away", "back", "by", "down", "into", "off", "onto", "out", "over", "past", "through", "up",
})  # fmt: skip
_SHUT_DOWN = frozenset({"down", "in", "off", "out", "over"})


class Deeds(Conditions):
    """Reads what the things of a card's checks do within the scope of a negation."""

    def _deed(self, index: int) -> tuple[Mention | None, int]:
        word = self.words[index]
        if word in _PERCEIVED and self._is_perceived(index):
            return self._verdict(index, index + 1, "state", "pass"), 1
        denied = self._denied_thing(index)
        if denied is not None:
            return denied, 1
        stem = deed_stem(word)
        stuck = word in _BADLY and (0 < self.told_to == index or self._is_stuck(index - 1))
        if (
            stem not in deed_stems()
            or stuck
            or self._is_where_somebody(index)
            or self._is_handled(index)
            or self._stops_short(index, stem)
            or (word == "straight" and self._goes_beyond(index + 1))
        ):
            return None, 0
        subject = self._spoken_of(index)
        if subject is None:
            return None, self._compound(index)
        kind, at = subject
        said, basic = self.words[index : index + 5], self._takes_basic(index, at)
        for deed in told_of(kind, stem):
            length = deed.length(said, basic=basic)
            end = index + length
            a_thing = self.word(index - 1) in ARTICLES - {"that"}  # "on the latch"
            told = not a_thing if deed.is_verb else self.word(end) not in _ARE
            if length and told and not (self._is_name(index, length) or self._is_measured(end)):
                found = self._verdict(index, index + length, "state", deed.polarity)
                return found and with_qualifiers(found, f"deed:{kind}"), length
        return None, 0

    def _is_where_somebody(self, index: int) -> bool:
        """ ", there I got 1.3": that is where, and not that it was there."""
        opens = self.words[index] == "there" and self.word(index - 1) in BREAKS | {""}
        return opens and self.word(index + 1) in _SOMEBODY

    def _is_handled(self, index: int) -> bool:
        """ "Hopper, opened it and the blade ran on": done to see what the thing does."""
        opens = self.words[index] in _HANDLED and self.word(index - 1) in BREAKS
        return opens and self.word(index + 1) in _HELD

    def _goes_beyond(self, index: int) -> bool:
        """ "Ran straight past", "went straight through": nothing stopped it."""
        return self.word(index) in _BEYOND

    def _tells_of_many(self, index: int, end: int) -> bool:
        """ "Both seats lock" where "seat lock" is a name: what they do."""
        if end - index < 2 or not self._ends_clause(end):
            return False
        thing, verb = self.words[end - 2 : end]
        many = thing.endswith("s") and not thing.endswith("ss") and not verb.endswith("s")
        return many and f"{verb}s" in self._verbs

    def _is_stuck(self, index: int) -> bool:
        """ "Seized solid", "stuck solid": how fast it is, and nothing good."""
        return self.word(index).endswith("ed") or self.word(index) in _STUCK

    def _nobody_did(self, index: int) -> bool:
        """ "The standby pump never started" tells of the pump."""
        stem = deed_stem(self.words[index])
        if not super()._nobody_did(index) or stem not in deed_stems():
            return super()._nobody_did(index)
        subject = self._spoken_of(index)
        return subject is None or not does(subject[0], stem)

    def _denied_thing(self, index: int) -> Mention | None:
        """ "Beacon flashes but no siren": what should have been heard or seen was not."""
        if self.negation != index - 1 or self.words[index - 1] not in self.talk.no:
            return None
        there = self.doers.get(self.tokens[index].key) in _HEARD_OR_SEEN
        if not there or not (self._ends_clause(index + 1) or self.word(index + 1) in _WHEN):
            return None
        self.clear()
        return self.mention(
            index - 1, index + 1, "fail", "state", negated=True, doubts=("named_only",)
        )

    def _spoken_of(self, index: int) -> tuple[str, int] | None:
        """The kind of the thing that the clause speaks of before `index`, and where its name ends,
        if some check of the card is about it. Past a comma only where no words for another thing
        stand behind it."""
        row = self._row_before(index)
        if row:
            return self._spoken_of_before(row) or self._at_its_place(index)
        if self._is_by_pronoun(index):
            return self._spoken_of_last(index)
        return self._named_before(index) or self._at_its_place(index)

    def _at_its_place(self, index: int) -> tuple[str, int] | None:
        """The same where a clause begins with the place of such a thing, and nothing else of the
        card has that place: "slew left stops dead"; not "the horn in the cab works"."""
        at = index - 1
        while self.word(at) in HELPERS | _ARE | _ONLY | self.talk.not_:
            at -= 1
        place = self.place_ends.get(self.tokens[at].end) if at >= 0 else None
        if place is None or str(place.value) not in self.doers_at:
            return None
        first = at
        while first and self.tokens[first].start > place.start:
            first -= 1
        opens = self.word(first - (self.word(first - 1) in ARTICLES) - 1) in _BEFORE_PLACE
        return (self.doers_at[str(place.value)], at) if opens else None

    def _named_before(self, index: int) -> tuple[str, int] | None:
        paused = False
        for at in range(index - 1, -1, -1):
            word = self.words[at]
            if index - at > _REACH * (1 + paused):
                return None
            if word in _JOINS and (self.word(at + 1) in _ANOTHER or word in _UNTIL):
                return None
            if word in BREAKS:
                if word != "," or paused or self._words_between(at, index) >= _SHORT:
                    return None
                paused = True
            kind = self._kind_at(at)
            if word == "number" and self._is_figure(at + 1) and self._opens_at(at):
                continue  # "lights, only number three is out"
            if kind is not None and self.word(at + 1) not in _SIDES and not self._tells_where(at):
                owned = self._owned(at, kind)
                return None if owned is None else (owned, at)
        return None

    def _opens_at(self, at: int) -> bool:
        """Whether a clause begins with the word at `at`, or with an "only" before it."""
        return self.word(at - 1 - (self.word(at - 1) in _ONLY)) in BREAKS | {""}

    def _words_between(self, at: int, index: int) -> int:
        """Words between `at` and `index` besides those that only name a place: ", only number three
        is"."""
        few = range(at + 1, index)
        placed = [each for each in few if self.tokens[each].start in self.place_words]
        if not placed:
            return len(few)
        slight = _BY_PLACE.union(map(self.word, placed))
        return sum(self.word(each) not in slight and not self._is_figure(each) for each in few)

    def _row_before(self, index: int) -> int:
        """Where the places begin, at the head of a sentence or behind a pause, that are all that
        stands before `index`: "One, two and four kill it"; 0 for none."""
        first = at = index
        while at > 0 and (self._is_figure(at - 1) or self.words[at - 1] in _IN_ROW):
            at -= 1
            first = at if self._is_figure(at) else first
        return first if first < index and self.word(first - 1) in BREAKS else 0

    def _is_figure(self, at: int) -> bool:
        placed = self.tokens[at].start in self.place_words and self._kind_at(at) is None
        return placed or self.words[at].isdigit() or (self.words[at],) in lexemes()

    def _spoken_of_before(self, row: int) -> tuple[str, int] | None:
        """The thing named last before a row of places that begins at `row`."""
        for at in range(row - 1, max(-1, row - _FAR), -1):
            kind = self._kind_at(at)
            if kind is not None and at != self.told_to - 1:  # "two latch, four pops open"
                owned = self._owned(at, kind)
                return None if owned is None else (owned, at)
        return None

    def _is_by_pronoun(self, index: int) -> bool:
        """ "It drops in again", "they didn't ring": the subject is a pronoun."""
        at = index - 1
        while self.word(at) in HELPERS | _ARE | _ONLY | self.talk.not_:
            at -= 1
        if self.word(at + 1) in _ALL and self.word(at) in BREAKS | {""}:
            return True
        if self.word(at) in _ONES:
            told = self.word(at - 1).isalpha() and (self.word(at - 1),) not in lexemes()
            return told and self.word(at - 2) in BREAKS | {"", "and", "but", "the"}
        if self.word(at) in _OTHERS:
            return self.word(at - 1) in {"the", "all"}
        return self.word(at) in _IT and self.word(at - 1) not in _UNTIL | ON_CONDITION

    def _spoken_of_last(self, index: int) -> tuple[str, int] | None:
        """The same for a pronoun: the last thing that some check is about."""
        for at in range(index - 1, max(0, index - _BY_IT) - 1, -1):
            kind = self._kind_at(at)
            if kind is not None and not self._tells_where(at):
                owned = self._owned(at, kind)
                return None if owned is None else (owned, at)
        return None

    def _kind_at(self, at: int) -> str | None:
        """The kind of the thing whose name ends at `at`."""
        name = self._name_at(at)
        return self.doers.get(name) or kind_of(name)

    def _name_at(self, at: int) -> str:
        """The key of the word at `at`, or of the compound that it ends: "cut-out", "seat belt"."""
        if not at:
            return self.tokens[at].key
        before = at - 1 - (self.words[at - 1] == "-")
        joined = self.tokens[before].key + self.tokens[at].key
        known = joined in self.doers or self.words[at] in _SHUT_DOWN
        return joined if known else self.tokens[at].key

    def _owned(self, at: int, kind: str) -> str | None:
        """The kind, if a check is about the thing at `at`, or about the one whose part it is, or
        that is called so as well: "lamp bulb", "pressure light"."""
        if self._name_at(at) in self.doers:
            return kind
        before = self.tokens[at - 1].key if at else ""
        kin = (before, kind) in self.kindred or self.doers.get(before) == kind
        return kind if before and kin else None

    def _tells_where(self, at: int) -> bool:
        """Whether the word at `at` tells where or of what another thing is, or is some other one:
        "bell on the pump", "the bridge has a lamp out"."""
        inner = next((first for first, thing in self.things.items() if thing[0] == at + 1), at)
        before = inner - 1
        while self.word(before) in ARTICLES:
            before -= 1
        return before > 0 and (self.word(before) in _OF or self.word(inner - 1) in _ONE)

    def _compound(self, index: int) -> int:
        """Words of a name that is no deed: "cut-out", or "cut out" where a check is about one."""
        hyphen = self.word(index + 1) == "-"
        last = index + 1 + hyphen
        if self.word(last) not in _SHUT_DOWN:
            return 0
        known = self.words[index] + self.words[last] in self.doers
        return last + 1 - index if hyphen or known else 0

    def _takes_basic(self, index: int, at: int) -> bool:
        """Whether the basic form of a verb tells here what the thing at `at` does: "bells ring",
        "bells one and two ring", "doesn't ring"."""
        if self.negation is not None and not self.soft and index - self.negation <= 2:
            return True
        row = self._row_before(index)
        if row and "and" in self.words[row:index]:
            return True
        if self.word(index - 1) in _OTHERS | _ONES - {"one", "other"}:
            return True
        many = self.words[at].endswith("s") and not self.words[at].endswith("ss")
        return many or not HELPERS.isdisjoint(self.words[max(0, index - 4) : index])

    def _is_measured(self, end: int) -> bool:
        """ "Bolt six came out at fifty two": what the number is, and no deed."""
        figure = self.word(end + 1)
        if end + 1 < len(self.tokens) and self.tokens[end + 1].start in self.place_words:
            return False
        return self.word(end) in _AT and (figure.isdigit() or (figure,) in lexemes())

    def _is_name(self, index: int, length: int) -> bool:
        """Whether the word is a name after all, of which something is told: "rings worn", "nose
        seal weeping"."""
        word, after = self.words[index], self.word(index + length)
        named = word.endswith("s") or word in self.known
        return length == 1 and named and after in state_words()

    def _is_perceived(self, index: int) -> bool:
        """Whether a thing that is there to be heard or seen was: "heard the start bell"."""
        for at in range(index + 1, min(index + 6, len(self.words))):
            if self.words[at] in BREAKS | _JOINS:
                return False
            if self.doers.get(self._name_at(at)) in _HEARD_OR_SEEN:
                after = self.word(at + 1)
                return self._ends_clause(at + 1) or after in _OF or after in _JOINS
        return False

    def _is_deed(self, index: int) -> bool:
        """ "The interlock cut the motor": done to something else, and no fault."""
        mine = self.words[index] == "stuck" and self.word(index + 1) == "my"  # "my boot through it"
        opens = self.word(index - 1) in BREAKS | _SOMEBODY_DID
        mine = mine or (opens and self.words[index] == "bent" and self.word(index + 1) in _BENT)
        mine = mine or self._is_handled(index)
        return mine or (self.words[index] in _DEEDS and self.word(index + 1) in _DONE_TO)
