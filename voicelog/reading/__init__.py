"""Reading: a transcript becomes mentions, each with the words that say it.

    transcript -> document of atoms -> stage, stage, ... -> Reading

The stages and their order are named in `models_config/reading.toml`; one file holds one
stage. A stage works on the atoms that no earlier stage has claimed (`passage.Passage`),
writes its mentions to `doc._.<stage>`, and never raises on any text. Codes in `doubts` are
keys of [reasons] in reading.toml.

What the stages of words produce stands in their own files (terms, remarks, procedure, asides).
What the stages of numbers produce, as stage: kind, value:

steps: step, str as the card spells it; doubt unknown_step when the card has none such.

dates: date, `date` or None when there is no such day.
    doubts ambiguous_date (alternatives: the other order), impossible_date, no_year, no_day
dates: time, str "HH:MM".
    qualifiers "zulu"; doubts ambiguous_time (alternatives: the other half of the day, or the
    same figures as a number or a duration)

identifiers: identifier, str in upper case as it stands on the part ("HT66-902").
    qualifiers "serial number", "part number", "batch number", "tool number" as said;
    "field:<name>" when it fits the pattern of that field; alternatives: look-alikes;
    doubts letter_by_sound ("bee", "see"), pattern_misfit, joined_digits (figures of a value
    were said right behind it)

positions: position, str as the card spells it; None when the card has no such position.
    qualifiers "of:<position word of the card>"; "group" when the words name several (one
    mention each, all over the same span); "continued" when the position word was said
    earlier only; doubts fused_position (figures run together: "cylinder 174 over 80"),
    homophone_position ("bolt for"), unknown_position

quantities: quantity, Decimal, with its unit.
quantities: count, Decimal, no unit was said.
    qualifiers "ordinal" ("third", "21st"); "clock-like" ("two thirty");
    "digits" when said digit by digit
quantities: ratio, Ratio ("seventy four over eighty"), unit if said.
quantities: range, Interval ("twenty to twenty five"), doubt range; an open end and
    qualifier "comparison" for "over eighty", "at least", "not more than".

Where the words leave the unit open ("pounds", "degrees", "quarts") `unit` is the likeliest,
the doubt is ambiguous_unit and a qualifier "unit:<canonical>" names each candidate: mapping
may settle it by the unit of the field and drop the doubt. "mil" has the doubt mil, which
nothing settles. A unit said once for a list is on the number beside it only; the others are
counts, and mapping hands the unit round. Further qualifiers: "gauge", "absolute",
"differential", "peak", "peak to peak", "rms", "difference" (temperature), "fraction", "about"
(doubt about), "tolerance" ("plus or minus five"), "plus", "teen" (the ear confuses it;
alternatives hold the twin, 15 / 50), "article" ("a quart").
Further doubts: ambiguous_number (alternatives say what else), joined_digits,
number_beside_number, misheard_unit, machinist_tenth, hundred_thousandths, hours_and_minutes
(value in the smaller unit), nil_measurement (value None), rounded_fraction ("a third").
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from voicelog.objects import Mention, Reading
from voicelog.reading import (
    asides,
    chain,
    cues,
    dates,
    heard_names,
    identifiers,
    names,
    positions,
    procedure,
    quantities,
    remarks,
    steps,
    terms,
)
from voicelog.reading.settings import settings

if TYPE_CHECKING:
    from spacy.language import Language

    from voicelog.heard import Transcript
    from voicelog.objects import Card

__all__ = ["STAGES", "Reader"]

STAGES: dict[str, chain.Stage] = {
    stage.name: stage
    for stage in (
        steps.STAGE,
        heard_names.STAGE,
        dates.STAGE,
        names.STAGE,
        identifiers.STAGE,
        positions.STAGE,
        terms.STAGE,
        quantities.STAGE,
        remarks.STAGE,
        procedure.STAGE,
        asides.STAGE,
    )
}
"""Every stage by name; which of them run, and in which order, is data."""


@cache
def _pipeline() -> Language:
    return chain.pipeline(settings().stages, STAGES)


class Reader:
    """Reads transcripts with the vocabulary of one card (None: no card).

    Cheap to build again and free of state between readings; raises ConfigError when the settings
    are wrong.
    """

    def __init__(self, card: Card | None = None) -> None:
        self._cues = cues.of_card(card)
        self._pipeline = _pipeline()

    def read(self, transcript: Transcript, step: str | None = None) -> Reading:
        """The mentions of `transcript`, in the order of the text."""
        doc = chain.document(self._pipeline, transcript.text, self._cues.at_step(step))
        written = self._pipeline(doc)._
        mentions: list[Mention] = []
        for name in settings().stages:
            for attribute in STAGES[name].assigns:
                found = getattr(written, attribute.removeprefix("doc._."))
                if found and isinstance(found[0], Mention):  # a stage writes words as well
                    mentions += found
        mentions.sort(key=lambda mention: (mention.start, mention.end))
        return Reading(transcript, tuple(mentions))
