"""Stage: names of fields that a recogniser wrote as they sound: "Greece patch" for grease batch.

A strange word, or a few beside it, where the name of a field must stand: behind a pause, before a
value of the kind that the field takes. What of the name is written plainly counts for it ("tie" in
"Altie bolts"), and one name of the step alone must be near by ear. From here on the words are read
as the card has them; what they name is asked about.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from voicelog.phonetics import likeness
from voicelog.reading import labels, unit_words
from voicelog.reading.atoms import key
from voicelog.reading.chain import stage
from voicelog.reading.lexicon import lexicon_of
from voicelog.reading.named_rows import PERSONS
from voicelog.reading.percard import fields_of, per_card
from voicelog.reading.spoken import letter_names, letters, lexemes, spoken
from voicelog.reading.state_words import phrase_heads, state_words, telling
from voicelog.reading.statements import split
from voicelog.reading.talk import talk
from voicelog.reading.words import verb_stem, word_key

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from spacy.tokens import Doc

    from voicelog.objects import Card, Field
    from voicelog.reading.atoms import Key
    from voicelog.reading.lexicon import Lexicon, Place
    from voicelog.reading.passage import Passage

NAME = "heard_names"
_LONGEST = 3
"""Words that were misheard, and words that were meant, at most."""
_LONGEST_NAME = 4
_SHORTEST = 3
"""Letters of what was written, and of what was meant, at least."""
_ALONE, _ANCHORED = 0.6, 0.48
"""Least likeness by ear of a whole name, and of a part whose other words are plain."""
_SHORT, _FEW = 4, 0.12
"""Letters of short words, and how much nearer they have to be."""
_PLAIN = 0.08
"""What a word that means something by itself takes from it."""
_SPELT = 0.42
"""The same where a code is spelt right behind it."""
_AHEAD = 0.1
"""How much more than that of the next name."""
_REACH = 10
"""Atoms behind a name within which its value stands."""
_OPENERS = frozenset({
    "and", "then", "right", "so", "okay", "ok", "now", "all", "both", "each", "every", "our",
    "new", "old", "but", "left", "no", "nil", "also",
})  # fmt: skip
_REFRAIN = 3
"""Places in a row that such a word stands before, at least."""
_ALL, _WITH_ALL = ("al", "ol"), 0.7
"""How "all" begins that was written as one with the name behind it, and how near these are."""
_STOPS, _DONE = frozenset({".", ";", "!", "?"}), ("ed", "ing")
_NO_NAMES = frozenset({"rest", "remaining", "others", "none", "everything", "half", "roughly"})
"""Words of how many, which name nothing."""


@dataclass(frozen=True, slots=True)
class _Meant:
    words: Key  # what was meant by those that were misheard
    places: frozenset[Place]


_Names = dict[tuple["Key", "Key"], tuple[_Meant, ...]]
"""Plain words before and behind what was misheard -> what may stand there."""


@per_card
def _names(card: Card | None) -> Mapping[str, _Names]:
    """What each step's fields are called, taken apart."""
    found: dict[str, _Names] = {}
    lexicon = lexicon_of(card)
    for step in card.steps if card is not None else ():
        called: dict[Key, set[Place]] = {}
        for each in step.fields:
            for phrase in _phrases(each):
                words = key(phrase)
                if 0 < len(words) <= _LONGEST_NAME and all(map(str.isalpha, words)):
                    called.setdefault(words, set()).add((step.number, each.name))
        parts: dict[tuple[Key, Key], dict[Key, set[Place]]] = {}
        for words, places in called.items():
            for first in range(len(words)):
                for last in range(first + 1, min(first + _LONGEST, len(words)) + 1):
                    meant = words[first:last]
                    if _is_telling(meant) and not _tells_how(meant, lexicon):
                        around = parts.setdefault((words[:first], words[last:]), {})
                        around.setdefault(meant, set()).update(places)
        found[step.number] = {
            around: tuple(_Meant(meant, frozenset(places)) for meant, places in each.items())
            for around, each in parts.items()
        }
    return found


