"""Statements: what the label of a check says of its thing, that has to be so ("Isolator on")."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from voicelog.reading import labels
from voicelog.reading.kinds import does, kind_of, told_of
from voicelog.reading.talk import talk
from voicelog.reading.trade import conditions, trade_terms
from voicelog.reading.words import FILLERS, phrase_key, tokenise, verb_stem

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from voicelog.objects import Field
    from voicelog.reading.words import Token


def subject_of(field: Field) -> str:
    """What the label of a check speaks of, as far as no `say` tells."""
    negative = field.type != "check" or field.label.lower().split()[0] in labels.NEGATIVE
    return "" if negative else split(field)[0]


def split(field: Field) -> tuple[str, tuple[str, ...]]:
    """What the label of a check speaks of, when no `say` tells, and the verb stems of what it
    says of it: "Isolator on" -> isolator, (on). Nothing when it only names a thing."""
    label = phrase_key(field.label)
    others = (phrase for phrase in field.say if phrase_key(phrase) != label)
    said = {token.key for phrase in others for token in tokenise(phrase)}
    words = [token for token in tokenise(labels.free_of(field.label).lower()) if token.is_word]
    particles = talk().remarks.particles
    compounds = {part for each in _COMPOUND.findall(field.label.lower()) for part in each}
    first = 0
    while first < len(words) and words[first].key in said | FILLERS and not _halts(words, first):
        if first and words[first].text in particles and _is_of(words, first + 1):
            break  # "All tools out of cubicles", called "tools out" as well
        first += 1
    subject = ""
    if not first and label in map(phrase_key, field.say):
        return "", ()
    if not first and not _halts(words, 0) and not _does(words):
        states = (at for at in range(1, len(words)) if _begins_state(words, at))
        first = next((at for at in states if words[at].text not in compounds), len(words))
        first -= 1 < first < len(words) and words[first - 1].text in talk().remarks.vague
        named = first - (words[first - 1].text in labels.NOT)
        subject = " ".join(word.text for word in words[:named])
    elif not first and _does(words):
        pass  # "Reopens on obstacle"
    elif _told_of_named(words, first):
        pass  # "Lid seals", called "lid"
    elif words[first:] and not _says(words, first) and words[-1].text not in particles:
        vague = words[first].text in talk().remarks.vague
        state = (at for at in range(first, len(words)) if not vague and _begins_state(words, at))
        first = next(state, first)  # "pattern" of "Spray pattern even"
    rest = words[first:]
    until = next((at for at, word in enumerate(rest) if at and word.text in _MEANWHILE), len(rest))
    rest = rest[:until]
    if len(rest) > _LONGEST_STATE:  # "received at control room"
        first_at = 2 if _is_with_particle(rest) else 1
        where = (at for at in range(first_at, len(rest)) if rest[at].text in _WHERE_OR_WHEN)
        rest = rest[: next(where, len(rest))]
    if rest and (_halts(rest, 0) or (not first and _does(words))):
        rest = rest[:1]  # "stops it" says the same as "stops the machine"
    first += bool(rest) and rest[0].text in talk().remarks.vague  # "fully open"
    if not 0 < len(rest) <= _LONGEST_STATE or first == len(words):
        return "", ()
    if not (_says(words, first) or _told_of_named(words, first)):
        return "", ()
    if not compounds.isdisjoint(word.text for word in rest):
        return "", ()
    return subject, tuple(verb_stem(word.text) for word in rest if word.text not in OF_IT)


def _is_of(words: Sequence[Token], at: int) -> bool:
    return at < len(words) and words[at].text == "of"


_LONGEST_STATE = 3
OF_IT = frozenset({"a", "an", "its", "my", "our", "the", "their"})
"""Words before a noun that tell nothing of how a thing is: "hits the butt"."""
_COMPOUND = re.compile(r"\b(\w+)-(down|in|off|on|out|over|up)\b")
""" "Overload cut-out" names a thing, and says nothing of it."""
_MEANWHILE = frozenset({"when", "while"})
_WHERE_OR_WHEN = labels.WHERE | {"within", "after", "before", "until", "when"}


def _is_with_particle(rest: Sequence[Token]) -> bool:
    """ "Comes on at dusk": the particle belongs to the verb, and does not tell where."""
    return rest[1].text in talk().remarks.particles and rest[2].text in _WHERE_OR_WHEN


def _begins_state(words: Sequence[Token], at: int) -> bool:
    """Whether the word at `at`, the first after a name, tells how the thing is: "on", "shows
    green", but not "tested" before another name."""
    word, last = words[at].text, words[-1].text
    if _halts(words, at):
        return True
    works = word in _LAST and at == len(words) - 1  # "foul beam works", "governor reset"
    works = works and not (word == "sound" and kind_of(words[at - 1].key) == "sounder")
    noun = word in _NOUNS_TOO and not (works or _of_many(words, at) or _is_deed(words, at))
    if noun or not _says(words, at):
        return False
    if at + 1 < len(words) and _of_many(words, at + 1):
        return False  # "drains" of "Automatic drains discharge"
    if word.endswith("s") and at == len(words) - 2 and last.endswith("ed"):
        return False  # "latches" of "Rest latches engaged"
    verb = word in talk().everyday.verbs or _of_many(words, at)
    ends = at == len(words) - 1 or words[at + 1].text in labels.WHERE
    return verb or ends or last in talk().remarks.particles


