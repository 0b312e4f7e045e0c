"""Work told: the words that say that something was done, and what it came to.

"Backwashed it, and after that it was down to", "wound it in until it read", "the new one runs at".
Common practice, no source.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from voicelog.mapping.row import Spot
from voicelog.mapping.work_verbs import work as of_work
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from voicelog.mapping.row import Events, Said

FOUND = frozenset({"as found", "as found weak"})
_PIECE = re.compile(r"[,.;:](?:\s+|\Z)|\s+(?:and|so|then|but)\s+", re.IGNORECASE)
READ_ANEW = re.compile(
    r"\s*(?:(?:and|then|so|but|i|we|it|she|had|to|just|only)\s+)*"
    r"(?:re)?(?:did|drove|flew|got|ran|loaded|emptied|warmed|cooled|checked|counted|gauged|measured|read|repeated|settled|swung|tested|timed|tried|weighed|took\s+(?:it|that|them)\s+again|swapped\s+(?:gauges?|meters?|testers?)"
    r"|[a-z]+ed\s+(?:the|my)\s+(?:[a-z]+\s+)?(?:gauge|meter|tester|clamp|probe))\b",
    re.IGNORECASE,
)
"""What only brings about another reading: "ran it with the load on", "changed the gauge"."""
FITTED = re.compile(
    r"(?:\b(?:an?|half\s+an?|another|one|two|three|four|five|six|some|more|\d+)(?:\s+[a-z]+)?"
    r"\s+(?:clicks?|flats?|notch(?:es)?|pumps?|shims?|strokes?|taps?|threads?|turns?|washers?)\b"
    r"|\b(?:new|fresh|another|clean)\s+[a-z]+(?:\s+[a-z]+){0,2}\s+(?:in|on|fitted)\b"
    r"|\b[a-z]+\s+(?:change[ds]?|on|swapped)\s*\Z|\bwent\s+(?:in|on|round)\b|\bin\s+went\b)",
    re.IGNORECASE,
)
""" "Two turns on the pushrod end", "nitrogen bottle on": work told without its verb."""
_TURNS = re.compile(
    r"\b(?:next|on\s+to|over\s+to|moved\s+on|(?<!\bit\s)(?<!\bthey\s)went|the\s+other\s+(?:one|side))\b",
    re.IGNORECASE,
)
""" "Moved on to the next, it's ...": told of another thing."""
AFTER = (
    r"(?:after\s+(?:that|this|it|[a-z]+ing(?:\s+(?:it|that|them))?)|afterwards|later"
    r"|(?:an?|half\s+an|one|two|ten)\s+(?:hour|minute)s?\s+later|now|then"
    r"|(?:this|the\s+next|next)\s+(?:morning|day|shift))"
)
_SINCE = r"(?:after|once|since|when|with)\s+(?:[a-z'’-]+\s+){1,6}?"
""" "Since the new valve went in she's steady on"."""
_WITH_IT = re.compile(r"\s*(?:(?:and|so|but)[\s,]+)*" + _SINCE, re.IGNORECASE)
_IT_CAME_TO = re.compile(
    r"\s*(?:(?:and|so|but|" + AFTER + r")[\s,]+|" + _SINCE + r")*"
    r"(?P<it>(?:it|she|he|they)(?:['’](?:s|re)|\s+[a-z]+)|that\s+time|(?P<next>(?:the\s+)?(?:second|next)\s+(?:go|time|try)(?=\s+(?:it|she)\s)|re-?(?:checked|gauged|measured|tested)\b)|second\s+(?:go|time|try)|got)"
    r"(?:\s+[a-z'’-]+){0,4}\s*\Z",
    re.IGNORECASE,
)
""" "It gave", "she's steady on": told of what was worked on, whatever the verb."""
_IT_IS = re.compile(
    r"\s*(?:(?:and|so|but|" + AFTER + r")[\s,]+)*"
    r"(?:(?:it|they|(?:that|this)(?:\s+one)?)(?:['’](?:s|re)|\s+)\s*|(?=reads|shows|opens|trips|is\b|takes|now\b))"
    r"(?:(?:again|all|already|at|back|came|comes?|down|dropped|fell|gives?|has|is|are|just|now|on|only|opens|out|reading"
    r"|reads?|rose|settles?|showing|shows?|sits|sitting|stands|stays|takes|to|trips|up|was|went|were)\s+)*\Z",
    re.IGNORECASE,
)
""" "And after that it was down to", "now it's at": the same thing is told of again."""
_WAS = re.compile(
    r"\b(?:was|were|had|came|gave|made|measured|only|read|sat|showed|stood|started)\b",
    re.IGNORECASE,
)
_AT_FIRST = re.compile(
    r"[\s,]+(?:(?:as|when|before)\s+(?:i|we)\b|this\s+morning|to\s+(?:start|begin)\s+with|at\s+first)",
    re.IGNORECASE,
)
IS = re.compile(
    r"['’](?:s|re)\b|\b(?:is|are|reads|shows|opens|trips|takes|settles|sits|stands|stays)\b"
    r"|\b(?:came|dropped|fell|rose|went)\s+(?:(?:back|down|up)\s+)*to\b",
    re.IGNORECASE,
)
_MARK = re.compile(r"\b(?:" + AFTER + r"|again|back)\b", re.IGNORECASE)
_MARK_BEHIND = re.compile(
    r"\s+(?:now|again|afterwards|after\s+(?:that|it)|(?:after|then)(?=\s*(?:[,.;]|\Z)))\b",
    re.IGNORECASE,
)
_THEN = re.compile(r"[\s,]*(?:(?:and|so|but)[\s,]+)*" + AFTER + r"[\s,]*", re.IGNORECASE)
_TRIED_AGAIN = re.compile(
    r"\b(?:(?!checked|measured)[a-z]{2,}ed(?:\s+it)?\s+again|re-?tested)\b", re.I
)
_NOW_IS = re.compile(
    r"\s*(?:(?:and|but|so)\s+)*(?:(?:it|they)(?:['’](?:s|re)|\s+(?:is|are))|is|are)\s+(?:now\s+)?",
    re.IGNORECASE,
)
_WITH_NEW = re.compile(
    r"\s+with\s+(?:the|an?|my)\s+(?:new|fresh|replacement|other)\s+(?:ones?|[a-z]+)\b", re.I
)
_AGAIN = re.compile(r"\bagain[\s,]*(?:(?:and|so|then)[\s,]*)*\Z", re.IGNORECASE)
_UP_TO = re.compile(
    r"\b(?:to|(?:till|until)\s+(?:it|she|he|i|we|they)(?:['’](?:s|d)|\s+[a-z]+)(?:\s+(?:down|up|on|to|at|only|just)\b)*"
    r"|[a-z]{2,}(?:ed|t)\s+(?:it|them|her|him|the\s+[a-z]+)\s+(?:back\s+|down\s+|up\s+)?at)\s+\Z",
    re.IGNORECASE,
)
""" "Backed it off till it read", "pinned it at": the work with the number that it came to."""
_BEFORE_WORK = re.compile(
    r"\bbefore\s+(?:i|we)(?:['’]d)?\s+(?:had\s+)?(?=(?P<did>[a-z]+))", re.IGNORECASE
)
_OLD = re.compile(r"\bold\s+(?:ones?|[a-z]+)\b", re.IGNORECASE)
_NEW = re.compile(
    r"\s*(?:(?:and|but|while)\s+)?(?:the\s+|a\s+)?(?:new|replacement)(?:\s+ones?)?(?:['’]s|(?:\s+[a-z]+){1,4})\s*\Z",
    re.IGNORECASE,
)
""" "The old one was drawing 3.9, the new one runs at 2.4"."""
_NEW_ONE = re.compile(
    r"\s*(?:(?:and|but|while)\s+)?(?:the\s+|a\s+)?(?:new|replacement)\s+one", re.I
)
""" "Rope two was down to 24.8. The new one measures 26.2"."""


@cache
def _seen_to() -> re.Pattern[str]:
    done = "|".join(re.escape(each) for each in sorted(talk().everyday.seen_to, key=len)[::-1])
    return re.compile(
        rf"\s*(?:(?:and|then|so|had)\s+)*(?:the\s+|its\s+)?[a-z]+(?:\s+[a-z]+)?\s+(?:{done})\b",
        re.IGNORECASE,
    )


def is_seen_to(text: str, start: int, end: int) -> bool:
    """Whether a piece of the talk names a thing and what was done to it: "eccentric turned"."""
    return _seen_to().match(text, start, end) is not None


def lead(row: Events, since: int, at: int) -> int:
    """Where the last piece of the talk between two places begins."""
    cuts = [cut.end() for cut in _PIECE.finditer(row.text, since, at)]
    return cuts[-1] if cuts else since


def worked_to(row: Events, found: Said, left: Said) -> list[tuple[int, int]]:
    """The work that is told with the number which it came to: "was six hundred inch pounds when I
    broke it. Torqued back up to six ninety"."""
    begin = lead(row, found.end, left.start)
    alike = left.mention.unit is None and found.mention.unit is not None
    was = bool(FOUND & found.tags) or _had(row, found)
    was = was and _UP_TO.search(row.text, begin, left.start) is not None
    behind = row.anchors_in(left.end, row.breaks.sentence_end(left.end, len(row.text)))
    was = was and not any(isinstance(each, Spot) for each in behind)
    if (
        not (was or ("as left" in left.tags and alike))
        or row.anchors_in(begin, left.start)
        or _TURNS.search(row.text, found.end, begin)
    ):
        return []
    work = begin, left.start
    return [work] if of_work().match(row.text, *work) else []


