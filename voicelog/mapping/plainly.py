"""Plainly: places that half a name leads to, and that the words around it leave no doubt about."""

from __future__ import annotations

import re
from bisect import bisect_left
from decimal import Decimal
from typing import TYPE_CHECKING

from voicelog import limits
from voicelog.mapping.adjusted import LEFT
from voicelog.mapping.found_and_left import FOUND
from voicelog.mapping.row import PLAIN, Cue, Spot
from voicelog.mapping.unit_fit import compatible
from voicelog.reading.labels import NEGATIVE, RELATING, head, keys_of, names
from voicelog.reading.states import told_state
from voicelog.reading.talk import talk
from voicelog.reading.trade import faults
from voicelog.reading.words import is_plural, tokenise, verb_stem, word_key

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.mapping.placement import Placement, Target
    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Field, Mention

TIES = frozenset({
    "a", "again", "all", "are", "at", "both", "for", "found", "in", "is", "it", "look", "looked",
    "looking", "looks", "new", "now", "number", "of", "on", "one", "our", "still", "the", "was",
    "were",
})  # fmt: skip
"""Words between a name and its value that leave no doubt about it."""
ON = TIES | {"and", "but", "just", "ones", "only"}
"""The same between one value of a list and the place of the next."""
_WORD = re.compile(r"[^\W\d_]+")
_NEXT = re.compile(r"\s+([a-z]+)", re.IGNORECASE)
VERB = re.compile(r"(?:ed|ing|n't|\A(?:wound|took|brought|drew|ran))\Z", re.IGNORECASE)
"""What tells of a deed."""
_ENDS_HERE = re.compile(r"\s(?:and|but|so|with|while)\s", re.IGNORECASE)
_DEED = re.compile(r"(?:ion|age|(?<=gh)t|(?<=\w{4})al)\Z")
"""What makes a noun of a deed: deflects and deflection, leaks and leakage, weighs and weight,
renewed and renewal."""
_IN_DOUBT = frozenset({"ambiguous_place", "hedged", "loosely_named", "placed_by_unit"})


def _stem(word: str) -> str:
    return _DEED.sub("", verb_stem(word_key(word)))


def is_wholly_named(row: Events, placement: Placement, field: Field, before: int) -> bool:
    """Whether every word of a name of the field was said around the value, though not as one name
    ("two loose bolts on the chute", "the belt deflects thirteen"), and nothing else that is not
    explained: "bolts on the chute bracket" are others. `before` is where the value before ended."""
    said, target = placement.said, placement.targets[0]
    cue = target.cue
    if cue is None or target.inherited or said.tags & (FOUND | LEFT):
        return False
    start = max(before, row.clause_start(min(cue.start, said.start)))
    end = row.breaks.clause_end(said.end, len(row.text))
    later = bisect_left(row.said, said.end, key=lambda each: each.start)
    end = min([end, *(each.start for each in row.said[later : later + 1])])
    joined = _ENDS_HERE.search(row.text, said.end, end)
    end = joined.start() if joined else end
    if not start <= cue.start < end or row.breaks.between(cue.start, said.start):
        return False
    spans = [(each.start, each.end) for each in row.aside]  # "... in ten minutes"
    for anchor in row.anchors_in(start, end):
        if isinstance(anchor, Spot):
            spans.append((anchor.start, anchor.end))
        elif target.place not in anchor.places and anchor.plainest >= PLAIN:
            return False
    words = [
        word[0]
        for word in _WORD.finditer(row.text, start, end)
        if not said.start <= word.start() < said.end
        and not any(first <= word.start() < last for first, last in spans)
    ]
    stems = {_stem(word) for word in words}
    plain = talk().everyday.plain
    for name in _telling(field):
        if len(name) > 1 and name <= stems:
            return all(_stem(word) in name or word.lower() in plain for word in words)
    return False