_LAST = frozenset({"reset", "set", "sound", "works"})
"""Nouns too, unless a label ends in them: "splice sound", but not "alarm sound"."""


def _is_deed(words: Sequence[Token], at: int) -> bool:
    """Whether the word at `at`, the last one, is what a thing does: "heater works", but not "alarm
    sound"."""
    kind = kind_of(words[at - 1].key) if at else None
    ends = at == len(words) - 1 and words[at].text not in _PARTS and words[at].text.endswith("s")
    return ends and kind is not None and does(kind, verb_stem(words[at].text))


_PARTS = frozenset({"opening", "seals", "seats", "stops"})
"""Words that name a part behind a thing that does so: "valve seats"."""


def _told_of_named(words: Sequence[Token], at: int) -> bool:
    """Whether the last word, all that a label has behind its thing as `say` calls it, is what such
    a thing does: "Lid seals", called "lid"."""
    if not 0 < at == len(words) - 1 or not words[at].text.endswith("s"):
        return False
    kind = kind_of(words[at - 1].key)
    return kind is not None and does(kind, verb_stem(words[at].text))


def _says(words: Sequence[Token], at: int) -> bool:
    """Whether the word at `at` says something of what stands before it, in whatever form of the
    verb: "goes", "turning", "pawls hold"."""
    word = words[at].text
    if tells_how(word):
        return True
    if word.endswith("ing") and word not in _NOUNS_TOO:
        return verb_stem(word) in _verb_stems()
    burns = word not in _NOUNS_TOO and _is_deed(words, at)
    return burns or _of_many(words, at)


def _halts(words: Sequence[Token], at: int) -> bool:
    """Whether the word at `at` tells that a thing makes a machine stop: "switch stops motor", or
    whatever it is that such a thing stops ("handle stops tug")."""
    if words[at].text not in {"stop", "stops"}:
        return False
    if any(word.text in _MACHINES for word in words[at + 1 : at + 3]):
        return True
    if not at:  # "Stops at end position"
        return words[0].text == "stops" and len(words) > 1 and words[1].text in labels.WHERE
    kind = kind_of(words[at - 1].key)
    last = at == len(words) - 2 and not tells_how(words[-1].text)
    return last and kind is not None and does(kind, "stop")


def _does(words: Sequence[Token]) -> bool:
    """Whether a label begins with what a thing does, and names none: "Reopens on obstacle"."""
    if len(words) < 2 or words[0].text in _NOUNS_TOO or words[1].text not in _HOW:
        return False
    return words[0].text.endswith("s") and tells_how(words[0].text)


_HOW = labels.WHERE | {"after", "before", "when", "while", "with", "within", "without"}


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
    "felt", "lighting", "lights", "locks", "opening", "release", "reset", "ring", "rings",
    "seating", "seats", "set", "sound", "stops", "warning", "work", "works",
})  # fmt: skip
"""Words that say how something is, and name things as well ("wiper ring", "wiper felt")."""


_MACHINES = frozenset({
    "belt", "car", "conveyor", "crane", "door", "doors", "drive", "engine", "fan", "feed", "gate",
    "hoist", "it", "lift",
    "line", "machine", "motor", "plant", "press", "pump", "travel",
})  # fmt: skip
"""What is stopped, behind "stops"."""
_PUT = frozenset({"left", "set", "put", "kept"})
"""Words that begin a label which tells how a thing is to be ("left in automatic")."""


def is_statement(phrase: str) -> bool:
    """Whether a phrase says by itself how its subject is ("wheel turns freely", "pin in")."""
    words = [token.text.lower() for token in tokenise(phrase)]
    if len(words) == 1:
        return _DONE.fullmatch(words[0]) is not None
    if not words:
        return False
    if words[0] in _PUT and len(words) > 2 and words[1] in talk().remarks.particles | {"at", "to"}:
        return True
    if _DONE.fullmatch(words[0]) and words[1] in labels.WHERE:
        return True  # "pinned at the buffers"
    if words[-1] in talk().remarks.particles:
        return not phrase.lower().endswith(f"-{words[-1]}")  # a cut-out is a thing
    if any(" ".join(words).endswith(f" {state}") for state in talk().remarks.state_pass):
        return True
    verbs = (word for word in words[1:] if word not in _NOUNS_TOO)
    return any(tells_how(word) and word not in talk().remarks.particles for word in verbs)


