"""Terms: the words of the card and of the trade, also where a recogniser misheard them.

A phrase is compared by its *key*: lower case, plural endings and spaces taken away, number
words as digits, so "lock-wire", "lockwire" and "Lock wires" are one, and "N one" is "N1".
An exact key wins over a phonetic one; a phonetic match carries the qualifier "near" and a
doubt of its own. Vocabulary: the card's `terms`, and each field's `say`, `label`,
`position_word` and options; `models_config/terms.jsonl` adds what the whole trade says.

term: str, the canonical term. Qualifier "near" and doubt misheard_term when only the sound
fits.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from voicelog.config import load_lines
from voicelog.errors import ConfigError
from voicelog.objects import Mention
from voicelog.reading.chain import stage

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from spacy.matcher import Matcher
    from spacy.tokens import Doc
    from spacy.vocab import Vocab

    from voicelog.objects import Card, Field, Step

LONGEST = 6
"""Words in the longest phrase that is looked up."""

Place = tuple[str, str]
"""(step number, field name)."""


@dataclass(frozen=True, slots=True)
class Token:
    """A word, a number or a sign of the text; `key` is how words are compared."""

    text: str
    key: str
    start: int
    end: int

    @property
    def is_word(self) -> bool:
        return bool(self.key)


_TOKEN = re.compile(r"[^\W_]+(?:['’][a-z]+)?|[^\w\s]|_", re.IGNORECASE)
_NUMBER_WORDS = {
    word: str(number)
    for number, word in enumerate(
        "zero one two three four five six seven eight nine ten eleven twelve".split()
    )
}
_SPELLINGS = {
    "center": "centre", "tire": "tyre", "gage": "gauge", "fiber": "fibre", "temp": "temperature",
    "temps": "temperature", "pres": "pressure", "press": "pressure", "lefthand": "left",
    "righthand": "right", "colour": "color", "nr": "number", "qty": "quantity",
    "cal": "calibration", "insp": "inspection", "serials": "serial",
}  # fmt: skip
_FILLERS = {"", "the", "a", "an", "of", "all", "both", "is", "are", "was", "were", "been"}
_GLUE = {"-", "/", "'", "’"}


@lru_cache(maxsize=20_000)
def word_key(word: str) -> str:
    """How a word is compared: case, plural, spelling and number words set aside."""
    key = word.lower().replace("’", "'")
    key = key.removesuffix("'s").replace("'", "")
    if key in _NUMBER_WORDS:
        return _NUMBER_WORDS[key]
    if key in _SPELLINGS:
        return _SPELLINGS[key]
    if len(key) > 3 and key.endswith("s") and not key.endswith(("ss", "us", "is")):
        if key.endswith("ies"):
            key = key[:-3] + "y"
        elif key.endswith(("ches", "shes", "xes", "sses")):
            key = key[:-2]
        else:
            key = key[:-1]
    return _SPELLINGS.get(key, key)


def tokenise(text: str) -> list[Token]:
    """Words, numbers and signs of `text` with their spans."""
    return [
        Token(match[0], word_key(match[0]) if match[0][0].isalnum() else "", *match.span())
        for match in _TOKEN.finditer(text)
    ]


def phrase_key(phrase: str) -> str:
    """The key of a whole phrase; articles don't count."""
    return "".join(token.key for token in tokenise(phrase) if token.key not in _FILLERS)


@lru_cache(maxsize=20_000)
def sound(key: str) -> str:
    """Phonetic key (Metaphone) of a word key, with voiced and unvoiced consonants as one.

    English flapping makes "cotter" and "coder" alike, so T and D are one sound here.
    """
    import jellyfish

    return str(jellyfish.metaphone(key)).replace(" ", "").replace("0", "T")


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
    statements: set[str] = field(default_factory=set)
    """Terms that say by themselves that a check is met ("wheel turns freely")."""
    predicates: set[tuple[str, ...]] = field(default_factory=set)
    """What the labels of checks say of their subjects ("goes out"), as verb stems."""
    states: dict[Place, tuple[str, ...]] = field(default_factory=dict)
    """The predicate of each check whose label has one."""
    options: dict[Place, dict[str, str]] = field(default_factory=dict)
    """For each choice: canonical term -> option as the card spells it."""

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