def _telling(field: Field) -> Iterator[set[str]]:
    """The stems of the words of each name that tell the field."""
    common = talk().everyday.common | RELATING | {"be", "the"}
    for name in filter(None, (*names(field), head(field))):
        yield {_stem(word) for word in _WORD.findall(name) if word_key(word) not in common}


_AN = re.compile(
    r"\s+(?:(?:at|by|for|in|of|on)\s+)?(?:(?:the|a|an|my|our)\s+)?([a-z]{3,})", re.IGNORECASE
)


def is_all_that_is_measured(row: Events, said: Said, field: Field, target: Target) -> bool:
    """Whether a word that no other name has led to the only field of the step with the unit that
    was said, and no thing is named right behind that word: "raising she pulled fifty eight amps",
    but not "raising the spot bar it pulled four"."""
    cue, value = target.cue, target.fit.value
    if cue is None or not target.borne_out or said.kind != "quantity":
        return False
    start = row.clause_start(said.start)
    if row.breaks.between(cue.end, said.start) and row.unexplained(start, said.start, start):
        return False
    behind = _AN.match(row.text, cue.end)
    other = behind and row.unexplained(behind.start(1), behind.end(1), behind.start(1))
    if other or set(cue.places) != {target.place} or not isinstance(value, Decimal):
        return False
    return limits.check(value, target.fit.unit, field).verdict in {None, "within"}


def is_only_choice(row: Events, placement: Placement) -> bool:
    """Whether an option is said that no other field has, and of nothing else: "gasket on the left
    torn", but not "sump pump flooded" for the sump, nor as an adverb, which tells of another word:
    "heavily worn" for heavy."""
    said, target = placement.said, placement.targets[0]
    cue = None if target.inherited else target.cue
    if said.option is None or placement.rival is not None:
        return False
    adverb = said.mention.text.lower().endswith("ly") and not said.option.lower().endswith("ly")
    between = cue is not None and row.unexplained(cue.end, said.start, cue.end)
    return not adverb and not between


def is_asked_for(said: Said, field: Field) -> bool:
    """Whether a state was said that is the one asked for by the label of a check."""
    state = told_state(said.mention)
    if state is None or field.type != "check":
        return False
    asked = {verb_stem(word_key(word)) for word in field.label.split()}
    return asked.issuperset(state)


def is_under_its_limit(row: Events, said: Said, field: Field, before: int) -> bool:
    """Whether a bound of this field was quoted right before a value: "disc minimum is twenty six,
    measured twenty five point nine millimetres"."""
    if not said.is_number or field.unit is None or said.mention.unit is None:
        return False
    index = bisect_left(row.aside, said.start, key=lambda each: each.start) - 1
    if index < 0 or not row.aside[index].is_number or row.aside[index].start < before:
        return False
    quoted = row.aside[index]
    sentence = row.breaks.sentence_start(said.start)
    if quoted.start < row.breaks.sentence_start(max(0, sentence - 1)):
        return False
    bounds = (field.min, field.max)
    return any(bound is not None and _equals(quoted.mention, bound, field) for bound in bounds)


def _equals(mention: Mention, bound: Decimal, field: Field) -> bool:
    alike = mention.unit is None or compatible(mention.unit, field.unit or "")
    if not alike or not isinstance(mention.value, Decimal):
        return False
    return limits.in_unit_of(field, mention.value, mention.unit) == bound


def are_so(row: Events, said: Said, field: Field, cue: Cue) -> bool:
    """Whether the word that named a count tells how the counted things are, right behind their
    number: "two torn on the west", "eleven drilled out", but not "two torn nets"."""
    word = cue.mention.text.lower()
    told = word in faults() or (VERB.search(word) is not None and not is_plural(word))
    if said.kind != "count" or not told or row.text[said.end : cue.start] != " ":
        return False
    behind = _NEXT.match(row.text, cue.end)
    known = talk().everyday.plain | RELATING
    return behind is None or behind[1].lower() in known or word_key(behind[1]) in keys_of(field)


