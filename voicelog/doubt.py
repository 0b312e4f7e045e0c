"""Doubt: every reason why a value needs a person's check is raised or passed on here.

The list of reasons, each with its plain sentence, is [reasons] of models_config/reading.toml;
reading and mapping raise those that come from the words, `slips` those that come from the number
itself, this module those that come from the audio. A limit may raise a doubt; it never changes a
value, and a value that was said plainly is not in doubt for lying outside its limits.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from voicelog import slips
from voicelog.objects import Reason
from voicelog.reading.percard import fields_of
from voicelog.reading.settings import reasons_of, settings
from voicelog.reading.talk import everyday_words
from voicelog.reading.unit_words import may_begin
from voicelog.speech import recheck

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from voicelog.heard import Suspicion
    from voicelog.objects import Card, Draft, Field, FieldValue, Mention, Reading

    Key = tuple[str, str, str | None]


OF_SOUND_AND_NUMBER = frozenset({
    "announced", "coarse", "homophone", "joined_digits", "limits_alternative", "noise",
    "second_look", "teen_or_ty", "unlikely_word", "unusual", "wild",
})  # fmt: skip
"""Doubts that the audio raises, or where the number lies; the others are of the words."""
_OF_WORDS = frozenset({recheck.READ_OTHERWISE, recheck.UNLIKELY, recheck.BY_THE_CARD})
"""Doubts of words, which count no longer where another model comes to the same value by its own: of
83 values with the first two in 352 notes (voices kept for measuring, clean to 15 dB with reverb)
none was wrong, nor any with the third. Two models may well take a teen for a ty together, so what
another wording fits is asked about."""
_NAMING = frozenset({"term", "position"})
"""Kinds of mentions that tell where a number belongs."""
_CLAUSE_END = re.compile(r"[,.;:!?](?:\s|\Z)|\b(?:but|because|since|and)\b", re.IGNORECASE)
_LOOSE_WORDS = 2
"""A remark in which another reading has so many other words is asked about."""


_WORD = re.compile(r"[a-z][a-z'-]*", re.IGNORECASE)
_LOOSE = re.compile(r"(?:\s+[a-z][a-z'-]*){2,5}", re.IGNORECASE)
_NEXT_WORD = re.compile(r"\s+(?![a-z]{2,}(?:ed|ing)\b)([a-z][a-z'-]+)\b", re.IGNORECASE)
""" "... nine zero two swapped for": a verb goes on."""
_WORD_BEFORE = re.compile(r"(?<![\w'])([a-z]+)\s+\Z", re.IGNORECASE)
_SINGLY = re.compile(
    r"(?:(?:zero|oh|one|two|three|four|five|six|seven|eight|niner?)\s+){2}", re.IGNORECASE
)
_REACH = 20
_UNIT_LETTERS = 3
"""Shorter ones are words as well: "in", "a", "m"."""
_SHARED = frozenset({"all", "both", "each", "everywhere"})
"""Before a unit that was said once for all values."""


@dataclass(slots=True)
class _Heard:
    """The doubts that hang on the audio, ready to be asked about any stretch of text."""

    reading: Reading
    suspicions: Sequence[Suspicion]
    starts: list[int]
    undone: Sequence[int]
    """Where it has been said that something was not done, each at its end."""

    @classmethod
    def of(cls, reading: Reading) -> _Heard:
        near = float(settings().thresholds["suspicion_margin"])
        kept = sorted(
            (each for each in reading.transcript.suspicions if each.margin < near),
            key=lambda each: each.start,
        )
        undone = [
            mention.end
            for mention in reading.mentions
            if mention.kind == "remark" and mention.value == "not done"
        ]
        return cls(reading, kept, list(reading.transcript.word_starts), undone)

    def suspicions_in(self, start: int, end: int) -> list[Suspicion]:
        return [each for each in self.suspicions if each.start < end and start < each.end]

    def left_undone(self, at: int) -> bool:
        """Whether the clause has said, before `at`, that something was not done: "haven't done the
        negative eight" holds no value (it was "yet")."""
        text = self.reading.transcript.text
        return any(end <= at and not _CLAUSE_END.search(text, end, at) for end in self.undone)

    def other_words_in(self, start: int, end: int) -> int:
        """How many words of the stretch another reading does not have."""
        found = self.suspicions_in(start, end)
        return sum(each.why == recheck.OTHER_WORDS for each in found)

    def unit_adrift(self, at: int) -> bool:
        """Whether a unit stands a few words behind the number that ends at `at`, and nothing that
        was understood between them: "seven in the hand bar" (and a half), "two hundred and newton
        metres" lost a part of the number."""
        text = self.reading.transcript.text
        loose = _LOOSE.match(text, at)
        if loose is None:
            return False
        known = {mention.start: mention.kind for mention in self.reading.mentions}
        first, *words = _WORD.finditer(text, *loose.span())
        if first.start() in known or first[0].casefold() in _SHARED:
            return False
        shortest = 2 if first[0].casefold() == "and" else _UNIT_LETTERS  # "hundred and mm"
        for word in words:
            kind = known.get(word.start(), "term")  # "bar" may be a part as well
            plain = kind == "term" and "'" not in word[0]  # "and I've ..." is no unit
            if plain and len(word[0]) >= shortest and may_begin(word[0]):
                return True
            shortest = _UNIT_LETTERS
            if word.start() in known:
                return False
        return False

    def code_adrift(self, at: int, used: Collection[Mention]) -> bool:
        """Whether a word that nothing explains, or a name that no value of the draft has `used`,
        stands right behind the code that ends at `at`: "zero zero eight angle and free" lost
        figures to it."""
        text = self.reading.transcript.text
        word = _NEXT_WORD.match(text, at)
        if word is None or word[1].casefold() in everyday_words():
            return False
        start = word.start(1)
        over = [each for each in self.reading.mentions if each.start <= start < each.end]
        return all(each.kind == "term" and each not in used for each in over)

    def figures_adrift(self, start: int, end: int) -> bool:
        """Whether a word that nothing explains stands right before figures said singly: "hole four
        zero degrees" lost its first one."""
        text = self.reading.transcript.text
        word = _WORD_BEFORE.search(text, max(0, start - _REACH), start)
        if word is None or not _SINGLY.match(text, start, end):
            return False
        if word[1].casefold() in everyday_words():
            return False
        at = word.start(1)
        return not any(
            each.kind != "remark" and each.start <= at < each.end for each in self.reading.mentions
        )

    def probability(self, start: int, end: int) -> float:
        """Least probability of the words in the stretch."""
        words = self.reading.transcript.words
        index = max(0, bisect_left(self.starts, start + 1) - 1)
        least = 1.0
        while index < len(words) and self.starts[index] < end:
            least = min(least, words[index].probability)
            index += 1
        return least