_COMMON_WORDS = {
    "the", "and", "for", "with", "per", "number", "check", "condition", "value", "reading", "fitted",
    "removed", "installed", "serial", "part", "batch", "tool", "due", "date", "new", "old", "no",
    "on", "off", "in", "out", "to", "at", "by", "from", "all", "are", "is", "not", "free", "state",
    "total", "max", "min", "maximum", "minimum", "limit", "secure", "secured", "locked", "ok",
    "status", "result", "measured", "final", "actual", "test", "found", "left", "right", "set",
}  # fmt: skip


def _words_of(field: Field) -> set[str]:
    return {
        token.key
        for phrase in (*field.say, field.label)
        for token in tokenise(phrase)
        if len(token.key) > 2
        and token.key not in _COMMON_WORDS
        and not token.key.isdigit()
        and not (field.type == "check" and _predicates(token.text))
    }


def _learn_field(lexicon: Lexicon, step: Step, field: Field) -> None:
    place = (step.number, field.name)
    for phrase in field.say:
        lexicon.speaks_of(phrase, place, 1.0)
    lexicon.speaks_of(field.label, place, 1.0)
    lexicon.speaks_of(field.name.replace("_", " "), place, 0.95)
    if field.position_word:
        lexicon.speaks_of(field.position_word, place, 0.7)
    if field.kind:
        lexicon.speaks_of(field.kind, place, 0.6)
        lexicon.speaks_of(field.kind.split()[0], place, 0.55)


_IRREGULAR = {"went": "go", "goes": "go", "gone": "go", "came": "come", "shut": "clos"}


@lru_cache(maxsize=20_000)
def verb_stem(word: str) -> str:
    """A verb without its ending: "turns", "turned" and "turning" are one."""
    key = word.lower()
    if key in _IRREGULAR:
        return _IRREGULAR[key]
    for ending in ("ing", "ed", "es", "s"):
        if key.endswith(ending) and len(key) - len(ending) >= 3:
            key = key[: -len(ending)]
            break
    return key.removesuffix("e") if len(key) > 3 else key


def _learn_check(lexicon: Lexicon, step: Step, field: Field) -> None:
    place = (step.number, field.name)
    label = field.label.lower()
    negative = label.split()[0] in {"no", "free", "nil", "absence", "without"}
    for phrase in field.say:
        key = phrase_key(phrase)
        if negative and key not in {phrase_key(word) for word in _subjects(label)}:
            lexicon.faults.add(lexicon.canonical(phrase))
    if negative:
        lexicon.statements.add(lexicon.canonical(field.label))
        return
    lexicon.subjects.update(lexicon.canonical(phrase) for phrase in (*field.say, field.label))
    said = {token.key for phrase in field.say for token in tokenise(phrase)}
    words = [token for token in tokenise(label) if token.is_word]
    while words and words[0].key in said | _FILLERS:
        words.pop(0)
    predicate = tuple(verb_stem(word.text) for word in words)
    if predicate and len(predicate) <= 3 and _predicates(words[0].text):
        lexicon.predicates.add(predicate)
        lexicon.states[place] = predicate
    for phrase in (*field.say, field.label):
        spoken = tokenise(phrase)
        if len(spoken) > 1 and any(_predicates(token.text) for token in spoken[1:]):
            lexicon.statements.add(lexicon.canonical(phrase))


_VERBS = frozenset(
    """goes turns moves works opens closes holds operates rotates lights sounds stops starts seats
    locks runs in out on off open shut close free clear""".split()
)


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
    return word in _VERBS or word in _good_words() or (word.endswith("ed") and len(word) > 4)


def _subjects(label: str) -> list[str]:
    """What a negative label says the fault is not on: "No cracks in the frame" -> frame."""
    parts = re.split(r"\b(?:in|on|at|of|from)\b", label, maxsplit=1)
    return [] if len(parts) < 2 else [parts[1], *parts[1].split()]


class _SameCard:
    """A card as a key of the cache: hashing a whole card for every note would cost more."""

    __slots__ = ("card",)

    def __init__(self, card: Card | None) -> None:
        self.card = card

    def __hash__(self) -> int:
        return id(self.card)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _SameCard) and self.card is other.card