def _phrases(each: Field) -> Iterator[str]:
    yield from labels.names(each)
    yield each.name.replace("_", " ")
    yield labels.head(each)
    yield labels.before_comma(each)
    yield each.position_word or ""
    if each.type == "check":
        yield split(each)[0]
    if each.type == "identifier":
        yield from (name.rpartition(" ")[0] for name in labels.names(each) if _NUMBER.search(name))


_NUMBER = re.compile(r" (?:no\.?|number|id)\Z", re.IGNORECASE)


def _is_telling(words: Key) -> bool:
    plain = talk().everyday.common | talk().everyday.ordinary
    return any(len(word) >= _SHORTEST and word not in plain for word in words)


def _tells_how(words: Key, lexicon: Lexicon) -> bool:
    """Whether a word of a name says how the thing is: sound alone gives no verdict."""
    stems = {(verb_stem(word),) for word in words}
    return not stems.isdisjoint(lexicon.predicates) or not state_words().isdisjoint(words)


@stage(NAME)
def heard_names(doc: Doc) -> None:
    """Read misheard names of fields as the card has them."""
    passage: Passage = doc._.passage
    doc._.heard_names = []
    if passage.cues.card is not None:
        found = list(_Finder(passage).run())
        for first, last, words in reversed(found):
            passage.respell(first, last, words)