def likewise(label: str) -> Iterator[str]:
    """Stems of other words for what a label ends in: of "wired" for "Screws wirelocked"."""
    if " and " in label:
        return  # "off and tagged": one of the two
    for end, others in talk().remarks.alike.items():
        if label.lower().replace("-", " ").endswith(f" {end}"):
            yield from map(verb_stem, others)


_DONE = re.compile(r"[a-z]{3,}(?<!e)ed")
""" "Decontaminated", all that a label says."""
_RELATED = re.compile(
    r"\b(?:after|around|at|between|during|from|in|near|of|on|under|when|while|with)\b"
)


def is_fault(phrase: str) -> bool:
    """Whether the phrase names a fault by itself ("oil leaks"), whatever the label says."""
    named = _RELATED.split(phrase.lower(), maxsplit=1)[0]
    words = tokenise(named)
    return bool(words) and words[-1].key in conditions()


@cache
def _good_words() -> frozenset[str]:
    return frozenset(
        term.pattern
        for term in trade_terms()
        if term.label == "GOOD" and isinstance(term.pattern, str)
    )


@cache
def _good_stems() -> frozenset[str]:
    return frozenset(map(verb_stem, _good_words()))


@cache
def state_stems() -> frozenset[str]:
    """Stems of the words by which a label says how its thing is."""
    return frozenset(map(verb_stem, talk().everyday.states))


def is_good(stem: str) -> bool:
    """Whether a word with that stem is good of whatever it is told ("secured")."""
    return stem in _good_stems()


def is_wanted(kind: str, stem: str) -> bool:
    """Whether what a label asks for is good of things of the kind: "shunt whole"."""
    if does(kind, stem) or is_good(stem):
        return True
    bad = any(deed.polarity == "fail" for deed in told_of(kind, stem))
    return stem in state_stems() and not bad


def tells_how(word: str) -> bool:
    """Whether a word of a label says something of its subject ("fitted", "goes", "in")."""
    word = word.lower()
    everyday = talk().everyday
    if not everyday.verbs.isdisjoint({word, word.removeprefix("re")}):
        return True  # "reopens"
    if word in everyday.states or word in _good_words():
        return True
    return word.endswith("ed") and len(word) > 4


def located_at(label: str) -> list[str]:
    """What a negative label says the fault is not on: "No cracks in the frame" -> frame."""
    parts = _LOCATES.split(label, maxsplit=1)
    return [] if len(parts) < 2 else [parts[1], *parts[1].split()]


def denied_by(label: str) -> str:
    """What a negative label says there must be none of: "detection" of "No detection with thick
    gauge"; "" where no place or circumstance tells it apart."""
    parts = _LOCATES.split(label, maxsplit=1)
    return "" if len(parts) < 2 else " ".join(parts[0].split()[1:])


_LOCATES = re.compile(r"\b(?:in|on|at|of|from|with)\b")


_TRIED = frozenset({"check", "test"})
ASPECTS = frozenset({
    "alignment", "chafing", "check", "condition", "fit", "function", "greasing", "integrity",
    "leakage", "level", "locking", "lubrication", "operation", "play", "security", "start", "state",
    "tension", "test", "tightness", "wear",
})  # fmt: skip
"""Words of a label behind its thing that tell what of it is checked."""


def thing_of(field: Field) -> tuple[str, bool]:
    """What the label of a check is about, where it is told by a fault or an aspect of it, or of
    what it is a part: "slew ring" of "Greasing of slew ring", "coolant" of "Coolant level", "lock
    pins" of "Lock pins of outriggers"; and whether it is by the last way."""
    words = (labels.in_full(field) or field.label).lower().split()
    at = next((at for at, word in enumerate(words) if at and word in labels.WHERE | {"of"}), 0)
    if not at:
        told = words[-1] in ASPECTS or is_fault(words[-1])
        return " ".join(words[:-1]) if told else "", False
    told = words[at - 1] in ASPECTS or is_fault(words[at - 1])
    return " ".join(words[at + 1 :] if told else words[:at]), not told


def tried_by(field: Field) -> str:
    """The thing, or the deed, that a label has checked or tested: "dead cut" of "Dead cut check",
    but not the leak of "Brake leak check"; "" where it has none so."""
    *words, last = field.label.lower().split()
    thing = " ".join(words)
    return thing if last in _TRIED and not is_fault(thing) else ""
