"""Remarks: what was found, said in words, with the scope of its negation.

remark: "pass", "fail" or "not done". Qualifiers tell what carries it: "verdict" (pass,
within limits), "state" (fitted, locked), "condition" (leak, crack) with its canonical name
as "is:<condition>"; "light" or "heavy" for severity; "limits" for "within limits"; "none"
for a bare "none", "lacks" with it for "hasn't any"; "bare" for a condition that is only named,
which may as well be the name of the thing that is checked; "predicate" with "says:<stems>" for a
state that some label of the card names, or its opposite: whether it is good is for the field.
Doubts misheard_polarity, double_negation, negation_scope, hedged.
count: 0 for "no loose bolts", where the card counts them. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.reading.chain import stage
from voicelog.reading.conditions import ALTERNATIVES
from voicelog.reading.deeds import ARTICLES, HELPERS
from voicelog.reading.denials import DOES, ECHOES
from voicelog.reading.labels import WHERE
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.negation import BREAKS
from voicelog.reading.renewals import Renewals
from voicelog.reading.renewing import NEW
from voicelog.reading.spoken import lexemes
from voicelog.reading.state_words import (
    left_undone,
    phrase_heads,
    state_phrases,
    telling,
    trade,
    verdicts,
)
from voicelog.reading.states import EACH, IS, with_qualifiers
from voicelog.reading.things import (
    Thing,
    longer_names,
    names_only,
    places_by_name,
    places_of_things,
    things_of,
)
from voicelog.reading.words import verb_stem

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from spacy.tokens import Doc

    from voicelog.reading.lexicon import Lexicon
    from voicelog.reading.words import Token

_LONGEST_PHRASE = 4
_NOUNS_TOO = frozenset({"ring", "release"})
_DO = HELPERS | {"and", "to", "they", "them", "it", "can", "could", "would", "made"}
_SHORT_OF = ("short", "of")  # "two turns short of fully open" is not open
_CONFIRMED = frozenset({"confirmed", "confirms"})
_HAVING = frozenset({
    "a", "get", "gets", "got", "has", "have", "he", "our", "see", "sees", "she", "that", "the",
    "their", "they", "theyve", "we", "weve",
})  # fmt: skip
_BY = WHERE | {"as", "by", "for", "from", "over", "to", "via", "when", "with"}
_ALL_RIGHT = ["all", "right"]
_LEADS = frozenset({"ok", "okay", "alright"})
_LEAD = 3  # words behind "okay" that carry on without a pause, where it only opens the talk
_OUT_OF_USE = frozenset({"off", "out"})
""" "Locked off by operations": out of use, and perhaps no good state."""
_SAID_OF = frozenset({
    "all", "and", "at", "both", "by", "each", "everywhere", "for", "in", "on", "there", "to",
    "with",
})  # fmt: skip
"""Words behind "okay" with which it is a verdict: "okay on both"."""
_POINTING = frozenset({"that", "those"})


class _Scan(Renewals):
    """One pass over the words; the state is the negation in force and the severity named."""

    def run(self) -> Iterator[Mention]:
        index = 0
        while index < len(self.words):
            found, length = self._at(index)
            if found is not None:
                found = self._perhaps_un(index, found)
                self.told = found
                self.told_to = index + length
                yield found
            index += length

    # --- one word ---------------------------------------------------------------

    def _at(self, index: int) -> tuple[Mention | None, int]:
        word = self.words[index]
        if word in BREAKS:
            self._pause(index)
            return None, 1
        if word in self.talk.stop or (
            word in self.talk.ends_no and self._by_no() and not self.listed
        ):
            self.clear()
            return None, 1
        if self.listed and self.tokens[index].text.isdigit():
            self.clear()  # "no leaks 16 strokes"
        if self.renewals and word in NEW:
            renewed, length = self._renewed(index)
            if length:
                return renewed, length
        thing = self.things.get(index)
        if thing is not None:
            return self._thing(index, thing)
        if self._at_work(index):
            return None, 1
        closed = self._only_compares(index) or self._only_tells_where(index)
        open_ = word in phrase_heads() and not closed and not self._opens_talk(index)
        longest = _LONGEST_PHRASE if open_ else 0
        for length in range(min(longest, len(self.words) - index), 1, -1):
            phrase = state_phrases().get(" ".join(self.words[index : index + length]))
            if phrase is not None and not self._goes_on(index + length):
                return self._verdict(index, index + length, *phrase), length
        found, length = self._predicate(index)
        if found is not None:
            return found, length
        if word in self.talk.exactly and self._only_stresses(index):
            return None, 1
        found, length = self._deed(index)
        return (found, length) if length else self._single(index, word)

    def _goes_on(self, end: int) -> bool:
        """ "Rolled back on the ramp": the last word tells where, and nothing is back on; "happy
        with that cable" tells of the cable."""
        if self.words[end - 1] in _POINTING:
            return not self._ends_clause(end)
        return self.words[end - 1] in self.talk.particles and self.word(end) in ARTICLES

    def _opens_talk(self, index: int) -> bool:
        """Whether "all right" is no verdict: "all right, the upper hose", "all right ones"."""
        if self.words[index : index + 2] != _ALL_RIGHT:
            return False
        ends = self._ends_clause(index + 2) or self.word(index + 2) in _SAID_OF
        return self.word(index - 1) in BREAKS | {""} or not ends

    def _single(self, index: int, word: str) -> tuple[Mention | None, int]:
        key = self.tokens[index].key
        if word in ECHOES and self._is_echo(index):
            return self._echo(index), 1
        plain = word not in telling() and key not in telling()
        if plain and not self._sounds_like_nil(index):
            return None, 1
        after = self.word(index + 1)
        if (word in {"free", "clear"} and after in {"of", "from"}) or (word, after) == _SHORT_OF:
            self.negate(index)
            return None, 2
        if word in self.talk.no:
            return self._no(index, word, after)
        if word in self.talk.not_:
            none, length = self._not_any(index)
            if length:
                return none, length
            alone = word.endswith("nt") or self.word(index - 1) in DOES
            if self.told and alone and self._ends_clause(index + 1):
                return self._elliptic(index), 1
            self.negate(index)
            return None, 1
        if self._sounds_like_nil(index):
            self.negate(index, misheard=True)
            return None, 1
        if self._is_undone(index) and self._not_done(index):
            idle, length = self._not_a_thing(index)
            return (idle, length) if idle else (self._undone(index), 1)
        if word in left_undone():
            if not self._spent(index):
                return None, 1  # "nothing left unchecked"
            return self.mention(index, index + 1, "not done", "state", negated=True), 1
        if word in _LEADS and self._leads_in(index):
            return None, 1
        if word in verdicts() and not self._is_at_least(index):
            return self._verdict(index, index + 1, "verdict", verdicts()[word]), 1
        if word == "bad" and self._is_place_bad(index):
            return self._verdict(index, index + 1, "verdict", "fail"), 1
        if word in self.talk.light or word in self.talk.heavy:
            self.severity = index, "light" if word in self.talk.light else "heavy"
            if self.soft:
                self.clear()
            return None, 1
        good = key in trade("GOOD") or word in trade("GOOD")
        if good and (self._is_done(index, after) or self._is_handled(index)):
            return None, 1
        if good and not self._is_noun(index) and not self._confirms_more(index):
            off = word == "locked" and after in _OUT_OF_USE and not self._asks("lock")
            found = self._verdict(index, index + 1, "state", "pass")
            if found is not None and off:
                found = replace(found, doubts=(*found.doubts, "state_meaning"))
            return found, 1
        if word in trade("REPAIRED") and not self._breaks_off(index):
            found = self._verdict(index, index + 1, "state", "pass")
            return (
                None if found is None else replace(found, doubts=(*found.doubts, "repaired"))
            ), 1
        fault = trade("FAULT").get(key) or trade("FAULT").get(word)
        if fault and (self.tokens[index].text[-2:] in IS or self._is_deed(index)):
            return None, 1  # "the stick's on the bench": the stick is
        if fault and self._is_reason(index):
            return None, 1
        if fault:
            return self._fault(index, fault), 1
        condition = trade("CONDITION").get(key)
        if condition and not self._is_object(index) and not self._describes(index):
            return self._found(index, index + 1, condition)
        return self._misheard_verdict(index), 1

    def _is_at_least(self, index: int) -> bool:
        """ "A good two millimetres", "a good bit": no less than that, and no verdict."""
        after = self.word(index + 1)
        much = after in self.talk.amounts or (after != "one" and (after,) in lexemes())
        good = self.words[index] == "good" and self.word(index - 1) == "a"
        return good and (much or after[:1].isdigit())

    def _asks(self, stem: str) -> bool:
        """Whether a name on the card has a word with that stem."""
        return any(stem in name for name in self.names)

    def _is_noun(self, index: int) -> bool:
        """Whether "ring" or "release" is a thing ("scraper ring", "ring main"): that they do so is
        told behind several of them, a "not" or a helping verb ("bells ring", "won't release")."""
        word, after, before = self.words[index], index + 1, self.word(index - 1)
        if self.tokens[index].text[-2:] in IS:
            return True  # "the scraper ring's in"
        if word not in _NOUNS_TOO:
            return False
        if after < len(self.words) and self.tokens[after].key in self.known:
            return True
        many = (before.endswith("s") and not before.endswith("ss")) or before in _DO
        figure = before.isdigit() or (before,) in lexemes()
        denied = self.negation is not None and index - self.negation <= 2
        return not (many or figure or denied)

    def _confirms_more(self, index: int) -> bool:
        """Whether "confirmed" has a clause of its own behind it, which tells what is so: "confirmed
        that they don't get it", but not "confirmed by the tower", "confirmed they have a lamp"."""
        if self.words[index] not in _CONFIRMED:
            return False
        at = index + 1
        while self.word(at) in _HAVING:
            at += 1
        thing = self.things.get(at)
        if thing is None and at > index + 1:
            return True
        at = at if thing is None else thing[0]
        return not (self._ends_clause(at) or self.word(at) in _BY)

    # --- verdicts and states ----------------------------------------------------

    def _is_undone(self, index: int) -> bool:
        """Whether the verb tells behind a "not" that nothing was done."""
        word, after = self.words[index], self.word(index + 1)
        if word in {"get", "got"}:
            return after in {"at", "to", "near", "under", "behind", "into"}
        plain = word in self.talk.undone and word not in trade("GOOD")
        return plain or word in self.talk.undone_verbs

    def _is_place_bad(self, index: int) -> bool:
        """ "One and two good, three bad", "left horn bad"; weather and light are bad as well."""
        before = index - 1 - (self.word(index - 1) in {"is", "are", "was", "were"})
        said = self.word(before).removesuffix("s")
        figure = said.isdigit() or (said,) in lexemes()
        placed = before >= 0 and self.tokens[before].end in self.place_ends
        ends = {thing[0] for thing in map(self.things.get, range(before + 1)) if thing}
        told = (figure or placed or before + 1 in ends) and self._spent(index)
        return told and self._ends_clause(index + 1)

    def _only_stresses(self, index: int) -> bool:
        """ "Dead steady", "dead on", "stopped dead": how well, and nothing is dead."""
        after = self.word(index + 1)
        good = after in self.talk.stressed | self.talk.passed or after in trade("GOOD")
        return self._is_halted(index) or (good and self._ends_clause(index + 2))

    def _leads_in(self, index: int) -> bool:
        """Whether "okay" only opens the talk: "okay forward fall first, ..."."""
        opens = self.word(index - 1) in BREAKS - {",", ":"} or not index
        ahead = self.words[index + 1 : index + 1 + _LEAD]
        if opens and ahead[:1] == ["so"] and ahead[1:2] not in (["far"], []):
            return True  # "okay so seal on upper ..."
        return opens and len(ahead) == _LEAD and BREAKS.union(_SAID_OF).isdisjoint(ahead)

    def _fault(self, index: int, fault: str) -> Mention:
        if not self._spent(index):
            found = self._denied(index, index + 1, "state", "fail")
        else:
            found = self.mention(index, index + 1, "fail", "state", *self._severity(index))
        return with_qualifiers(found, f"is:{fault}")

    # --- things with a name -----------------------------------------------------

    def _thing(self, index: int, thing: Thing) -> tuple[Mention | None, int]:
        end, canonical, how = thing
        if canonical in self.placed and how in {"statement", "subject"}:
            alone = self._ends_clause(end) or self.word(end) in EACH
            placed = self._is_placed(index, end) or (how == "statement" and alone)
            how = "statement" if placed else "subject"
        if how == "statement" and self._is_noun_too(index, end):
            how = "subject"
        if how == "subject" and self._tells_of_many(index, end):
            how = "statement"
        if how == "subject":
            far = index - (self.negation or 0) > 2
            if self.negation is None or self.soft or self.listed or far:
                return None, end - index
            if self._by_no() and self._is_state(self._past_are(end)):
                return None, end - index  # "no gland is weeping"
            if self.word(end).endswith("ed") and verb_stem(self.words[end]) in self.openings:
                return None, end - index  # "not paint-marked"
            first, doubts = self.negation or 0, ("named_only", *self._cut_doubts())
            self.clear()
            found = self.mention(first, end, "fail", "state", negated=True, doubts=doubts)
            return found, end - index
        if how == "statement":
            stated = self._verdict(index, end, "state", "pass")
            carries_on = self.words[index] in self.talk.no and self.word(end) in ALTERNATIVES
            if carries_on and self.negation is None:
                self.negate(index)  # "no leaks or cracks" where "no leaks" is a label
                self.listed, self.listed_to = True, end
            return stated, end - index
        if how == "fault" and self._is_object(index):
            return None, end - index
        if how == "fault":
            return self._found(index, end, canonical)
        if self._is_numbered(index):
            self.clear()
        if self.negation is None or self.soft or not self._denies_all(index, end):
            if end - index > 1:
                return None, end - index
            state, length = self._predicate(index)
            return (state, length) if state else self._single(index, self.words[index])
        also = self._faulty(end)
        found = self._condition(index, end + also, canonical)
        spare = end - index == 1 and self.word(end) == "left" and self.word(end + 1) in WHERE
        more = (*("change",) * spare, *("negation_scope",) * also)
        return (
            Mention(
                "count",
                found.text,
                found.start,
                found.end,
                Decimal(0),
                negated=True,
                stage="remarks",
                qualifiers=frozenset({"none", f"is:{canonical}"}),
                doubts=(*found.doubts, *more),  # "no turns left on the take-up"
            ),
            end + also - index,
        )

    def _faulty(self, end: int) -> bool:
        """Whether a denial goes on with a fault that is no part of the name: "no fingers missing"
        where the bent ones are counted."""
        if not self._ends_clause(end + 1) or end >= len(self.words):
            return False
        key, word = self.tokens[end].key, self.words[end]
        return bool(trade("FAULT").get(key) or trade("FAULT").get(word))