class _Finder:
    def __init__(self, passage: Passage) -> None:
        self._passage = passage
        self._texts = passage.texts
        self._card = passage.cues.card
        self._lexicon = lexicon_of(self._card)
        self._strange = [self._is_strange(at) for at in range(len(passage.atoms))]

    def run(self) -> Iterator[tuple[int, int, Key]]:
        """(first atom, index behind, words meant) of each misheard name."""
        at = 0
        heads = dict(self._refrains())
        names = _names(self._card)
        while at < len(self._strange):
            found = heads.get(at)
            if found is None and any(self._strange[at : at + _LONGEST]):
                found = self._at(at, names.get(self._passage.step_at(at) or "", {}))
            if found is not None:
                yield at, *found
            at = found[0] if found is not None else at + 1

    def _refrains(self) -> Iterator[tuple[int, tuple[int, Key]]]:
        """A word that stands for that of the places before one number after another: "Blatt one
        closed, Blatt two closed, Blatt three closed"."""
        before: dict[str, list[tuple[int, int]]] = {}
        for at, word in enumerate(self._passage.words):
            if word is not None and at and self._is_head(at - 1):
                figures = self._passage.numerals(at).figures(at)
                if figures is not None:
                    before.setdefault(self._texts[at - 1], []).append((at - 1, int(figures[0][0])))
        for text, heads in before.items():
            values = [value for _, value in heads]
            first = values[0]
            if len(values) < _REFRAIN or values != list(range(first, first + len(values))):
                continue
            if (text,) in self._passage.cues.words or (text,) in self._passage.cues.phrases:
                continue
            step = self._passage.step_at(heads[0][0])
            groups = [g for g in self._passage.cues.groups if g.numbers and step in g.steps]
            if len(groups) != 1 or not groups[0].word:
                continue
            counted = frozenset(
                place
                for place, each in fields_of(self._card).items()
                if place[0] == step and each.position_word == groups[0].word
            )
            fits = all(self._fits(counted, at + 2) for at, _ in heads)
            if fits and set(values) <= groups[0].numbers.keys():
                for at, _ in heads:
                    yield at, (at + 1, key(groups[0].word))

    def _is_head(self, at: int) -> bool:
        """Whether a word that is no number stands at `at`, behind a pause."""
        text, passage = self._texts[at], self._passage
        free = passage.atoms[at].shape == "word" and not passage.claims[at]
        head = at == 0 or passage.atoms[at - 1].shape == "sign"
        counts = passage.words[at] is not None or text == "number"
        return free and head and len(text) >= _SHORTEST and not counts

    def _is_strange(self, at: int) -> bool:
        """Whether nothing explains the word at `at`."""
        text, atom = self._texts[at].removesuffix("'s"), self._passage.atoms[at]
        if atom.shape != "word" or len(text) < _SHORTEST or self._passage.claims[at]:
            return False
        known = text in _explained() or word_key(text) in self._lexicon.exact
        return not (known or atom.glued or "'" in text or self._is_told(text))

    def _is_told(self, text: str) -> bool:
        """Whether the card has a word for a place, or for how something is."""
        places, lexicon = self._passage.cues.place_words, self._lexicon
        return text in places or (verb_stem(text),) in lexicon.predicates

    def _is_open(self, at: int) -> bool:
        """Whether the word at `at` may be a part of what was misheard."""
        if at >= len(self._strange) or self._passage.atoms[at].shape != "word":
            return False
        free = self._passage.words[at] is None and not self._passage.claims[at]
        return self._strange[at] or (free and self._texts[at] not in PERSONS)

    def _at(self, first: int, names: _Names) -> tuple[int, Key] | None:
        scored: list[tuple[float, int, _Meant]] = []
        for last in range(first + 1, first + _LONGEST + 1):
            if not self._is_open(last - 1):
                break
            edge = self._strange[first] or self._texts[first] == "a"
            if edge and self._strange[last - 1]:
                said = " ".join(self._texts[first:last])
                for around, score, meant in self._near(first, last, said, names):
                    begin, end = first - len(around[0]), last + len(around[1])
                    if self._may_begin(begin) and self._fits(meant.places, end):
                        scored.append((score, last, meant))
        if not scored:
            return None
        scored.sort(key=lambda each: -each[0])
        score, last, best = scored[0]
        rivals = (each for each, _, other in scored if other.places.isdisjoint(best.places))
        return (last, best.words) if max(rivals, default=0.0) <= score - _AHEAD else None

    def _near(
        self, first: int, last: int, said: str, names: _Names
    ) -> Iterator[tuple[tuple[Key, Key], float, _Meant]]:
        for before in range(min(first, _LONGEST_NAME - 1) + 1):
            front = tuple(self._texts[first - before : first])
            for behind in range(_LONGEST_NAME - before):
                back = tuple(self._texts[last : last + behind])
                ways = names.get((front, back))
                if ways is None and behind:
                    ways = names.get((front, (*back[:-1], word_key(back[-1]))))
                for meant in ways or ():
                    least = _ANCHORED if front or back else _ALONE
                    types = {fields_of(self._card)[place].type for place in meant.places}
                    if types == {"identifier"} and self._is_spelt(last + behind):
                        least = _SPELT
                    least += _FEW * (max(map(len, (said, "".join(meant.words)))) <= _SHORT)
                    score = _likeness(said, " ".join(meant.words))
                    score -= _PLAIN * (last - first - sum(self._strange[first:last]))
                    whole = self._with_all(first - before, said, meant) if not before else None
                    if whole is not None:
                        yield (front, back), 1.0, whole
                        continue
                    known = self._leads_to((*front, *back), meant.places)
                    if score >= least and not known and not _is_plain(said, meant.words):
                        yield (front, back), score + 0.1 * (before + behind), meant

    def _with_all(self, at: int, said: str, meant: _Meant) -> _Meant | None:
        """ "All" and the name behind it, written as one word: "Altie bolts"."""
        if not said.startswith(_ALL) or " " in said or (at and self._texts[at - 1] not in _STOPS):
            return None
        fields = fields_of(self._card)
        whole = "all " + " ".join(meant.words)
        near = _likeness(said, whole) if all(fields[p].positions for p in meant.places) else 0.0
        return _Meant(("all", *meant.words), meant.places) if near >= _WITH_ALL else None

    def _is_spelt(self, at: int) -> bool:
        """Whether a code is spelt at `at`: it has to be somebody's."""
        at += self._texts[at] in ("is", ",")
        return (self._texts[at],) in letters() and len(self._texts[at]) > 1

    def _leads_to(self, words: Key, places: frozenset[Place]) -> bool:
        """Whether one of the plain words beside it leads to these fields alone, in their step."""
        steps = {step for step, _ in places}
        for word in words:
            led = self._lexicon.places.get(self._lexicon.exact.get(word_key(word), ""), {})
            here = {place for place in led if place[0] in steps}
            if here and here <= places:
                return True
        return False

    def _may_begin(self, at: int) -> bool:
        """Whether a name may begin at `at`: behind a pause, a place or a plain word that opens."""
        if at > 1 and self._texts[at - 1] == "the":
            at -= 1  # "packed in the guide"
        if at == 0 or self._passage.claims[at - 1]:
            return True
        before = self._texts[at - 1]
        if self._passage.atoms[at - 1].shape != "word":
            return True
        return (
            before in _OPENERS
            or before in spoken().sides
            or self._passage.words[at - 1] is not None
            or (before,) in self._passage.cues.phrases
        )

    def _fits(self, places: frozenset[Place], at: int) -> bool:
        """Whether behind `at` stands a value of the kind that one of the fields takes."""
        fields = fields_of(self._card)
        return any(self._takes(fields[place], place, at, places) for place in places)

    def _takes(self, field: Field, place: Place, at: int, places: frozenset[Place]) -> bool:
        for index in range(at, min(at + _REACH, len(self._strange))):
            text = self._texts[index]
            if self._ends(index) or self._names_other(index, places):
                return False
            if field.type in ("measurement", "count", "ratio", "date", "identifier"):
                if field.type == "identifier" and (text,) in letters():
                    return True
                if self._passage.words[index] is not None:
                    return field.type != "measurement" or self._measures(field, index)
            elif field.type == "check":
                if text in state_words() or text in phrase_heads():
                    return True
                if (verb_stem(text),) == self._lexicon.states.get(place, ("",))[:1]:
                    return True
            elif field.type == "choice":
                option = self._lexicon.exact.get(word_key(text))
                if option in self._lexicon.options.get(place, {}):
                    return True
        return False

    def _ends(self, at: int) -> bool:
        """Whether a sentence ends at `at`, and no decimals follow."""
        atoms = self._passage.atoms
        return self._texts[at] in _STOPS and not (at + 1 < len(atoms) and atoms[at + 1].glued)

    def _measures(self, field: Field, at: int) -> bool:
        """Whether the first unit behind the number at `at` is one of the field's kind, if any."""
        atoms = self._passage.atoms
        for index in range(at, min(at + _REACH, len(atoms))):
            if self._ends(index):
                return True
            if index > at and (found := unit_words.find(atoms, index, len(atoms))) is not None:
                if self._passage.words[index] is not None:
                    continue
                wanted = unit_words.dimension_of(field.unit or "")
                return any(unit_words.dimension_of(unit) == wanted for unit in found[0].units)
        return True

    def _names_other(self, at: int, places: frozenset[Place]) -> bool:
        name = self._lexicon.exact.get(word_key(self._texts[at]))
        led = self._lexicon.places.get(name or "", {})
        return any(plain > 0.7 for plain in led.values()) and places.isdisjoint(led)


