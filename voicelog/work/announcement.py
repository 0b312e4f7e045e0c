"""The spoken heading of a recording: "work order four one seven two, card …, step thirty".

It takes the place of a form that nobody fills in with gloves on. What it says is matched
with the cards and work orders that are known, never bent towards them digit by digit, and
always marked for the reviewer: a number that was misheard would file the whole note wrongly.
Its words are cut from the transcript before that is read; none of them is a finding.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from voicelog.alignment import counterpart
from voicelog.heard import Transcript
from voicelog.reading import Reader

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from voicelog.objects import Card

_CUE = re.compile(
    r"\b(?:(?P<order>work[\s-]*orders?)|(?P<card>(?:(?:task|job|work)[\s-]+)?cards?)|(?P<step>steps?))"
    r"\b[:,]?(?:\s+(?:number|no\b\.?))?",
    re.IGNORECASE,
)
_FILLERS = frozenset(
    {
        *("a", "and", "for", "in", "is", "it's", "of", "on", "our", "the", "this", "under", "with"),
        *("er", "good", "hello", "log", "morning", "new", "note", "now", "ok", "okay", "recording"),
        *("right", "so", "starting", "task", "uh", "um", "well", "working"),
    }
)
"""Words that may stand before and between the cues; any other one may be a finding."""
_HEAD_WORDS = 45
"""No heading is longer."""
_LEAD = "serial number "
"""Numbers of orders and cards are spelt as serial numbers are, so they are read as one."""


@dataclass(frozen=True, slots=True)
class Announcement:
    """What was said at the start. Empty and None: it was not said."""

    text: str
    """Verbatim."""
    words: int
    """How many words of the transcript it takes."""
    end_s: float = 0.0
    """Where the last of them ends in the recording; 0 when words have no times."""
    work_order: str = ""
    card: str = ""
    step: str | None = None
    remarks: tuple[tuple[str, str], ...] = ()
    """("work order" or "card", a plain sentence on how its number was taken)."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """A number behind its cue: as heard, and where it ends in the text."""

    heard: str
    end: int


def parse(
    transcript: Transcript, cards: Mapping[str, Card], orders: Iterable[str] = ()
) -> Announcement | None:
    """The heading that `transcript` begins with, or None.

    `cards` and `orders` are those that are known; a card that is not among them stays as it
    was heard. Raises nothing on any text.
    """
    head = " ".join(word.text for word in transcript.words[:_HEAD_WORDS])
    cues = list(_CUE.finditer(head))
    if not cues or cues[0]["step"]:
        return None
    found: dict[str, str] = {}
    remarks: list[tuple[str, str]] = []
    end = 0
    for cue, following in zip(cues, [*cues[1:], None], strict=True):
        kind = str(cue.lastgroup)
        stop = following.start() if following else len(head)
        if kind in found or not _only_fillers(head[end : cue.start()]):
            break  # said a second time, or after other words: part of the note
        if kind == "step":
            piece = _step(head[cue.start() : stop], cards.get(found.get("card", "")))
            what, remark = "step", ""
        else:
            what, known = ("card", cards) if kind == "card" else ("work order", orders)
            piece, remark = _known(_number(head[cue.end() : stop]), known, what)
        if piece is None:
            break
        found[kind] = piece.heard
        end = piece.end + (cue.start() if kind == "step" else cue.end())
        if remark:
            remarks.append((what, remark))
    if not found:
        return None
    words = len(head[:end].split())
    return Announcement(
        text=" ".join(word.text for word in transcript.words[:words]),
        words=words,
        end_s=transcript.words[words - 1].end_s,
        work_order=found.get("order", ""),
        card=found.get("card", ""),
        step=found.get("step"),
        remarks=tuple(remarks),
    )


def _only_fillers(text: str) -> bool:
    return all(word in _FILLERS for word in re.findall(r"[^\s,.:;-]+", text.casefold()))


def _number(piece: str) -> _Piece | None:
    lead = len(piece) - len(piece.lstrip(" ,:"))
    text = piece[lead:]
    for mention in Reader().read(Transcript.of_text(_LEAD + text)).mentions:
        if mention.kind == "identifier" and mention.start <= len(_LEAD):
            return _Piece(str(mention.value), mention.end - len(_LEAD) + lead)
    return None


def _step(piece: str, card: Card | None) -> _Piece | None:
    for mention in Reader(card).read(Transcript.of_text(piece)).mentions:
        if mention.kind == "step" and mention.start == 0:
            return _Piece(str(mention.value), mention.end)
    return None


def _known(piece: _Piece | None, known: Iterable[str], what: str) -> tuple[_Piece | None, str]:
    """`piece` in the spelling under which it is known, and a sentence when it is not the same.

    Letters may be missing or separators said otherwise, but every figure must agree.
    """
    if piece is None:
        return None, ""
    known = tuple(known)
    ways: tuple[Callable[[str], str], ...] = (_bare, _figures)
    for way in ways:
        same = [number for number in known if way(number) == way(piece.heard) != ""]
        if len(same) == 1:
            remark = "" if way is _bare else f"{what} heard as {piece.heard}, taken for {same[0]}"
            return replace(piece, heard=same[0]), remark
    return piece, f"no {what} {piece.heard} was known when this was heard"


def _bare(number: str) -> str:
    return re.sub(r"[\W_]", "", number).upper()


def _figures(number: str) -> str:
    return re.sub(r"\D", "", number)


def cut(transcript: Transcript, words: int) -> Transcript:
    """`transcript` without its first `words` words; times stay those of the recording.

    Its second reading loses what stands there for these words.
    """
    if not words:
        return transcript
    kept = transcript.words[words:]
    gone = len(" ".join(word.text for word in transcript.words[:words]))
    _, second_from = counterpart(transcript.text, 0, gone, transcript.second)
    shift = gone + 1
    return replace(
        transcript,
        words=kept,
        suspicions=tuple(
            replace(each, start=each.start - shift, end=each.end - shift)
            for each in transcript.suspicions
            if each.start >= shift
        ),
        second=transcript.second[second_from:].lstrip(),
    )
