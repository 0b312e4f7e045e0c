"""Findings: what was said of things that no field of the card names.

A sentence of which nothing was taken stays visible in its own words. One that tells of a fault
or of something not done is proposed for the remarks of its step, and asked about.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from voicelog.mapping.row import HALF, Cue, Spans, Spot
from voicelog.objects import FieldValue, Mention
from voicelog.reading.settings import reasons_of
from voicelog.reading.talk import everyday_words, talk

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from voicelog.mapping.row import Events, Said
    from voicelog.objects import Card, Field, Reading

Told = TypeVar("Told", "Cue | Spot", "Said", "Mention")
_WORD = re.compile(r"[^\W\d_]{3,}")
_LEAD = re.compile(r"[\s,:–—-]*(?:(?:and|but|also|oh|so|then)\b[\s,]*)*", re.IGNORECASE)
_TOLD = re.compile(r"[^\W\d_]+(?:['’][a-z]+)?")
_DENIED = frozenset({"but", "cannot", "never", "no", "not"})
_TELLS_TOO = frozenset({"hearsay", "hedge", "limit", "past", "plan", "quoted"})
"""Acts beside which a sentence may tell how it is now."""
_TELLING = 2
"""Words beyond everyday talk that a sentence needs to be worth showing."""


@dataclass(frozen=True, slots=True)
class Findings:
    """Sentences and clauses as they were said: proposed as remarks, or only shown."""

    proposed: tuple[FieldValue, ...]
    shown: tuple[Mention, ...]


def find(
    row: Events,
    reading: Reading,
    values: Sequence[FieldValue],
    left_over: Sequence[Said],
    card: Card,
) -> Findings:
    """What no field took, out of a note whose `values` are settled."""
    remarks = [said for said in left_over if said.kind == "remark"]
    proposed: dict[tuple[str, str], FieldValue] = {}
    filled = {value.key[:2] for value in values}
    shown = []
    parts = [*_parts(row, _used(reading, values, left_over), remarks)]
    parts += _untold(row, reading, values, left_over, parts)
    told_in = _by_sentence(row, remarks)
    for start, end in sorted(parts):
        wording = row.text[start:end]
        inside = told_in.get(row.breaks.sentences[start], ())
        told = [said for said in inside if start <= said.start < end]
        step = row.step_at(start)
        field = _remarks_of(card, step) if any(map(_is_finding, told)) else None
        if step is None or field is None or (step, field.name) in filled | proposed.keys():
            verdict = told[0].mention.value if len(told) == 1 else None
            shown.append(Mention("remark", wording, start, end, verdict, stage="mapping"))
            continue
        proposed[step, field.name] = FieldValue(
            step,
            field.name,
            None,
            value=wording,
            as_spoken=wording,
            confidence=0.5,
            reasons=reasons_of(("kept_as_remark",)),
            start=start,
            end=end,
            mentions=tuple(said.mention for said in told),
        )
    return Findings(tuple(proposed.values()), tuple(shown))


def _used(reading: Reading, values: Sequence[FieldValue], left_over: Sequence[Said]) -> Spans:
    """What was taken: by values, by talk, by procedure words, and numbers that stay visible."""
    taken = [mention for value in values for mention in value.mentions]
    taken += [Mention("remark", "", value.start, value.end) for value in values]
    taken += [each for each in reading.mentions if each.kind in {"procedure", "step"}]
    taken += [said.mention for said in left_over if said.kind not in {"remark", "term"}]
    return Spans(taken)


def _parts(row: Events, used: Spans, remarks: Sequence[Said]) -> Iterator[tuple[int, int]]:
    """Sentences of which nothing was taken, and clauses with a finding that found no field."""
    begin = 0
    told_in = _by_sentence(row, remarks)
    for sentence, stop in enumerate((*row.breaks.strong, len(row.text))):
        start, end = _trimmed(row.text, begin, stop)
        told = told_in.get(sentence, ())
        begin = stop + 1
        if not used.touch(start, end):
            words = [word.lower() for word in _WORD.findall(row.text[start:end])]
            if told or len([word for word in words if word not in everyday_words()]) >= _TELLING:
                yield start, end
            continue
        reached = start
        for said in filter(_is_finding, told):
            first = max(reached, row.clause_start(said.start))
            last = row.breaks.clause_end(said.end, len(row.text))
            first, last = _trimmed(row.text, first, last)
            if said.start >= first and not used.touch(first, last):
                yield first, last
                reached = last


def _untold(
    row: Events,
    reading: Reading,
    values: Sequence[FieldValue],
    left_over: Sequence[Said],
    parts: Sequence[tuple[int, int]],
) -> Iterator[tuple[int, int]]:
    """Sentences that tell something of a thing of the card in everyday words, and of which nothing
    else is visible: "coolant well down", "can't read the plate any more"; of what should be so, or
    was, only those that go on to say that it isn't ("should come on but doesn't")."""
    seen = [mention for value in values for mention in value.mentions]
    seen += [Mention("remark", "", value.start, value.end) for value in values]
    seen += [said.mention for said in left_over if said.kind != "term"]
    seen += [said.mention for said in row.aside if said.kind != "remark"]
    seen += [said.mention for said in row.said if said.dropped]
    shown = Spans([*seen, *(Mention("remark", "", *part) for part in parts)])
    acts = [each for each in reading.mentions if each.kind in {"procedure", "step"}]
    named_in, acts_in = _by_sentence(row, row.named), _by_sentence(row, acts)
    begin = 0
    for sentence, stop in enumerate((*row.breaks.strong, len(row.text))):
        start, end = _trimmed(row.text, begin, stop)
        begin = stop + 1
        names = [
            each
            for each in named_in.get(sentence, ())
            if start <= each.start < end and (isinstance(each, Spot) or each.plainest > HALF)
        ]
        if not names or shown.touch(start, end):
            continue
        inside = acts_in.get(sentence, ())
        kinds = {each.value for each in inside if start <= each.start < end}
        spans = Spans(Mention("term", "", each.start, each.end) for each in names)
        words = [
            word[0].lower()
            for word in _TOLD.finditer(row.text, start, end)
            if not spans.touch(*word.span())
        ]
        telling = [word for word in words if word not in talk().everyday.plain]
        denied = any(word in _DENIED or word.endswith(("n't", "n’t")) for word in words)
        heads = isinstance(names[0], Cue) and names[0].start - start <= len("the ")
        if (
            len(telling) >= (1 if heads else _TELLING)
            and kinds <= _TELLS_TOO
            and (denied or not kinds)
        ):
            yield start, end


def _by_sentence(row: Events, told: Iterable[Told]) -> dict[int, list[Told]]:
    """What was told or named, by the number of the sentence in which it begins."""
    found: dict[int, list[Told]] = {}
    for each in told:
        found.setdefault(row.breaks.sentences[each.start], []).append(each)
    return found


def _trimmed(text: str, start: int, end: int) -> tuple[int, int]:
    lead = _LEAD.match(text, start, end)
    start = start if lead is None else lead.end()
    return start, max(start, start + len(text[start:end].rstrip(" ,.;:!?")))


def _is_finding(said: Said) -> bool:
    """Whether a remark tells of a fault, or of what was not done."""
    mention = said.mention
    return mention.value in {"fail", "not done"} and "bare" not in mention.qualifiers


def _remarks_of(card: Card, step: str | None) -> Field | None:
    """The one text field of a step."""
    owner = card.step(step) if step is not None else None
    texts = [field for field in owner.fields if field.type == "text"] if owner else []
    return texts[0] if len(texts) == 1 and not texts[0].positions else None