def lexicon_of(card: Card | None) -> Lexicon:
    """The vocabulary of `card` with that of the trade; built once for a loaded card."""
    return _lexicon(_SameCard(card))


@lru_cache(maxsize=64)
def _lexicon(key: _SameCard) -> Lexicon:
    card = key.card
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
    for step in card.steps:
        for each in step.fields:
            place = (step.number, each.name)
            for option in each.options:
                if not phrase_key(option).isdigit():
                    lexicon.add(option, option, by_sound=len(option) > 6)
                    chosen = lexicon.options.setdefault(place, {})
                    chosen[lexicon.canonical(option)] = option
            if each.type == "check":
                _learn_check(lexicon, step, each)
            if each.type == "count":
                names = (*each.say, each.label, each.name.replace("_", " "))
                lexicon.counted.update(lexicon.canonical(name) for name in names)
            for word in _words_of(each):
                lexicon.speaks_of(word, (step.number, each.name), 0.5)
        for item in step.sequence:
            lexicon.add(item, item)
    for canonical, pattern in trade_phrases():
        lexicon.add(pattern, canonical)
    _learn_found_and_left(lexicon)
    return lexicon


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


@dataclass(frozen=True, slots=True)
class TradeTerm:
    """A line of terms.jsonl: spaCy's pattern format, `pattern` a phrase or a list of tokens."""

    label: str
    id: str
    pattern: str | tuple[dict[str, Any], ...]


@cache
def trade_terms() -> tuple[TradeTerm, ...]:
    """The trade's vocabulary. Raises ConfigError naming the line's content."""
    terms = []
    for row in load_lines("terms.jsonl"):
        pattern = row.get("pattern")
        if set(row) != {"label", "id", "pattern"} or not isinstance(pattern, (str, list)):
            raise ConfigError(f"terms.jsonl: expected label, id and pattern, got {row}")
        terms.append(
            TradeTerm(
                row["label"], row["id"], pattern if isinstance(pattern, str) else tuple(pattern)
            )
        )
    return tuple(terms)


@cache
def trade_phrases() -> tuple[tuple[str, str], ...]:
    """(canonical, phrase) of each part of the trade's vocabulary that is a plain phrase."""
    return tuple(
        (term.id, term.pattern)
        for term in trade_terms()
        if isinstance(term.pattern, str) and term.label == "PART"
    )


def _alike(said: str, meant: str) -> float:
    import jellyfish

    return float(jellyfish.jaro_winkler_similarity(said, meant))


def _windows(tokens: Sequence[Token], at: int) -> Iterator[tuple[int, str]]:
    """(end index, key) of each phrase that begins at `at`, shortest first."""
    key = ""
    words = 0
    for index in range(at, len(tokens)):
        token = tokens[index]
        if not token.is_word:
            if token.text in _GLUE and key:
                continue
            return
        if token.key in _FILLERS:
            if not key:
                return
            continue
        key += token.key
        words += 1
        yield index + 1, key
        if words == LONGEST:
            return


_ORDINARY = frozenset(
    """a about after all also and are at back be been but by can clear come could did do done down
    for found from get go good had has have he here hold i if in is it its just left like look
    looks made make me more my need new no not now of off on one only or other out over pass per
    point read reads right said same see set she should so some still such take than that the then
    there these they this to today torque torqued two under up us use was we well were what when
    which will with would yes you your fine found fail fitted free checked check three four five
    six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen
    nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred thousand decimal zero
    newton newtons metre metres meter meters pound pounds inch inches foot feet bar degree degrees
    millimetre millimetres gallon quart litre minus plus half quarter gap tight light heavy first
    second third note notes dash slash correction disregard negative leak leaks crack cracks dry
    clean damage""".split()
)


def _exact(lexicon: Lexicon, tokens: Sequence[Token], at: int) -> tuple[int, str] | None:
    best = None
    for end, key in _windows(tokens, at):
        if key in lexicon.exact:
            best = end, lexicon.exact[key]
        elif key not in lexicon.starts:
            break
    return best