def _had(row: Events, found: Said) -> bool:
    return _WAS.search(row.text, row.clause_start(found.start), found.start) is not None


def told_again(row: Events, found: Said, left: Said) -> bool:
    """Whether a number is told of the same thing as one before, after something was done."""
    begin = lead(row, found.end, left.start)
    words = row.text[begin : left.start]
    behind = _MARK_BEHIND.match(row.text, left.end) is not None
    marked = behind or _MARK.search(words) is not None
    again = _AGAIN.search(row.text, found.end, begin) is not None
    if not words.strip() or _THEN.fullmatch(words):
        told = behind or again or bool(words.strip())
        return told or _is_bare_behind_work(row, found, left, begin)
    came_to = _IT_CAME_TO.match(words)
    anew = came_to is not None and came_to["next"] is not None
    told_from = 0 if came_to is None else came_to.end("it") if anew else came_to.start("it")
    if row.anchors_in(begin + told_from, left.start):
        return False
    past = _was_so(row, found, begin)
    if _IT_IS.match(words) is None:
        return (past or behind or anew or came_of(row, found, left)) and came_to is not None
    behind_it = row.anchors_in(left.end, row.breaks.clause_end(left.end, len(row.text)))
    placed = any(isinstance(each, Spot) for each in behind_it)
    return marked or again or (not placed and IS.search(words) is not None)


