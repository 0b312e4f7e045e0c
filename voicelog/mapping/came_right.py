"""Came right: a state told of a thing that was worked on ("was plugged, I blew it through and it's
clear now"): it is that of what was named before, and the one before it was as found."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from voicelog.mapping.adjusted import FOUND, LEFT
from voicelog.mapping.row import PLAIN, Cue, Spot
from voicelog.mapping.work_told import FITTED, READ_ANEW
from voicelog.mapping.work_verbs import act, mending

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Events, Said

CAME = "came right"
"""Tag of such a state."""
TOLD_AGAIN = "told again"
"""Tag of the one before it."""
DONE = "done about it"
"""Tag of what was done in between, which is no word on how it is."""
_IS = (
    r"(?:['’](?:s|re)|\s+(?:all|are|back|been|both|came|comes|feels|gone|has|have|is|just|looks|now"
    r"|runs|sits|still|turns|was|were))*"
)
_WELL = r"(?:\s+(?:and|bone|fully|good|lovely|nice|nicely|perfectly|properly|quite|well))*"
_IT = re.compile(
    rf"\b(?:(?:and|so)\s+)?(?:(?:now|after(?:wards|\s+that)|then)[\s,]+)?"
    rf"(?:it|they|that|she|(?:the|my|an?)\s+(?:fresh|new|replacement)(?:\s+ones?)?){_IS}{_WELL}\s+\Z"
    rf"|(?:\A|[,.;])\s*(?:(?:and|so|but)\s+)*now(?:\s+(?:is|are|all))?{_WELL}\s+\Z",
    re.IGNORECASE,
)
_BARE = re.compile(r"(?:[,.;]|\band)\s+(?:still\s+)?\Z", re.IGNORECASE)
""" "New one in, dry": the state is all that is told."""
_NOW = re.compile(r"\b(?:now|again|still|after(?:wards|\s+that)|then)\b", re.IGNORECASE)
_AGAIN = re.compile(r"[^,.;:]*?\b(?:now|again|afterwards)\b", re.IGNORECASE)
_NOW_IT = re.compile(r"\s+(?:now|again)\b", re.IGNORECASE)
_PIECE = re.compile(
    r"[,.;:](?:\s+|\Z)|\s+(?:and(?!\s+(?:forth|out|down|off)\b)|so|then|but|until|till)\s+",
    re.IGNORECASE,
)
_IT_WAS = re.compile(r"\s*(?:it|them|that|[a-z]{2,}en)\b", re.IGNORECASE)
""" "... and it came loose", "taken off": told of the thing, or of work without who did it."""
_NEW = re.compile(
    r"\s*(?:an?\s+)?(?:new|fresh|replacement)\s+[a-z]+(?:\s+[a-z]+)?\s*", re.IGNORECASE
)
""" "New seal, filled it, it's full": fitted, without its verb."""
_DID = re.compile(
    r"\s*[,.;]?\s*(?:(?:and|so|i|we|i['’]ve|we['’]ve|have|has|been)\s+)*", re.IGNORECASE
)
_TO_IT = re.compile(r"(?:\s+(?:it|them|that))?\s*(?:[,.;]|\Z)", re.IGNORECASE)
_ENDS = re.compile(r"\s*(?:[,.;]|\Z)")
_REACH = 300
"""Characters behind a state within which it is told what came of it."""
_LEAST = 3
"""Letters of a piece that tells anything."""
_Piece = tuple[int, int]


def mark(row: Events) -> None:
    """Tag the states that tell how a thing is now of which another was told before."""
    last: Said | None = None
    for said in row.said:
        if said.dropped or not _is_state(said):
            continue
        if last is not None and said.start - last.end > _REACH:
            last = None
        if last is not None and _is_told_again(row, last, said):
            said.tags.add(CAME)
            last.tags.add(TOLD_AGAIN)
            _forget_work(row, last, said)
            if not said.tags & LEFT:
                said.tags.add("as left weak")
        if last is None or not _leads_on(row, last, said):
            last = said
        elif CAME not in said.tags and _is_done(row, last, said):
            said.tags.add(DONE)
            if FOUND & last.tags and last.option and _is_done_to_it(row, last, said):
                said.tags.add("as left weak")


def _is_done_to_it(row: Events, before: Said, said: Said) -> bool:
    """ "Belt was cracked, renewed it": an option of the card that tells what became of the very
    thing, and not "renewed the tensioner"."""
    led = _DID.fullmatch(row.text, before.end, said.start)
    return bool(said.option and led and _TO_IT.match(row.text, said.end))


def _is_state(said: Said) -> bool:
    return said.kind == "remark" or said.option is not None


def _is_fault(said: Said) -> bool:
    return said.kind == "remark" and said.mention.value == "fail"


def _is_told_again(row: Events, before: Said, said: Said) -> bool:
    """Whether nothing but work, and why, is told between the two, and "it" is so "now" or "again",
    or so behind what mends a fault."""
    told = _IT.search(row.text, before.end, said.start)
    lead = told or _BARE.search(row.text, before.end, said.start)
    was = "as found" in said.tags  # "tight now, it was loose before I did it"
    if lead is None or was or row.anchors_in(lead.start(), said.start) or _names_another(said):
        return False
    if _is_done(row, before, said):
        return False
    between = _pieces(row, before.end, lead.start())[1:]
    if not all(
        _is_short(row, each) or _is_work(row, each) or _is_why(row, each) for each in between
    ):
        return False
    marked = _NOW.search(lead[0]) or _AGAIN.match(row.text, said.end) or LEFT & said.tags
    verdict = told is None and "verdict" in said.mention.qualifiers  # "failed, sorted, pass"
    mended = before.mention.value != "pass" and any(is_mending(row, each) for each in between)
    if not marked and (verdict or not mended):
        return False
    if any(_is_one_of_them(row, each) for each in row.said_in(before.end, said.start)):
        return False
    start = row.clause_start(before.start)
    named = before.inner or row.anchors_in(start, before.start)
    return bool(named) or not row.unexplained(start, before.start)


def _forget_work(row: Events, before: Said, said: Said) -> None:
    """What was worked on names no field of what it came to: "cleaned the photocell, works now"."""
    if not all(map(_is_state, row.said_in(before.end, said.start))):
        return
    for piece in _pieces(row, before.end, said.start)[1:]:
        for anchor in row.anchors_in(*piece):
            anchor.dropped = True


def _leads_on(row: Events, before: Said, said: Said) -> bool:
    """Whether a state is told in the words for what was done, or for why it was so: "cleaned out
    the grit", "found a loose terminal", "the fuse had blown"."""
    cut = _pieces(row, before.end, said.start)
    if len(cut) < 2:
        return False
    piece = (cut[-1][0], max(said.end, cut[-1][1]))
    return _is_work(row, piece) or (_is_fault(said) and _is_why(row, piece))


