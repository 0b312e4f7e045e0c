"""Lexicon: what can be said about a card, and which fields it leads to.

Learnt once for a card from its `terms`, from each field's `say`, `label`, `name`,
`position_word` and options, and from what the whole trade says (models_config/terms.jsonl).
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING

from voicelog.phonetics import sound
from voicelog.reading import labels
from voicelog.reading.percard import per_card
from voicelog.reading.talk import talk
from voicelog.reading.trade import conditions, trade_phrases, trade_terms
from voicelog.reading.words import FILLERS, phrase_key, tokenise, verb_stem, word_key

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from voicelog.objects import Card, Field, Step
    from voicelog.reading.words import Token

Place = tuple[str, str]
"""(step number, field name)."""


@dataclass(slots=True)
class Lexicon:
    """What can be said, by key and by sound. Built once for a card."""

    exact: dict[str, str] = field(default_factory=dict)
    """key of a phrase -> canonical term"""
    near: dict[str, list[tuple[str, str]]] = field(default_factory=dict)
    """sound -> (key of a phrase, canonical term)"""
    places: dict[str, dict[Place, float]] = field(default_factory=dict)
    """canonical term -> fields that it speaks of, and how plainly (0..1)"""
    starts: set[str] = field(default_factory=set)
    """Prefixes of the keys, so that a search can stop early."""
    faults: set[str] = field(default_factory=set)
    """Terms whose presence is a finding against a check ("No heat damage")."""
    subjects: set[str] = field(default_factory=set)
    """Things that a check wants to be there: "no cotter pin" is a finding against it."""
    counted: set[str] = field(default_factory=set)
    """Terms that are counted ("loose bolts"): none of them is a count of 0."""
    counted_words: set[str] = field(default_factory=set)
    """Keys of their single words."""
    asked: dict[str, str] = field(default_factory=dict)
    """Subject of a check -> the one verb stem that its label says of it ("fitt", "off")."""
    statements: set[str] = field(default_factory=set)
    """Terms that say by themselves that a check is met ("wheel turns freely")."""
    predicates: set[tuple[str, ...]] = field(default_factory=set)
    """What the labels of checks say of their subjects ("goes out"), as verb stems."""
    states: dict[Place, tuple[str, ...]] = field(default_factory=dict)
    """The predicate of each check whose label has one."""
    options: dict[Place, dict[str, str]] = field(default_factory=dict)
    """For each choice: canonical term -> option as the card spells it."""
    option_words: set[str] = field(default_factory=set)
    """Keys of the options that are one word."""

    def canonical(self, phrase: str) -> str:
        """The term that `phrase` stands for; the phrase itself when it is unknown."""
        return self.exact.get(phrase_key(phrase), phrase)

    def plainness(self, canonical: str) -> float:
        """How plainly a term names a field at best; 1 for a term that names none."""
        return max(self.places.get(canonical, {"": 1.0}).values(), default=1.0)

    def add(self, phrase: str, canonical: str, *, by_sound: bool = True) -> None:
        key = phrase_key(phrase)
        if not key:
            return
        self.exact.setdefault(key, canonical)
        self.starts.update(key[:length] for length in range(1, len(key) + 1))
        if by_sound and len(key) >= 5:
            entry = (key, self.exact[key])
            entries = self.near.setdefault(sound(key), [])
            if entry not in entries:
                entries.append(entry)

    def speaks_of(self, phrase: str, place: Place, plainness: float) -> None:
        """Have `phrase` lead to the field `place`."""
        key = phrase_key(phrase)
        if not key:
            return
        canonical = self.exact.get(key)
        if canonical is None:
            canonical = " ".join(phrase.lower().split())
            self.add(phrase, canonical, by_sound=plainness >= 0.8)
        fields = self.places.setdefault(canonical, {})
        fields[place] = max(plainness, fields.get(place, 0.0))


def _words_of(field: Field) -> set[str]:
    return {
        token.key
        for phrase in (*field.say, field.label)
        for token in tokenise(phrase)
        if len(token.key) > 2
        and token.key not in talk().everyday.common
        and not token.key.isdigit()
        and not (field.type == "check" and _predicates(token.text))
    }


def _learn_field(lexicon: Lexicon, step: Step, field: Field) -> None:
    place = (step.number, field.name)
    for phrase in field.say:
        lexicon.speaks_of(phrase, place, 1.0)
    lexicon.speaks_of(field.label, place, 1.0)
    lexicon.speaks_of(labels.in_full(field), place, 1.0)
    lexicon.speaks_of(field.name.replace("_", " "), place, 0.95)
    lexicon.speaks_of(labels.head(field), place, 0.95)
    lexicon.speaks_of(labels.before_comma(field), place, 0.95)
    for word in labels.verbs_of(field):
        lexicon.speaks_of(f"to {word}", place, 0.95)
    if field.position_word:
        lexicon.speaks_of(field.position_word, place, 0.7)
    if field.kind:
        lexicon.speaks_of(field.kind, place, 0.6)
        lexicon.speaks_of(field.kind.split()[0], place, 0.55)


_LOOKING = frozenset({"check", "examination", "inspection", "survey", "test"})
"""A "crack test" is how cracks are looked for: its name is no finding."""


def _learn_check(lexicon: Lexicon, step: Step, field: Field, said: Mapping[str, int]) -> None:
    place = (step.number, field.name)
    label = field.label.lower()
    negative = label.split()[0] in labels.NEGATIVE
    located = {phrase_key(word) for word in _subjects(label)} if negative else set()
    for phrase in (*field.say, *(() if negative else (field.label,))):
        looked_for = negative and phrase.split()[-1].lower() not in _LOOKING
        fault = _is_fault(phrase) or (looked_for and phrase_key(phrase) not in located)
        (lexicon.faults if fault else lexicon.subjects).add(lexicon.canonical(phrase))
    if negative:
        lexicon.statements.add(lexicon.canonical(field.label))
        return
    subject, predicate = _split(field)
    if not predicate and labels.head(field):  # "Safety pin at tailplane"
        lexicon.subjects.add(lexicon.canonical(labels.head(field)))
    if predicate:
        lexicon.predicates.add(predicate)
        lexicon.states[place] = predicate
        lexicon.statements.add(lexicon.canonical(field.label))
        if subject:
            lexicon.speaks_of(subject, place, 0.95)
            lexicon.subjects.add(lexicon.canonical(subject))
        noun = subject.split()[-1] if " " in subject else ""
        noun = noun if said[word_key(noun)] == 1 else ""  # "stripe" for the torque stripe
        if noun:
            lexicon.subjects.add(noun)
        if len(predicate) == 1:
            names = (*field.say, *filter(None, (subject, noun)))
            lexicon.asked.update((lexicon.canonical(name), predicate[0]) for name in names)
    for phrase in (*field.say, field.label):
        if _is_statement(phrase) and not _is_fault(phrase):
            lexicon.statements.add(lexicon.canonical(phrase))


def subject_of(field: Field) -> str:
    """What the label of a check speaks of, as far as no `say` tells."""
    negative = field.type != "check" or field.label.lower().split()[0] in labels.NEGATIVE
    return "" if negative else _split(field)[0]


def _split(field: Field) -> tuple[str, tuple[str, ...]]:
    """What the label of a check speaks of, when no `say` tells, and the verb stems of what it
    says of it: "Isolator on" -> isolator, (on). Nothing when it only names a thing."""
    label = phrase_key(field.label)
    others = (phrase for phrase in field.say if phrase_key(phrase) != label)
    said = {token.key for phrase in others for token in tokenise(phrase)}
    words = [token for token in tokenise(field.label.lower()) if token.is_word]
    particles = talk().remarks.particles
    compounds = {part for each in _COMPOUND.findall(field.label.lower()) for part in each}
    first = 0
    while first < len(words) and words[first].key in said | FILLERS:
        first += 1
    subject = ""
    if not first and label in map(phrase_key, field.say):
        return "", ()
    if not first:
        states = (at for at in range(1, len(words)) if _begins_state(words, at))
        first = next((at for at in states if words[at].text not in compounds), len(words))
        first -= 1 < first < len(words) and words[first - 1].text in talk().remarks.vague
        subject = " ".join(word.text for word in words[:first])
    elif words[first:] and not _says(words, first) and words[-1].text not in particles:
        vague = words[first].text in talk().remarks.vague
        state = (at for at in range(first, len(words)) if not vague and _begins_state(words, at))
        first = next(state, first)  # "pattern" of "Spray pattern even"
    rest = words[first:]
    until = next((at for at, word in enumerate(rest) if at and word.text in _MEANWHILE), len(rest))
    rest = rest[:until]
    if len(rest) > _LONGEST_STATE:  # "received at control room"
        where = (at for at, word in enumerate(rest) if at and word.text in _WHERE_OR_WHEN)
        rest = rest[: next(where, len(rest))]
    if rest and _halts(rest, 0):
        rest = rest[:1]  # "stops it" says the same as "stops the machine"
    first += bool(rest) and rest[0].text in talk().remarks.vague  # "fully open"
    if not 0 < len(rest) <= _LONGEST_STATE or first == len(words) or not _says(words, first):
        return "", ()
    if not compounds.isdisjoint(word.text for word in rest):
        return "", ()
    return subject, tuple(verb_stem(word.text) for word in rest)


_LONGEST_STATE = 3
_COMPOUND = re.compile(r"\b(\w+)-(down|in|off|on|out|over|up)\b")
""" "Overload cut-out" names a thing, and says nothing of it."""
_MEANWHILE = frozenset({"when", "while"})
_WHERE_OR_WHEN = labels.WHERE | {"within", "after", "before", "until", "when"}


def _begins_state(words: Sequence[Token], at: int) -> bool:
    """Whether the word at `at`, the first after a name, tells how the thing is: "on", "shows
    green", but not "tested" before another name."""
    word, last = words[at].text, words[-1].text
    if _halts(words, at):
        return True
    if (word in _NOUNS_TOO and not _of_many(words, at)) or not _says(words, at):
        return False
    if at + 1 < len(words) and _of_many(words, at + 1):
        return False  # "drains" of "Automatic drains discharge"
    verb = word in talk().everyday.verbs
    ends = at == len(words) - 1 or words[at + 1].text in labels.WHERE
    return verb or ends or last in talk().remarks.particles


