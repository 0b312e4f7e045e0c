"""Procedure words: how a speaker repairs, repeats and marks what was said.

CORRECTION, CORRECTION I SAY AGAIN, NEGATIVE I SAY AGAIN: SERA.14075(c), (d);
I SAY AGAIN, DISREGARD: ICAO Doc 9432. The informal ones, and as found / as left, are
common practice without a source. Here they are only found; mapping acts on them.
The words are [procedure] of models_config/talk.toml.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.reading.begun_lists import MAY_EXCEPT
from voicelog.reading.chain import PASSAGE, stage
from voicelog.reading.talk import procedure_phrases

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from spacy.tokens import Doc

    from voicelog.reading.passage import Passage

_BROKEN_OFF = re.compile(
    r"\b(?:point|decimal)\s*(?:\.{2,}|…|,|-+|\b(?:uh|um|er|erm|no)\b)", re.IGNORECASE
)


_BEFORE_PLACES = MAY_EXCEPT | {"bar", "barring", "only", "save"}
""" "Everywhere but aft": they except nothing but places."""
_BEFORE_PLACE = re.compile(
    r"(?:\s+not)?(?:\s+(?:for|on|at|in))?(?:\s+(?:the|number|no\.?))*\s*", re.IGNORECASE
)


def find(text: str, places: Sequence[Mention] = ()) -> Iterator[Mention]:
    """Procedure mentions in the order of the text, given its `places`; `value` names what the
    words do."""
    phrases = procedure_phrases()
    starts = {place.start for place in places}
    for match in phrases.find(text):
        if match[0].split()[0] in _BEFORE_PLACES:
            lead = _BEFORE_PLACE.match(text, match.end())
            near = range(match.end(), match.end() if lead is None else lead.end() + 1)
            if starts.isdisjoint(near):
                continue
        yield _mention(text, match, phrases.kind(match))
    lowered = text.lower()
    if "point" in lowered or "decimal" in lowered:
        for match in _BROKEN_OFF.finditer(text):
            yield _mention(text, match, "broken off")


def _mention(text: str, match: re.Match[str], act: str) -> Mention:
    start, end = match.span()
    return Mention("procedure", text[start:end], start, end, act, stage="procedure")


@stage("procedure", requires=(PASSAGE, "doc._.positions"))
def procedure(doc: Doc) -> None:
    """Write the procedure words of `doc`."""
    passage: Passage = doc._.passage
    acts = list(find(passage.text, doc._.positions or ()))
    if any(act.value == "broken off" for act in acts):
        named = {a.start for a, word in zip(passage.atoms, passage.words, strict=True) if not word}
        acts = [a for a in acts if a.value != "broken off" or a.start not in named]
    doc._.procedure = acts  # "dew point, four" is a name, and no number broken off


STAGE = procedure