def _is_one_of_them(row: Events, said: Said) -> bool:
    """ "Greased two, it's greasy now": which of them, or how many."""
    return said.kind == "count" and bool(_ENDS.match(row.text, said.end))


def _names_another(said: Said) -> bool:
    """ "No tiles missing" tells of the tiles."""
    return bool(said.inner) and said.option is None and "predicate" not in said.mention.qualifiers


def _is_done(row: Events, before: Said, said: Said) -> bool:
    """Whether a state is what somebody did, or what went wrong by it: "greased it", "hammered it
    loose", but not "wound it tight", "moved freely now"."""
    piece = (_pieces(row, before.end, said.start)[-1][0], said.end)
    done = act().match(row.text, *piece)
    if done is None or done.end() <= said.start:
        return done is not None and _is_fault(said)
    return _NOW_IT.match(row.text, said.end) is None


def _pieces(row: Events, since: int, until: int) -> Sequence[_Piece]:
    pieces, start = [], since
    for cut in _PIECE.finditer(row.text, since, until):
        pieces.append((start, cut.start()))
        start = cut.end()
    return [*pieces, (start, until)]


def _is_short(row: Events, piece: _Piece) -> bool:
    return len(row.text[slice(*piece)].strip()) < _LEAST


def _is_work(row: Events, piece: _Piece) -> bool:
    if _is_name(row, piece):
        return False
    ways = act().match, _IT_WAS.match, FITTED.search, READ_ANEW.match, _NEW.fullmatch
    return any(tells(row.text, *piece) for tells in ways)


def _is_name(row: Events, piece: _Piece) -> bool:
    """Whether a name begins there, as "proved dead" may be one, and a verdict is told of it."""
    told = row.said_in(*piece)
    verdict = any("verdict" in each.mention.qualifiers for each in told)
    cues = [*row.anchors_in(*piece), *(cue for each in told for cue in each.inner)]
    words = row.text[slice(*piece)]
    start = piece[0] + len(words) - len(words.lstrip())
    return verdict and any(
        isinstance(each, Cue) and each.start == start and each.plainest >= PLAIN for each in cues
    )


def is_mending(row: Events, piece: _Piece) -> bool:
    """Whether a piece of the talk tells of work that may put a fault right."""
    ways = mending().match, FITTED.search, _NEW.fullmatch
    return any(tells(row.text, *piece) for tells in ways)


def _is_why(row: Events, piece: _Piece) -> bool:
    """Whether a fault of what has no field is told in a piece: "bottom lens was dirty"."""
    here = [each for each in row.said_in(*piece) if _is_state(each)]
    named = row.anchors_in(*piece)
    strange = any(
        isinstance(each, Spot) or _is_of_step(each, row.step_at(piece[0])) for each in named
    )
    return bool(here) and all(_is_fault(each) for each in here) and not strange


def _is_of_step(cue: Cue, step: str | None) -> bool:
    """Whether it plainly names a field of the step."""
    return any(plain >= PLAIN and step in {None, at[0]} for at, plain in cue.places.items())
