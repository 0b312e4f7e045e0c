"""Doubt: every reason why a value needs a person's check is raised or passed on here.

The list of reasons, each with its plain sentence, is [reasons] of models_config/reading.toml;
reading and mapping raise those that come from the words, this module those that come from
the audio and from the number itself. A limit may raise a doubt; it never changes a value,
and a value that was said plainly is not in doubt for lying outside its limits.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from voicelog import limits
from voicelog.errors import UnitError
from voicelog.objects import Ratio, Reason
from voicelog.reading.percard import fields_of
from voicelog.reading.settings import reasons_of, settings
from voicelog.reading.talk import everyday_words
from voicelog.reading.unit_words import may_begin
from voicelog.speech import recheck

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from voicelog.heard import Suspicion
    from voicelog.objects import Card, Draft, Field, FieldValue, Mention, Reading, Value

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
    values = tuple(
        _weighed(
            value,
            fields_of(card)[value.step, value.field],
            heard,
            used,
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
    if field.type == "identifier" and heard.code_adrift(value.end, used):
        codes.append("torn_code")
    codes.extend(_of_number(value, field))
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


_TENS = re.compile(r"(?<![\d.])[1-9]\.[1-9]0(?!\d)")
"""How "one ninety" may be written as well."""
_WHOLE = 100
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


# --- the number itself ------------------------------------------------------------


def _of_number(value: FieldValue, field: Field) -> Iterator[str]:
    """Doubts that the number raises by where it lies."""
    if field.type not in {"measurement", "count", "ratio"}:
        return
    number = _in_field_unit(value.value, value.unit, field)
    if number is None:
        return
    twins = [other for other in value.alternatives if isinstance(other, Ratio)]
    more = _more_than_applied(value.value) and not _are_parts(value.value)
    if more and not all(map(_more_than_applied, twins)):
        yield "teen_or_ty"  # "forty over fifteen" was fourteen, or over fifty
    if field.usual is not None and limits.side(number, *field.usual) != "within":
        yield "unusual"
    if value.limit in {"below", "above"}:
        yield from _outside(value, number, field)
        return
    if _coarse(value, field):
        yield "coarse"
    lone = value.value.reading if isinstance(value.value, Ratio) else value.value
    torn = lone * 100 if isinstance(lone, Decimal) and _TENS.search(value.as_spoken) else None
    if torn is not None and _likely(torn, value.unit, field):
        yield "joined_digits"
        return
    far = value.limit == "within" and not _likely(lone, value.unit, field)
    others = (*_with_position(value, field), *_slips(value, field))
    if far and any(_likely(other, value.unit, field) for other in others):
        yield "joined_digits"


def _more_than_applied(value: Value) -> bool:
    """Whether more is said to be left than was put on."""
    return isinstance(value, Ratio) and value.reading > value.reference


def _are_parts(value: Value) -> bool:
    """ "Sixty over forty": two parts of a hundred, of which either may be the larger one."""
    return isinstance(value, Ratio) and value.reading + value.reference == _WHOLE


def _in_field_unit(value: Value, unit: str | None, field: Field) -> Decimal | Fraction | None:
    number = value.reading if isinstance(value, Ratio) else value
    if not isinstance(number, Decimal):
        return None
    try:
        return limits.in_unit_of(field, number, unit)
    except UnitError:
        return None


def _within(value: Value, unit: str | None, field: Field) -> bool:
    number = value.reading if isinstance(value, Ratio) else value
    if not isinstance(number, Decimal) or (field.min is None and field.max is None):
        return False
    try:
        return limits.side(limits.in_unit_of(field, number, unit), field.min, field.max) == "within"
    except UnitError:
        return False


def _likely(value: Value, unit: str | None, field: Field) -> bool:
    """Whether another reading of the words is where readings of this field lie.

    With a bound on one side only, "within" says little: sixteen is no likelier than sixty
    where up to fifty eight is allowed, so it must also lie near that bound.
    """
    number = _in_field_unit(value, unit, field)
    if number is None or not _within(value, unit, field):
        return False
    if field.usual is not None:
        return limits.side(number, *field.usual) == "within"
    ends = [end for end in (field.min, field.max) if end is not None]
    if len(ends) == 2 or not ends[0]:
        return True
    return Fraction(1, 3) <= Fraction(number) / Fraction(ends[0]) <= 3


def _outside(value: FieldValue, number: Decimal | Fraction, field: Field) -> Iterator[str]:
    """Outside the limits: plainly said it stands, but not when a slip explains it better."""
    if any(_likely(other, value.unit, field) for other in value.alternatives):
        teen = any("teen" in mention.qualifiers for mention in value.mentions)
        yield "teen_or_ty" if teen else "limits_alternative"
    if any(_likely(other, value.unit, field) for other in _slips(value, field)):
        yield "joined_digits"
    if value.limit == "below" and any(
        _nearer(o, value, field) for o in _with_position(value, field)
    ):
        yield "fused_position"
    factor = Fraction(settings().thresholds["wild_factor"])
    bound = Fraction((field.max if value.limit == "above" else field.min) or 0)
    far = Fraction(number)
    if value.limit == "above" and bound > 0 and far > bound * factor:
        yield "wild"
    if value.limit == "below" and bound > 0 and far * factor < bound and field.type != "count":
        yield "wild"


def _nearer(other: Value, value: FieldValue, field: Field) -> bool:
    """Whether `other` lies nearer to the lowest that is allowed than `value`, which is below it:
    "valve at one seventy bar", where 180 are wanted, is hardly 70 at the first one."""
    ends = [_in_field_unit(each, value.unit, field) for each in (other, value.value)]
    if field.min is None or None in ends:
        return False
    gap, own = (abs(Fraction(end) - Fraction(field.min)) for end in ends if end is not None)
    return gap < own


def _slips(value: FieldValue, field: Field) -> Iterator[Decimal]:
    """Readings without a first figure that is a position and ran into the number.

    The position may be this one or the next that was named ("one and three ninety, two eighty
    seven"), or the "one" of "the right one".
    """
    number = value.value.reading if isinstance(value.value, Ratio) else value.value
    if not isinstance(number, Decimal):
        return
    if {"hundred", "thousand"} & set(value.as_spoken.lower().split()):
        return  # said in full, figures can't have run together
    figures = str(number)
    lone_one = {"1"} if "." not in figures else set()
    near = {*lone_one, *field.positions}
    if value.position is not None and value.position.isdigit():
        at = field.positions.index(value.position)
        near = set(field.positions[at : at + 2])
    for position in near:
        rest = figures[len(position) :]
        if position.isdigit() and figures.startswith(position) and rest and rest[0] != "0":
            yield Decimal(f"0{rest}")
            if rest[0] == "." and rest[1:]:
                yield Decimal(rest[1:])


def _with_position(value: FieldValue, field: Field) -> Iterator[Value]:
    """Readings in which a position is the first figure of the number ("exhaust four twenty")."""
    said = str(value.value)
    for other in value.alternatives:
        figures = str(other) if isinstance(other, Decimal) else ""
        if figures.endswith(said) and figures.removesuffix(said) in field.positions:
            yield other


def _coarse(value: FieldValue, field: Field) -> bool:
    """Whether half of the last figure said is more than the distance to a bound."""
    number = value.value.reading if isinstance(value.value, Ratio) else value.value
    if field.type != "measurement" or value.at_limit or not isinstance(number, Decimal):
        return False
    if value.limit is None or value.unit is None:
        return False
    if any("fraction" in mention.qualifiers for mention in value.mentions[:1]):
        return False  # "half an inch" is as exact as the speaker could say it
    exponent = number.as_tuple().exponent
    if not isinstance(exponent, int):
        return False
    half = Decimal(5).scaleb(min(exponent, 0) - 1)
    ends = (number - half, number + half)
    return any(not _within(end, value.unit, field) for end in ends) and number != 0