def weigh(
    draft: Draft,
    reading: Reading,
    card: Card,
    agreed: Collection[Key] = (),
    counted: Collection[Key] = (),
) -> Draft:
    """`draft` with every doubt added and each confidence set. Raises nothing on any text.

    `agreed` are the fields for which a second reading of the same sound has the same value,
    `counted` those whose number it has in the same words, and nowhere else.
    """
    heard = _Heard.of(reading)
    used = [mention for value in draft.values for mention in value.mentions]
    rows: dict[tuple[str, str], list[FieldValue]] = {}
    for value in draft.values:
        rows.setdefault((value.step, value.field), []).append(value)
    values = tuple(
        _weighed(
            value,
            fields_of(card)[value.step, value.field],
            heard,
            used,
            rows[value.step, value.field],
            agreed=value.key in agreed,
            counted=value.key in counted,
        )
        for value in draft.values
    )
    warnings = tuple(Reason("noise", warning) for warning in reading.transcript.warnings)
    return replace(draft, values=values, warnings=(*draft.warnings, *warnings))


def _weighed(
    value: FieldValue,
    field: Field,
    heard: _Heard,
    used: Collection[Mention],
    row: Sequence[FieldValue],
    *,
    agreed: bool,
    counted: bool,
) -> FieldValue:
    codes = [reason.code for reason in value.reasons]
    alternatives = list(value.alternatives)
    settled = _OF_WORDS if agreed else frozenset()
    sure = float(settings().thresholds["name_probability"])
    for start, end, naming in _stretches(value):
        named = naming and counted and heard.probability(start, end) >= sure
        held = settled | {recheck.READ_OTHERWISE} if named else settled
        for suspicion in heard.suspicions_in(start, end):
            if suspicion.why != recheck.OTHER_WORDS and suspicion.why not in held:
                codes.append("second_look")
                alternatives.extend(suspicion.alternatives)
    if field.type == "text" and heard.other_words_in(value.start, value.end) >= _LOOSE_WORDS:
        codes.append("second_look")
    spoken = heard.probability(value.start, value.end)
    if spoken < float(settings().thresholds["word_probability"]) and not agreed:
        codes.append("unlikely_word")
    if field.type in {"measurement", "count", "ratio"} and heard.left_undone(value.start):
        codes.append("contradiction")
    if field.type == "measurement" and _bare(value) and heard.unit_adrift(value.end):
        codes.append("unit_adrift")
    if field.type == "measurement" and heard.figures_adrift(value.start, value.end):
        codes.append("ambiguous_number")
    if field.type == "identifier" and heard.code_adrift(value.end, used):
        codes.append("torn_code")
    codes.extend(slips.doubts(value, field))
    if slips.out_of_row(value, row, field):
        codes.append("teen_or_ty")
    if value.limit in {"below", "above"} and _after_homophone(heard.reading.transcript.text, value):
        codes.append("homophone")
    kept = {reason.code: reason for reason in value.reasons}
    reasons = [kept.get(reason.code, reason) for reason in reasons_of(codes)]
    reasons += [Reason("noise", warning) for warning in heard.reading.transcript.warnings]
    return replace(
        value,
        reasons=tuple(reasons),
        alternatives=tuple(dict.fromkeys(alternatives)),
        confidence=_confidence(value.confidence, spoken, reasons),
    )