def _was_so(row: Events, found: Said, until: int) -> bool:
    """Whether the value before "was" so, or so at first, or another try was told since."""
    return (
        bool(FOUND & found.tags)
        or _had(row, found)
        or _AT_FIRST.match(row.text, found.end) is not None
        or _TRIED_AGAIN.search(row.text, found.end, until) is not None
    )


def came_of(row: Events, found: Said, left: Said) -> bool:
    """Whether work was told right before a number that "it goes at" or "I got", though nobody said
    that the one before "was" so: "1380 kilonewtons, wound the screw in and got 1440"."""
    begin = lead(row, found.end, left.start)
    words = row.text[begin : left.start]
    told = _IT_CAME_TO.match(words)
    if told is None or told["next"] or _IT_IS.match(words) or _was_so(row, found, begin):
        return False
    if begin == found.end or _MARK.search(words) or _MARK_BEHIND.match(row.text, left.end):
        return False
    done = [each for each in pieces(row, found.end, left) if each[1] < left.start]
    near = bool(done) and not row.text[done[-1][1] : begin].strip(" ,.;").replace("and", "")
    return near and READ_ANEW.match(row.text, *done[-1]) is None


def _is_bare_behind_work(row: Events, found: Said, left: Said, begin: int) -> bool:
    """ "Came up at 140 pascals. Vacuumed the face, 95 pascals": nothing but the number stands
    behind what was done, and no place is named for it."""
    if left.mention.unit is None or left.mention.unit != found.mention.unit:
        return False
    end = row.breaks.clause_end(left.end, len(row.text))
    placed = any(isinstance(each, Spot) for each in row.anchors_in(found.end, end))
    done = [each for each in pieces(row, found.end, left) if each[1] <= begin]
    return not placed and bool(done) and READ_ANEW.match(row.text, *done[-1]) is None


def pieces(row: Events, since: int, left: Said) -> list[tuple[int, int]]:
    """The pieces of the talk that tell what was done, none when it turned to another thing."""
    end = lead(row, since, left.start)
    if _TURNS.search(row.text, since, end):
        return []
    pieces, start = [], since
    for cut in _PIECE.finditer(row.text, since, end):
        pieces.append((start, cut.start()))
        start = cut.end()
    pieces.append((start, left.start))
    ways = [of_work().match, FITTED.search]
    if left.mention.unit is not None:  # "three shims added, sorry, four" counts them
        ways.append(_seen_to().match)
    return [
        piece
        for piece in pieces
        if any(tells(row.text, *piece) for tells in ways)
        # "95 psi with the compressor running" tells how it was when it was read
        or (piece[0] > since and _WITH_IT.match(row.text, *piece))
    ]