@lru_cache(maxsize=50_000)
def _is_plain(said: str, meant: Key) -> bool:
    """Whether some word of the name was said, or a form of it: nothing was misheard."""
    words = {verb_stem(word_key(word)) for word in said.split()}
    own = {verb_stem(word_key(word)) for word in meant}
    if not words.isdisjoint(own):
        return True
    if said.endswith(_DONE) and not meant[-1].endswith(_DONE):
        return True  # what was done: "recharged to eighty"
    one, other = "".join(said.split()), "".join(meant)
    if any(len(word) > _SHORTEST and word in one for word in meant):
        return True
    first, named = said.split(maxsplit=1)[0], meant[0]
    if min(len(first), len(named)) > _SHORTEST:
        return first.startswith(named) or named.startswith(first)
    return one.startswith(other) or other.startswith(one)


_likeness = lru_cache(maxsize=50_000)(likeness)


@cache
def _explained() -> frozenset[str]:
    """Words that mean something by themselves."""
    said = talk().everyday
    words = {word for phrase in (*lexemes(), *letters(), *letter_names()) for word in phrase}
    known = said.plain | said.ordinary | said.common | said.verbs | said.states | said.orders
    known |= (
        said.openers
        | said.beside
        | said.worked
        | said.jobs
        | said.no_work
        | state_words()
        | set(spoken().sides)
        | telling()
        | _NO_NAMES
    )
    return frozenset(known | words | {word for word, _ in unit_words.single_words()})


STAGE = heard_names
