"""Contrasted: a place of which something else is told than of the others of its field.

"One, two and four shut tight, three dribbles", "all lights lit bar number seven": what a place does
is told in whatever words, and nobody can list them. Where a check was told of other places in the
same breath and one more is named with words that nothing explains, or was left out of "all", the
contrary of the others is proposed for it, and asked about: better a value to look at than one that
is lost. Common practice, no source.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.fit import CONTRARY
from voicelog.mapping.row import ENDED, Cue, Spans, Spot
from voicelog.objects import FieldValue
from voicelog.reading import verdict_words
from voicelog.reading.percard import fields_of
from voicelog.reading.settings import reasons_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from voicelog.mapping.row import Events
    from voicelog.objects import Card, Field, Mention
    from voicelog.reading.lexicon import Place

_OPEN = ("state_meaning",)
_LEFT_OUT = ("exception",)
_APART = 2
"""Sentences between what is told of a place and of the others, at most, less one."""
LEAVES_OUT = re.compile(
    r"(?:all|every\w*|each|both|any)\b.*\b(?:apart\s+from|bar(?:ring)?|but|except\w*|excluding|other\s+than|save)\b",
    re.IGNORECASE,
)
_REST = re.compile(r"\b(?:others?|rest|remaining)\b", re.IGNORECASE)
_SPEAKERS = frozenset({"I", "we", "We"})
"""With or without a verb: "the rest of them I'll do later"."""
_UNDONE = frozenset({"not done"})


def propose(
    row: Events, card: Card, values: Sequence[FieldValue], unsaid: Sequence[Mention]
) -> Iterator[FieldValue]:
    """A doubted verdict for each place that is contrasted with those of `values`; `unsaid` are
    mentions of what was not done."""
    fields = fields_of(card)
    told = Spans(  # the name of a thing is told of its other places as well
        mention for value in values for mention in value.mentions if mention.kind != "term"
    )
    undone = [each for each in unsaid if each.value in _UNDONE]
    known = {value.key for value in values}
    checks: dict[Place, list[FieldValue]] = {}
    for value in values:
        if value.position is not None and fields[value.key[:2]].type == "check":
            checks.setdefault(value.key[:2], []).append(value)
    for place, others in checks.items():
        verdicts = {str(each.value) for each in others}
        if len(verdicts) != 1:
            continue
        contrary = CONTRARY.get(verdicts.pop())
        rest = (
            () if contrary is None else _rest(row, place, fields, others, contrary, undone, values)
        )
        for each in rest:
            known.add(each.key)
            yield each
        for spot in _spots_of(row, fields[place]):
            if contrary is None or {(*place, name) for name in spot.names} & known:
                continue
            last = _end_of(row, spot)
            near = min(
                abs(row.breaks.sentences[spot.start] - row.breaks.sentences[each.start])
                for each in others
            )
            if near >= _APART or any(spot.start <= each.start < last for each in undone):
                continue
            codes = _codes(row, place, spot, last, told)
            if codes == _LEFT_OUT and _is_of_another(spot, place, values):
                continue
            if codes == _LEFT_OUT and _is_explained(row, spot, contrary, unsaid):
                codes = ()
            if codes is None:
                continue
            for name in spot.names:
                known.add((*place, name))
                words = row.text[spot.start : last]
                yield _doubted(
                    place, name, contrary, words, spot.start, last, spot.mentions[:1], codes
                )


def _left_out(
    place: Place, field: Field, others: Sequence[FieldValue], contrary: str
) -> Iterator[FieldValue]:
    """The places of "all except the officer", of which the contrary is told."""
    groups = {
        (mention.start, mention.end): mention
        for value in others
        for mention in value.mentions
        if mention.kind == "position" and LEAVES_OUT.match(mention.text)
    }
    told = {value.position for value in others}
    if len(groups) == 1:
        ((start, end), mention) = groups.popitem()
        for name in field.positions:
            if name not in told:
                yield _doubted(
                    place, name, contrary, mention.text, start, end, (mention,), _LEFT_OUT
                )


def _rest(
    row: Events,
    place: Place,
    fields: Mapping[Place, Field],
    others: Sequence[FieldValue],
    contrary: str,
    undone: Sequence[Mention],
    values: Sequence[FieldValue],
) -> Iterator[FieldValue]:
    """The places that no word names: left out of "all", or the rest where "only" one is bad."""
    yield from _left_out(place, fields[place], others, contrary)
    if contrary == "pass" and not any(_end_of_all(row, others) > each.start for each in undone):
        yield from _but_only(row, place, fields[place], others, values)


def _end_of_all(row: Events, others: Sequence[FieldValue]) -> int:
    return row.breaks.sentence_end(max(each.end for each in others), len(row.text))


def _but_only(
    row: Events,
    place: Place,
    field: Field,
    others: Sequence[FieldValue],
    values: Sequence[FieldValue],
) -> Iterator[FieldValue]:
    """The places that were not named where "only number three is out": they are what that is
    not."""
    told = {each.position for each in others}
    spots = [each for each in _spots_of(row, field) if told.issuperset(each.names)]
    only = [each for each in spots if _ONLY.search(row.text, 0, each.start)]
    starts = [*(spot.start for spot in only), *(value.start for value in others)]
    sentences = {row.breaks.sentences[start] for start in starts}
    named = {
        name
        for spot in _spots_of(row, field)
        if row.breaks.sentences[spot.start] in sentences and not _is_of_another(spot, place, values)
        for name in spot.names
    }
    if len(only) != 1 or set(only[0].names) != told or len(sentences) != 1 or named != told:
        return
    spot, last = only[0], _end_of(row, only[0])
    for name in field.positions:
        if name not in told:
            words = row.text[spot.start : last]
            yield _doubted(
                place, name, "pass", words, spot.start, last, spot.mentions[:1], _LEFT_OUT
            )


_ONLY = re.compile(r"\bonly\s+(?:on\s+|at\s+|the\s+)*\Z", re.IGNORECASE)


def _doubted(
    place: Place,
    name: str,
    verdict: str,
    words: str,
    start: int,
    end: int,
    mentions: tuple[Mention, ...],
    codes: tuple[str, ...],
) -> FieldValue:
    return FieldValue(
        *place,
        name,
        value=verdict,
        as_spoken=words.strip(" ,.;"),
        confidence=0.5,
        reasons=reasons_of(codes),
        start=start,
        end=end,
        mentions=mentions,
    )


def _spots_of(row: Events, field: Field) -> Iterator[Spot]:
    """The places of `field` that were named."""
    for anchor in row.anchors:
        if (
            isinstance(anchor, Spot)
            and not anchor.unknown
            and set(anchor.names) <= set(field.positions)
        ):
            yield anchor


def _end_of(row: Events, spot: Spot) -> int:
    return row.breaks.clause_end(spot.end, len(row.text))


def _is_of_another(spot: Spot, place: Place, values: Sequence[FieldValue]) -> bool:
    """Whether another field has a value at the place that was named there."""
    return any(
        value.key[:2] != place and mention.kind == "position" and mention.start == spot.start
        for value in values
        for mention in value.mentions
    )


def _is_explained(row: Events, spot: Spot, verdict: str, unsaid: Sequence[Mention]) -> bool:
    """Whether the sentence goes on to tell what is wrong there: "bar number three, two screws
    missing on that"."""
    end = row.breaks.sentence_end(spot.end, len(row.text))
    return any(
        each.value == verdict == "fail"
        and not each.doubts
        and spot.end <= each.start < end
        and not any(isinstance(a, Spot) for a in row.anchors_in(spot.end, each.start))
        for each in unsaid
    )