def done_before(row: Events, found: Said) -> list[tuple[int, int]]:
    """ "Before I wound it down it was 1.2": the work is told with the value as found."""
    start = row.breaks.sentence_start(found.start)
    before = _BEFORE_WORK.search(row.text, start, found.start)
    if before is None or not of_work().match(row.text, before.start("did"), found.start):
        return []
    return [(found.start, found.start)]


_AFTER_WORK = re.compile(
    r"\s*,?\s*(?:after|once|since|(?P<now>now)(?:\s+that)?)\s+(?:"
    r"(?:(?:i|we|he|she|they)(?:['’](?:d|ve)|\s+had|\s+have)?)\s+(?P<did>[a-z]+)"
    r"|(?:it|they|(?:the|that)\s+[a-z]+)(?:['’](?:s|re)|\s+(?:is|are|has|have))(?:\s+been)?\s+(?P<done>[a-z]+)"
    r"|(?:re-?)?(?P<doing>[a-z]{2,}ing)(?!\s+for\b)"
    r"|(?:the|a|an|my)\s+(?:new\s+[a-z]+|(?P<job>[a-z-]+))(?=\s*(?:[,.;]|\Z|(?:went|was|were|had)\b)))"
    r"(?:\s+(?!(?:and|but|then)\b)[^\W\d_]+){0,5}",
    re.IGNORECASE,
)


def done_behind(row: Events, found: Said, left: Said) -> list[tuple[int, int]]:
    """ "6.4 on the first run, 2.8 after I moved the washer": the work is told behind the value that
    came of it."""
    work = _AFTER_WORK.match(row.text, left.end)
    if work is None or row.anchors_in(lead(row, found.end, left.start), left.start):
        return []
    did, words = work["did"] or work["done"], talk().everyday
    at = max(work.start("did"), work.start("done"))
    if did is None and work["now"]:
        return []
    if did is not None and (not of_work().match(row.text, at) or READ_ANEW.match(row.text, at)):
        return []
    doing, job = (work["doing"] or "").lower(), (work["job"] or "").lower()
    if doing in words.going_by or (job and job not in words.jobs):
        return []
    return [(left.end, work.end())]


def is_replaced(row: Events, found: Said, left: Said) -> bool:
    """ "The old one was drawing 3.9 amps and the new one runs at 2.4", "35 before, 17 with the new
    one", "was 4 mm, is 12 mm"."""
    begin = lead(row, found.end, left.start)
    if FOUND & found.tags and row.breaks.between(found.end, left.start) < 2:
        words = row.text[begin : left.start]
        new_one = not words.strip() and _WITH_NEW.match(row.text, left.end) is not None
        if new_one or _NOW_IS.fullmatch(words):
            return True
    new = _NEW.fullmatch(row.text, begin, left.start)
    if new is None or row.anchors_in(begin, left.start):
        return False
    if _NEW_ONE.match(row.text, begin) and (FOUND & found.tags or pieces(row, found.end, left)):
        return True
    return _OLD.search(row.text, row.breaks.sentence_start(found.start), found.start) is not None


def _left_at(row: Events, found: Said, left: Said) -> list[tuple[int, int]]:
    """ "Was 19 mm, moved the motor back and left it at 11 mm": plain words tell of the number."""
    plain = "as left" in left.tags and bool(FOUND & found.tags)
    plain = plain and left.mention.unit in {None, found.mention.unit}
    begin = lead(row, found.end, left.start)
    if not plain or row.anchors_in(begin, left.start) or row.breaks.between(found.end, begin) > 1:
        return []
    return [each for each in pieces(row, found.end, left) if each[1] <= begin]


def told(row: Events, found: Said, left: Said) -> list[tuple[int, int]]:
    """The pieces of the talk that tell of work between what was found and what was left, empty
    ones where it is told otherwise; none where nothing was done."""
    work = worked_to(row, found, left) or _left_at(row, found, left)
    if not work and told_again(row, found, left):
        work = pieces(row, found.end, left) or done_before(row, found)
    work = work or done_behind(row, found, left)
    if not work and is_replaced(row, found, left):
        work = [(left.start, left.start)]
    return work
