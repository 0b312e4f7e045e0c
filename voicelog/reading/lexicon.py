"""Lexicon: what can be said about a card, and which fields it leads to.

Learnt once for a card from its `terms`, from each field's `say`, `label`, `name`,
`position_word` and options, and from what the whole trade says (models_config/terms.jsonl).
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from voicelog.phonetics import sound
from voicelog.reading import labels, option_forms, option_words, other_names, renewing
from voicelog.reading.doers import doers, doers_at
from voicelog.reading.percard import per_card
from voicelog.reading.state_words import trade, verdicts
from voicelog.reading.statements import (
    denied_by,
    is_fault,
    is_statement,
    likewise,
    located_at,
    split,
    tells_how,
    thing_of,
    tried_by,
)
from voicelog.reading.talk import talk
from voicelog.reading.trade import conditions, trade_phrases
from voicelog.reading.words import phrase_key, third_person, tokenise, verb_stem, word_key

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from collections.abc import Set as AbstractSet

    from voicelog.objects import Card, Field, Step
    from voicelog.reading.option_words import Phrases

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
    pauses: set[str] = field(default_factory=set)
    """Prefixes behind which a name has a sign of its own ("Axle box jack, drift")."""
    faults: set[str] = field(default_factory=set)
    """Terms whose presence is a finding against a check ("No heat damage")."""
    subjects: set[str] = field(default_factory=set)
    """Things that a check wants to be there: "no cotter pin" is a finding against it."""
    counted: set[str] = field(default_factory=set)
    """Terms that are counted ("loose bolts"): none of them is a count of 0."""
    tallied: set[str] = field(default_factory=set)
    """Terms that name fields which count, and no others."""
    judged: set[str] = field(default_factory=set)
    """Terms that name nothing that takes a number, only checks and choices."""
    brought: set[str] = field(default_factory=set)
    """Verbs that name a measured field where a number stands behind them ("seated at 270")."""
    counted_words: set[str] = field(default_factory=set)
    """Keys of their single words."""
    asked: dict[str, str] = field(default_factory=dict)
    """Subject of a check -> the one verb stem that its label says of it ("fitt", "off")."""
    comes_to_be: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Subject of a check -> how its label says that it comes to be so ("goes out")."""
    statements: set[str] = field(default_factory=set)
    """Terms that say by themselves that a check is met ("wheel turns freely")."""
    placed: set[str] = field(default_factory=set)
    """Names of checks that tell where a thing has to be ("locking bar across spokes"): they say so
    only of a thing that is there ("the bar is across"); else they tell which thing is meant."""
    predicates: set[tuple[str, ...]] = field(default_factory=set)
    """What the labels of checks say of their subjects ("goes out"), as verb stems."""
    alike: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Stems of other words for that ("wired" where it has to be wirelocked) -> what labels say."""
    doers: dict[str, str] = field(default_factory=dict)
    """Words for things of which checks tell what such things do ("bell") -> their kind."""
    doers_at: dict[str, str] = field(default_factory=dict)
    """Places of nothing but such things of one kind -> that kind."""
    kinds: frozenset[str] = frozenset()
    """The kinds of these things."""
    kindred: set[tuple[str, str]] = field(default_factory=set)
    """(word before the thing, its kind): a "pressure light" where the label has a lamp."""
    states: dict[Place, tuple[str, ...]] = field(default_factory=dict)
    """The predicate of each check whose label has one."""
    renewals: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Things that some check wants renewed ("New O-ring in") -> what its label says of them."""
    options: dict[Place, dict[str, str]] = field(default_factory=dict)
    """For each choice: canonical term -> option as the card spells it."""
    option_stems: dict[str, dict[Place, str]] = field(default_factory=dict)
    """Stem of an option that is a participle -> fields that have it, with the option."""
    option_degrees: dict[str, dict[tuple[Place, str], str]] = field(default_factory=dict)
    """Adverb of an option that is a degree -> (field, fault that it is about) -> the option."""
    option_renewed: dict[Place, str] = field(default_factory=dict)
    """The option of a choice that says that the thing was renewed."""
    option_phrases: Phrases = field(default_factory=dict)
    """What tells of options in other words than the card's."""
    option_words: set[str] = field(default_factory=set)
    """Keys of the options."""

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
        self.pauses.update(phrase_key(phrase[: sign.start()]) for sign in _PAUSE.finditer(phrase))
        canonical = self.exact.get(key)
        if canonical is None:
            canonical = " ".join(phrase.lower().split())
            self.add(phrase, canonical, by_sound=plainness >= 0.8)
        fields = self.places.setdefault(canonical, {})
        fields[place] = max(plainness, fields.get(place, 0.0))


_PAUSE = re.compile(r"[.,%(](?=[\s\w])")


def _words_of(field: Field) -> set[str]:
    return {
        token.key
        for phrase in (*field.say, field.label)
        for token in tokenise(phrase)
        if len(token.key) > 2
        and token.key not in talk().everyday.common
        and not token.key.isdigit()
        and token.text.lower() not in verdicts()  # "by-pass valve"
        and not (field.type == "check" and tells_how(token.text))
    }


