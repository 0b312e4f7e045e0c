"""Told places: whether the words at or behind a place tell how it is: "A chafed, B fine"."""

from __future__ import annotations

from voicelog.reading.kinds import deed_length, tells_deed
from voicelog.reading.labels import WHERE
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.option_words import begun, longest
from voicelog.reading.places import NIL
from voicelog.reading.running_list import BREAKS, SAME, Listed
from voicelog.reading.state_words import state_phrases, state_words, trade
from voicelog.reading.talk import talk
from voicelog.reading.trade import conditions
from voicelog.reading.words import is_plural, verb_stem, word_key

_CLAUSE = 8
"""Words of a clause that are looked back on."""
_LONGEST_OPTION = 4
"""Words of an option that is looked for."""
_SEVERAL = 2
_NAME = 4
"""Words of a name that several places have, at most."""
_HAVE = frozenset({"had", "have"})
_THEIR = frozenset({"all", "both", "got", "the", "their"})
_VERBS_TOO = frozenset({"drop", "run", "stroke", "trip", "turn"})
"""Units that are verbs where they stand behind several: "three and four turn free"."""
_NOT = frozenset({"no", "not"})
_ADVERBS = frozenset({"actually", "just", "never", "only", "simply", "still", "then"})
_HELPERS = frozenset({"did", "do", "does", "has", "have", "is", "are", "will", "would"})
_SO_IS = frozenset({"are", "did", "do", "does", "has", "have", "is", "was", "were"})
_DO = frozenset({"did", "do"})
_WE = frozenset({"i", "we"})
_LEAVING = frozenset({"left", "skipped", "missed", "never", "cannot", "not"})
_PAUSES = frozenset({",", ".", ";", ":", ""})
_TOGETHER = frozenset({"all", "both", "each"})
_ALL = frozenset({"all", "are", "both", "each", "just", "now", "still", "were"})
"""Words before what several places are or do: "one and two still good"."""
_OWN = frozenset({"gone", "got", "has", "looks", "needs", "takes", "took", "wants"})
"""Words that begin what is told of the place before them."""
_VERDICTS = frozenset({
    "good", "ok", "okay", "fine", "bad", "failed", "fail", "fails", "checked", "clear", "clean",
    "dry", "has", "had", "is", "are", "was", "were", "closed", "locked", "tight", "free", "which",
    "aren't", "didn't", "doesn't", "don't", "does", "hasn't", "isn't", "wasn't", "weren't", "won't",
})  # fmt: skip
"""Words behind a place that make it one of which something is found."""