def goes_on(row: Events, placement: Placement, last: Placement) -> bool:
    """Whether a value only follows, with its own place, one that is certain: "front drums smooth,
    rear ones heat checked", "upper pivot pin point three of wear, lower point one five"."""
    said, target = placement.said, placement.targets[0]
    if target.spot is None or not last.targets or last.targets[0].place != target.place:
        return False
    options = said.option is not None and last.said.option is not None
    counts = said.kind == "count" and "unit_unsaid" not in target.fit.doubts
    none = counts and "none" in last.said.mention.qualifiers
    numbers = said.is_number and (last.said.is_number or none)
    if not numbers and not (options and placement.rival is None):
        return False
    start = last.said.end
    if _IN_DOUBT.intersection(last.said.doubts) or start > said.start:
        return False
    behind = counts and said.end <= target.spot.start
    told = behind or start <= target.spot.start < said.start
    if not told or (row.breaks.between(start, said.start) == 2 and not counts):
        return False
    counted = {word_key(word) for word in target.spot.words}
    begin = max(start, row.clause_start(said.start if behind else target.spot.start))
    end = target.spot.start if behind else said.start
    text = row.text[begin:end]
    for anchor in reversed([*row.anchors_in(begin, end), *[said] * behind]):
        if isinstance(anchor, Cue) and not anchor.in_spot:
            own = word_key(anchor.mention.text) in counted
            if not own and set(anchor.places) != {target.place}:
                return False
        text = text[: anchor.start - begin] + " " + text[anchor.end - begin :]
    return set(text.lower().replace(",", " ").split()) <= (_COUNTS_ON if counts else ON)


_COUNTS_ON = ON | {"any", "bar", "except", "had", "has", "off", "that", "that's", "got", "which"}
"""The same between what is counted at one place and at the next: "on any but three, that's got"."""
_SAME = ON | {"as", "here", "s", "same", "side", "then", "there", "too", "well"}
_WORDS = re.compile(r"[^\W_]+")
_SAYS_SO = re.compile(r"(?:(?:just|all)\s+)?(?:the\s+)?same\b", re.IGNORECASE)
_RESERVED = re.compile(
    r"[\s,]*(?:or|but|except|apart|bar|unless|if|when|though|before|after|at|give|plus|minus|near"
    r"|nearly|almost|roughly|about|more|less|I|we|as|than|until|he|she|they)\b",
    re.IGNORECASE,
)
""" "The same, or near enough"."""


def trust_same(
    row: Events, placement: Placement, last: Placement | None, later: Placement | None
) -> None:
    """Trust "the same" where it can only be the number right before it, at another place of its
    field: "front left ten millimetres, front right the same". It is not plain of what was found or
    came of work, of one of two numbers ("left five ohms and forty megohms, right the same"), where
    more is told of it ("the same when cold"), nor of several places, which it may only sum up."""
    said, target = placement.said, placement.targets[0]
    if "same_as_before" not in said.doubts or not _SAYS_SO.match(said.mention.text):
        return
    if last is None or not last.targets or last.targets[0].place != target.place:
        return
    one, where = last.said, last.targets[0]
    doubted = one.doubts or one.tags or one.found or where.doubts or where.fit.doubts
    told = (one.mention.value, one.mention.unit) == (said.mention.value, said.mention.unit)
    if doubted or not told or not one.is_number or where.spot is None or target.spot is None:
        return
    other = len(target.positions) == 1 and target.positions[0] not in where.positions
    if not other or target.spot.start < one.end or _is_one_of_two(row, one, where.spot):
        return
    if _is_all_that_is_told(row, placement, one.end, later):
        said.doubts.remove("same_as_before")