_HOMOPHONE = re.compile(r"(?<!ed)(?<!up)(?<!down)\s(?:to|too|for|oh)\s+\Z", re.IGNORECASE)


def _after_homophone(text: str, value: FieldValue) -> bool:
    """Whether a word that sounds like a figure stands before the number ("torque to 155")."""
    return _HOMOPHONE.search(text[max(0, value.start - 12) : value.start]) is not None


def _bare(value: FieldValue) -> bool:
    """Whether no unit was said with the number itself."""
    own = [mention for mention in value.mentions if mention.start <= value.start < mention.end]
    return not any(mention.unit for mention in own)


def _stretches(value: FieldValue) -> Iterator[tuple[int, int, bool]]:
    """The value's own words, and those that gave it its place; whether they only name it."""
    yield value.start, value.end, False
    for mention in value.mentions:
        if (mention.start, mention.end) != (value.start, value.end):
            yield mention.start, mention.end, mention.kind in _NAMING


def _confidence(place: float, spoken: float, reasons: Sequence[Reason]) -> float:
    """Chance that the value is right, from the trust that the bench measured for each doubt."""
    thresholds = settings().thresholds
    plain = float(thresholds["trust_plain"])
    if not reasons:
        return round(plain * min(1.0, 0.5 + place / 2), 4)
    trust = min(
        float(thresholds.get(f"trust_{reason.code}", thresholds["trust_doubted"]))
        for reason in reasons
    )
    more = float(thresholds["trust_each_more"]) ** (len(reasons) - 1)
    return round(max(0.02, trust * more * min(1.0, 0.6 + spoken / 2)), 4)
