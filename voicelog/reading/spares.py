"""Spares: counts of what is no part of the thing that is worked on.

"48 short tubes on order", "there's a dozen spare in the locker", "fifteen still good": they are
told beside what was found. The words are [spares] of models_config/talk.toml. Common practice, no
source.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.reading.talk import spare_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

_NONE = frozenset({"nil", "none"})
_HAVE = re.compile(r"\b(?:I|we|they)(?:['’]ve|\s+have|['’]ve\s+got|\s+got)\s+\Z", re.IGNORECASE)
""" "I've none left in the store"."""
_NOUN = re.compile(
    r"(?:\s+(?!and\b|or\b|but\b|on\b|at\b|to\b|with\b)[a-z'’-]+){0,4}?\s+", re.IGNORECASE
)
"""What is counted: "short tubes", "of the old ones"."""


def find(text: str, mentions: Sequence[Mention]) -> Iterator[Mention]:
    """Aside mentions over such counts; a card may ask for them, too: "Spare bulbs in kit"."""
    words = [each.span() for each in spare_words().find(text)]
    if not words:
        return
    names = [m for m in mentions if m.kind == "term" and "near" not in m.qualifiers]
    for count in mentions:
        none = (
            count.text.lower() in _NONE
            and _HAVE.search(text, max(0, count.start - 14), count.start) is not None
        )
        if not (count.kind == "count" or none) or "ordinal" in count.qualifiers:
            continue
        for start, end in words:
            beside = count.end < start and _NOUN.fullmatch(text, count.end, start)
            asked = any(name.start < end and start < name.end for name in names)
            if beside and not asked:
                said = text[count.start : end]
                yield Mention("procedure", said, count.start, end, "spare", stage="asides")
                break