class ToldPlaces(Listed):
    """Knows whether a state is told where the list has come to."""

    def _skip_value(self, at: int) -> int:
        if self._is_nil(at):
            self._context.filled = True
            self._context.resume = self._context.at = at + 1
            return at
        told = self._text(at) == "," and self._other_is_so(at + 1)
        return at if told else super()._skip_value(at)

    def _is_nil(self, at: int) -> bool:
        """Whether it is said at `at`, and no more, that there is none: "three one, four nil"."""
        return self._text(at) in NIL and self._text(at + 1) in (*BREAKS, "")

    def _other_is_so(self, at: int) -> bool:
        """Whether one more place with a state of its own stands at `at`, behind several of which
        another was told: "spring back at one and two, four seized". Not how many are so."""
        context = self._context
        if not context.used or context.filled or not context.groups:
            return False
        figure = next(self._prefixes(at), None) if self._free(at) else None
        same = figure and self._text(figure[1]) == self._text(context.at)  # "one dry, three dry"
        if len(context.used) < _SEVERAL and not same:
            return False
        if figure is None or figure[0] in context.used | {1} or self._text(at - 1) != ",":
            return False
        numbers, verb = context.groups[0].numbers, self._text(figure[1])
        counted = lexicon_of(self._cues.card).counted
        return (
            figure[0] in numbers
            and (self._state_behind(figure[1]) or self._last_does(*figure[:2]))
            and not any(verb in name.split() for name in counted)
        )

    def _last_does(self, number: int, at: int) -> bool:
        """Whether the one place of which nothing was told yet does something somewhere: "dry on
        one, two and four, three weeps at the corner"."""
        left = set(self._context.groups[0].numbers) - self._context.used
        verb, known = self._text(at), word_key(self._text(at)) in trade("CONDITION")
        does = verb.endswith("s") and (known or self._is_state(verb))
        return left == {number} != {1} and does and self._text(at + 1) in WHERE

    def _is_same(self, at: int) -> bool:
        """Whether "the same", "same again", "ditto" stand at `at`, or behind a comma."""
        at += self._text(at) == ","
        return self._text(at + (self._text(at) in ("the", "all"))) in SAME

    def _so_is(self, at: int) -> bool:
        """Whether the same is told of what stands at `at`: "..., so is four"."""
        before = at - 1 - (self._text(at - 1) in ("the", "number"))
        return self._text(before) in _SO_IS and self._text(before - 1) == "so"

    def _is_so_too(self, at: int, last: int) -> bool:
        """ "So is splice four", "splice four as well", "two and three the same", where nothing more
        is told of it."""
        if self._text(last) == "the" and self._is_same(last) and self._text(last + 2) in BREAKS:
            return True
        too = 1 if self._text(last) == "too" else 0
        too = 2 if (self._text(last), self._text(last + 1)) == ("as", "well") else too
        return (too > 0 or self._so_is(at)) and self._text(last + too) in (*BREAKS, "")

    def _is_told(self, at: int) -> bool:
        """Whether the clause goes on at `at` to tell how something is."""
        for index in range(at, at + _CLAUSE):
            if self._text(index) in _PAUSES:
                return False
            if self._state_follows(index) or self._is_state(self._text(index)):
                return True
        return False

    def _is_undone(self, at: int) -> bool:
        """Whether the clause has said before `at` that somebody did not do something."""
        for index in range(at - 1, max(-1, at - 1 - _CLAUSE), -1):
            text = self._text(index)
            if text in BREAKS:
                return False
            if text.endswith("n't") or text in ("cannot", "never", "not"):
                return True
        return False

    def _state_follows(self, at: int) -> bool:
        """Whether a verdict stands at `at`, or a state that ends the clause: "A chafed, B fine",
        but not "a chafed hose"."""
        text, after = self._text(at), self._text(at + 1)
        if text.endswith("ly") and self._is_state(after):
            return self._state_follows(at + 1)  # "four lightly scored"
        if text in _VERDICTS or f"{text} {after}" in state_phrases():
            return True
        if (after == "not" and text in _HELPERS) or (text in _NOT and self._is_state(after)):
            return True  # "four did not trip", "four no good"
        ends = after in (*BREAKS, "") or after in _VERDICTS or self._text(at + 2) == "right"
        ends = ends or (after.endswith("ly") and self._text(at + 2) in (*BREAKS, ""))
        return (ends and self._is_state(text)) or self._deed_ends(at) or self._option_ends(at)

    def _says(self, at: int) -> bool:
        """Whether what begins at `at` is said of what stands before it: "three growls", "seven
        won't turn"."""
        text = self._text(at)
        return text.endswith(("n't", "n’t")) or text in _OWN or begun((text,)) != (text,)

    def _option_ends(self, at: int) -> bool:
        """Whether an option of several words ends the clause: "three to five light grey", or other
        words for one: "A bone dry"."""
        told = longest(lexicon_of(self._cues.card).option_phrases, self._text, at)
        if told is not None and (self._text(told[0]) in (*BREAKS, "") or self._says(at)):
            return True
        known, said = lexicon_of(self._cues.card).option_words, word_key(self._text(at))
        for last in range(at + 1, at + _LONGEST_OPTION):
            said += word_key(self._text(last))
            if said in known and self._text(last + 1) in (*BREAKS, ""):
                return True
        return False

    def _deed_ends(self, at: int) -> bool:
        """Whether several words that end the clause tell what a thing does: "stayed quiet"."""
        said = (self._text(at), self._text(at + 1), self._text(at + 2))
        length = deed_length(said, lexicon_of(self._cues.card).kinds)
        return length > 1 and self._text(at + length) in (*BREAKS, "")

    def _is_value(self, last: int, first: int | None = None) -> bool:
        """`Places._is_value`, but not where a verb stands behind a place: "four turn free"."""
        if not super()._is_value(last, first):
            return False
        if self._text(last - 1).endswith("'s"):
            return False  # "row two's bar popped open"
        verb = self._text(last) in _VERBS_TOO and self._text(last - 2) in ("and", "&", "to")
        return not (verb and (self._is_asked_of(last) or self._state_follows(last + 1)))

    def _was_left(self, at: int) -> bool:
        """Whether somebody tells at `at` that they left something: "four I couldn't get to"."""
        verb = self._text(at + 1)
        told = verb.endswith("n't") or verb in _LEAVING or self._text(at + 2) == "not"
        return self._text(at) in _WE and told

    def _are_so(self, at: int) -> bool:
        """Whether it is told at `at` how several places are, or what they do: a state, perhaps
        behind the verb ("run free"), a deed ("kill it"), or what a label asks ("move freely")."""
        together = self._text(at) in _TOGETHER and self._value_follows(at + 1)
        while self._text(at) in _ALL:
            at += 1
        if together:
            return True
        if self._text(at) in (*BREAKS, "") or self._passage.words[at] is not None:
            return self._state_behind(at)
        if self._state_behind(at) or self._is_asked_of(at) or self._are_doing(at):
            return True
        if self._text(at) in talk().remarks.undone or self._have_it_so(at):
            return True  # "switches one to four tried"
        if self._text(at).endswith("ed") and self._text(at + 1) == "and":
            return self._state_follows(at + 2)  # "four and five washed and clear"
        lexicon = lexicon_of(self._cues.card)
        named = word_key(self._text(at)) in lexicon.exact and self._text(at) not in _VERBS_TOO
        return not named and self._state_follows(at + 1)

    def _have_it_so(self, at: int) -> bool:
        """Whether several places have at `at` what the card names in some state: "one, three and
        four have their clips fitted"."""
        if self._text(at) not in _HAVE:
            return False
        lexicon = lexicon_of(self._cues.card)
        at += 1
        while self._text(at) in _THEIR:
            at += 1
        names = ((" ".join(self._texts[at:end]), end) for end in range(at + 1, at + _NAME + 1))
        return any(
            lexicon.canonical(name) in lexicon.places and self._state_follows(end)
            for name, end in names
        )

    def _did_something(self, at: int) -> bool:
        """Whether the clause goes on at `at` to tell what one thing did, or didn't: "three just
        pushed it out of the way", "four let go", but not "three replaced", which may be so many."""
        at += self._text(at) in _ADVERBS
        verb, everyday = self._text(at), talk().everyday
        if verb in conditions() or word_key(verb) in lexicon_of(self._cues.card).exact:
            return False
        known = verb.endswith(("ed", "n't")) or tells_deed(verb) or verb in everyday.worked
        return known and self._text(at + 1) not in (*BREAKS, "") and self._free(at)

    def _are_doing(self, at: int) -> bool:
        """Whether several places do at `at` what is a fault, or what others don't: "four and six
        drip", "two to five do"."""
        word = self._text(at)
        fault = not is_plural(word) and word_key(word) in trade("CONDITION")
        return (fault or word in _DO) and self._text(at + 1) in (*BREAKS, "")

    def _acts(self, at: int) -> bool:
        """Whether one thing does at `at` what no noun tells: "mixer two growls", but not "two
        leaks"."""
        word = self._text(at)
        known = word_key(word) in {
            *trade("CONDITION"),
            *lexicon_of(self._cues.card).counted_words,
        }
        return word.endswith("s") and tells_deed(word) and not known

    def _is_asked_of(self, at: int) -> bool:
        """Whether the words at `at` tell in their basic form what things do of which a check asks
        that, or just what the label of one asks."""
        said = tuple(self._text(index) for index in range(at, at + _LONGEST_OPTION))
        lexicon = lexicon_of(self._cues.card)
        if deed_length(said, lexicon.kinds, basic=True):
            return True
        stems = tuple(map(verb_stem, said))
        return any(stems[: len(asked)] == asked for asked in lexicon.predicates)

    def _is_judged(self, first: int, at: int, last: int) -> bool:
        """Whether a name in the singular that takes no number stands before the figures, and no
        things behind them: "bell two: the clip has gone", but not "latch two screws gone"."""
        lexicon = lexicon_of(self._cues.card)
        name = " ".join(atom.text for atom in self._atoms[first:at])
        counts = is_plural(self._text(at - 1)) or is_plural(self._text(last))
        return lexicon.canonical(name) in lexicon.judged and not counts

    def _next_is_told(self, at: int, numbers: set[int]) -> bool:
        """Whether another place with its state stands at `at`: "rings on one and two, three is
        silent"."""
        at += self._text(at) in (",", ";")
        figure = next(self._prefixes(at), None) if self._free(at) else None
        return figure is not None and figure[0] in numbers and self._state_behind(figure[1])

    def _one_is_told(self, at: int) -> bool:
        """Whether it is told of one place how it is: "bushes two is washed out", for bush two, or
        what it does: "cleats six stops short"."""
        figure = next(self._prefixes(at), None) if self._free(at) else None
        told = self._text(figure[1]) if figure is not None else ""
        if figure is not None and told.endswith("s") and told in talk().everyday.verbs:
            return figure[0] > 1
        if figure is None or told not in ("is", "was"):
            return False
        return figure[0] > 1 and self._state_follows(figure[1] + 1)

    def _another_told(self, at: int, numbers: set[int]) -> bool:
        """Whether the next clause tells of another place: "one good, two good", "one intact; on
        thirteen brittle"."""
        for index in range(at, at + _CLAUSE):
            if self._text(index) in (*_PAUSES, "and"):
                return self._next_is_told(index + 1, numbers)
        return False

    def _state_behind(self, at: int) -> bool:
        """`_state_follows`; a recogniser may set a pause before the state: "three, silent."."""
        if self._state_follows(at):
            return True
        text, after = self._text(at + 1), self._text(at + 2)
        return self._text(at) == "," and after in (".", ";", "") and self._is_state(text)

    def _is_state(self, text: str) -> bool:
        """Whether a word says how a thing is, by itself or by a label of the card."""
        stem = verb_stem(text)
        lexicon = lexicon_of(self._cues.card)
        asked = lexicon.predicates
        opposite = talk().remarks.opposites.get(stem)
        chosen = word_key(text) in lexicon.option_words
        told = text in state_words() or deed_length((text,), lexicon.kinds) > 0
        return chosen or told or (stem,) in asked or (opposite,) in asked