def _learn_field(lexicon: Lexicon, step: Step, field: Field) -> None:
    place = (step.number, field.name)
    for phrase in field.say:
        lexicon.speaks_of(phrase, place, 1.0)
    lexicon.speaks_of(field.label, place, 1.0)
    lexicon.speaks_of(labels.in_full(field), place, 1.0)
    if " " in labels.thing(field):
        lexicon.speaks_of(labels.thing(field), place, 0.95)
    lexicon.speaks_of(field.name.replace("_", " "), place, 0.95)
    lexicon.speaks_of(labels.head(field), place, 0.95)
    lexicon.speaks_of(labels.before_comma(field), place, 0.95)
    for word in labels.verbs_of(field):
        lexicon.speaks_of(f"to {word}", place, 0.95)
        lexicon.speaks_of(f"{third_person(word)} in", place, 0.95)
    if field.position_word:
        lexicon.speaks_of(field.position_word, place, 0.7)
    for thing in labels.numbered(field):
        lexicon.speaks_of(thing, place, 0.7)
    if field.type == "choice" and _CONDITION in labels.in_full(field).lower().split():
        lexicon.speaks_of(_CONDITION, place, 0.7)
    if field.kind:
        lexicon.speaks_of(field.kind, place, 0.6)
        lexicon.speaks_of(field.kind.split()[0], place, 0.55)


_CONDITION = "condition"
"""What a choice may be called where it is the only one of its thing: "belt 1: condition good"."""
_MEANWHILE = re.compile(r"\s+(?:when|while)\b", re.IGNORECASE)
_LOOKING = frozenset({"check", "examination", "inspection", "survey", "test"})
"""A "crack test" is how cracks are looked for: its name is no finding."""


def _learn_check(lexicon: Lexicon, step: Step, field: Field, said: Mapping[str, int]) -> None:
    place = (step.number, field.name)
    label = field.label.lower()
    negative = label.split()[0] in labels.NEGATIVE
    unwanted = _FREE_OF.search(labels.free_of(label))  # "Sight glass free of foam"
    if unwanted is not None:
        whole = unwanted[1].strip()
        fault = whole.split()[0] if whole in field.say else whole
        lexicon.speaks_of(fault, place, 0.95 if " " in fault or negative else 0.7)
        lexicon.faults.add(lexicon.canonical(fault))
    located = {phrase_key(word) for word in located_at(label)} if negative else set()
    for phrase in (*field.say, *(() if negative else (field.label,))):
        looked_for = negative and phrase.split()[-1].lower() not in _LOOKING
        fault = is_fault(phrase) or (looked_for and phrase_key(phrase) not in located)
        (lexicon.faults if fault else lexicon.subjects).add(lexicon.canonical(phrase))
    if negative:
        lexicon.statements.add(lexicon.canonical(field.label))
        denied = denied_by(label)
        if denied and not is_fault(denied) and " with " in label:
            lexicon.speaks_of(denied, place, 0.95)
            lexicon.faults.add(lexicon.canonical(denied))
        return
    subject, predicate = split(field)
    for before, thing, kind in doers(field, subject, predicate):
        lexicon.doers[thing] = kind
        lexicon.kindred.add((before, kind))
    head = labels.head(field)
    if not predicate and head:  # "Safety pin at tailplane", "Cracks at welds"
        named = lexicon.faults if is_fault(head) else lexicon.subjects
        named.add(lexicon.canonical(head))
    thing, part = thing_of(field)
    if thing and phrase_key(thing) not in lexicon.exact:
        lexicon.speaks_of(thing, place, 0.9)
        lexicon.subjects.update({lexicon.canonical(thing)} if part else ())
    tried = lexicon.canonical(tried_by(field))
    lexicon.subjects.update({tried} if place in lexicon.places.get(tried, ()) else ())
    if not predicate or predicate[0] in labels.WHERE:
        _learn_placed(lexicon, place, field.label)
    if predicate:
        _learn_state(lexicon, place, field, said)
    new = renewing.named(subject or field.label, predicate)
    last = [word for word in new.split()[-1:] if said[word_key(word)] == 1]
    for name in (new, subject, *last, *field.say) if new else ():
        lexicon.speaks_of(name, place, 0.95)
        lexicon.subjects.add(lexicon.canonical(name))
        lexicon.renewals[lexicon.canonical(name)] = predicate
    without = _MEANWHILE.split(field.label)[0]  # "Green light on when locked"
    for phrase in dict.fromkeys((*field.say, field.label, without)):
        if is_statement(phrase) and not is_fault(phrase):
            lexicon.statements.add(lexicon.canonical(phrase))