def find(
    text: str,
    tokens: Sequence[Token],
    terms: Iterable[Mention],
    lexicon: Lexicon,
    positions: Sequence[Mention] = (),
) -> Iterator[Mention]:
    """Remark mentions in the order of the text, given its terms and places."""
    terms = tuple(terms)
    tokens = [token for token in tokens if token.text != "-"]  # "paint-marked" is "paint marked"
    things, names = things_of(tokens, terms, lexicon), longer_names(tokens, terms)
    return _Scan(text, tokens, things, lexicon, positions, names).run()


@stage("remarks", requires=("doc._.passage", "doc._.words", "doc._.terms", "doc._.identifiers"))
def remarks(doc: Doc) -> None:
    """Write the remarks of `doc`; they claim nothing, a number stage may read on."""
    written = doc._
    passage, terms = written.passage, written.terms
    lexicon = lexicon_of(passage.cues.card)
    spelt = {at for code in written.identifiers for at in range(code.start, code.end)}
    named = [term for term in terms if term.start not in spelt]  # the "stroke" of a code
    positions = getattr(written, "positions", None) or ()
    found = list(find(passage.text, written.words, named, lexicon, positions))
    nothing = places_of_things(passage.text, positions, terms)
    nothing |= names_only(passage.text, positions, found)
    named_so = places_by_name(passage.text, positions)
    written.remarks = [
        remark
        for remark in found
        if (remark.start, remark.end) not in nothing
        and not ("bare" in remark.qualifiers and (remark.start, remark.end) in named_so)
    ]


STAGE = remarks