def _says(words: Sequence[Token], at: int) -> bool:
    """Whether the word at `at` says something of what stands before it, in whatever form of the
    verb: "goes", "turning", "pawls hold"."""
    word = words[at].text
    if _predicates(word):
        return True
    if word.endswith("ing") and word not in _NOUNS_TOO:
        return verb_stem(word) in _verb_stems()
    return _of_many(words, at)


def _halts(words: Sequence[Token], at: int) -> bool:
    """Whether the word at `at` tells that a thing makes a machine stop: "switch stops motor"."""
    return words[at].text in {"stop", "stops"} and any(
        word.text in _MACHINES for word in words[at + 1 : at + 3]
    )


def _of_many(words: Sequence[Token], at: int) -> bool:
    """Whether the word at `at` is a verb behind several things: "stop buttons work"."""
    before = words[at - 1].text if at else ""
    many = before.endswith("s") and not before.endswith("ss")
    return many and f"{words[at].text}s" in talk().everyday.verbs


@cache
def _verb_stems() -> frozenset[str]:
    everyday = talk().everyday
    return frozenset(map(verb_stem, everyday.verbs - talk().remarks.particles))


_NOUNS_TOO = frozenset({
    "lighting", "lights", "locks", "opening", "release", "ring", "rings", "seating", "seats",
    "stops", "work", "works",
})  # fmt: skip
"""Words that say how something is, and name things as well ("wiper ring")."""