def _learn_state(lexicon: Lexicon, place: Place, field: Field, said: Mapping[str, int]) -> None:
    subject, predicate = split(field)
    lexicon.predicates.add(predicate)
    lexicon.alike.update(dict.fromkeys(likewise(field.label), predicate))
    lexicon.states[place] = predicate
    lexicon.statements.add(lexicon.canonical(field.label))
    thing, _, noun = subject.rpartition(" ")
    slack = thing and word_key(noun) in conditions()
    whole = f"{noun} of {thing}" if slack else ""  # "slack of the rope"
    for name in filter(None, (subject, whole)):
        lexicon.speaks_of(name, place, 0.95)
        lexicon.subjects.add(lexicon.canonical(name))
    noun = noun if thing and said[word_key(noun)] == 1 else ""  # "stripe" for the torque stripe
    if noun:
        lexicon.subjects.add(noun)
    names = [lexicon.canonical(name) for name in (*field.say, subject, noun) if name]
    if len(predicate) == 1:
        lexicon.asked.update(dict.fromkeys(names, predicate[0]))
    elif predicate[0] in _BECOMES and predicate[1:] in _WHERE_TO:
        lexicon.comes_to_be.update(dict.fromkeys(names, predicate))


def _learn_placed(lexicon: Lexicon, place: Place, label: str) -> None:
    words = label.lower().split()
    where = next((at for at, word in enumerate(words) if at and word in _PREPOSITIONS), len(words))
    if where >= len(words) - 1:
        return
    for first in range(where):
        for end in (len(words), where + 1):  # "the locking bar is across"
            name = " ".join(words[first:end])
            if name == label.lower() or phrase_key(name) not in lexicon.exact:
                lexicon.speaks_of(name, place, 0.95)
                lexicon.placed.add(lexicon.canonical(name))


_BECOMES = frozenset(map(verb_stem, ("comes", "goes", "turns", "switches")))
_WHERE_TO = frozenset({("in",), ("off",), ("on",), ("out",)})
_PREPOSITIONS = labels.WHERE | {
    "across", "against", "around", "beside", "between", "inside", "into", "over", "through",
}  # fmt: skip


_FREE_OF = re.compile(
    r"\b(?:free (?:of|from)|absence of|without) "
    r"((?:(?!(?:in|on|at|of|from|after|when|and|or)\b)[a-z]+ ?)+)"
)


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
    other_names.learn_tails(lexicon, card)
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
                if word_key(head) not in checked and is_fault(head):
                    names += (head,)
                names += tuple(_learn_counted(lexicon, place, each))
                lexicon.counted.update(lexicon.canonical(name) for name in names)
                lexicon.counted_words.update(t.key for name in names for t in tokenise(name))
            apart = labels.apart(each, step.fields) if each.type == "measurement" else ""
            for word in _words_of(each):
                told = not each.say and word == labels.noun(each)
                own = told and said[word] == 1
                lexicon.speaks_of(word, place, labels.OWN if own else 0.5)
                if word == apart and phrase_key(labels.past(word)) not in lexicon.exact:
                    lexicon.speaks_of(labels.past(word), place, 0.5)
                    lexicon.brought.add(lexicon.canonical(labels.past(word)))
    for canonical, pattern in trade_phrases():
        lexicon.add(pattern, canonical)
    lexicon.tallied.update(_naming_only(lexicon, card, {"count"}))
    lexicon.judged.update(_naming_only(lexicon, card, {"check", "choice"}))
    other_names.learn_found_and_left(lexicon)
    for step in card.steps:
        other_names.learn_longer(lexicon, step)
    lexicon.kinds = frozenset(lexicon.doers.values())
    lexicon.doers_at = doers_at(card)
    _learn_forms(lexicon, card)
    return lexicon


def _naming_only(lexicon: Lexicon, card: Card, types: AbstractSet[str]) -> Iterator[str]:
    """The terms that name fields of these types and no others."""
    fields = {(s.number, each.name) for s in card.steps for each in s.fields if each.type in types}
    for canonical, places in lexicon.places.items():
        if places.keys() <= fields and max(places.values()) >= labels.OWN:
            yield canonical


def _learn_forms(lexicon: Lexicon, card: Card) -> None:
    faults = frozenset(trade("FAULT").values())
    about = {
        (step.number, each.name): frozenset(
            faults & {token.key for name in labels.names(each) for token in tokenise(name)}
        )
        for step in card.steps
        for each in step.fields
        if each.type == "choice"
    }
    lexicon.option_stems = option_forms.stems_of(lexicon.options)
    lexicon.option_degrees = option_forms.degrees_of(lexicon.options, about)
    lexicon.option_renewed = option_forms.renewed_of(lexicon.options)
    lexicon.option_phrases = option_words.phrases_of(lexicon.options)


def _learn_counted(lexicon: Lexicon, place: Place, field: Field) -> Iterator[str]:
    """The ways to say what a field counts that are no name of another field."""
    for name in filter(None, (*labels.counted_as(field), labels.rated(field))):
        if lexicon.places.get(lexicon.canonical(name), {place: 1.0}).keys() == {place}:
            lexicon.speaks_of(name, place, 0.95)
            yield name


def _checked(card: Card) -> set[str]:
    """Keys of all words by which the checks of `card` are named."""
    checks = (each for step in card.steps for each in step.fields if each.type == "check")
    return {token.key for each in checks for name in labels.names(each) for token in tokenise(name)}