def _codes(row: Events, place: Place, spot: Spot, last: int, told: Spans) -> tuple[str, ...] | None:
    """Why the place is contrasted; None when its clause tells of something else."""
    left_out = any(
        word.value == "except" and not row.unexplained(word.end, spot.start, word.end)
        for word in row.words
        if word.end <= spot.start and row.breaks.between(word.end, spot.start) < ENDED
    )
    if left_out:
        return _LEFT_OUT
    begin = row.clause_start(spot.start)
    taken = told.touch(spot.start, last) or _is_told_more(row, spot, last)
    taken = taken or any(spot.end <= each.start < last for each in row.aside)
    others = (a for a in row.anchors_in(begin, last) if isinstance(a, Cue) and not a.in_spot)
    if taken or any(place not in each.places for each in others):
        return None
    opens = not row.unexplained(begin, spot.start, begin)
    if not opens or verdict_words.is_no_finding(row.text[spot.end : last]):
        return None
    told_of = row.unexplained(spot.end, last, spot.end) or _is_told_of_rest(row, spot, last)
    return _OPEN if told_of else None


def _is_told_more(row: Events, spot: Spot, last: int) -> bool:
    """Whether something is told there that could be a value, and not only "the rear one"."""
    said = row.said_in(spot.end, last)
    one = said and said[0].kind == "count" and said[0].mention.text.lower() == "one"
    return len(said) > bool(one and row.text[spot.end : said[0].start].isspace())


def _is_told_of_rest(row: Events, spot: Spot, last: int) -> bool:
    """Whether anything is told of all the others, in plain words: "the others put it out"."""
    words = row.text[spot.end : last].split()
    speakers = (re.split("['’]", word)[0] for word in words)
    rest = _REST.search(row.text, spot.start, spot.end)
    return rest is not None and len(words) > 1 and _SPEAKERS.isdisjoint(speakers)