_MACHINES = frozenset({
    "belt", "car", "conveyor", "crane", "drive", "engine", "fan", "feed", "hoist", "it", "lift",
    "line", "machine", "motor", "plant", "press", "pump", "travel",
})  # fmt: skip
"""What is stopped, behind "stops"."""
_PUT = frozenset({"left", "set", "put", "kept"})
"""Words that begin a label which tells how a thing is to be ("left in automatic")."""


def _is_statement(phrase: str) -> bool:
    """Whether a phrase says by itself how its subject is ("wheel turns freely", "pin in")."""
    words = [token.text.lower() for token in tokenise(phrase)]
    if len(words) == 1:
        return words[0].endswith("ed") and words[0] in _good_words()
    if not words:
        return False
    if words[0] in _PUT and len(words) > 2 and words[1] in talk().remarks.particles | {"at", "to"}:
        return True
    if words[-1] in talk().remarks.particles:
        return not phrase.lower().endswith(f"-{words[-1]}")  # a cut-out is a thing
    if any(" ".join(words).endswith(f" {state}") for state in talk().remarks.state_pass):
        return True
    verbs = (word for word in words[1:] if word not in _NOUNS_TOO)
    return any(_predicates(word) and word not in talk().remarks.particles for word in verbs)


def _is_fault(phrase: str) -> bool:
    """Whether the phrase names a fault by itself ("oil leaks"), whatever the label says."""
    named = re.split(r"\b(?:in|on|at|of|from)\b", phrase.lower(), maxsplit=1)[0]
    words = tokenise(named)
    return bool(words) and words[-1].key in conditions()


