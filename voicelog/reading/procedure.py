"""Procedure words: how a speaker repairs, repeats and marks what was said.

CORRECTION, CORRECTION I SAY AGAIN, NEGATIVE I SAY AGAIN: SERA.14075(c), (d);
I SAY AGAIN, DISREGARD: ICAO Doc 9432. The informal ones, and as found / as left, are
common practice without a source. Here they are only found; mapping acts on them.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.objects import Mention
from voicelog.reading.chain import stage

if TYPE_CHECKING:
    from collections.abc import Iterator

    from spacy.tokens import Doc

_GAP = r"[\s,.;:!…-]+"

_WORDS: tuple[tuple[str, str], ...] = (
    # the whole message is said again
    ("whole", rf"correction{_GAP}(?:i{_GAP})?say{_GAP}again"),
    ("negative again", rf"negative{_GAP}(?:i{_GAP})?say{_GAP}again"),
    ("say again", rf"i{_GAP}say{_GAP}again|(?:i{_GAP})?repeat(?:ing)?(?=[\s,.;:]|$)"),
    # the last group goes, nothing need follow
    (
        "strike",
        rf"(?:disregard|scratch|strike|cancel|delete|forget|ignore){_GAP}(?:that|the|my)?{_GAP}?"
        rf"last(?:{_GAP}(?:one|value|reading|number|bit))?"
        rf"|(?:scratch|strike|cancel|delete|forget|ignore){_GAP}that(?:{_GAP}one)?",
    ),
    ("disregard", rf"disregard(?:{_GAP}(?:that|this|all))?"),
    (
        "negative",
        r"negative(?![\s-]+(?:pressure|terminal|pole|lead|cable|side|earth|post|camber)\b)",
    ),
    (
        "correction",
        rf"correction(?:{_GAP}(?:that|it)(?:{_GAP}(?:is|should{_GAP}be)|'?s))?"
        rf"|correct(?:ing)?{_GAP}(?:that|myself)(?:{_GAP}to)?"
        rf"|(?:no{_GAP})?make{_GAP}(?:that|it)(?=[\s,])"
        rf"|(?:no{_GAP}|sorry{_GAP})?i{_GAP}mean(?:t)?(?={_GAP})"
        rf"|i{_GAP}should{_GAP}(?:say|have{_GAP}said)",
    ),
    # acts as a correction only between two values of a kind
    (
        "slip",
        rf"no{_GAP}sorry|sorry{_GAP}no|no{_GAP}wait|wait{_GAP}no|(?:oh{_GAP})?sorry|or{_GAP}rather"
        rf"|rather|wait|hang{_GAP}on(?=,?\s+(?:it|that)'?s)|no(?=\s*,\s)|(?<=[,.…-]\s)no(?=\s+(?:it|that)'?s)"
        r"|actually",
    ),
    (
        "except",
        rf"except(?:{_GAP}for)?|apart{_GAP}from|other{_GAP}than|all{_GAP}but|excluding|bar(?={_GAP}number)",
    ),
    # stands for the value before
    (
        "same",
        rf"(?:(?:about|all|just){_GAP})?the{_GAP}same(?:{_GAP}again)?(?!{_GAP}(?:as|way|one|thing|time|side))|ditto|likewise",
    ),
    (
        "as found",
        rf"as{_GAP}found|(?:was{_GAP}|were{_GAP})?found{_GAP}at|(?:initial|original)ly"
        rf"|before{_GAP}(?:adjustment|adjusting|servicing|topping{_GAP}up|top{_GAP}up)"
        rf"|had{_GAP}been|was{_GAP}at|(?:was|were)(?=\s+[\w.]+)",
    ),
    (
        "as left",
        rf"as{_GAP}left|left{_GAP}at"
        rf"|(?:topped|brought|taken|turned|pumped|wound|let|bled|backed)"
        rf"(?:{_GAP}(?:it|back|up|off|down|out))*{_GAP}to"
        rf"|(?:re-?)?(?:adjust|set|reset|fill|inflate?|deflate?|charge?|increase?|raise?|reduce?|lower"
        rf"|tighten|slacken|torque?|tension|change?|correct|service?|retorque?)(?:e?d)?"
        rf"(?:{_GAP}(?:it|back|up|off|down))*{_GAP}to"
        rf"|after{_GAP}(?:adjustment|adjusting|servicing|topping{_GAP}up|top{_GAP}up)"
        rf"|now(?:{_GAP}(?:at|reads|reading|it'?s))?",
    ),
    (
        "hedge",
        rf"i{_GAP}(?:think|guess|reckon|believe|suppose)|seem(?:s|ed)?(?:{_GAP}to{_GAP}be)?"
        rf"|appear(?:s|ed)?(?:{_GAP}to{_GAP}be)?|looks{_GAP}like|probably|maybe|perhaps|possibl[ey]"
        rf"|might(?:{_GAP}be)?|may{_GAP}be|could{_GAP}be|not{_GAP}(?:too{_GAP}|quite{_GAP})?sure"
        rf"|can'?t{_GAP}(?:tell|read|see{_GAP}(?:it|clearly))|hard{_GAP}to{_GAP}(?:tell|read|see)"
        rf"|kind{_GAP}of|sort{_GAP}of|should{_GAP}be{_GAP}(?:ok(?:ay)?|fine|good|alright)|if{_GAP}i'?m"
        rf"|something{_GAP}like|or{_GAP}so|ish",
    ),
)

_ANY = re.compile(
    "|".join(rf"(?P<w{index}>\b(?:{pattern})(?!\w))" for index, (_, pattern) in enumerate(_WORDS)),
    re.IGNORECASE,
)
_BROKEN_OFF = re.compile(
    r"\b(?:point|decimal)\s*(?:\.{2,}|…|,|-+|\b(?:uh|um|er|erm|no)\b)", re.IGNORECASE
)


def find(text: str) -> Iterator[Mention]:
    """Procedure mentions in the order of the text; `value` names what the words do."""
    for match in _ANY.finditer(text):
        group = match.lastgroup
        if group is None:  # every alternative is a named group
            continue
        yield Mention(
            "procedure",
            match[0],
            match.start(),
            match.end(),
            _WORDS[int(group[1:])][0],
            stage="procedure",
        )
    for match in _BROKEN_OFF.finditer(text):
        yield Mention(
            "procedure", match[0], match.start(), match.end(), "broken off", stage="procedure"
        )


@stage("procedure")
def procedure(doc: Doc) -> None:
    """Write the procedure words of `doc`."""
    doc._.procedure = list(find(doc._.passage.text))


STAGE = procedure