def _is_all_that_is_told(
    row: Events, placement: Placement, start: int, later: Placement | None
) -> bool:
    """Whether from `start` on nothing is told but "the same" and its place."""
    said, target = placement.said, placement.targets[0]
    behind = said.end if target.spot is None else max(said.end, target.spot.end)
    end = row.breaks.clause_end(behind, len(row.text))
    joined = _ENDS_HERE.search(row.text, behind, end)
    end = joined.start() if joined else end
    if later is not None and start < later.said.start < end:
        return False
    if _RESERVED.match(row.text, behind) or _RESERVED.match(row.text, end):
        return False
    anchors = row.anchors_in(start, end)
    if any(isinstance(each, Cue) and target.place not in each.places for each in anchors):
        return False
    return all(
        word[0].lower() in _SAME
        or any(each.start <= word.start() < each.end for each in (said, *anchors))
        for word in _WORDS.finditer(row.text, start, end)
    )


def _is_one_of_two(row: Events, one: Said, spot: Spot) -> bool:
    """Whether another number was told of the same place in the sentence."""
    index = bisect_left(row.said, one.start, key=lambda each: each.start)
    before = row.said[index - 1] if index else None
    if before is None or not before.is_number or row.breaks.between(before.end, one.end) > 1:
        return False
    told = row.anchors_in(before.end, min(spot.end, one.start))
    return before.end > spot.start or not any(isinstance(each, Spot) for each in told)


def trust_list(row: Events, placement: Placement, last: Placement | None) -> None:
    """Trust a number without a unit as much as the one before it, whose list it only goes on with:
    "link on the port chain twenty five millimetres, starboard twenty six" counts no studs."""
    said, target = placement.said, placement.targets[0]
    if last is None or said.kind != "count" or last.said.kind != "quantity":
        return
    if "unit_unsaid" in target.fit.doubts and goes_on(row, placement, last):
        placement.margin = max(placement.margin, last.margin)


_MENDED = re.compile(r"(?:ed|en't|both|lot|up|them)\Z", re.IGNORECASE)
"""Words of what was done to the things that were counted."""


def is_denied_again(row: Events, placement: Placement) -> bool:
    """Whether things that were counted are told to be so no more, by a word of this field alone,
    with nothing between but what was done to them: "three knife sections broken, replaced the lot,
    none broken now"."""
    said, target = placement.said, placement.targets[0]
    cue = target.cue
    if cue is None or set(cue.places) != {target.place} or not said.tags & LEFT:
        return False
    if "none" not in said.mention.qualifiers:
        return False
    start = row.breaks.sentence_start(said.start)
    named = [a for a in row.anchors_in(start, said.start) if isinstance(a, Cue)]
    named = [a for a in named if not a.in_spot and a is not cue]
    if not named or named[-1].places.get(target.place, 0.0) < PLAIN or len(named[-1].places) > 1:
        return False
    since = named[-1].end
    plain = talk().everyday.plain
    words = (word[0].lower() for word in _WORD.finditer(row.text, since, said.start))
    told = ("as", "found", "left")
    return all(word in plain or word in told or _MENDED.search(word) for word in words)


def is_named_with(row: Events, said: Said, field: Field, target: Target) -> bool:
    """Whether the word that led to `field` and what was said behind it are its name together:
    "a coolant leak", where there must be "No coolant leaks"."""
    if target.cue is None or target.cue.start >= said.start:
        return False
    together = [token.key for token in tokenise(row.text[target.cue.start : said.end])]
    named = ([token.key for token in tokenise(name)] for name in names(field))
    denied = [[key for key in name if key not in NEGATIVE] for name in named]
    return len(together) > 1 and together in denied


def is_of_another(row: Events, field: Field, target: Target) -> bool:
    """Whether right before the only word of the field that was said stands another thing: "an oil
    leak" is no word on "No coolant leaks"."""
    cue = target.cue
    if cue is None or len([key for key in keys_of(field) if key not in NEGATIVE]) < 2:
        return False
    return any(
        isinstance(anchor, Cue)
        and anchor.end + 1 == cue.start
        and target.place not in anchor.places
        for anchor in row.anchors_in(max(0, cue.start - 40), cue.start)
    )
