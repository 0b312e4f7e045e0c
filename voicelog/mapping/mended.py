"""Mended: a fault with work behind it ("caked, so I cleaned it", "a weep, so I put a new one in"):
which of the two states the field asks for is for a person to say."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.row import Spot
from voicelog.reading.option_forms import stem_of
from voicelog.reading.option_words import is_bad
from voicelog.reading.state_words import trade, work_stems
from voicelog.reading.talk import mended_words
from voicelog.reading.trade import faults

if TYPE_CHECKING:
    from collections.abc import Iterator

    from voicelog.mapping.placement import Placement
    from voicelog.mapping.row import Events, Said
    from voicelog.reading.lexicon import Lexicon

_DID = re.compile(
    r"[\s,]*\b(?:(?:and|but|so|then|also)\s+)*(?:(?:I|we|he|she|they)(?:['’]ve)?\s+)?"
    r"(?:(?:have|had|has|just|since|been|was|were)\s+)*(?P<verb>[a-z]+ed|cut|ground|bled)\b"
    r"(?P<it>\s+(?:it|them|that|those|this)\b)?(?P<end>\s*(?:[,.;!]|\Z))?",
    re.IGNORECASE,
)
_ONLY_TOLD = frozenset({
    "book", "check", "flag", "inform", "log", "look", "mark", "measur", "not", "order", "record",
    "open", "photograph", "press", "pull", "push", "refit", "repeat", "report", "run", "show",
    "start", "stop", "switch", "tag", "tell", "test", "tri", "watch",
})  # fmt: skip
"""Stems of what is done about a fault and mends nothing."""
_CLAUSES = 2
_REACH = 120
"""Characters behind a fault within which "cleaned the lot" is of it."""
_PUT_IN = re.compile(r"\s+ones?\s+(?:back\s+)?(?:fitted|in|on)\b", re.IGNORECASE)
""" "Put a clean one in": behind the state of what was put there."""
_PUT = re.compile(r"\b(?:fitted|put|stuck|threw)\s+(?:an?|the|some)\s+\Z", re.IGNORECASE)
_OF_PART = re.compile(
    r"(?:gone|lacking|lost|missing)\s+(?:an?|half|its|one|some|the|three|two)\s+[a-z]",
    re.IGNORECASE,
)
""" "Float two missing its outer bolt": the float is there."""
_WAS = re.compile(r"\b(?:was|were|had\s+been)\s+(?:[a-z]+\s+)?\Z", re.IGNORECASE)
_AT_FIRST = re.compile(r"[\s,]+(?:at\s+first|initially|to\s+(?:begin|start)\s+with)\b", re.I)
_NOW = re.compile(r"\b(?:now|again|since)\b", re.IGNORECASE)


def is_mended(row: Events, placement: Placement, lexicon: Lexicon) -> bool:
    """Whether something was done about the fault that an option tells, right behind it."""
    said, place = placement.said, placement.targets[0].place
    option = lexicon.options.get(place, {}).get(said.option or "", "").lower()
    told = place in lexicon.option_stems.get(stem_of(option), {}) or option in faults()
    return bool(option) and (told or is_bad(option)) and is_seen_to(row, said)


def is_seen_to(row: Events, said: Said) -> bool:
    """Whether the clauses behind a fault tell that something was done about it."""
    at, last = said.end, row.breaks.sentence_end(said.end, len(row.text))
    was = _WAS.search(row.text, max(0, said.start - 24), said.start)
    if was or _AT_FIRST.match(row.text, said.end):
        now = _NOW.search(row.text, at, last)
        if now is not None and not row.names_any(at, now.start()):
            return True
        good = (each for each in row.said_in(at, last) if each.mention.value == "pass")
        if any(not row.names_any(at, each.start) for each in good):
            return True  # "was plugged, ran it through the bath and it came up spotless"
        goes_on = row.breaks.sentence_end(last + 1, len(row.text))
        last = last if row.names_any(last, goes_on) else goes_on
    for _ in range(_CLAUSES):
        end = min(row.breaks.clause_end(at + 1, len(row.text)), last)
        if at >= end:
            break
        other = any(isinstance(each, Spot) for each in row.anchors_in(at, end))
        told = _DID.match(row.text, at, last)
        if told is not None and (told["it"] or told["end"] is not None):
            stem = stem_of(told["verb"])
            worked = stem in work_stems() or told["verb"].lower() in trade("REPAIRED")
            return worked or (told["it"] is not None and stem not in _ONLY_TOLD)
        if not other and any(
            _is_done(row, each) for each in mended_words().find(row.text, at, end)
        ):
            return True
        at = end
    return any(
        mended_words().kind(each) == "all" and _is_done(row, each)
        for each in mended_words().find(row.text, said.end, min(last, said.end + _REACH))
    )


_NOT_YET = re.compile(
    r"(?:\b(?:be|get|needs?|not|to|wants?|will)|n['’]t)\s+(?:[a-z]+\s+)?\Z", re.IGNORECASE
)


def doubts_of_option(row: Events, said: Said) -> Iterator[str]:
    """Why an option may not be how the thing is: it is told of what was put in, or of a part."""
    new = "renewed" in said.mention.qualifiers
    put = _PUT.search(row.text, max(0, said.start - 20), said.start)
    if not new and (put or _PUT_IN.match(row.text, said.end)):
        yield "repaired"
    if said.option is not None and _OF_PART.match(row.text, said.start):
        yield "partial"


def _is_done(row: Events, told: re.Match[str]) -> bool:
    """Whether what is told was done: not "has to be changed"."""
    return _NOT_YET.search(row.text, max(0, told.start() - 24), told.start()) is None