def _near(
    lexicon: Lexicon, tokens: Sequence[Token], at: int, similar: float, taken: Sequence[bool]
) -> tuple[int, str] | None:
    best: tuple[float, int, str] | None = None
    for end, key in _windows(tokens, at):
        if end - at > 4 or taken[end - 1]:
            break
        if len(key) < 4 or any(char.isdigit() for char in key):
            continue
        if all(word.key in _ORDINARY for word in tokens[at:end]):
            continue
        for meant, canonical in lexicon.near.get(sound(key), ()):
            score = _alike(key, meant)
            if score >= similar and (best is None or score > best[0]):
                best = score, end, canonical
    return None if best is None else best[1:]


def find(
    text: str, tokens: Sequence[Token], lexicon: Lexicon, similar: float = 0.68
) -> Iterator[Mention]:
    """Term mentions in the order of the text; the longest exact phrase wins over a near one.

    `similar` is the least Jaro-Winkler similarity that two phrases of the same sound need.
    """
    spans: list[tuple[int, int, str, bool]] = []
    taken = [False] * len(tokens)
    """Words of a plain name; those of a mere word of a name ("cable") may be misheard ones."""
    at = 0
    while at < len(tokens):
        hit = _exact(lexicon, tokens, at) if tokens[at].is_word else None
        if hit is None:
            at += 1
            continue
        end, canonical = hit
        spans.append((at, end, canonical, False))
        taken[at:end] = [lexicon.plainness(canonical) > 0.5] * (end - at)
        at = end
    at = 0
    near: list[tuple[int, int, str, bool]] = []
    while at < len(tokens):
        hit = None
        if tokens[at].is_word and not taken[at]:
            hit = _near(lexicon, tokens, at, similar, taken)
        if hit is None:
            at += 1
            continue
        end, canonical = hit
        if lexicon.plainness(canonical) > 0.5 or not _overlap(spans, at, end):
            spans = [span for span in spans if span[1] <= at or span[0] >= end]
            near.append((at, end, canonical, True))
        at = end
    for first, end, canonical, sounded in sorted((*spans, *near)):
        start, stop = tokens[first].start, tokens[end - 1].end
        if sounded:
            yield _near_mention(text, start, stop, canonical)
        else:
            yield Mention("term", text[start:stop], start, stop, canonical, stage="terms")


def _overlap(spans: Sequence[tuple[int, int, str, bool]], start: int, end: int) -> bool:
    return any(first < end and start < last for first, last, _, _ in spans)


def _near_mention(text: str, start: int, end: int, canonical: str) -> Mention:
    return Mention(
        "term",
        text[start:end],
        start,
        end,
        canonical,
        stage="terms",
        qualifiers=frozenset({"near"}),
        doubts=("misheard_term",),
    )


def _learnt_mishearings(doc: Doc) -> Iterator[tuple[int, int, str]]:
    """(start, end, canonical) of the token patterns of terms.jsonl, in characters."""
    for label, first, last in _matcher(doc.vocab)(doc):
        start = doc[first].idx
        end = doc[last - 1].idx + len(doc[last - 1])
        yield start, end, doc.vocab.strings[label]


@lru_cache(maxsize=4)
def _matcher(vocab: Vocab) -> Matcher:
    from spacy.matcher import Matcher

    matcher = Matcher(vocab)
    for term in trade_terms():
        if not isinstance(term.pattern, str):
            matcher.add(term.id, [list(term.pattern)])
    return matcher


@stage("terms", assigns=("doc._.terms", "doc._.words"))
def terms(doc: Doc) -> None:
    """Write the terms of `doc`, and its words for the stages that read words."""
    passage = doc._.passage
    tokens = tokenise(passage.text)
    lexicon = lexicon_of(passage.cues.card)
    found = list(find(passage.text, tokens, lexicon))
    taken = {index for mention in found for index in range(mention.start, mention.end)}
    for start, end, canonical in _learnt_mishearings(doc):
        if taken.isdisjoint(range(start, end)):
            found.append(_near_mention(passage.text, start, end, lexicon.canonical(canonical)))
    found.sort(key=lambda mention: mention.start)
    doc._.words = tokens
    doc._.terms = found


STAGE = terms
