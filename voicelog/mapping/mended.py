"""Mended: an option that tells of a fault, with work behind it ("caked, so I cleaned it"): which of
the two states the field asks for is for a person to say."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.reading.option_forms import stem_of
from voicelog.reading.state_words import trade, work_stems
from voicelog.reading.trade import faults

if TYPE_CHECKING:
    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events
    from voicelog.reading.lexicon import Lexicon

_DID = re.compile(
    r"[\s,]*\b(?:(?:and|but|so|then|also)\s+)*(?:(?:I|we|he|she|they)(?:['’]ve)?\s+)?"
    r"(?:(?:have|had|has|just|since|been|was|were)\s+)*(?P<verb>[a-z]+ed|cut|ground|bled)\b"
    r"(?P<it>\s+(?:it|them|that|those|this)\b)?(?P<end>\s*(?:[,.;!]|\Z))?",
    re.IGNORECASE,
)
_ONLY_TOLD = frozenset({
    "book", "check", "flag", "inform", "log", "look", "mark", "measur", "not", "order", "record",
    "open", "photograph", "refit", "repeat", "report", "run", "show", "start", "stop", "switch",
    "tag", "tell", "test", "watch",
})  # fmt: skip
"""Stems of what is done about a fault and mends nothing."""
_CLAUSES = 2


def is_mended(row: Events, placement: Placement, lexicon: Lexicon) -> bool:
    """Whether something was done about the fault that an option tells, right behind it."""
    said, place = placement.said, placement.targets[0].place
    option = lexicon.options.get(place, {}).get(said.option or "", "").lower()
    if not option:
        return False
    told = place in lexicon.option_stems.get(stem_of(option), {}) or option in faults()
    at, end = said.end, row.breaks.sentence_end(said.end, len(row.text))
    for _ in range(_CLAUSES if told else 0):
        found = _DID.match(row.text, at, end)
        if found is not None and (found["it"] or found["end"] is not None):
            stem = stem_of(found["verb"])
            worked = stem in work_stems() or found["verb"].lower() in trade("REPAIRED")
            return worked or (found["it"] is not None and stem not in _ONLY_TOLD)
        at = row.breaks.clause_end(at + 1, len(row.text))
        if at >= end:
            break
    return False