@cache
def _good_words() -> frozenset[str]:
    return frozenset(
        term.pattern
        for term in trade_terms()
        if term.label == "GOOD" and isinstance(term.pattern, str)
    )


def _predicates(word: str) -> bool:
    """Whether a word of a label says something of its subject ("fitted", "goes", "in")."""
    word = word.lower()
    everyday = talk().everyday
    if word in everyday.verbs or word in everyday.states or word in _good_words():
        return True
    return word.endswith("ed") and len(word) > 4


def _subjects(label: str) -> list[str]:
    """What a negative label says the fault is not on: "No cracks in the frame" -> frame."""
    parts = re.split(r"\b(?:in|on|at|of|from)\b", label, maxsplit=1)
    return [] if len(parts) < 2 else [parts[1], *parts[1].split()]


@per_card
def lexicon_of(card: Card | None) -> Lexicon:
    """The vocabulary of `card` with that of the trade."""
    lexicon = Lexicon()
    if card is None:
        for canonical, phrase in trade_phrases():
            lexicon.add(phrase, canonical)
        return lexicon
    for canonical, ways in card.terms:
        for way in (canonical, *ways):
            lexicon.add(way, canonical)
    for step in card.steps:
        for each in step.fields:
            _learn_field(lexicon, step, each)
    said = Counter(word for step in card.steps for each in step.fields for word in _words_of(each))
    checked = _checked(card)
    _learn_tails(lexicon, card)
    for step in card.steps:
        for each in step.fields:
            place = (step.number, each.name)
            for option in each.options:
                if not phrase_key(option).isdigit():
                    lexicon.add(option, option, by_sound=len(option) > 6)
                    chosen = lexicon.options.setdefault(place, {})
                    chosen[lexicon.canonical(option)] = option
                    lexicon.option_words.add(phrase_key(option))
            if each.type == "check":
                _learn_check(lexicon, step, each, said)
            if each.type == "count":
                names = (*each.say, each.label, each.name.replace("_", " "), *labels.tails(each))
                names += tuple(filter(None, (labels.before_comma(each),)))
                head = labels.head(each)  # "Cracks in the backplate", but not "Plates in the pack"
                if word_key(head) not in checked and _is_fault(head):
                    names += (head,)
                lexicon.counted.update(lexicon.canonical(name) for name in names)
                lexicon.counted_words.update(t.key for name in names for t in tokenise(name))
            for word in _words_of(each):
                own = not each.say and word == labels.noun(each) and said[word] == 1
                lexicon.speaks_of(word, (step.number, each.name), labels.OWN if own else 0.5)
    for canonical, pattern in trade_phrases():
        lexicon.add(pattern, canonical)
    _learn_found_and_left(lexicon)
    return lexicon


def _learn_tails(lexicon: Lexicon, card: Card) -> None:
    """The ends of labels that are the end of no other name."""
    fields = [(step.number, each) for step in card.steps for each in step.fields]
    ends = Counter(
        phrase_key(" ".join(words[first:]))
        for _, each in fields
        for words in {tuple(name.split()) for name in labels.names(each)}
        for first in range(len(words))
    )
    for number, each in fields:
        for tail in labels.tails(each):
            if ends[phrase_key(tail)] == 1 and phrase_key(tail) not in lexicon.exact:
                lexicon.speaks_of(tail, (number, each.name), labels.OWN)


def _checked(card: Card) -> set[str]:
    """Keys of all words by which the checks of `card` are named."""
    checks = (each for step in card.steps for each in step.fields if each.type == "check")
    return {token.key for each in checks for name in labels.names(each) for token in tokenise(name)}


_FOUND_OR_LEFT = ("as found", "found", "as left", "left")


def _learn_found_and_left(lexicon: Lexicon) -> None:
    """ "Tyre pressure as found" may be the name of one field, or tell of another's two values."""
    for canonical, places in lexicon.places.items():
        for ending in _FOUND_OR_LEFT:
            if canonical.endswith(f" {ending}"):
                base = lexicon.places.get(lexicon.canonical(canonical.removesuffix(f" {ending}")))
                for place, plainness in (base or {}).items():
                    places[place] = max(places.get(place, 0.0), plainness)
                break
